# SPDX-License-Identifier: GPL-3.0-or-later
"""Robustness in figures: a few trials of each kind, what becomes of faults, and the committed counts."""

from __future__ import annotations

import shutil
import signal
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.support.deciding_code import ROOT
from tests.support.robustness import __main__ as command
from tests.support.robustness import table, trial
from tests.support.robustness.table import Row, read, section, write

LEAST = {"scenarios": 2000, "catalogues": 2500, "ring_tests": 1000, "models": 2500, "captures": 3000, "stores": 500, "outputs": 300}
"""Trials that the committed counts have at least; all of a kind's COUNT are made by the command when it is given the time."""


@pytest.mark.parametrize(
    ("kind", "count"),
    [("scenarios", 80), ("catalogues", 200), ("ring_tests", 200), ("models", 300), ("captures", 120), ("stores", 3)],
)
def test_some_trials_end_as_they_may_and_the_same_ones_again(kind: str, count: int, tmp_path: Path) -> None:
    found = trial.module(kind)
    prepared, numbers = found.prepare(tmp_path), range(500, 500 + count)
    ends = [found.attempt(number, 1, prepared) for number in numbers]
    assert set(ends) <= {"accepted", "refused"}
    assert count < 10 or min(map(ends.count, ("accepted", "refused"))) > count / 20, "both must be common, or nothing is tested"
    assert ends[:3] == [found.attempt(number, 1, prepared) for number in numbers[:3]]


def test_runs_in_one_process_are_looked_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With eyes that see more open files from run to run."""
    runs = trial.module("runs")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(runs, "EARLY", 1)
    monkeypatch.setattr(runs, "ring_down", lambda **_: None)
    ended = SimpleNamespace(outcome="settled", detail="", waveforms=SimpleNamespace(time=[1.0]))
    monkeypatch.setattr(runs, "simulate", lambda *_: ended)
    monkeypatch.setattr(runs, "simulator", lambda: None)
    begun, files = runs.Begun(), iter(range(3, 1000))
    monkeypatch.setattr(runs, "held", lambda: (10**8, next(files)))
    assert all(runs.attempt(number, 1, begun) == "accepted" for number in range(99))
    with pytest.raises(AssertionError, match="1 more open files after 100 runs"):
        runs.attempt(99, 1, begun)


@pytest.mark.slow
@pytest.mark.skipif(not shutil.which("strace"), reason="strace is not there")
def test_system_calls_of_an_output_fail_in_turn(tmp_path: Path) -> None:
    outputs = trial.module("outputs")
    prepared = outputs.prepare(tmp_path)
    written = [number for number, (name, *_) in enumerate(prepared[1]) if name == "one file"]
    ends = [outputs.attempt(number, 1, prepared) for number in written]
    assert len(ends) > 8 and set(ends) == {"accepted", "refused"} and ends.count("refused") >= 5


def kind_of(monkeypatch: pytest.MonkeyPatch, attempt: object) -> None:
    """A kind made up for a test."""
    made = SimpleNamespace(attempt=attempt, prepare=lambda folder: None, COUNT=4)
    monkeypatch.setattr(trial, "module", lambda kind: made)


def test_an_exception_is_a_fault_with_what_was_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    def attempt(number: int, seed: int, prepared: object) -> str:
        if number == 2:
            raise KeyError("a traceback")
        return "accepted"

    kind_of(monkeypatch, attempt)
    found = [trial.one("made up", 1, number, None) for number in range(4)]
    assert [each["outcome"] for each in found] == ["accepted", "accepted", "fault", "accepted"]
    assert "KeyError: 'a traceback'" in found[2]["told"]
    assert signal.getitimer(signal.ITIMER_PROF)[0] == 0.0


def test_a_process_that_ends_is_a_fault_and_another_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each trial ends its process at the second; that of the third takes too long, that of the fifth ends as if done."""
    script = (
        "import json, os, signal, sys; at = int(sys.argv[3])\n"
        "for number in range(at, at + int(sys.argv[4])):\n"
        "    if number == 1: os._exit(9)\n"
        "    if number == 2: os.kill(os.getpid(), signal.SIGPROF)\n"
        "    if number == 4: os._exit(0)\n"
        "    print(json.dumps({'number': number, 'outcome': 'accepted', 'told': ''}), flush=True)\n"
    )
    start = subprocess.Popen
    monkeypatch.setattr(trial.subprocess, "Popen", lambda words, **rest: start([sys.executable, "-c", script, *words[3:]], **rest))
    found = list(trial.outcomes("made up", 1, 0, 5))
    assert [each["number"] for each in found] == [0, 1, 2, 3, 4]
    assert [each["outcome"] for each in found] == ["accepted", "fault", "fault", "accepted", "fault"]
    assert "process ended: 9" in found[1]["told"] and "no end within the time" in found[2]["told"]


def test_it_goes_on_where_it_ended(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    asked = []

    def outcomes(kind: str, seed: int, first: int, count: int) -> list[dict[str, object]]:
        asked.append((first, count))
        return [{"number": number, "outcome": "refused", "told": ""} for number in range(first, first + count)]

    monkeypatch.setattr(command, "outcomes", outcomes)
    monkeypatch.setattr(command, "BATCH", 10)
    monkeypatch.setattr(command, "this_code", lambda: "0" * 16)
    assert command.carry_on("models", 7, 25, tmp_path).refused == 25
    assert command.carry_on("models", 7, 35, tmp_path).tried == 35
    assert asked == [(0, 10), (10, 10), (20, 5), (25, 10)]


def test_the_committed_counts_are_whole_and_without_a_fault() -> None:
    rows = {row.kind: row for row in read()}
    assert set(rows) == set(trial.KINDS) == set(table.WORDS)
    assert all(rows[kind].tried >= least for kind, least in LEAST.items()) and rows["runs"].tried == 2000
    mutated = ("scenarios", "catalogues", "ring_tests", "models", "captures")
    assert sum(trial.module(kind).COUNT for kind in mutated) == 15_000
    assert sum(rows[kind].tried for kind in mutated) >= 11_000
    for row in rows.values():
        assert row.faults == 0 and row.accepted + row.refused == row.tried and row.accepted > 0
        assert row.refused > row.tried / 10 or row.kind == "runs"


def test_counts_are_shown_as_they_are(tmp_path: Path) -> None:
    row = Row("models", 12, 5, 7, 0, 3, 1, "0" * 16, "2026-01-01")
    write([row], tmp_path / "counts.csv")
    assert read(tmp_path / "counts.csv") == [row] and read(tmp_path / "none.csv") == []
    assert all(f"| {tried.tried:,} |" in section() for tried in read())


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "count"), [("scenarios", 1000), ("models", 600), ("captures", 1500), ("stores", 100)])
def test_many_trials_by_the_command(kind: str, count: int, tmp_path: Path) -> None:
    words = ["-m", "tests.support.robustness", kind, "--count", str(count), "--seed", "4", "--folder", str(tmp_path)]
    done = subprocess.run([sys.executable, *words], cwd=ROOT, capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    assert f"{kind}: {count} of {count}" in done.stdout
