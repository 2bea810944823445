# SPDX-License-Identifier: GPL-3.0-or-later
"""Worker processes: crashes, hangs, poison, foreign start-up files, memory, orphans, scripts without a main guard."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from heatsim.engine import Pool, pool, run_deck, run_decks
from heatsim.errors import SetupError
from heatsim.netlist.deck import Deck
from tests.engine.test_session import GOOD
from tests.support.engine.circuits import RULE, heater, small

Python = Callable[..., "subprocess.CompletedProcess[str]"]


def quick() -> Deck:
    """A driven resonator that has settled by its first look, some 20 ms of work."""
    circuit = "V1 s 0 SIN(0 10 100k)\nR1 s a 50\nL1 a 0 10u\nC1 a 0 250n\n"
    return small(circuit, {"x": "v(a)"}, stop=3e-4, limit=1e-3, max_step=1e-7)


def long() -> Deck:
    """A heater told to run for two seconds of simulated time: minutes of work."""
    return heater(rule=replace(RULE, first=2.0, limit=2.0))


def workers_of(kept: Pool) -> set[int]:
    """Process numbers of a pool's workers."""
    return {worker.process.pid for worker in kept._workers}


def alive(pid: int) -> bool:
    """Whether a process still runs (a zombie does not)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


def resident(pid: int) -> float:
    """Resident memory of a process [MB]."""
    line = next(x for x in Path(f"/proc/{pid}/status").read_text().splitlines() if x.startswith("VmRSS"))
    return float(line.split()[1]) / 1024


def test_runs_come_back_in_the_order_of_the_decks() -> None:
    resistances = [40.0, 60.0, 50.0]
    decks = [replace(quick(), circuit=quick().circuit.replace("R1 s a 50", f"R1 s a {r:g}")) for r in resistances]
    runs = run_decks(decks, workers=2)
    assert [run.outcome for run in runs] == ["settled"] * 3
    assert [run.deck.circuit for run in runs] == [deck.circuit for deck in decks]
    for run, deck in zip(runs, decks, strict=True):
        assert run.waveforms is not None
        assert run.deck.transient.stop == pytest.approx(run.waveforms.time[-1])
        assert run.waveforms.units == {"x": "V"}
        assert run.simulator_version.startswith("ngspice-")
        assert [a.rung.name for a in run.attempts] == ["as given"]
        assert deck.transient.max_step == run.deck.transient.max_step


def test_no_decks_no_runs() -> None:
    assert run_decks([]) == []


@pytest.mark.parametrize("number", [signal.SIGSEGV, signal.SIGKILL])
def test_a_crash_costs_one_deck(number: signal.Signals) -> None:
    with Pool(1) as kept:

        def kill(index: int, reached: float, target: float) -> None:
            if index == 1 and reached < target:
                os.kill(max(workers_of(kept)), number)

        runs = kept.run([quick(), long(), quick()], 30, kill)
    assert [run.outcome for run in runs] == ["settled", "stalled", "settled"]
    assert number.name in runs[1].detail
    assert runs[1].attempts[-1].outcome == "stalled"
    assert runs[1].attempts[-1].reached_s > 0
    assert runs[1].waveforms is None


def test_a_hang_costs_one_deck_and_not_much_more_than_its_time() -> None:
    """A stopped process is as hung as can be; the deck on the other worker is done meanwhile."""

    def freeze(index: int, reached: float, target: float) -> None:
        if index == 0 and reached < target and not frozen:
            frozen.append(next(w.process.pid for w in kept._workers if w.served and w not in kept._idle))
            os.kill(frozen[0], signal.SIGSTOP)

    frozen: list[int] = []
    with Pool(1) as kept:
        begun = time.perf_counter()
        runs = kept.run([long(), quick()], 1.0, freeze, grace=1.0)
        took = time.perf_counter() - begun
    assert [run.outcome for run in runs] == ["stalled", "settled"]
    assert "hung" in runs[0].detail
    assert took < 8
    assert not alive(frozen[0])


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
    seen = set()
    with Pool(1) as kept:
        runs = []
        for deck in (bad, quick(), bad, quick()):
            seen |= workers_of(kept)
            runs += kept.run([deck])
        seen |= workers_of(kept)
    assert [run.outcome for run in runs] == ["unsolved", "settled", "unsolved", "settled"]
    assert runs[0].detail == "a parameter is not defined: foo"
    assert len(seen) == 3


def test_workers_are_replaced_after_so_many_decks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pool, "RUNS_PER_WORKER", 2)
    seen: list[int] = []
    with Pool(1) as kept:
        kept.run([quick()] * 5, progress=lambda *_: seen.extend(workers_of(kept)))
    assert len(set(seen)) == 3


def test_workers_are_kept_between_batches() -> None:
    with Pool(1) as kept:
        first = workers_of(kept)
        kept.run([quick()])
        kept.run([quick()])
        assert workers_of(kept) == first
    assert not any(alive(pid) for pid in first)


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


def test_start_up_files_and_variables_of_the_user_are_not_obeyed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    marker = tmp_path / "obeyed"
    for name in (".spiceinit", "spinit", "spice.rc"):
        (tmp_path / name).write_text(f"shell touch {marker}\n")
    monkeypatch.chdir(tmp_path)
    for name in ("HOME", "SPICE_SCRIPTS", "SPICE_LIB_DIR", "USERPROFILE"):
        monkeypatch.setenv(name, str(tmp_path))
    assert run_deck(quick()).outcome == "settled"
    assert not marker.exists()


def test_a_worker_has_one_thread_and_an_empty_home(tmp_path: Path) -> None:
    told = pool.environment(tmp_path)
    assert (told["OMP_NUM_THREADS"], told["HOME"]) == ("1", str(tmp_path))
    with Pool(1) as kept:
        kept.run([quick()])
        pid = workers_of(kept).pop()
        home = Path(os.readlink(f"/proc/{pid}/cwd"))
        assert list(home.iterdir()) == []
        assert home.parent.name.startswith("heatsim-")
    assert not home.exists()


def test_memory_stays_flat_over_sixty_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pool, "RUNS_PER_WORKER", 1000)
    deck = heater(rule=replace(RULE, first=3e-4, limit=3e-4))
    with Pool(1) as kept:
        pid = workers_of(kept).pop()
        sizes = []
        for _ in range(6):
            assert {run.outcome for run in kept.run([deck] * 10)} == {"drifting"}
            sizes.append(resident(pid))
        assert workers_of(kept) == {pid}
    assert max(sizes[2:]) - sizes[1] < 2.0, sizes  # 60 runs hold 25 MB of waveforms


def test_progress_rises_and_ends_at_the_end() -> None:
    told: list[tuple[int, float, float]] = []
    run = run_deck(heater(), progress=lambda *now: told.append(now))
    times = [reached for _, reached, _ in told]
    assert len(told) > 3
    assert times == sorted(times)
    assert told[-1] == (0, run.deck.transient.stop, run.deck.transient.stop)


def test_a_fault_in_the_progress_callback_is_raised_and_ends_the_workers() -> None:
    def broken(index: int, reached: float, target: float) -> None:
        raise LookupError("in the callback")

    with Pool(2) as kept:
        pids = workers_of(kept)
        with pytest.raises(LookupError, match="in the callback"):
            kept.run([quick(), long(), long()], 20, broken)
    assert not any(alive(pid) for pid in pids)


def test_a_library_that_does_not_load_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", "/nowhere/libngspice.so.0")
    with pytest.raises(SetupError, match=r"/nowhere/libngspice\.so\.0 .*apt install libngspice0"):
        run_deck(quick())


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


def test_workers_do_not_outlive_a_parent_that_is_killed(python: Python) -> None:
    """The parent kills itself in the middle of a long run, so that nothing of it can tidy up."""
    done = python(
        "import os, signal\n"
        "from heatsim.engine import Pool\n"
        "from tests.engine.test_pool import long, workers_of\n"
        "pool = Pool(1)\n"
        "def end(index, reached, target):\n"
        "    print(*workers_of(pool), flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
        "pool.run([long()], 60, end)\n"
    )
    assert done.returncode == -signal.SIGKILL
    pid = int(done.stdout.split()[0])
    deadline = time.monotonic() + 5
    while alive(pid) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not alive(pid)


def test_an_interrupt_ends_the_workers_at_once(python: Python) -> None:
    done = python(
        "import os, signal\n"
        "from heatsim.engine import Pool\n"
        "from tests.engine.test_pool import alive, long, workers_of\n"
        "pool = Pool(1)\n"
        "pids = workers_of(pool)\n"
        "try:\n"
        "    pool.run([long()], 60, lambda *_: os.kill(os.getpid(), signal.SIGINT))\n"
        "except KeyboardInterrupt:\n"
        "    print('interrupted', any(alive(pid) for pid in pids))\n"
    )
    assert done.stdout == "interrupted False\n", done.stderr
