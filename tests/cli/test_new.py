# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim new`: questions and answers, flags, defaults, and that nothing is left behind where it does not come to an end."""

from __future__ import annotations

import io
import json
import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import heatsim as hs
from heatsim.cli import main
from tests.support import commands
from tests.support.processes import heed_interrupts


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to write into."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def answering(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    """Let these lines be what is typed."""
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def test_return_takes_every_default(monkeypatch, capsys) -> None:
    answering(monkeypatch, *[""] * 10)
    assert main(["new", "asked.toml"]) == 0
    told = capsys.readouterr().out
    assert told.count("/10 ") == 10 and "[24 V]" in told and "Next: heatsim check asked.toml" in told
    assert main(["new", "unasked.toml", "--yes"]) == 0
    asked, unasked = hs.load("asked.toml"), hs.load("unasked.toml")
    assert asked.name == "Asked" and asked.text.splitlines()[5:] == unasked.text.splitlines()[5:]


def test_answers_stand_in_the_file_and_bad_ones_are_asked_again(monkeypatch, capsys) -> None:
    answers = ["36", "36 V", "", "no such", "generic 200 V 20 mohm", "3", "8 x 220 nF", "10 x 60 mm x 8 mm"]
    answers += ["steel 80 mm x 100 mm", "brass 20 mm x 120 mm", "2 x powder-39.9x24.1x14.5", "200 x 3 mm", "18 x 1.5 mm", "fan"]
    answering(monkeypatch, *answers)
    assert main(["new", "heater.toml"]) == 0
    told = capsys.readouterr().out
    faults = [line.strip() for line in told.splitlines() if "! " in line]
    assert [line.split("! ")[1].split(";")[0] for line in faults] == [
        "has no unit",
        "is not in the catalogue",
        "does not fit the coil",
        "the winding does not fit the bore",
    ]
    tables = hs.load("heater.toml").tables
    assert tables.supply.voltage == 36.0 and tables.switch.device == "generic 200 V 20 mohm" and tables.switch.count == 3
    assert tables.capacitors.count == 8 and tables.capacitors.voltage_rating is None and tables.coil.turns == 10
    piece, choke = tables.case["loaded"].workpiece, tables.choke["left"]
    assert piece is not None and (piece.material, piece.diameter) == ("brass", 0.02)
    assert choke.turns == 18 and choke.core is not None and choke.core.stack == 2
    assert tables.switch.cooling is not None and tables.switch.cooling.air_speed == 3.0


def test_a_measured_choke_has_no_winding_to_ask_for(monkeypatch, capsys) -> None:
    answering(monkeypatch, *[""] * 7, "65 uH, 30 A", "none")
    assert main(["new"]) == 0
    assert "Turns and wire" not in capsys.readouterr().out
    choke = hs.load("heater.toml").tables.choke["right"]
    assert choke.measured is not None and choke.measured.saturation_current == 30.0


def test_bench_asks_for_what_was_measured(monkeypatch, capsys) -> None:
    answering(monkeypatch, "20 V", "1 x 2.1 uF", "8 x 46 mm x 6 mm", "1.9 uH, 15 mohm", "1.7 uH, 90 mohm", "70 uH, 40 A, 14 mohm")
    assert main(["new", "bench.toml", "--from", "bench"]) == 0
    told = capsys.readouterr().out
    assert "5/5 " in told and "is not measured; given '8 x 46 mm x 6 mm'" in told
    scenario = hs.load("bench.toml")
    assert scenario.cases == ("loaded",) and len(scenario.text.splitlines()) <= 25
    heater = scenario.heater("loaded")
    assert heater.workpiece is not None and heater.workpiece.resistance == pytest.approx(0.09)


def test_flags_answer_beforehand(monkeypatch, capsys) -> None:
    answering(monkeypatch, *[""] * 8)
    assert main(["new", "heater.toml", "--supply-voltage", "12 V", "--workpiece", "none"]) == 0
    told = capsys.readouterr().out
    assert "Supply voltage" not in told and "Workpiece" not in told and "2/10 Supply current" in told
    scenario = hs.load("heater.toml")
    assert scenario.cases == ("idle",) and scenario.tables.switch.device == "generic 60 V 5 mohm"


@pytest.mark.parametrize(("arguments", "told"), [
    (["--supply-voltage", "twelve"], "--supply-voltage: is not a number with a unit; given 'twelve'"),
    (["--supply-voltage", "9 kV"], "--supply-voltage: is out of range"),
    (["--device", "BUZ"], "--device: is not in the catalogue; given 'BUZ'; allowed: suggest, or"),
    (["--supply-voltage", "200 V"], "--device: is too high for every MOSFET of the catalogue; given 200 V; allowed: up to 136 V"),
    (["--coil", "1.75 uH, 14 mohm", "--workpiece", "steel 9 mm x 90 mm"], "--workpiece: is a size, which needs the coil by size"),
    (["--coil", "8 x 46 mm x 30 mm"], "--coil: has too thick a tube"),
    (["--chokes", "65 uH, 30 A", "--winding", "9 x 1 mm"], "--winding: is not asked of a choke that was measured"),
    (["--from", "bench", "--chokes", "powder-39.9x24.1x14.5"], "--chokes: is not measured"),
    (["--cooling", "water"], "--cooling: is none of the choices; given 'water'; allowed: none, sink, fan"),
])  # fmt: skip
def test_a_flag_that_cannot_be_used_leaves_no_file(arguments, told, capsys, folder) -> None:
    assert main(["new", "heater.toml", "--yes", *arguments]) == 2
    assert told in capsys.readouterr().err and not list(folder.iterdir())


@pytest.mark.parametrize("arguments", [["--bogus"], ["--from", "nowhere"], ["a.toml", "b.toml"]])
def test_arguments_that_are_none(arguments, capsys, folder) -> None:
    with pytest.raises(SystemExit) as left:
        main(["new", *arguments])
    assert left.value.code == 2 and capsys.readouterr().err and not list(folder.iterdir())


def test_the_end_of_the_input_leaves_no_file(monkeypatch, capsys, folder) -> None:
    answering(monkeypatch, "24 V", "10 A")
    assert main(["new", "heater.toml"]) == 2
    assert "--device: has no answer: the input ended" in capsys.readouterr().err and not list(folder.iterdir())


def test_places_that_cannot_be_written(capsys, folder) -> None:
    (folder / "taken").mkdir()
    for name, told in (("taken", "is a folder"), ("no/such.toml", "there is no such folder"), ("x" * 300, "is no name of a file")):
        assert main(["new", name, "--yes"]) == 2
        assert told in capsys.readouterr().err
    assert [each.name for each in folder.iterdir()] == ["taken"]


def test_a_file_is_overwritten_only_by_force(capsys, folder) -> None:
    (folder / "mine.toml").write_text("# mine\n")
    assert main(["new", "mine.toml", "--yes"]) == 2
    assert "is there already; given mine.toml; allowed: another name, or --force" in capsys.readouterr().err
    assert (folder / "mine.toml").read_text() == "# mine\n"
    assert main(["new", "mine.toml", "--yes", "--force"]) == 0 and hs.load("mine.toml").name == "Mine"


def test_json_holds_answers_estimates_and_the_text(capsys) -> None:
    assert main(["new", "heater.toml", "--yes", "--count", "2", "--json", "-"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["schema"], told["answers"]["count"], told["answers"]["cooling"]) == ("heatsim.new/1", "2", "sink")
    assert "gate.pull_up" in told["estimates"] and told["text"] == Path("heater.toml").read_text(encoding="utf-8")


def test_quiet_asks_nothing(capsys, folder) -> None:
    assert main(["new", "heater.toml", "--quiet"]) == 2
    told = capsys.readouterr()
    assert told.out == "" and "--supply-voltage: is still to be asked" in told.err and not list(folder.iterdir())
    assert main(["new", "heater.toml", "--quiet", "--yes"]) == 0 and capsys.readouterr().out == ""


def test_ctrl_c_on_a_terminal_leaves_no_file(folder) -> None:
    here, there = pty.openpty()
    command = subprocess.Popen(
        [sys.executable, "-m", "heatsim", "new", "heater.toml"],
        stdin=there,
        stdout=there,
        stderr=subprocess.PIPE,
        text=True,
        cwd=folder,
        env=commands.environment(),
        start_new_session=True,
        preexec_fn=heed_interrupts,
    )
    os.close(there)
    seen = b""
    try:
        while b"1/10" not in seen or b"[24 V]" not in seen:
            seen += os.read(here, 1000)
        os.write(here, b"30 V\n")
        while b"2/10" not in seen or b"[25 A]" not in seen:
            seen += os.read(here, 1000)
        time.sleep(0.1)
        command.send_signal(signal.SIGINT)
        assert command.wait(30) == 130
        assert "Nothing was written" in command.stderr.read()
    finally:
        command.kill()
        command.wait()
        command.stderr.close()
        os.close(here)
    assert not list(folder.iterdir())
