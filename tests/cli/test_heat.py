# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim heat`: what its arguments ask for, input that cannot be used, and what is left behind. The study is not run here."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from heatsim.cli import heat as command
from heatsim.cli import main
from heatsim.errors import InputError, NotRunningError
from tests.report.heat import example, moved

COIL = '[coil]\nturns = 8\ndiameter = "42 mm"\nlength = "62 mm"\ntube_diameter = "6 mm"\ntube_wall = "1 mm"\n'
BAR = ["--bar", "steel 20 mm x 100 mm"]


@pytest.fixture
def asked(monkeypatch):
    """What the study was asked; it then ends as one does whose input is bad."""
    calls = []

    def heat(scenario, store, progress, confirm, jobs):
        calls.append((scenario, store, confirm, jobs))
        raise InputError.single("study", "was asked")

    monkeypatch.setattr("heatsim.studies.heat.heat", heat)
    return calls


@pytest.fixture(scope="module")
def wound(sound, tmp_path_factory) -> str:
    """The heater that holds with a coil given by its size."""
    text = Path(sound).read_text(encoding="utf-8")
    head, end = text.index("[coil]"), text.index("[coil.measured]")
    after = text.index("\n\n", end)
    path = tmp_path_factory.mktemp("wound") / "wound.toml"
    path.write_text(
        text[:head] + COIL + 'lead_inductance = "60 nH"\nlead_resistance = "0.8 mohm"\n' + text[after:], encoding="utf-8"
    )
    return str(path)


@pytest.mark.parametrize(
    ("text", "material", "diameter", "length"),
    [
        ("steel 20 mm x 100 mm", "steel", "20 mm", "100 mm"),
        ("  stainless 304 1.5cm×0.1 m ", "stainless 304", "1.5cm", "0.1 m"),
        ("C45 20mmx100mm", "C45", "20mm", "100mm"),
    ],
)
def test_a_bar_is_read_by_its_name_and_size(text, material, diameter, length) -> None:
    assert command.bar(text) == {"material": material, "diameter": diameter, "length": length}


@pytest.mark.parametrize("text", ["", "steel", "20 mm x 100 mm", "steel 20 mm", "steel 20 x 100 mm", "steel 20 mm x 100 mm x 3 mm"])
def test_what_is_no_bar_is_refused_with_an_example(text) -> None:
    with pytest.raises(InputError, match='--bar: needs "MATERIAL DIAMETER x LENGTH".*allowed: "steel 20 mm x 100 mm"'):
        command.bar(text)


def test_options_become_changes_of_the_scenario(wound, asked, tmp_path, capsys) -> None:
    arguments = [*BAR, "--to", "1100 °C", "--case", "loaded", "--no-confirm", "--set", "heat.at=surface", "--jobs", "1"]
    assert main(["heat", wound, *arguments, "--out", str(tmp_path / "out")]) == 2
    scenario, store, confirm, jobs = asked[0]
    piece, wanted = scenario.tables.case["loaded"].workpiece, scenario.tables.heat
    assert (piece.material, piece.diameter, piece.length, piece.measured) == ("steel", 0.02, 0.1, None)
    assert (wanted.wanted, wanted.at, wanted.case, confirm, jobs) == (1100.0, "surface", "loaded", False, 1)
    assert store == tmp_path / "out" / "states.db"
    assert "note: --bar steel 20 mm x 100 mm replaces the workpiece of case loaded" in capsys.readouterr().err


def test_without_options_the_file_decides(wound, asked, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["heat", wound, "--quiet"]) == 2
    scenario, store, confirm, jobs = asked[0]
    assert jobs is None and scenario.changes == () and store == Path("results/wound-heat/states.db") and confirm is True


