# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim check`: verdicts and exit codes, the report folder, JSON, and that nothing in a file runs a command."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from heatsim.cli import main
from tests.cli.conftest import QUICK
from tests.support.results import checks as made

pytestmark = pytest.mark.usefixtures("remembered")


def test_a_sound_heater_exits_with_0_and_leaves_a_report_named_after_the_file(sound, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["check", sound, *QUICK]) == 0
    told = capsys.readouterr()
    assert "HOLDS" in told.out and "Written: " in told.out and told.err == ""
    report = tmp_path / "results" / "bench-heater"
    names = {path.name for path in report.iterdir()}
    assert {"results.json", "report.html", "loaded-netlist.cir", "loaded-waveforms.npz"} <= names
    results = json.loads((report / "results.json").read_text())
    assert results["schema"] == "heatsim.check/1" and results["verdict"] == "holds"


def test_pictures_are_written_as_png_where_that_is_asked_for(sound, tmp_path) -> None:
    for more in (["--png"], []):
        assert main(["check", sound, *QUICK, "--quiet", "--out", str(tmp_path), *more]) == 0
        found = {ending: {path.stem for path in tmp_path.glob(f"*.{ending}")} for ending in ("svg", "png")}
        assert {"loaded-tank", "loaded-circuit", "device-output"} <= found["svg"]
        assert found["png"] == (found["svg"] if more else set())


@pytest.mark.slow
def test_the_first_remedy_is_written_and_holds(small, tmp_path, capsys) -> None:
    fixed = tmp_path / "fixed.toml"
    quick = [*QUICK, "--no-report", "--remedy-time", "900"]
    assert main(["check", small, *quick, "--fix", str(fixed), "--json", str(tmp_path / "x.json")]) == 1
    first = json.loads((tmp_path / "x.json").read_text())["remedies"]["found"][0]
    assert first["verdict"] == "holds" and set(first["cases"]) == {"idle", "loaded"}
    text = fixed.read_text(encoding="utf-8")
    assert "# soft start of the source" in text and all(change["words"] in text for change in first["changes"])
    assert main(["check", str(fixed), "--no-report"]) == 0


