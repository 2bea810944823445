# SPDX-License-Identifier: GPL-3.0-or-later
"""`match` on meter readings alone: the heater fitted to them, how surely, and what to read next.

Flow: texts -> readings (`parse`) -> unknowns and conditions (`unknowns`) -> simulated readings (`simulate`) -> fit (`fit`) ->
fitted quantities and scenario (`quantities`), proposals.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from heatsim.errors import InputError, SetupError
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.drives import refuse_other_drives
from heatsim.studies.match.estimates import NORMAL_95
from heatsim.studies.match.fitted import built
from heatsim.studies.match.pool import MatchPool
from heatsim.studies.match.readings.fit import Fitted, NotFitted, chance, fit, gain, left_out, with_reading
from heatsim.studies.match.readings.meters import Readable, model_error, readables
from heatsim.studies.match.readings.parse import Condition, Reading
from heatsim.studies.match.readings.quantities import fitted_text, quantities
from heatsim.studies.match.readings.result import UNLIKELY, WORTH_READING, Compared, Departure, Proposal, ReadingsResult
from heatsim.studies.match.readings.simulate import Read, Simulator
from heatsim.studies.match.readings.unknowns import Bench
from heatsim.waves import Array

Progress = Callable[[str, float], None]
"""Called with what is being done and the share of all that is done."""

WARM = 600.0
"""Time since a cold start [s] at which a temperature is proposed."""

LOWER = 0.6
"""Share of its supply voltage at which a heater with something unknown is proposed to be read as well."""

MOST_PROPOSALS = 2

APART = 1.0
"""Standard deviations between the starting points of something unknown."""


@dataclass(frozen=True)
class _Task:
    """Readings with where they stand in what is simulated.

    rows, columns: place of each reading among the conditions and among what is read
    """

    bench: Bench
    readings: tuple[Reading, ...]
    rows: list[int]
    columns: list[int]
    deviations: Array

    @property
    def values(self) -> Array:
        """As they were read."""
        return np.array([each.value for each in self.readings])


def match_readings(
    scenario: Scenario,
    readings: Sequence[Reading],
    free: Sequence[str] = (),
    jobs: int | None = None,
    progress: Progress | None = None,
    folder: Path | None = None,
) -> ReadingsResult:
    """Fit a heater to readings of meters.

    free: names of what the user does not know, such as `ring` and `reach` of an unknown ring
    jobs: processes, by default one a core
    folder: where simulations are cached for the next run, None for nowhere
    Raises InputError for what cannot be used, SetupError when nothing can be simulated.
    """
    begun = time.perf_counter()
    if not readings:
        raise InputError.single("match", "needs a reading", allowed='"idle supply.mean_current = 5.6 A"')
    used = list(dict.fromkeys(each.condition for each in readings))
    refuse_other_drives(scenario, (each.case for each in used))
    bench = Bench.of(scenario, [*used, *_further(scenario, used, free)], free)
    reads = _reads(bench.sound[0], readings)
    task = _task(bench, readings, reads)
    steps, limit = scenario.tables.simulate.steps_per_period, scenario.tables.simulate.time_limit
    with MatchPool(jobs, folder) as pool:
        simulator = Simulator(pool, bench, len(used), reads, steps, limit, _told(progress, len(used)))
        sound = _sound(simulator, task)
        fitted, slopes = _fitted(simulator, task)
        odds = chance(fitted.cost, len(readings))
        consistent = fitted.at_rest and odds >= UNLIKELY
        if consistent:
            slopes = np.where(np.isnan(slopes), simulator.further(fitted.unknowns), slopes)
        values = simulator.values
        estimates, tied = quantities(bench, scenario, fitted.unknowns, fitted.covariance)
        text = fitted_text(scenario, bench, fitted.unknowns, estimates, tied, consistent)
        checked = pool.checked([built(scenario, text) if consistent else None])[0]
        version, simulations, spared = pool.version, pool.simulations, pool.spared
    return ReadingsResult(
        scenario,
        _compared(task, sound, fitted),
        _departures(bench, fitted),
        estimates,
        tied,
        fitted.cost,
        odds,
        fitted.at_rest,
        tuple(_proposals(task, reads, values, slopes, fitted)) if consistent else (),
        text,
        checked,
        version,
        simulations,
        spared,
        time.perf_counter() - begun,
    )


def _further(scenario: Scenario, used: Sequence[Condition], free: Sequence[str]) -> Iterator[Condition]:
    """Conditions in which nothing was read yet: the other cases, and each at a lower voltage where something is unknown."""
    for case in scenario.cases:
        voltage = scenario.case(case).tables.supply.voltage
        if case not in {each.case for each in used}:
            yield Condition(case, voltage)
        if free and all(each.supply_voltage > 0.8 * voltage for each in used if each.case == case):
            yield Condition(case, float(f"{LOWER * voltage:.2g}"))


def _reads(heater: Heater, readings: Sequence[Reading]) -> list[Read]:
    """All that is looked at: what was read, and what could be."""
    taken = [Read(each.what, each.after) for each in readings]
    return list(dict.fromkeys([*taken, *(Read(each, WARM if each.timed else None) for each in readables(heater))]))


def _task(bench: Bench, readings: Sequence[Reading], reads: Sequence[Read]) -> _Task:
    rows = [bench.conditions.index(each.condition) for each in readings]
    columns = [reads.index(Read(each.what, each.after)) for each in readings]
    ambient = bench.sound[0].ambient
    deviations = [np.hypot(each.error, model_error(each.what, each.value, ambient)) for each in readings]
    return _Task(bench, tuple(readings), rows, columns, np.array(deviations))


def _told(progress: Progress | None, conditions: int) -> Callable[[int], object]:
    """Tells how far the fit is, by a usual number of simulations: three sets of slopes."""
    done, usual = [0], 60 * conditions

    def tell(count: int) -> None:
        if progress:
            progress("simulating what the meters would read", min(done[0] / usual, 1.0) * 0.95)
        done[0] += count

    return tell


def _sound(simulator: Simulator, task: _Task) -> Array:
    """What would be read of the scenario's own heater. Raises SetupError, InputError for what heatsim cannot tell."""
    found = simulator(np.zeros(len(task.bench.unknowns)))
    if found is None:
        raise SetupError("the scenario's own heater has no steady state, so nothing can be compared")
    for each, expected in zip(task.readings, found[task.rows, task.columns], strict=True):
        if not np.isfinite(expected):
            allowed = (
                "a choke whose ring and winding the scenario describes, and whose core loss is known" if each.what.timed else ""
            )
            raise InputError.single("--reading", "cannot be told from this scenario", each.text, allowed)
    return found.copy()


