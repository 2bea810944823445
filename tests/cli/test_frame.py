# SPDX-License-Identifier: GPL-3.0-or-later
"""What holds for every command: odd names, control characters, overrides that meet others, faults and interruptions."""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from heatsim.cli import main
from heatsim.cli.frame import folder_of
from heatsim.errors import SetupError
from tests.cli.conftest import FAILING
from tests.support import commands
from tests.support.processes import heed_interrupts, ignore_interrupts, wait_until

ESCAPE = "\x1b]0;owned\x07\x1b[31m\x9b2J"
"""Sets a terminal's title, its colour, and clears it."""

FILES = {
    "check": ["check", "ODD"],
    "netlist": ["netlist", "ODD"],
    "wind": ["wind", "ODD"],
    "heat": ["heat", "ODD"],
    "heat pull": ["heat", "ODD", "--pull"],
    "ring": ["ring", "ODD"],
    "ring capture": ["ring", "RING", "ODD"],
    "sweep": ["sweep", "ODD", "--vary", "supply.voltage = 42 V"],
    "sweep status": ["sweep", "--status", "ODD"],
    "sweep store": ["sweep", "--store", "ODD", "--plot"],
    "map": ["map", "ODD"],
    "match": ["match", "ODD", "CAPTURE"],
    "match capture": ["match", "SOUND", "ODD"],
    "catalogue": ["check", "SOUND", "--set", "heater.catalogue=ODD"],
    "parts": ["parts", "--catalogue", "ODD"],
    "model": ["check", "SOUND", "--set", "switch.model=x", "--set", "switch.model_file=ODD"],
}
"""Command and file -> arguments; ODD is the file."""


def told(capsys) -> tuple[str, list[str]]:
    """Standard output, and the messages on standard error; neither steers a terminal."""
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    for text in (out, err):
        assert all(sign.isprintable() or sign in "\n\t" for sign in text), repr(text)
    return out, err.splitlines()


@pytest.fixture
def odd(tmp_path) -> dict[str, str]:
    """Names that are no ordinary file."""
    os.mkfifo(tmp_path / "pipe")
    with (tmp_path / "sparse").open("wb") as stream:
        stream.truncate(30_000_000_000)
    return {
        "missing": str(tmp_path / "none"),
        "folder": str(tmp_path),
        "pipe": str(tmp_path / "pipe"),
        "device": "/dev/zero",
        "sparse": str(tmp_path / "sparse"),
        "NUL": "a\0b",
        "long": "x" * 5000,
        "undecodable": os.fsdecode(b"bad-\xff"),
        "escape": ESCAPE,
    }


@pytest.mark.parametrize("kind", ["missing", "folder", "pipe", "device", "sparse", "NUL", "long", "undecodable", "escape"])
@pytest.mark.parametrize("where", FILES)
def test_an_odd_file_is_refused_at_once_with_one_message(
    where, kind, odd, sound, ring, capture, tmp_path, monkeypatch, capsys
) -> None:
    monkeypatch.chdir(tmp_path)
    names = {"ODD": odd[kind], "SOUND": sound, "RING": ring, "CAPTURE": capture}
    arguments = FILES[where]
    for name, path in names.items():
        arguments = [each.replace(name, path) for each in arguments]
    begun = time.monotonic()
    assert main(arguments) == 2
    assert time.monotonic() - begun < 5
    out, err = told(capsys)
    assert out == "" and len(err) == 1 and err[0].startswith("heatsim: ") and len(err[0]) < 1500
    assert "allowed: " in err[0] and not (tmp_path / "results").exists()


