# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line as a user meets it: exit codes, messages, files, JSON; never a traceback."""

import json
import os
import subprocess
import sys

import pytest

QUICK = ["--set", "supply.rise_time=300 us", "--case", "loaded"]


def heatsim(*arguments, cwd, **extra):
    environment = {**os.environ, "NO_COLOR": "1", "COLUMNS": "100", **extra}
    return subprocess.run(
        [sys.executable, "-m", "heatsim", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
        cwd=cwd,
        env=environment,
    )


@pytest.fixture(scope="module")
def sound(checkout):
    return checkout / "scenarios" / "bench-heater.toml"


@pytest.fixture(scope="module")
def small(checkout):
    return checkout / "scenarios" / "bench-heater-small-rings.toml"


@pytest.fixture(scope="module", autouse=True)
def importable(checkout):
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = str(checkout)
    yield
    if before is None:
        os.environ.pop("PYTHONPATH")
    else:
        os.environ["PYTHONPATH"] = before


def test_a_sound_heater_exits_with_0_and_leaves_a_report(sound, tmp_path):
    done = heatsim("check", sound, *QUICK, "--out", "report", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "holds" in done.stdout
    names = {path.name for path in (tmp_path / "report").iterdir()}
    assert {"results.json", "report.html", "loaded-netlist.cir", "loaded-waveforms.npz"} <= names
    results = json.loads((tmp_path / "report" / "results.json").read_text())
    assert results["schema"] == "heatsim.check/1" and results["verdict"] == "holds"


def test_a_failing_heater_exits_with_1_and_says_why_and_what_to_do(small, tmp_path):
    done = heatsim("check", small, *QUICK, "--no-report", cwd=tmp_path)
    assert done.returncode == 1, done.stderr
    text = " ".join(done.stdout.split())
    assert "fails" in text and "inductance is left" in text and "rings under the same turns" in text
    assert not list(tmp_path.iterdir())


def test_json_on_standard_output_is_nothing_but_json(sound, tmp_path):
    done = heatsim("check", sound, *QUICK, "--no-report", "--json", "-", cwd=tmp_path)
    data = json.loads(done.stdout)
    assert data["cases"][0]["measures"]["tank.frequency_hz"] == pytest.approx(87.0e3, rel=0.01)
    assert data["scenario"]["changes"] == {"supply.rise_time": "300 us"}


def test_quiet_prints_nothing(sound, tmp_path):
    done = heatsim("check", sound, *QUICK, "--no-report", "--quiet", cwd=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["check", "nowhere.toml"], ["nowhere.toml", "cannot be read"]),
        (["check", "."], ["is a folder"]),
        (["check", "SOUND", "--case", "molten"], ["no such case", "idle, loaded"]),
        (["check", "SOUND", "--set", "supply.voltage"], ["--set", "FIELD=VALUE"]),
        (["check", "SOUND", "--set", "supply.volts=3 V"], ["supply.volts", "did you mean voltage"]),
        (["check", "SOUND", "--set", "supply.voltage=3"], ["supply.voltage", "bare number"]),
        (["check", "SOUND", "--out", "SOUND"], ["--out", "is not a folder"]),
        (["check", "SOUND", "--json", "no/such/folder/x.json", "--no-report", *QUICK], ["--json", "there is no such folder"]),
        (["netlist", "SOUND"], ["--out", "more than one case"]),
        (["check"], ["FILE"]),
        (["chek", "x"], ["chek"]),
        ([], ["COMMAND"]),
        (["check", "SOUND", "--jobs", "0"], ["--jobs"]),
    ],
)
def test_bad_input_exits_with_2_and_a_message_without_traceback(arguments, words, sound, tmp_path):
    done = heatsim(*[str(sound) if a == "SOUND" else a for a in arguments], cwd=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    for word in words:
        assert word in done.stderr


def test_a_case_that_cannot_be_simulated_in_time_exits_with_3(sound, tmp_path):
    done = heatsim(
        "check",
        sound,
        "--case",
        "loaded",
        "--set",
        "simulate.time_limit=1 s",
        "--set",
        "simulate.steps_per_period=4000",
        "--no-report",
        cwd=tmp_path,
    )
    assert done.returncode == 3, done.stdout + done.stderr
    assert "unknown" in done.stdout and "Traceback" not in done.stderr


def test_netlist_to_standard_output_runs_under_plain_ngspice(sound, tmp_path):
    done = heatsim("netlist", sound, *QUICK, cwd=tmp_path)
    assert done.returncode == 0
    (tmp_path / "x.cir").write_text(done.stdout)
    out = subprocess.run(["ngspice", "-b", "x.cir"], capture_output=True, text=True, timeout=60, cwd=tmp_path).stdout
    found = {
        line.split("=")[0].strip(): float(line.split("=")[1].split()[0])
        for line in out.splitlines()
        if line.startswith(("tank_", "drain_", "choke_", "supply_"))
    }
    assert found["tank_frequency_hz"] == pytest.approx(87.0e3, rel=0.01)
    assert found["drain_left_peak_v"] == pytest.approx(130, rel=0.02)


def test_netlists_of_every_case_go_to_a_folder(sound, tmp_path):
    done = heatsim("netlist", sound, "--out", "decks", cwd=tmp_path)
    assert done.returncode == 0
    assert sorted(path.name for path in (tmp_path / "decks").iterdir()) == ["idle.cir", "loaded.cir"]


def test_schema_is_json_schema(tmp_path):
    done = heatsim("schema", cwd=tmp_path)
    assert json.loads(done.stdout)["$schema"].startswith("https://json-schema.org/")


def test_help_names_every_command_and_loads_nothing_heavy(tmp_path):
    done = heatsim("--help", cwd=tmp_path)
    assert done.returncode == 0 and all(word in done.stdout for word in ("check", "netlist", "schema", "Exit codes"))
    code = (
        "import sys, heatsim.cli\ntry: heatsim.cli.main(['--help'])\nexcept SystemExit: pass\n"
        "print([m for m in ('numpy', 'scipy', 'matplotlib', 'pydantic', 'rich', 'PySpice', 'pandas') if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=tmp_path, timeout=60)
    assert out.stdout.strip().splitlines()[-1] == "[]"


def test_hostile_names_in_files_run_nothing(sound, tmp_path):
    marker = tmp_path / "owned"
    for field in ("name", "material"):
        text = sound.read_text().replace(f'{field} = "', f'{field} = "x\\n.control\\nshell touch {marker}\\n.endc\\n', 1)
        (tmp_path / "x.toml").write_text(text)
        done = heatsim("check", "x.toml", cwd=tmp_path)
        assert done.returncode == 2 and "signs that are not allowed" in done.stderr
    model = tmp_path / "m.lib"
    model.write_text(f".model mine vdmos(vto=3)\n.control\nshell touch {marker}\n.endc\n")
    done = heatsim("check", sound, "--set", f"switch.model_file={model}", "--set", "switch.model=mine", cwd=tmp_path)
    assert done.returncode == 2 and "directive" in done.stderr
    assert not marker.exists()
