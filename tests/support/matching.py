# SPDX-License-Identifier: GPL-3.0-or-later
"""Captures of the loaded bench heater through a file, the reader and the search that `heatsim match` makes, in one process."""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path

import numpy as np

from heatsim.engine.worker import simulator
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.cache import user_folder
from heatsim.studies.match.captures import CaptureRequest, read
from heatsim.studies.match.fit import HypothesisFit, none_of_these
from heatsim.studies.match.hypothesis import Dataset
from heatsim.studies.match.pool import MatchPool
from heatsim.studies.match.refinement import refined_together
from heatsim.studies.match.response_library import ResponseLibrary
from heatsim.studies.match.result import NONE_OF_THESE
from heatsim.studies.match.search import Refine, by_cause, search
from heatsim.studies.match.solver import Solver
from heatsim.studies.match.study import response_libraries

SCENARIO = Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater.toml"


@cache
def scenario() -> Scenario:
    """The bench heater."""
    return Scenario.from_file(SCENARIO)


@cache
def bench() -> tuple[Solver, ResponseLibrary]:
    """A solver of this process and the library of the loaded bench heater, as `match` makes it."""
    condition = "loaded", scenario().case("loaded").tables.supply.voltage
    steps = scenario().tables.simulate.steps_per_period
    with MatchPool(1, user_folder()) as pool:
        library = response_libraries(pool, scenario(), [condition], steps, lambda what, share: None)[condition]
    return Solver(simulator(), library.signals, steps), library


def refine_here(solvers: Sequence[Solver], datasets: Sequence[Dataset]) -> Refine:
    """On solvers of this process, one after the other; what falls far behind the best so far is left there."""

    def refine(groups: list[list[HypothesisFit]], thorough: bool) -> Iterator[tuple[int, list[HypothesisFit | None]]]:
        best = -math.inf
        for number, fits in enumerate(groups):
            found = refined_together(solvers, datasets, fits, best, thorough)
            best = max([best, *(one.evidence for one in found if one)])
            yield number, found

    return refine


def dataset_of(time: np.ndarray, channels: Mapping[str, np.ndarray]) -> Dataset:
    """A capture of the loaded heater [s; V] through a file and the reader."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "capture.npz"
        np.savez(path, time=time, **{f"CH{k + 1}": values for k, values in enumerate(channels.values())})
        taken = CaptureRequest(path, "loaded", None, {f"CH{k + 1}": name for k, name in enumerate(channels)})
        return Dataset(bench()[1], read(scenario(), taken, numbers=False).observation)


def matched(time: np.ndarray, channels: Mapping[str, np.ndarray]) -> tuple[Dataset, list[HypothesisFit], dict[str, float]]:
    """A capture of the loaded heater [s; V] through a file, the reader and the search: as it was read, the fits, and the log
    evidence of each cause, best first."""
    solver, dataset = bench()[0], dataset_of(time, channels)
    fits = search([dataset], refine_here([solver], [dataset]))
    evidence = by_cause(fits) | {NONE_OF_THESE: none_of_these([dataset])}
    return dataset, fits, dict(sorted(evidence.items(), key=lambda each: -each[1]))
