# SPDX-License-Identifier: GPL-3.0-or-later
"""Batches: nothing of the caller's, and nothing that befalls one deck, reaches into the others."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO

import numpy as np
import pytest

from heatsim.engine import Pool, Run, run_deck, run_decks
from heatsim.netlist.deck import Deck, SettleRule, Transient
from heatsim.waves import Signal


def ringing(frequency: float = 100e3, stop: float = 0.2e-3, title: str = "ring") -> Deck:
    """A sine source behind a resistor: settled by construction, done in milliseconds."""
    circuit = f"V1 s 0 SIN(0 10 {frequency:g})\nR1 s a 50\nC1 a 0 1n"
    rule = SettleRule("out", ("out",), 5e-3, 2, stop, stop, 5 * stop, 1e-3)
    step = 1 / frequency / 100
    return Deck(title, circuit, Transient(stop, step, step), rule, (Signal("out", "V", ((1.0, "v(a)"),)),))


def endless() -> Deck:
    """A deck that would run for minutes."""
    deck = ringing(stop=20.0)
    return replace(deck, transient=replace(deck.transient, max_step=2e-8))


def frequency(run: Run) -> float:
    """Of the run's signal, from its rising zero crossings [Hz]."""
    assert run.waveforms is not None
    x, t = run.waveforms["out"], run.waveforms.time
    k = np.flatnonzero((x[:-1] < 0) & (x[1:] >= 0))
    marks = t[k] - x[k] * (t[k + 1] - t[k]) / (x[k + 1] - x[k])
    return float((marks.size - 1) / (marks[-1] - marks[0]))


def on_first_report(index: int, action: Callable[[], None]) -> Callable[[int, float, float], None]:
    """A progress callback that acts once, at the first word of deck `index` that is not yet at its end."""
    done = threading.Event()

    def progress(number: int, reached: float, target: float) -> None:
        if number == index and 0 < reached < target and not done.is_set():
            done.set()
            action()

    return progress


def pids(pool: Pool) -> list[int]:
    """Process ids of a pool's workers."""
    return [worker.process.pid for worker in pool._workers]


@pytest.mark.parametrize("workers", [1, 2, None])
def test_results_come_in_the_order_of_the_decks(workers: int | None) -> None:
    wanted = [100e3, 300e3, 60e3, 200e3, 150e3]
    runs = run_decks([ringing(f) for f in wanted], workers=workers)
    assert [run.outcome for run in runs] == ["settled"] * 5
    # Source frequency; straight-line interpolation at 100 steps a period errs by far less than 1e-4.
    np.testing.assert_allclose([frequency(run) for run in runs], wanted, rtol=1e-4)


def test_progress_of_each_deck_never_falls_and_ends_at_its_end() -> None:
    told: dict[int, list[tuple[float, float]]] = {0: [], 1: [], 2: []}
    decks = [ringing(stop=3e-3), replace(ringing(), circuit="x1 a 0 nothing"), ringing(stop=2e-3)]
    runs = run_decks(decks, workers=2, progress=lambda index, *times: told[index].append(times))
    for index, times in told.items():
        reached = np.array([each[0] for each in times])
        assert np.all(np.diff(reached) >= 0)
        assert all(now <= target for now, target in times)
        assert times[-1] == (runs[index].deck.transient.stop, runs[index].deck.transient.stop)
    assert len(told[0]) > 1  # 30 000 points: more than the final word


@pytest.mark.parametrize("error", [ValueError("display"), BrokenPipeError("display"), KeyboardInterrupt()])
def test_an_error_in_the_progress_callback_reaches_the_caller(error: BaseException) -> None:
    def progress(*_: object) -> None:
        raise error

    with pytest.raises(type(error)):
        run_decks([ringing(), ringing()], workers=1, progress=progress)


def test_a_crash_on_one_of_two_workers_leaves_the_other_alone() -> None:
    with Pool(2) as pool:
        for worker in pool._workers:
            worker.start()
        victim = pool._workers[-1].process.pid
        progress = on_first_report(0, lambda: os.kill(victim, signal.SIGSEGV))
        runs = pool.run([ringing(stop=20e-3), ringing(stop=20e-3), ringing(), ringing()], progress=progress)
    assert sorted(run.outcome for run in runs) == ["settled", "settled", "settled", "stalled"]


def test_a_fault_of_our_own_in_the_worker_is_a_result_with_its_cause() -> None:
    """A rule that watches a signal the deck does not have."""
    deck = ringing()
    runs = run_decks([replace(deck, settle=replace(deck.settle, watched=("nothing",))), ringing(90e3)], workers=1)
    assert [run.outcome for run in runs] == ["unsolved", "settled"]
    assert "nothing" in runs[0].detail


def test_a_worker_that_still_talks_is_not_killed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A long result may take longer than the grace to come through; the clock counts silence."""

    class Slow:
        def __init__(self, stream: BinaryIO) -> None:
            self.stream = stream

        def readinto(self, view: memoryview) -> int:
            if len(view) > 8:
                time.sleep(0.02)
            return self.stream.readinto(view[:4096])  # type: ignore[attr-defined, no-any-return]

        def close(self) -> None:
            self.stream.close()

    with Pool(1) as pool:
        process = pool._workers[0].process
        process.stdout = Slow(process.stdout)  # type: ignore[assignment, arg-type]
        begun = time.perf_counter()
        run = pool.run([endless()], time_limit=0.2, grace=0.5)[0]
        assert time.perf_counter() - begun > 0.2 + 2 * 0.5
    assert run.waveforms is not None
    assert "time limit was reached" in run.detail


def test_a_library_given_by_a_relative_path_is_found(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    folder = next((f for f in Path("/usr/lib").glob("*/libngspice.so.0")), None)
    if folder is None:
        pytest.skip("no libngspice in /usr/lib")
    (tmp_path / "mine.so").symlink_to(folder)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", "./mine.so")
    assert run_deck(ringing()).outcome == "settled"


def test_start_up_files_and_modules_of_the_user_are_not_obeyed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """ngspice reads .spiceinit in the working and in the home folder; Python would import from the working folder."""
    marker = tmp_path / "obeyed"
    plain = run_deck(ringing())
    for folder in (tmp_path / "work", tmp_path / "home"):
        folder.mkdir()
        (folder / ".spiceinit").write_text(f"shell touch {marker}\noption reltol=0.1\n")
        (folder / "spinit").write_text(f"shell touch {marker}\n")
        (folder / "pickle.py").write_text("raise SystemExit('the wrong module')\n")
    monkeypatch.chdir(tmp_path / "work")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("SPICE_SCRIPTS", str(tmp_path / "home"))
    run = run_deck(ringing())
    assert run.outcome == "settled"
    assert not marker.exists()
    assert plain.waveforms is not None and run.waveforms is not None
    np.testing.assert_array_equal(run.waveforms["out"], plain.waveforms["out"])


def test_batches_run_from_several_threads_at_once() -> None:
    found: dict[float, Run] = {}
    threads = [threading.Thread(target=lambda f=f: found.__setitem__(f, run_deck(ringing(f)))) for f in (60e3, 140e3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    for wanted, run in found.items():
        assert frequency(run) == pytest.approx(wanted, rel=1e-4)
    assert len(found) == 2


def test_nothing_is_left_behind(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    with Pool(2) as pool:
        pool.run([ringing(), ringing()])
        there = pids(pool)
        assert list(tmp_path.iterdir())
    assert not list(tmp_path.iterdir())
    for pid in there:
        with pytest.raises(ProcessLookupError):
            os.kill(pid, 0)
