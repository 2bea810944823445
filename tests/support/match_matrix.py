# SPDX-License-Identifier: GPL-3.0-or-later
"""Random captures of every cause, matched: `python -m tests.support.match_matrix` makes `tests/support/match_matrix.csv` anew (half
an hour on two cores), with seeds behind it the rows of these alone.

Captures are those of `tests.support.captures` (SciPy's integration, noise, 8-bit codes, probe error, jitter), two channels each:
tank and left drain. The MOSFETs of every third seed follow heatsim's own law, those of the others two that heatsim does not have
(`tests.support.captures.switches`). Each goes through a file, the reader, and the search that `heatsim match` makes, with both
channels and, of the first seeds, with the tank's alone. A row holds what was wrong, the causes in the order of their evidence,
whether the 95 % intervals of the true cause's fit hold the true values, and which code made it (`tests.support.deciding_code`).
"""

from __future__ import annotations

import csv
import json
import math
import multiprocessing
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.engine.session import Session
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match import faults
from heatsim.studies.match.cache import user_folder
from heatsim.studies.match.captures import CaptureRequest, read
from heatsim.studies.match.estimates import fitted_quantities
from heatsim.studies.match.fit import HypothesisFit, none_of_these
from heatsim.studies.match.hypothesis import Dataset
from heatsim.studies.match.pool import MatchPool
from heatsim.studies.match.response_library import ResponseLibrary
from heatsim.studies.match.result import NONE_OF_THESE
from heatsim.studies.match.search import Refine, by_cause, refined, search
from heatsim.studies.match.solver import NoSolution, Solver
from heatsim.studies.match.study import candidates_of, response_libraries
from tests.support.captures import causes
from tests.support.captures.make import Made, make_capture
from tests.support.captures.switches import LAWS, OWN
from tests.support.deciding_code import this_code

ROOT = Path(__file__).resolve().parents[2]
TARGET = Path(__file__).with_suffix(".csv")
SCENARIO = ROOT / "scenarios" / "bench-heater.toml"
CHANNELS = ("tank.voltage", "drain.left.voltage")
FIRST_SEED, SEEDS = 1_000, 6
SOUND = 36
"""Seeds of sound heaters: false alarms are too rare to be counted in a few."""

ALONE = 2
"""Seeds whose captures are matched by the tank's voltage alone, too."""

SWITCHES = (OWN, *LAWS)
"""Laws of the MOSFETs, by turns from seed to seed: heatsim's own and others."""

NAMES = {
    causes.SATURATING: faults.SATURATING,
    causes.WEAKER: faults.WEAKER,
    causes.GATE_RINGING: faults.GATE_RINGING,
    causes.GATE_DRIVE: faults.GATE_DRIVE,
    causes.LOAD: faults.LOAD,
    causes.SUPPLY: faults.SUPPLY,
    causes.CAPACITOR: faults.CAPACITOR,
    causes.TURN: faults.TURN,
    causes.CONNECTION: faults.CONNECTION,
    causes.PROBE: faults.PROBE,
    causes.NOTHING: faults.NOTHING,
}
"""The cause as it was made -> as it is told."""

TRUTHS = {
    "tank.quality_ratio": "quality",
    "supply.voltage_v": "supply.voltage",
    "capacitors.capacitance_f": "capacitors.capacitance",
    "coil.inductance_h": "loaded.inductance",
    "coil.resistance_ohm": "loaded.resistance",
    "choke.left.inductance_h": "choke.left.inductance",
    "choke.right.inductance_h": "choke.right.inductance",
    "gate.pull_up_ohm": "gate.pull_up",
}
"""Estimates held against the values that were integrated."""

FIELDS = (
    "channels",
    "cause",
    "kind",
    "seed",
    "switches",
    "first",
    "second",
    "lead",
    "misfit",
    "order",
    "inside",
    "outside",
    "code",
)


BEHIND = 10.0
"""One that has been simulated once and is this far behind is left there, although it was corrected only once."""


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
    return Solver(Session(), library.signals, steps), library


def refine_here(solvers: Sequence[Solver], datasets: Sequence[Dataset]) -> Refine:
    """On solvers of this process, one after the other; what falls far behind the best so far is left there."""

    def refine(fits: list[HypothesisFit]) -> Iterator[tuple[int, HypothesisFit | None]]:
        best = -math.inf
        for number, one in enumerate(fits):
            try:
                found = refined(solvers, datasets, one, best - BEHIND)
            except NoSolution:
                yield number, None
                continue
            best = max(best, found.evidence)
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


def row(made: Made, seed: int, channels: tuple[str, ...]) -> dict[str, Any]:
    """One capture matched."""
    dataset, fits, evidence = matched(made.time, {name: made.channels[name] for name in channels})
    order = list(evidence)
    true = NAMES[made.cause]
    inside, outside = held(made, [dataset], next(one for one in fits if one.hypothesis.cause == true))
    return dict(
        zip(
            FIELDS,
            (
                " ".join(channels),
                true,
                made.kind,
                seed,
                switches_of(seed),
                order[0],
                order[1],
                round(evidence[order[0]] - evidence[order[1]], 1),
                round(fits[0].misfit, 2),
                "; ".join(order),
                " ".join(inside),
                " ".join(outside),
                this_code(),
            ),
            strict=True,
        )
    )


