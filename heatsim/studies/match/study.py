# SPDX-License-Identifier: GPL-3.0-or-later
"""`match`: a captured waveform reproduced, and its causes ranked.

Flow: captures -> signals (`match_signals`), measures (`match_measure`), lines (`heatsim.measures.lines`) -> an atlas of
what every cause does, simulated for each operating condition (`match_atlas`) -> every hypothesis fitted, those that may be
the best on the simulator (`match_search`) -> estimates, words, traces, the fitted scenario and the cure.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.errors import InputError, SetupError
from heatsim.measures.lines import BANDS, record_lines
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.advice import NONE_FEATURE, REMEDY, SETTLE, feature
from heatsim.studies.match.cure import cure_of
from heatsim.studies.match.data import SAMPLES_PER_LINE, Observation, observed, order_limit
from heatsim.studies.match.estimates import estimates_of, ripple_of
from heatsim.studies.match.faults import kinds_of
from heatsim.studies.match.fit import Fit, Site, none_of_these
from heatsim.studies.match.fitted_scenario import fitted_fields, with_fields
from heatsim.studies.match.measure import measured
from heatsim.studies.match.nuisance import tolerances_of
from heatsim.studies.match.pool import MatchPool, Question
from heatsim.studies.match.response_library import Atlas, Sheet, packed_of
from heatsim.studies.match.result import DECIDED, NONE_OF_THESE, Candidate, MatchResult, Measure, Record
from heatsim.studies.match.search import Settle, by_cause, heater_of, search
from heatsim.studies.match.signals import assign, looks
from heatsim.studies.match.solver import REFERENCE, Solution
from heatsim.studies.match.traces import traces_of
from heatsim.tasks import Failed
from heatsim.waves import Array
from heatsim.waves.capture import Probe, read_capture

Progress = Callable[[str, float], None]

NEEDED = "a channel with the tank or drain voltage, such as: time [s],CH1 [V]"
FITTED = ("tank.voltage", "drain.left.voltage", "drain.right.voltage")
"""Signals that are compared; others are measured only."""


@dataclass(frozen=True)
class Taken:
    """A capture's file and how it was taken. case: of the scenario; supply_voltage [V], None for the scenario's; signals:
    channel -> signal, empty to be told by shape; probes: channel -> how it was taken, for those stated."""

    path: Path
    case: str
    supply_voltage: float | None = None
    signals: Mapping[str, str] = field(default_factory=dict)
    probes: Mapping[str, Probe] = field(default_factory=dict)


@dataclass(frozen=True)
class Read:
    """A capture as it was read: for people, for the fit, and its samples by signal."""

    record: Record
    seen: Observation
    samples: dict[str, Array]


def match(
    scenario: Scenario,
    taken: Sequence[Taken],
    workers: int | None = None,
    progress: Progress | None = None,
    folder: Path | None = None,
) -> MatchResult:
    """Rank the causes of captures of one heater; progress: called with what is done and the share done; folder: where
    simulations are kept for the next run. Raises InputError for bad captures, SetupError when nothing can be simulated."""
    begun = time.perf_counter()
    tell = progress or (lambda what, share: None)
    if not taken:
        raise InputError.single("match", "needs a capture")
    reads = [read(scenario, each) for each in taken]
    steps = scenario.tables.simulate.steps_per_period
    with MatchPool(workers, folder) as pool:
        atlases = atlases_of(pool, scenario, list(dict.fromkeys(map(_condition, reads))), steps, tell)
        sites = [Site(atlases[_condition(each)], each.seen) for each in reads]
        fits = search(sites, settled_by(pool, sites, steps, tell))
        tell("drawing up the result", 0.95)
        best = fits[0]
        whole = [_solution(pool, sites, best, k, steps) for k in range(len(sites))]
        candidates = candidates_of(sites, fits)
        heater = heater_of(sites, best, 0)
        told = candidates[0].cause == best.hypothesis.cause
        case = reads[0].record.case
        cure = cure_of(pool, scenario, case, sites[0].atlas, best, whole[0], steps) if told else None
        version, simulations, spared = pool.version, pool.simulations, pool.spared
    candidates = (counted_turns(scenario, candidates[0]), *candidates[1:])
    names = f"Fitted to {', '.join(Path(each.record.label).name for each in reads)}: {candidates[0].kind}"
    fields = fitted_fields(scenario, case, heater)
    for each in ripple_of(sites, best):
        field_, unit = ("supply.ripple", "V") if each.unit == "V" else ("supply.ripple_frequency", "Hz")
        fields[field_] = format_quantity(each.value, unit, 4)
    fitted = with_fields(scenario, fields, names)
    odds = candidates[1].log_evidence if len(candidates) > 1 else -math.inf
    alike = tuple(each.cause for each in candidates if each.log_evidence > -math.log(DECIDED))
    traces = traces_of(sites, [each.samples for each in reads], best, whole)
    return MatchResult(
        scenario,
        tuple(each.record for each in reads),
        candidates,
        odds < -math.log(DECIDED),
        alike,
        traces,
        fitted,
        cure,
        version,
        simulations,
        spared,
        time.perf_counter() - begun,
    )


def _condition(each: Read) -> tuple[str, float]:
    return each.record.case, each.record.supply_voltage


def read(scenario: Scenario, taken: Taken, numbers: bool = True) -> Read:
    """One capture, read, measured and turned into lines; numbers: whether the measures are wanted."""
    supply = taken.supply_voltage or scenario.case(taken.case).tables.supply.voltage
    capture = read_capture(taken.path, stated=taken.probes, expected=NEEDED)
    signals, guessed = assign(capture, scenario, taken.case, taken.signals)
    waves = capture.waveforms(signals)
    usable = {name: signal for name, signal in signals.items() if signal in FITTED}
    if not usable:
        raise InputError.single(str(taken.path), "has no channel to be matched", ", ".join(signals.values()), ", ".join(FITTED))
    if capture.periods is None or capture.periods < 1.0:
        raise InputError.single(
            str(taken.path),
            "does not hold a whole period of an oscillation",
            capture.periods or "none found",
            "a record of a running heater",
        )
    frequency = capture.periods / waves.duration
    spacing = waves.duration / (waves.time.size - 1)
    dense = 1 / (frequency * spacing)
    reference = REFERENCE if REFERENCE in usable.values() else next(iter(usable.values()))
    samples = {signal: waves[signal] for signal in usable.values()}
    try:
        lines = record_lines(waves.time, samples, frequency, min(order_limit(dense), int((waves.time.size / 3 - 1) / 2)), reference)
    except ValueError:
        raise InputError.single(
            str(taken.path),
            "has too few samples or periods to be matched",
            f"{waves.time.size} samples, {capture.periods:.2g} periods",
            "a period or more, ten samples a period or more",
        ) from None
    clipped = {signals[c.name]: _ends(c.samples, c.clipped) for c in capture.channels if c.name in usable}
    density = 1 / (lines.frequency * spacing)
    seen = observed(lines, samples, min(density / SAMPLES_PER_LINE, float(BANDS[-1])), clipped)
    noise = {signals[c.name]: c.noise for c in capture.channels if c.name in signals}
    steps = {signals[c.name]: c.step for c in capture.channels if c.name in signals}
    measures = measured(waves, noise, lines.frequency, steps) if numbers else {}
    sway = (2 * lines.sway.amplitude, lines.sway.frequency) if lines.sway else None
    record = Record(
        capture.label,
        taken.case,
        supply,
        signals,
        Measure(lines.frequency, lines.frequency_error),
        capture.periods,
        noise,
        sway,
        measures,
        (*capture.notes, *guessed),
        (*capture.faults, *looks(capture, signals, scenario, taken.case, supply)),
    )
    return Read(record, seen, samples)


def _ends(samples: Array, flags: tuple[bool, bool]) -> tuple[float | None, float | None]:
    """Where a channel is cut off; a drain rests near its lowest by itself, so the upper end decides."""
    if not flags[1]:
        return None, None
    return float(np.min(samples)), float(np.max(samples))


def atlases_of(
    pool: MatchPool, scenario: Scenario, conditions: Sequence[tuple[str, float]], steps: int, tell: Progress
) -> dict[tuple[str, float], Atlas]:
    """An atlas of every operating condition, a case and its supply voltage [V]; of all signals, for captures to come."""
    heaters = [_at(scenario, case, supply) for case, supply in conditions]
    limit = scenario.tables.simulate.time_limit
    tell("starting the heater as the scenario has it", 0.01)
    starts: dict[int, Solution] = {}
    for k, answer in pool.each([("start", ((heater, FITTED, steps), limit)) for heater in heaters]):
        if isinstance(answer, Failed):
            case, supply = conditions[k]
            raise SetupError(f"case {case} at {supply:g} V cannot be simulated, so nothing can be compared: {answer.cause}")
        starts[k] = answer
    tasks: list[Question] = []
    places: list[tuple[int, str]] = []
    for k, heater in enumerate(heaters):
        setting = (heater, FITTED, steps)
        names = ["", *(kind.name for kind in sorted(kinds_of(heater), key=lambda kind: -len(kind.parameters)))]
        for name in names:
            tasks.append(("sheet", (setting, starts[k], name)) if name else ("slopes", (setting, starts[k])))
            places.append((k, name))
    found: dict[tuple[int, str], Any] = {}
    for done, (number, answer) in enumerate(pool.each(tasks), start=1):
        found[places[number]] = answer
        tell("simulating what each cause does", 0.03 + 0.67 * done / len(tasks))
    return {condition: _atlas(heaters[k], starts[k], k, found) for k, condition in enumerate(conditions)}


def _at(scenario: Scenario, case: str, supply: float) -> Heater:
    heater = scenario.heater(case)
    return replace(heater, supply=replace(heater.supply, voltage=supply, ripple=0.0))


def _atlas(heater: Heater, start: Solution, k: int, found: Mapping[tuple[int, str], Any]) -> Atlas:
    if isinstance(answer := found[k, ""], Failed):
        raise SetupError(f"the spread of sound parts cannot be simulated: {answer.cause}")
    slopes, finer = answer
    sheets = {
        kind.name: Sheet(kind, *found[k, kind.name]) for kind in kinds_of(heater) if not isinstance(found[k, kind.name], Failed)
    }
    return Atlas(heater, FITTED, tolerances_of(heater), start, packed_of(start), slopes, finer, sheets)


def settled_by(pool: MatchPool, sites: Sequence[Site], steps: int, tell: Progress) -> Settle:
    """On the pool's workers."""

    def settle(fits: list[Fit]) -> Iterator[tuple[int, Fit | None]]:
        tasks: list[Question] = [("settle", (list(sites), steps, *one.plain)) for one in fits]
        for done, (number, answer) in enumerate(pool.each(tasks), start=1):
            yield number, None if isinstance(answer, Failed) else Fit(fits[number].hypothesis, **answer[1])
            tell("fitting the causes that may be it", 0.7 + 0.25 * done / len(tasks))

    return settle


