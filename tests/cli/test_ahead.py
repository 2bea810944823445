# SPDX-License-Identifier: GPL-3.0-or-later
"""What `check` does beforehand, and what it leaves until there is time."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from heatsim.cli import ahead
from heatsim.engine import simulators
from heatsim.studies.match.pool import MatchPool
from heatsim.tasks import LocalPool

ROOT = Path(__file__).resolve().parents[2]

LATE = ("matplotlib", "bokeh", "jinja2", "schemdraw", "ht", "pandas")
"""Libraries that nothing needs before the simulators are at work."""


def test_nothing_that_draws_or_judges_is_loaded_before_the_simulators_are_at_work() -> None:
    """With the bench heater, whose chokes are wound and whose coil is measured."""
    code = (
        "import json, sys\nimport heatsim.studies.check.study as study\n"
        "def stop(*_):\n    print(json.dumps(sorted(sys.modules)))\n    raise KeyboardInterrupt\n"
        "study.run_decks = stop\nfrom heatsim.cli import main\nmain(['check', 'scenarios/bench-heater.toml', '--no-report'])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    loaded = {name.partition(".")[0] for name in json.loads(done.stdout)}
    assert "numpy" in loaded and not loaded & set(LATE)


@pytest.mark.parametrize(
    ("jobs", "case", "files", "count"), [(None, None, 1, 2), (1, None, 1, 1), (8, ["loaded"], 1, 1), (8, None, 3, 6)]
)
def test_as_many_simulators_start_as_cases_are_likely(
    monkeypatch: pytest.MonkeyPatch, jobs: int | None, case: list[str] | None, files: int, count: int
) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 4)
    monkeypatch.setattr("heatsim.tasks.kept.Worker", lambda *_: Idle())
    made: list[Idle] = []

    class Idle:
        fit, process = True, argparse.Namespace(kill=lambda: None)

        def __init__(self) -> None:
            made.append(self)

        def close(self) -> None:
            made.remove(self)

    with ahead.simulators_ahead(argparse.Namespace(jobs=jobs, case=case), files):
        assert len(made) == count
    assert not made


@pytest.mark.parametrize(
    ("ahead_of", "pool_of"),
    [(ahead.simulators_ahead, lambda: simulators(1)), (ahead.matching_ahead, lambda: MatchPool(1)._pool)],
    ids=["check", "match"],
)
def test_they_are_taken_by_what_simulates(ahead_of: Callable[..., Any], pool_of: Callable[[], LocalPool]) -> None:
    """What they are made with is what the engine's pools, and those of `match`, ask for."""
    with ahead_of(argparse.Namespace(jobs=1, case=None)), pool_of() as pool:
        assert pool.about.startswith("ngspice") and pool._kept is not None
        [slot] = pool._slots
        assert slot.worker is not None and Path(str(slot.worker._errors)).parent == pool._stock._folder.path


@pytest.mark.parametrize(
    ("cores", "jobs", "cases", "loaded"),
    [
        (2, None, 2, [False, False, True, True]),  # both simulate; the first ends, and a core is free
        (4, None, 2, [True, True, True, True]),  # cores are left from the beginning
        (2, 1, 2, [True, True, True, True]),
        (2, None, 3, [False, False, False, True]),  # the third case takes the place of the first
    ],
)
def test_what_is_needed_later_is_loaded_once_a_core_is_free(
    monkeypatch: pytest.MonkeyPatch, cores: int, jobs: int | None, cases: int, loaded: list[bool]
) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: cores)
    times: list[bool] = []
    monkeypatch.setattr(ahead, "_load", lambda *_: times.append(True))
    told = ahead.loading(lambda *_: None, cases, jobs)
    found = []
    for event in ((0, 0.0, 1.0), (1, 0.5, 1.0), (0, 1.0, 1.0), (1, 1.0, 1.0)):
        told(*event)
        found.append(bool(times))
    assert found == loaded and len(times) == 1