@pytest.mark.parametrize("option", ["--out", "--json"])
@pytest.mark.parametrize(
    ("name", "words"), [("a\0b", "null byte"), ("x" * 5000, "File name too long"), ("file/x", "Not a directory")]
)
def test_a_name_that_can_be_no_output_is_refused_before_anything_is_computed(
    sound, option, name, words, tmp_path, monkeypatch, capsys
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").write_text("")
    assert main(["check", sound, option, name]) == 2
    out, err = told(capsys)
    assert out == "" and len(err) == 1 and option in err[0] and words in err[0]


@pytest.mark.parametrize("arguments", [
    [ESCAPE],
    ["check", "x.toml", ESCAPE],
    ["check", "SOUND", "--case", ESCAPE],
    ["check", "SOUND", "--set", ESCAPE],
    ["check", "SOUND", "--set", f"{ESCAPE}=3"],
    ["check", "SOUND", "--set", f"supply.voltage={ESCAPE}"],
    ["check", "SOUND", "--set", f"heater.name={ESCAPE}"],
    ["check", "SOUND", "--jobs", ESCAPE],
    ["heat", "SOUND", "--bar", ESCAPE],
    ["heat", "SOUND", "--case", ESCAPE],
    ["map", "SOUND", "--against", f"{ESCAPE} = 3 to 4"],
    ["map", "SOUND", "--accuracy", ESCAPE],
    ["sweep", "SOUND", "--vary", f"supply.voltage = {ESCAPE}"],
    ["sweep", "SOUND", "--vary", "supply.voltage = 42 V", "--keep", ESCAPE],
    ["match", "SOUND", "CAPTURE", "--signal", f"{ESCAPE}=tank.voltage"],
    ["match", "SOUND", "CAPTURE", "--coupling", f"CH1={ESCAPE}"],
    ["match", "SOUND", "ESCAPING"],
    ["ring", "RING", "ESCAPING"],
    ["check", "KEYS"],
    ["check", "CASES"],
    ["check", "SOUND", "--set", "heater.catalogue=KEYS"],
    ["check", "SOUND", "--set", "switch.model=x", "--set", "switch.model_file=KEYS"],
])  # fmt: skip
def test_no_control_character_of_an_input_reaches_the_terminal(
    arguments, sound, ring, capture, tmp_path, monkeypatch, capsys
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "keys.toml").write_text(Path(sound).read_text() + '\n["\\u001b[31m"]\n"\\u009b2J" = "\\u001b]0;x\\u0007"\n')
    (tmp_path / "cases.toml").write_text(Path(sound).read_text() + '\n[case."\\u001b[31m"]\n')
    (tmp_path / "escaping.csv").write_text(f"{ESCAPE},{ESCAPE}\n1,{ESCAPE}\n2,3\n")
    places = {
        "SOUND": sound,
        "RING": ring,
        "CAPTURE": capture,
        "ESCAPING": "escaping.csv",
        "KEYS": "keys.toml",
        "CASES": "cases.toml",
    }
    for name, path in places.items():
        arguments = [each.replace(name, path) for each in arguments]
    try:
        code = main(arguments)
    except SystemExit as left:
        code = left.code
    assert code == 2
    _, err = told(capsys)
    assert any("heatsim" in line for line in err)


def test_json_on_standard_output_escapes_control_characters(sound, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    name = "a\x9b\u202eb.toml"
    (tmp_path / name).write_text(Path(sound).read_text())
    assert main(["check", name, "--case", "loaded", "--set", "simulate.longest=0.1 ms", "--no-report", "--json", "-"]) == 1
    out, _ = told(capsys)
    assert json.loads(out)["scenario"]["file"].startswith("a") and len(json.loads(out)["cases"]) == 1


OVERLAPPING = """
[choke.left]
turns = 19

[case.strong.set]
"supply.voltage" = "36 V"
"choke.turns" = 16
"""


@pytest.fixture
def overlapping(sound, tmp_path) -> str:
    """A heater whose left choke and one case say other things than the rest of the file."""
    (tmp_path / "overlapping.toml").write_text(Path(sound).read_text() + OVERLAPPING)
    return str(tmp_path / "overlapping.toml")


@pytest.mark.parametrize(("arguments", "notes"), [
    (["netlist", "FILE", "--case", "idle", "--set", "choke.turns=18"], ["choke.turns = 18 also replaces choke.left.turns = 19"]),
    (["netlist", "FILE", "--case", "strong", "--set", "supply.voltage=38 V"], [
        "supply.voltage = 38 V also replaces supply.voltage = 36 V in [case.strong]",
        "choke.turns = 16 also replaces choke.left.turns = 19",
    ]),
    (["netlist", "FILE", "--case", "idle", "--set", "supply.voltage=38 V"], []),
    (["netlist", "FILE", "--case", "idle", "--set", "supply.voltage=38 V", "--set", "supply.voltage=39 V"], [
        "supply.voltage = 39 V replaces the earlier --set supply.voltage = 38 V",
    ]),
    (["netlist", "FILE", "--case", "idle", "--set", "case.loaded.workpiece.share=50 %"], [
        "case.loaded.workpiece.share = 50 % changes nothing of case idle",
    ]),
    (["netlist", "FILE", "--case", "idle", "--set", "choke.turns=18", "--quiet"], []),
])  # fmt: skip
def test_an_override_that_meets_another_setting_is_told(overlapping, arguments, notes, capsys) -> None:
    assert main([overlapping if each == "FILE" else each for each in arguments]) == 0
    _, err = told(capsys)
    assert err == [f"heatsim: note: {note}" for note in notes]


def test_what_is_varied_and_what_it_replaces_is_told(overlapping, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    cases = ["--case", "idle", "--case", "strong", "--set", "supply.voltage=40 V", "--keep", "nonsense"]
    assert main(["sweep", overlapping, "--vary", "choke.turns = 18", "--vary", "supply.voltage = 38 V", *cases]) == 2
    _, err = told(capsys)
    for note in (
        "supply.voltage, which is varied, replaces --set supply.voltage = 40 V",
        "choke.turns, which is varied, replaces choke.left.turns = 19",
        "choke.turns, which is varied, replaces choke.turns = 16 in [case.strong]",
    ):
        assert f"heatsim: note: {note}" in err
    assert main(["map", overlapping, "--against", "choke.turns = 14 to 40", "--accuracy", "50 %"]) == 2
    _, err = told(capsys)
    assert "heatsim: note: choke.turns, which is varied, replaces choke.left.turns = 19" in err
    assert not (tmp_path / "results").exists()


@pytest.mark.parametrize("arguments", [
    ["check", "SOUND", "--out", "SOUND"],
    ["check", "SOUND", "--set", "supply.volts=3 V", "--out", "new"],
    ["netlist", "SOUND", "--case", "none", "--out", "new"],
    ["wind", "SOUND", "--set", "wind.case=none", "--out", "new"],
    ["ring", "SOUND", "--out", "new"],
    ["sweep", "SOUND", "--vary", "supply.voltage = 42 V", "--keep", "some", "--out", "new/deep"],
    ["sweep", "SOUND", "--vary", "choke.none = 42", "--out", "new"],
    ["map", "SOUND", "--against", "choke.none = 4 to 5", "--out", "new/deep"],
    ["map", "SOUND", "--accuracy", "50 %", "--store", "new/points.db"],
    ["match", "SOUND", "SOUND", "--out", "new"],
])  # fmt: skip
def test_bad_input_leaves_no_folder(sound, arguments, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([sound if each == "SOUND" else each for each in arguments]) == 2
    told(capsys)
    assert list(tmp_path.iterdir()) == []


def test_a_fault_of_its_own_is_one_message_and_exit_code_3(sound, monkeypatch, capsys) -> None:
    def faulty(*_):
        raise RuntimeError(f"nobody thought of {ESCAPE} this")

    monkeypatch.setattr("heatsim.studies.check.case_deck", faulty)
    assert main(["netlist", sound, "--case", "idle"]) == 3
    _, err = told(capsys)
    assert len(err) == 1 and "a fault of heatsim's own (RuntimeError: nobody thought of" in err[0]
    monkeypatch.setenv("HEATSIM_DEBUG", "1")
    with pytest.raises(RuntimeError):
        main(["netlist", sound, "--case", "idle"])


def test_what_is_missing_exits_with_3(sound, monkeypatch, capsys) -> None:
    def missing(*_):
        raise SetupError("no simulator; install ngspice")

    monkeypatch.setattr("heatsim.studies.check.case_deck", missing)
    assert main(["netlist", sound, "--case", "idle"]) == 3
    assert told(capsys)[1] == ["heatsim: no simulator; install ngspice"]


@pytest.mark.parametrize(("arguments", "words"), [
    (["check", "SOUND"], "Nothing was written. Run the same command again to start over."),
    (["match", "SOUND", "CAPTURE"], "What was simulated is kept. Run the same command again to continue."),
])  # fmt: skip
def test_an_interruption_exits_with_130_and_says_how_to_go_on(sound, capture, arguments, words, monkeypatch, capsys) -> None:
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("heatsim.scenario.scenario.Scenario.from_file", interrupted)
    assert main([{"SOUND": sound, "CAPTURE": capture}.get(each, each) for each in arguments]) == 130
    assert told(capsys)[1] == [f"heatsim: interrupted. {words}"]


def test_an_interruption_names_the_store(tmp_path) -> None:
    for done, kept in (("700 points", "700 points"), ("", "Finished points")):
        options = argparse.Namespace()
        store = tmp_path / "new" / f"poi{ESCAPE[0]}nts.db"
        with pytest.raises(KeyboardInterrupt), folder_of(options, store, lambda done=done: done):
            raise KeyboardInterrupt
        assert options.again.startswith(f"{kept} are kept in {tmp_path}") and store.parent.is_dir()
        assert options.again.endswith("poi\N{REPLACEMENT CHARACTER}nts.db. Run the same command again to continue.")


@pytest.mark.parametrize(("place", "words"), [
    ("heatsim.report.check.show", "Nothing was written."),
    ("heatsim.report.check.write_folder", "Some of its files may have been written, each of them whole."),
])  # fmt: skip
@pytest.mark.usefixtures("remembered")
def test_an_interruption_while_files_are_written_does_not_say_that_none_were(
    sound, place, words, tmp_path, monkeypatch, capsys
) -> None:
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(place, interrupted)
    arguments = ["check", sound, *FAILING, "--no-remedies", "--json", tmp_path / "a.json", "--out", tmp_path / "out"]
    assert main([str(each) for each in arguments]) == 130
    assert told(capsys)[1][-1].startswith(f"heatsim: interrupted. {words} Run the same command again")
    assert (tmp_path / "a.json").exists() == (place != "heatsim.report.check.show")


@pytest.mark.parametrize(("before", "code"), [(heed_interrupts, 130), (ignore_interrupts, 1)])
def test_control_c_ends_a_check_unless_it_is_ignored(sound, before, code, tmp_path) -> None:
    process = commands.started("check", sound, *FAILING, "--no-remedies", "--no-report", cwd=tmp_path, before=before)
    assert wait_until(lambda: bool(commands.children(process.pid)), 60), "no worker processes"
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=100)
    assert process.returncode == code and "Traceback" not in err
    assert ("interrupted" in err) == (code == 130) and ("FAILS" in out) == (code == 1)


def test_control_c_has_its_exit_code_wherever_it_falls(sound, tmp_path) -> None:
    """Python ends a program by the signal itself where the interrupt fell into an `exec`, as dataclasses make while they load."""
    (tmp_path / "program.py").write_text(
        "import sys\nimport heatsim.studies.check.study as study\n"
        "study.run_decks = lambda *_: exec('raise KeyboardInterrupt')\nfrom heatsim.cli import main\n"
        f"sys.exit(main(['check', {str(sound)!r}, '--no-report']))"
    )
    words = [sys.executable, "-m", "program"]
    done = subprocess.run(words, cwd=tmp_path, env=commands.environment(), capture_output=True, text=True, timeout=100)
    assert done.returncode == 130 and "interrupted" in done.stderr


def test_a_reader_that_leaves_early_does_not_turn_fails_into_holds(sound, tmp_path) -> None:
    script = 'python=$1; shift; "$python" -m heatsim "$@" --no-report --verbose | head -n 1; exit "${PIPESTATUS[0]}"'
    arguments = ["bash", "-c", script, "bash", sys.executable, "check", sound, *FAILING, "--no-remedies"]
    done = subprocess.run(arguments, cwd=tmp_path, env=commands.environment(), capture_output=True, text=True, timeout=100)
    assert done.returncode == 1 and "FAILS" in done.stdout and done.stderr == ""


def test_closed_standard_streams_do_not_lend_their_numbers_to_files(sound, tmp_path) -> None:
    script = f'"{sys.executable}" -m heatsim netlist "{sound}" --out decks <&- >&- 2>&-; echo $?'
    done = subprocess.run(
        ["bash", "-c", script], cwd=tmp_path, env=commands.environment(), capture_output=True, text=True, timeout=100
    )
    assert done.stdout.strip() == "3"
    assert (tmp_path / "decks" / "idle.cir").read_text().startswith("* Bench heater, idle")
    assert "heatsim:" not in (tmp_path / "decks" / "loaded.cir").read_text()