def held(made: Made, datasets: list[Dataset], one: Any) -> tuple[list[str], list[str]]:
    """Which of the true values lie in the intervals of the true cause's fit, and which do not."""
    truth = dict(made.truth)
    truth["supply.voltage"] -= truth["supply.sag"]
    skipped = {"quality", "loaded.inductance", "loaded.resistance"} if made.kind == "in the coil" else set()
    inside, outside = [], []
    for estimate in fitted_quantities(datasets, one)[0]:
        name = TRUTHS.get(estimate.key)
        if name and name not in skipped and not math.isnan(truth[name]):
            (inside if estimate.low <= truth[name] <= estimate.high else outside).append(estimate.key)
    return inside, outside


def rows_of(task: tuple[str, int]) -> list[dict[str, Any]]:
    """A cause and a seed, with both channels and, of the first seeds, with the tank's alone."""
    cause, seed = task
    made = make_capture(scenario(), "loaded", cause, seed, CHANNELS, switches_of(seed))
    wrong = [name for name, probe in made.probes.items() if probe.kind != "sound"]
    alone = [] if seed >= FIRST_SEED + ALONE or (wrong and wrong != ["tank.voltage"]) else [CHANNELS[:1]]
    return [row(made, seed, channels) for channels in (CHANNELS, *alone)]


def tasks(seeds: int = SEEDS, sound: int = SOUND) -> list[tuple[str, int]]:
    """Every cause with every seed, and more of nothing wrong."""
    every = [(cause, FIRST_SEED + k) for k in range(seeds) for cause in causes.CAUSES]
    return every + [(causes.NOTHING, FIRST_SEED + k) for k in range(seeds, sound)]


def switches_of(seed: int) -> str:
    """The law of the MOSFETs of a seed's captures."""
    return SWITCHES[seed % len(SWITCHES)]


def table() -> list[dict[str, str]]:
    """Rows of the committed matrix."""
    with TARGET.open(encoding="ascii") as handle:
        return list(csv.DictReader(handle))


def main(seeds: set[int]) -> None:
    """Match the captures of these seeds, of all if there are none. Rows go into the table as they come: what today's code has made
    is not made again after an interruption."""
    done = (
        [row for row in table() if row["code"] == this_code()] if not seeds else [r for r in table() if int(r["seed"]) not in seeds]
    )
    known = {(row["cause"], int(row["seed"])) for row in done}
    wanted = [task for task in tasks() if (not seeds or task[1] in seeds) and (NAMES[task[0]], task[1]) not in known]
    found: list[dict[str, Any]] = list(done)
    with multiprocessing.get_context("spawn").Pool(multiprocessing.cpu_count()) as pool:
        pool.apply(ready)
        for count, rows in enumerate(pool.imap_unordered(rows_of, wanted), start=1):
            found += rows
            write(found)
            sys.stderr.write(f"\r{count} of {len(wanted)}")


def ready() -> None:
    """The library made, so that other processes find it in the cache."""
    bench()


def write(rows: list[dict[str, Any]]) -> None:
    """The table, in order."""
    with TARGET.open("w", newline="", encoding="ascii") as handle:
        writer = csv.DictWriter(handle, FIELDS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(sorted(rows, key=lambda each: (each["channels"], each["cause"], int(each["seed"]))))


def strange() -> list[str]:
    """Causes, best first, of what no heater makes: a triangle with a strong fifth harmonic at the tank's frequency and size."""
    solver, library = bench()
    time = np.arange(5000) * 4e-8
    phase = 2 * np.pi * 86_000 * time
    wave = 110 * (2 / np.pi) * np.arcsin(np.sin(phase)) + 22 * np.sin(5 * phase + 1.0)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "strange.npz"
        np.savez(path, time=time, CH1=wave + np.random.default_rng(0).normal(0, 1, time.size))
        dataset = Dataset(library, read(scenario(), CaptureRequest(path, "loaded"), numbers=False).observation)
    return [each.cause for each in candidates_of([dataset], search([dataset], refine_here([solver], [dataset])))]


def again(seed: int) -> str:
    """As JSON: rows of one seed made anew, every cause; and `strange`. A process has one simulator only, so tests run this in its
    own."""
    rows = [found for cause in causes.CAUSES for found in rows_of((cause, seed))]
    return json.dumps({"rows": rows, "strange": strange()})


if __name__ == "__main__":
    if sys.argv[1:2] == ["again"]:
        sys.stdout.write(again(int(sys.argv[2])))
    else:
        main({int(text) for text in sys.argv[1:]})