def test_a_hot_day_and_a_fan_are_asked_about(sound, capsys) -> None:
    assert main(["check", sound, *QUICK, "--no-report", "--hot-day", "45 °C", "--fan-failure"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "If something goes wrong" in text and "45 °C instead of 25 °C" in text and "This scenario has no fan" in text


@pytest.mark.parametrize(("given", "told"), [("45", "unit"), ("90 °C", "within 0 °C and 60 °C")])
def test_a_temperature_that_is_none_of_air_is_refused(sound, capsys, given: str, told: str) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["check", sound, *QUICK, "--no-report", "--hot-day", given])
    assert told in capsys.readouterr().err


def test_a_day_that_is_not_hot_is_refused(sound, capsys) -> None:
    assert main(["check", sound, *QUICK, "--no-report", "--hot-day", "20 °C"]) == 2
    assert "no hotter" in capsys.readouterr().err


def test_what_a_fix_cannot_be_is_refused(small, sound, tmp_path, capsys) -> None:
    assert main(["check", small, "--fix", small]) == 2
    assert main(["check", small, "--fix", str(tmp_path / "x.toml"), "--no-remedies"]) == 2
    assert main(["check", sound, *QUICK, "--no-report", "--fix", str(tmp_path / "x.toml")]) == 0
    assert "it holds as it is" in capsys.readouterr().err and not list(tmp_path.iterdir())


@pytest.mark.slow
def test_a_failing_heater_exits_with_1_and_says_why_and_what_to_do(small, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["check", small, *QUICK, "--no-report", "--remedy-time", "900"]) == 1
    text = " ".join(capsys.readouterr().out.split())
    assert "FAILS" in text and "inductance is left" in text and "or lower the supply voltage" in text
    assert "Changes that would make it hold, simulated" in text and "Everything then holds" in text
    assert not list(tmp_path.iterdir())


def test_json_on_standard_output_is_nothing_but_json(sound, capsys) -> None:
    assert main(["check", sound, *QUICK, "--no-report", "--json", "-"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["cases"][0]["measures"]["tank.frequency_hz"] == pytest.approx(87.0e3, rel=0.01)
    assert data["scenario"]["changes"] == {"supply.rise_time": "300 us", "simulate.longest": "4 ms"}


def test_json_in_a_file_stands_beside_the_words(sound, tmp_path, capsys) -> None:
    assert main(["check", sound, *QUICK, "--no-report", "--json", str(tmp_path / "x.json")]) == 0
    assert json.loads((tmp_path / "x.json").read_text())["verdict"] == "holds" and "HOLDS" in capsys.readouterr().out


def test_quiet_prints_nothing(sound, capsys) -> None:
    assert main(["check", sound, *QUICK, "--no-report", "--quiet"]) == 0
    assert capsys.readouterr() == ("", "")


def test_verbose_lists_the_limits_that_hold(sound, capsys) -> None:
    for options, shown in (([], False), (["--verbose"], True)):
        main(["check", sound, *QUICK, "--no-report", *options])
        assert ("drain voltage" in capsys.readouterr().out) == shown


def test_a_case_that_cannot_be_simulated_in_time_exits_with_3(sound, capsys) -> None:
    limits = ["--set", "simulate.time_limit=1 s", "--set", "simulate.steps_per_period=4000"]
    assert main(["check", sound, "--case", "loaded", *limits, "--no-report"]) == 3
    assert "unknown" in capsys.readouterr().out


@pytest.mark.parametrize(("arguments", "words"), [
    (["nowhere.toml"], ["nowhere.toml", "cannot be read"]),
    (["SOUND", "--case", "molten"], ["no such case", "idle, loaded"]),
    (["SOUND", "--set", "supply.voltage"], ["--set", "FIELD=VALUE"]),
    (["SOUND", "--set", "=3"], ["--set", "FIELD=VALUE"]),
    (["SOUND", "--set", "supply.volts=3 V"], ["supply.volts", "did you mean voltage"]),
    (["SOUND", "--set", "supply.voltage=3"], ["supply.voltage", "bare number"]),
    (["SOUND", "--set", "choke.turns=" + "9" * 5000], ["choke.turns", "a whole number"]),
    (["SOUND", "--set", ".".join("a" * 20_000) + "=1"], ["too many parts"]),
    (["SOUND", "--out", "SOUND"], ["--out", "is not a folder"]),
    (["SOUND", "--json", "no/such/folder/x.json"], ["--json", "there is no such folder"]),
    (["SOUND", "--json", "."], ["--json", "is a folder"]),
])  # fmt: skip
def test_bad_input_exits_with_2_and_says_what_is_allowed(arguments, words, sound, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["check", *(sound if each == "SOUND" else each for each in arguments)]) == 2
    err = capsys.readouterr().err
    assert all(word in err for word in words) and "allowed: " in err


def test_hostile_names_in_files_run_nothing(sound, tmp_path, capsys) -> None:
    marker = tmp_path / "owned"
    for field in ("name", "material"):
        text = Path(sound).read_text().replace(f'{field} = "', f'{field} = "x\\n.control\\nshell touch {marker}\\n.endc\\n', 1)
        (tmp_path / "x.toml").write_text(text)
        assert main(["check", str(tmp_path / "x.toml")]) == 2
        assert "signs that are not allowed" in capsys.readouterr().err
    model = tmp_path / "m.lib"
    model.write_text(f".model mine vdmos(vto=3)\n.control\nshell touch {marker}\n.endc\n")
    assert main(["check", sound, "--set", f"switch.model_file={model}", "--set", "switch.model=mine"]) == 2
    assert "directive" in capsys.readouterr().err and not marker.exists()


@pytest.fixture
def two(sound, tmp_path, monkeypatch) -> tuple[str, str]:
    """Two files of one name, of which the other has less supply; what is simulated for them is made by hand."""
    text = Path(sound).read_text(encoding="utf-8")
    paths = []
    for folder, volts in (("one", "42 V"), ("other", "38 V")):
        (tmp_path / folder).mkdir()
        paths.append(tmp_path / folder / "heater.toml")
        paths[-1].write_text(text.replace('voltage = "42 V"', f'voltage = "{volts}"', 1), encoding="utf-8")

    def answer(asked, *_: object) -> list[object]:
        holding = tuple(each for each in made.FINDINGS if each.grade == "holds")
        kept = [holding, made.FINDINGS][: len(asked)]
        return [
            replace(made.result(*(made.case(name, findings=found) for name in names)), scenario=scenario)
            for (scenario, names), found in zip(asked, kept, strict=True)
        ]

    monkeypatch.setattr("heatsim.studies.check.check_several", answer)
    return str(paths[0]), str(paths[1])


def test_several_files_are_compared_and_the_worst_is_the_exit_code(two, tmp_path, capsys) -> None:
    out, data = tmp_path / "out", tmp_path / "x.json"
    assert main(["check", *two, "--case", "loaded", "--out", str(out), "--json", str(data)]) == 1
    told = capsys.readouterr()
    assert told.out.count("Simulated by") == 2 and "The verdicts differ: heater holds and heater-2 fails." in told.out
    assert "searched for with one FILE only" in told.err
    assert {"beside.html", "beside.json", "heater", "heater-2"} <= {path.name for path in out.iterdir()}
    assert (out / "heater" / "report.html").is_file() and (out / "heater-2" / "results.json").is_file()
    found = json.loads(data.read_text())
    assert found["schema"] == "heatsim.compare/1" and found["fields"] == [{"field": "supply.voltage", "values": ["42 V", "38 V"]}]
    assert [each["schema"] for each in found["results"]] == ["heatsim.check/1"] * 2 and found["results"][1]["verdict"] == "fails"


def test_several_files_on_standard_output_are_nothing_but_json(two, capsys) -> None:
    assert main(["check", *two, "--no-report", "--no-remedies", "--json", "-"]) == 1
    told = capsys.readouterr()
    assert json.loads(told.out)["verdict"] == ["holds", "fails"] and told.err == ""


def test_problems_of_all_files_are_told_before_anything_runs(two, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.setattr("heatsim.studies.check.check_several", lambda *_: pytest.fail("simulated"))
    bad = tmp_path / "bad.toml"
    bad.write_text(Path(two[0]).read_text().replace("turns = 20", 'turns = "many"').replace('"330 nF"', '"330 V"'))
    assert main(["check", two[0], str(bad), "nowhere.toml", "--no-report"]) == 2
    told = capsys.readouterr().err
    assert all(words in told for words in ("turns", "capacitance", "nowhere.toml")) and len(told.splitlines()) == 3


def test_a_fix_takes_one_file(two, tmp_path, capsys) -> None:
    assert main(["check", *two, "--fix", str(tmp_path / "x.toml")]) == 2
    assert "--fix: goes with one FILE only" in capsys.readouterr().err


def test_a_build_beside_itself_is_simulated_alike(sound, tmp_path) -> None:
    assert main(["check", sound, sound, *QUICK, "--no-report", "--json", str(tmp_path / "x.json")]) == 0
    found = json.loads((tmp_path / "x.json").read_text())
    assert found["fields"] == [] and all(row["within_errors"][1] for row in found["measures"])
    assert found["measures"][0]["values"][0] == pytest.approx(87.0e3, rel=0.01)