def _fitted(simulator: Simulator, task: _Task) -> tuple[Fitted, Array]:
    """The best fit from the scenario's heater on, and from others where something is unknown and that one explains nothing; with
    the slopes of all that could be read there. Raises SetupError."""
    slopes: list[Array] = []

    def simulate(t: Array) -> Array | None:
        found = simulator(t)
        return None if found is None else found[task.rows, task.columns]

    def slopes_at(t: Array) -> Array:
        slopes[:] = [simulator.slopes(t)]
        return slopes[0][task.rows, task.columns]

    found: list[Fitted] = []
    for start in _starts(task.bench):
        try:
            found.append(fit(simulate, slopes_at, task.values, task.deviations, start))
        except NotFitted:
            continue
        if found[-1].at_rest and chance(found[-1].cost, len(task.readings)) >= UNLIKELY:
            break
    if not found:
        raise SetupError("no heater near the scenario's has a steady state")
    best = min(found, key=lambda each: each.cost)
    if best is not found[-1]:
        if simulate(best.unknowns) is None:
            raise SetupError("the best fit cannot be simulated again")
        slopes_at(best.unknowns)
    return best, slopes[0]


def _starts(bench: Bench) -> Iterator[Array]:
    """The scenario's heater, then to both sides of it in each unknown that is free."""
    middle = np.zeros(len(bench.unknowns))
    yield middle
    for k, each in enumerate(bench.unknowns):
        for sign in (-APART, APART) if each.free else ():
            yield middle + sign * np.eye(middle.size)[k]


def _compared(task: _Task, sound: Array, fitted: Fitted) -> tuple[Compared, ...]:
    expected = sound[task.rows, task.columns]
    off = left_out(fitted, task.values, task.deviations)
    rows = zip(task.readings, expected, fitted.predicted, task.deviations, off, strict=True)
    return tuple(Compared(reading, *(float(x) for x in numbers)) for reading, *numbers in rows)


def _departures(bench: Bench, fitted: Fitted) -> tuple[Departure, ...]:
    left = np.sqrt(np.diag(fitted.covariance))
    rows = zip(bench.unknowns, fitted.unknowns, left, strict=True)
    return tuple(Departure(each.name, float(t), float(max(0.0, 1 - kept)), each.free) for each, t, kept in rows)


def _proposals(task: _Task, reads: Sequence[Read], values: Array, slopes: Array, fitted: Fitted) -> list[Proposal]:
    """Readings that would tell more, the most telling first; the second is what tells most once the first is taken."""
    taken = set(zip(task.rows, task.columns, strict=True))
    covariance, found = fitted.covariance, []
    for _ in range(MOST_PROPOSALS):
        every = [
            (k, q, deviation, gain(covariance, slopes[k, q], deviation, np.array(task.bench.matter)))
            for k, row in enumerate(values)
            for q, value in enumerate(row)
            if (k, q) not in taken and np.isfinite(value) and np.all(np.isfinite(slopes[k, q]))
            for deviation in [_usual(reads[q].what, value, task.bench.sound[k].ambient)]
        ]
        best = max(every, key=lambda each: each[-1], default=None)
        if best is None or best[-1] < WORTH_READING:
            break
        k, q, deviation, share = best
        what = reads[q].what
        told = task.bench.conditions[k], what.key, what.unit, what.meter.name, reads[q].after
        found.append(Proposal(*told, float(values[k, q]), NORMAL_95 * deviation, share))
        taken.add((k, q))
        covariance = with_reading(covariance, slopes[k, q], deviation)
    return found


def _usual(what: Readable, value: float, ambient: float) -> float:
    """Standard deviation of a reading by the usual meter, with the model's own."""
    return float(np.hypot(what.meter.deviation(value), model_error(what, value, ambient)))