def _solution(pool: MatchPool, sites: Sequence[Site], best: Fit, k: int, steps: int) -> Solution:
    """The best fit with all its waveforms at one site."""
    near = best.hypothesis.sheets[k].nearest(best.u[: best.hypothesis.own])
    answer = pool.one(("solve", (heater_of(sites, best, k), sites[k].atlas.signals, steps, near)))
    if isinstance(answer, Failed):
        raise SetupError(f"the best fit cannot be simulated: {answer.cause}")
    assert isinstance(answer, Solution)
    return answer


def candidates_of(sites: Sequence[Site], fits: Sequence[Fit]) -> tuple[Candidate, ...]:
    """A candidate for each cause, `none of these` among them, the best first."""
    evidence = by_cause(fits)
    evidence[NONE_OF_THESE] = none_of_these(sites)
    top = max(evidence.values())
    whole = float(np.logaddexp.reduce(list(evidence.values())))
    found = []
    for cause, value in sorted(evidence.items(), key=lambda each: -each[1]):
        chance, behind = math.exp(value - whole), value - top
        if cause == NONE_OF_THESE:
            said = (NONE_FEATURE, SETTLE[cause], REMEDY[cause])
            found.append(Candidate(cause, cause, chance, behind, math.nan, True, (), (), *said))
            continue
        one = next(each for each in fits if each.hypothesis.cause == cause)
        shown = behind > -4 * math.log(DECIDED)
        estimates, tied = estimates_of(sites, one) if shown else ((), ())
        found.append(
            Candidate(
                cause,
                one.hypothesis.name,
                chance,
                behind,
                one.misfit,
                one.simulated,
                estimates,
                tied,
                feature(sites, one) if shown else "",
                SETTLE[cause],
                REMEDY[cause],
            )
        )
    return tuple(found)


def counted_turns(scenario: Scenario, candidate: Candidate) -> Candidate:
    """A candidate with fewer turns told in turns, where the scenario has their number."""
    for each in candidate.estimates:
        side = each.key.split(".")[1]
        turns = scenario.tables.choke[side].turns if each.key.endswith(".turns_ratio") else None
        if turns is not None:
            found = f"The {side} choke comes out at {each.value * turns:.3g} turns instead of {turns}: count them. "
            return replace(candidate, remedy=found + candidate.remedy)
    return candidate