def test_words_folder_and_json_are_of_the_result(wound, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.setattr("heatsim.studies.heat.heat", lambda *_: example.sound())
    out, data = tmp_path / "out", tmp_path / "data.json"
    assert main(["heat", wound, *BAR, "--out", str(out), "--json", str(data)]) == example.sound().exit_code == 1
    told = capsys.readouterr().out
    assert "The core is at 850 °C after 1 min 15 s" in told and "report.html, and " in told
    assert json.loads(data.read_text(encoding="utf-8")) == json.loads((out / "results.json").read_text(encoding="utf-8"))


def test_an_interruption_says_that_states_are_kept(wound, tmp_path, monkeypatch, capsys) -> None:
    def heat(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("heatsim.studies.heat.heat", heat)
    assert main(["heat", wound, *BAR, "--out", str(tmp_path / "out")]) == 130
    told = capsys.readouterr().err
    assert "Simulated states of the heater are kept in" in told and "Run the same command again to continue." in told
    assert "Traceback" not in told


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--case", "forging"], ("has no such case", "forging", "idle, loaded")),
        (["--set", "heat.case=forging"], ("has no such case", "forging", "idle, loaded")),
        (["--set", "heat.case=forging", *BAR], ("has no such case", "forging", "idle, loaded")),
        (["--bar", "a steel bar"], ("--bar: needs", "a steel bar")),
        (["--bar", "unobtainium 20 mm x 100 mm"], ("heatsim: --bar: material: ", "unobtainium")),
        (["--bar", "steel 60 mm x 100 mm"], ("heatsim: --bar: diameter: does not fit the coil", "60 mm")),
        ([*BAR, "--to", "hot"], ("heatsim: --to: is not a number", "hot")),
        ([*BAR, "--to", "850"], ("heatsim: --to: has no unit", "850")),
        ([*BAR, "--to", "100 °C", "--set", "heat.start=200 °C"], ("heatsim: --to: is out of reach", "100 °C", "above 200 °C")),
        ([*BAR, "--to", "1600 °C"], ("heatsim: --to: is out of reach", "1600 °C")),
        ([*BAR, "--set", "heat.wanted=1600 °C"], ("heatsim: --set heat.wanted=1600 °C: is out of reach",)),
        ([], ("workpiece.measured", "is known by what the coil measures")),
        (["--case", "idle"], ("has nothing to be heated",)),
    ],
)
def test_bad_input_is_one_message_and_leaves_nothing(arguments, words, wound, tmp_path, capsys) -> None:
    out = tmp_path / "new" / "out"
    assert main(["heat", wound, *arguments, "--out", str(out)]) == 2
    told = capsys.readouterr().err
    lines = [line for line in told.splitlines() if "note: " not in line]
    assert len(lines) == 1 and lines[0].startswith("heatsim: ") and all(word in lines[0] for word in words), told
    assert not out.parent.exists()


def test_a_measured_piece_is_pulled_without_a_heat_of_it(sound, tmp_path, monkeypatch, capsys) -> None:
    """The scenario's piece is known by what the coil measures, which no heat can be planned for."""
    calls = []

    def pulled(scenario, case, workers, progress):
        calls.append((scenario.tables.supply.voltage, case))
        progress(0, 1e-3, 2e-3)
        return moved.result()

    monkeypatch.setattr("heatsim.studies.heat.pull.pulled", pulled)
    monkeypatch.chdir(tmp_path)
    assert main(["heat", sound, "--pull", "--set", "supply.voltage=36 V", "--no-confirm", "--json", "data.json"]) == 1
    told = capsys.readouterr()
    assert calls == [(36.0, "loaded")]
    assert "When the piece leaves" in told.out and "When a piece goes in" in told.out
    assert "note: --no-confirm changes nothing of --pull" in told.err
    folder = Path("results") / f"{Path(sound).stem}-pull"
    assert json.loads((folder / "results.json").read_text()) == json.loads(Path("data.json").read_text())
    assert (folder / "pull.html").is_file() and "pull.html, and 5 more" in told.out


@pytest.mark.parametrize(("option", "study"), [("--pull", "pull.pulled"), ("--coils", "coils.coil_advice")])
def test_what_keeps_no_states_does_not_say_so(option, study, wound, tmp_path, monkeypatch, capsys) -> None:
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(f"heatsim.studies.heat.{study}", interrupted)
    assert main(["heat", wound, *BAR, option, "--out", str(tmp_path / "out")]) == 130
    assert "Nothing was written." in capsys.readouterr().err and not (tmp_path / "out").exists()


def test_the_case_to_pull_may_be_named(sound, tmp_path, capsys) -> None:
    assert main(["heat", sound, "--pull", "--case", "idle", "--out", str(tmp_path / "out")]) == 2
    assert "case.idle: has no workpiece to pull out" in capsys.readouterr().err and not (tmp_path / "out").exists()
    assert main(["heat", sound, "--pull", "--set", "heat.case=forging", "--out", str(tmp_path / "out")]) == 2
    assert "idle, loaded" in capsys.readouterr().err


def test_coils_and_pull_exclude_each_other(wound, capsys) -> None:
    with pytest.raises(SystemExit) as left:
        main(["heat", wound, "--coils", "--pull"])
    assert left.value.code == 2 and "not allowed with" in capsys.readouterr().err


def test_what_is_there_already_stays(wound, tmp_path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    assert main(["heat", wound, "--case", "idle", "--out", str(tmp_path), "--quiet"]) == 2
    assert [each.name for each in tmp_path.iterdir()] == ["notes.txt"]


def test_help_names_every_option(capsys) -> None:
    with pytest.raises(SystemExit):
        main(["heat", "--help"])
    told = capsys.readouterr().out
    assert all(
        option in told for option in ("--bar", "--to", "--case", "--coils", "--pull", "--no-confirm", "--out", "--json", "--quiet")
    )


@pytest.mark.parametrize(("simulated", "code"), [(True, 1), (False, 3)])
def test_a_heater_that_does_not_run_fails_and_is_no_bad_input(wound, tmp_path, monkeypatch, capsys, simulated, code) -> None:
    def heat(*_):
        raise NotRunningError("wound.toml: the heater does not run with the cold piece: latched", simulated)

    monkeypatch.setattr("heatsim.studies.heat.heat", heat)
    assert main(["heat", wound, *BAR, "--out", str(tmp_path / "out")]) == code
    told = capsys.readouterr()
    assert "does not run with the cold piece" in told.err and "Traceback" not in told.err
