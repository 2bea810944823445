# SPDX-License-Identifier: GPL-3.0-or-later
"""Decks on workers: what befalls one does not reach the others, and nothing of the user's surroundings does."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.engine import Run, run_deck, run_decks, run_on, simulators
from heatsim.engine import pool as pools
from heatsim.errors import SetupError
from heatsim.netlist.deck import Deck, SettleRule, Transient
from heatsim.tasks import LocalPool
from heatsim.waves import Signal
from tests.engine.test_session import GOOD
from tests.support.engine.circuits import RULE, heater, small

Python = Callable[..., "subprocess.CompletedProcess[str]"]


def process(pool: LocalPool) -> int:
    """Number of the process of a pool that has one."""
    worker = pool._slots[0].worker
    assert worker is not None
    return worker.process.pid


def quick() -> Deck:
    """A driven resonator that has settled by its first look, some 20 ms of work."""
    circuit = "V1 s 0 SIN(0 10 100k)\nR1 s a 50\nL1 a 0 10u\nC1 a 0 250n\n"
    return small(circuit, {"x": "v(a)"}, stop=3e-4, limit=1e-3, max_step=1e-7)


def long() -> Deck:
    """A heater told to run for two seconds of simulated time: minutes of work."""
    return heater(rule=replace(RULE, first=2.0, limit=2.0))


def resident(pid: int) -> float:
    """Resident memory of a process [MB]."""
    line = next(x for x in Path(f"/proc/{pid}/status").read_text().splitlines() if x.startswith("VmRSS"))
    return float(line.split()[1]) / 1024


def ringing(frequency: float = 100e3, stop: float = 0.2e-3, title: str = "ring") -> Deck:
    """A sine source behind a resistor: settled by construction, done in milliseconds."""
    circuit = f"V1 s 0 SIN(0 10 {frequency:g})\nR1 s a 50\nC1 a 0 1n"
    rule = SettleRule("out", ("out",), 5e-3, 2, stop, stop, 5 * stop, 1e-3)
    step = 1 / frequency / 100
    return Deck(title, circuit, Transient(stop, step, step), rule, (Signal("out", "V", ((1.0, "v(a)"),)),))


def frequency(run: Run) -> float:
    """Of the run's signal, from its rising zero crossings [Hz]."""
    assert run.waveforms is not None
    x, t = run.waveforms["out"], run.waveforms.time
    k = np.flatnonzero((x[:-1] < 0) & (x[1:] >= 0))
    marks = t[k] - x[k] * (t[k + 1] - t[k]) / (x[k + 1] - x[k])
    return float((marks.size - 1) / (marks[-1] - marks[0]))


def test_no_decks_no_runs() -> None:
    assert run_decks([]) == []


@pytest.mark.parametrize("number", [signal.SIGSEGV, signal.SIGKILL])
def test_a_crash_costs_one_deck(number: signal.Signals) -> None:
    with simulators(1) as pool:

        def kill(index: int, reached: float, target: float) -> None:
            if index == 1 and reached < target:
                os.kill(process(pool), number)

        runs = run_on(pool, [quick(), long(), quick()], 30, kill)
    assert [run.outcome for run in runs] == ["settled", "stalled", "settled"]
    assert number.name in runs[1].detail
    assert runs[1].attempts[-1].outcome == "stalled"
    assert runs[1].attempts[-1].reached_s > 0
    assert runs[1].waveforms is None


def test_a_hang_costs_one_deck_and_not_much_more_than_its_time() -> None:
    """A stopped process is as hung as can be."""

    def freeze(index: int, reached: float, target: float) -> None:
        if index == 0 and reached < target and not frozen:
            frozen.append(process(pool))
            os.kill(frozen[0], signal.SIGSTOP)

    frozen: list[int] = []
    with simulators(1) as pool:
        begun = time.perf_counter()
        runs = run_on(pool, [long(), quick()], 1.0, freeze, grace=1.0)
        took = time.perf_counter() - begun
    assert [run.outcome for run in runs] == ["stalled", "settled"]
    assert "hung" in runs[0].detail
    assert took < 8
    with pytest.raises(ProcessLookupError):
        os.kill(frozen[0], 0)


def test_a_slow_deck_ends_at_its_time_limit_with_what_it_has() -> None:
    begun = time.perf_counter()
    run = run_deck(long(), time_limit=1.0)
    assert time.perf_counter() - begun < 5
    assert run.outcome == "stalled"
    assert "time limit" in run.detail
    assert run.waveforms is not None
    assert run.waveforms.time[-1] == pytest.approx(run.deck.transient.stop)
    assert 0 < run.deck.transient.stop < 2


def test_a_poisoned_worker_is_replaced() -> None:
    bad = small(GOOD + "R2 a b {foo}\n", {"x": "v(b)"})
    seen, runs = set(), []
    with simulators(1) as pool:
        for deck in (bad, quick(), bad, quick()):
            runs += run_on(pool, [deck])
            seen.add(process(pool))
    assert [run.outcome for run in runs] == ["unsolved", "settled", "unsolved", "settled"]
    assert runs[0].detail == "a parameter is not defined: foo"
    assert len(seen) == 3, "the third deck has the second one's process"


def test_a_refused_deck_is_a_result_and_runs_nothing(tmp_path: Path) -> None:
    marker = tmp_path / "pwned"
    for line in (".control\nshell touch {0}\n.endc", "*# shell touch {0}"):
        run = run_deck(small(GOOD + line.format(marker) + "\n", {"x": "v(b)"}))
        assert run.outcome == "unsolved"
        assert "refused" in run.detail
        assert run.waveforms is None
    hostile = replace(quick(), title="x\n.control\nshell touch " + str(marker) + "\n.endc")
    assert run_deck(hostile).outcome == "unsolved"
    assert not marker.exists()


@pytest.mark.slow
def test_memory_stays_flat_over_sixty_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pools, "WEAR", 1)
    deck = heater(rule=replace(RULE, first=3e-4, limit=3e-4))
    with simulators(1) as pool:
        sizes = []
        for _ in range(6):
            assert {run.outcome for run in run_on(pool, [deck] * 10)} == {"drifting"}
            sizes.append((process(pool), resident(process(pool))))
    assert len({pid for pid, _ in sizes}) == 1
    sizes = [size for _, size in sizes]
    assert max(sizes[2:]) - sizes[1] < 2.0, sizes  # 60 runs hold 25 MB of waveforms


def test_a_library_that_does_not_load_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", "/nowhere/libngspice.so.0")
    with pytest.raises(SetupError, match=r"/nowhere/libngspice\.so\.0 .*apt install libngspice0"):
        run_deck(quick())


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


def test_a_fault_of_our_own_in_the_worker_is_a_result_with_its_cause() -> None:
    """A rule that watches a signal the deck does not have."""
    deck = ringing()
    runs = run_decks([replace(deck, settle=replace(deck.settle, watched=("nothing",))), ringing(90e3)], workers=1)
    assert [run.outcome for run in runs] == ["unsolved", "settled"]
    assert "nothing" in runs[0].detail


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


SCRIPT = """
import sys
from heatsim.engine import run_decks
from tests.engine.test_pool import quick
print([run.outcome for run in run_decks([quick(), quick()], workers=2)])
"""


def test_scripts_need_no_main_guard(python: Python) -> None:
    done = python(SCRIPT)
    assert (done.stdout, done.stderr) == ("['settled', 'settled']\n", "")


def test_code_without_a_file_works(checkout: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=60,
        env={**os.environ, "PYTHONPATH": str(checkout)},
    )
    assert (done.stdout, done.stderr) == ("['settled', 'settled']\n", "")
