# SPDX-License-Identifier: GPL-3.0-or-later
"""Output that cannot be written, for every command that writes: the verdict first, one message, exit code 3, no traceback."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import pytest

from heatsim.cli import main
from tests.cli.conftest import FAILING
from tests.support.layers import quick_of

pytestmark = pytest.mark.usefixtures("remembered")

COMMANDS = {
    "check": ("FAILS", 1),
    "wind": ("no winding found", 1),
    "ring": ("Relative permeability", 0),
    "sweep": ("1 of 1 points", 0),
    "map": ("Nothing is usable below", 1),
}
"""Command -> words of its verdict, and its exit code."""


@pytest.fixture(params=COMMANDS)
def command(request, sound, drawer, ring) -> tuple[list[str], str, int]:
    """Arguments, words of the verdict and exit code of a command that has been run before."""
    name = request.param
    arguments = {
        "check": lambda: ["check", sound, *FAILING, "--no-remedies"],
        "wind": lambda: ["wind", drawer],
        "ring": lambda: ["ring", ring],
        "sweep": lambda: [*request.getfixturevalue("swept"), "--plot"],
        "map": lambda: request.getfixturevalue("mapped"),
    }[name]()
    return arguments, *COMMANDS[name]


@pytest.fixture
def stdout(monkeypatch):
    """Gives standard output another place for the command, a real descriptor as a shell gives it."""
    opened = []

    def place(descriptor: int) -> None:
        stream = os.fdopen(descriptor, "w", encoding="utf-8")
        opened.append(stream)
        monkeypatch.setattr(sys, "stdout", stream)

    yield place
    for stream in opened:
        stream.close()


def full() -> int:
    return os.open("/dev/full", os.O_WRONLY)


def closed_pipe() -> int:
    reading, writing = os.pipe()
    os.close(reading)
    return writing


def complaints(capsys) -> list[str]:
    """Messages on standard error."""
    err = capsys.readouterr().err
    assert "Traceback" not in err
    return [line for line in err.splitlines() if line.startswith("heatsim: ")]


@pytest.mark.parametrize(
    "fault", quick_of(["folder under /proc", "results.json is a folder", "full device", "file under /proc"], "folder under /proc")
)
def test_the_verdict_is_printed_and_one_message_says_what_could_not_be_written(command, fault, tmp_path, capsys) -> None:
    arguments, words, _ = command
    (tmp_path / "out" / "results.json" / "x").mkdir(parents=True)
    (tmp_path / "out" / "sweep-1.png" / "x").mkdir(parents=True)
    options = {
        "folder under /proc": ["--out", "/proc/nowhere"],
        "results.json is a folder": ["--out", str(tmp_path / "out")],
        "full device": ["--out", str(tmp_path / "new"), "--json", "/dev/full"],
        "file under /proc": ["--out", str(tmp_path / "new"), "--json", "/proc/nowhere.json"],
    }[fault]
    assert main([*arguments, *options]) == 3
    told = capsys.readouterr()
    assert words in " ".join(told.out.split())
    assert [line for line in told.err.splitlines() if line.startswith("heatsim: ")] == [
        line for line in told.err.splitlines() if "cannot be written" in line
    ]
    assert told.err.count("cannot be written") == 1 and "Traceback" not in told.err
    assert fault != "folder under /proc" or "Written" not in told.out
    assert not list(tmp_path.rglob("*.part"))


def test_a_full_standard_output_exits_with_3_and_the_verdict_is_told_elsewhere(command, stdout, tmp_path, capsys) -> None:
    arguments, words, _ = command
    stdout(full())
    assert main([*arguments, "--out", str(tmp_path / "out")]) == 3
    err = " ".join(capsys.readouterr().err.split())
    assert words in err and "standard output: cannot be written (No space left on device)" in err and "Traceback" not in err
    assert list((tmp_path / "out").iterdir()), "the files are written all the same"


def test_a_closed_pipe_exits_as_the_verdict_says(command, stdout, tmp_path, capsys) -> None:
    arguments, _, code = command
    stdout(closed_pipe())
    assert main([*arguments, "--out", str(tmp_path / "out")]) == code
    assert complaints(capsys) == [] and list((tmp_path / "out").iterdir()), "the files are written all the same"


@pytest.mark.parametrize("place", [full, closed_pipe])
def test_json_that_does_not_reach_its_reader_exits_with_3(mapped, place, stdout, tmp_path, capsys) -> None:
    stdout(place())
    assert main([*mapped, "--json", "-", "--out", str(tmp_path)]) == 3
    assert ["standard output: cannot be written" in line for line in complaints(capsys)] == [True]


@pytest.mark.parametrize("options", [[], ["--json", "-"]])
def test_a_closed_standard_output_exits_with_3(sound, options, monkeypatch, capsys) -> None:
    monkeypatch.setattr(sys, "stdout", None)
    assert main(["check", sound, *FAILING, "--no-remedies", "--no-report", *options]) == 3
    assert any("standard output: cannot be written (it is closed)" in line for line in complaints(capsys))


@pytest.mark.slow
def test_names_that_are_no_text_are_written_and_shown_with_a_replacement_sign(command, tmp_path, capsys) -> None:
    arguments, _, code = command
    out = os.fsdecode(os.fsencode(tmp_path) + b"/bad-\xff-name")
    assert main([*arguments, "--out", out, "--json", f"{out}.json"]) == code
    told = capsys.readouterr()
    assert told.err == "" and "\N{REPLACEMENT CHARACTER}" in told.out and "\udcff" not in told.out
    assert os.listdir(out) and "schema" in json.loads(Path(f"{out}.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("arguments", [["netlist", "SOUND", "--case", "idle"], ["schema"], ["--help"], ["--version"]])
def test_plain_text_that_does_not_reach_a_full_device_exits_with_3(arguments, sound, stdout, capsys) -> None:
    stdout(full())
    assert main([sound if each == "SOUND" else each for each in arguments]) == 3
    assert ["standard output: cannot be written" in line for line in complaints(capsys)] == [True]


@pytest.mark.parametrize("out", ["/proc/nowhere", "taken"])
def test_netlists_that_cannot_be_written_exit_with_3(sound, out, tmp_path, capsys) -> None:
    (tmp_path / "taken" / "idle.cir" / "x").mkdir(parents=True)
    assert main(["netlist", sound, "--out", str(tmp_path / out)]) == 3
    assert ["cannot be written" in line for line in complaints(capsys)] == [True]


def test_an_export_that_cannot_be_written_exits_with_3(swept, tmp_path, capsys) -> None:
    assert main([*swept, "--export", "/proc/points.csv"]) == 3
    told = capsys.readouterr()
    assert "1 of 1 points" in told.out and told.err.count("cannot be written") == 1


def test_a_planted_link_is_not_followed(command, tmp_path, capsys) -> None:
    arguments, _, _ = command
    (tmp_path / "mine").write_text("mine")
    (tmp_path / "out").mkdir()
    for name in ("results.json", "results.json.part", "sweep-1.png", "sweep-1.png.part"):
        (tmp_path / "out" / name).symlink_to(tmp_path / "mine")
    main([*arguments, "--quiet", "--out", str(tmp_path / "out")])
    assert (tmp_path / "mine").read_text() == "mine" and complaints(capsys) == []
