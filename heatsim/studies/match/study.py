# SPDX-License-Identifier: GPL-3.0-or-later
"""`match`: a captured waveform reproduced, and its causes ranked.

Flow: captures -> signals, measures and lines (`captures`) -> a response library of what every fault does, simulated for each
operating condition (`response_library`) -> every hypothesis fitted, those that may be the best on the simulator (`search`) ->
fitted quantities, words, traces, the fitted scenario and the cure.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.errors import InputError, SetupError
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.advice import ADVICE, NONE_FEATURE, feature
from heatsim.studies.match.beside import datasets_with, readings_beside, refuse_others
from heatsim.studies.match.captures import CaptureRequest, compared, read
from heatsim.studies.match.cure import cure_of
from heatsim.studies.match.drives import refuse_other_drives
from heatsim.studies.match.estimates import cause_quantities
from heatsim.studies.match.faults import fault_models, nuisance_parameters
from heatsim.studies.match.fit import HypothesisFit, none_of_these
from heatsim.studies.match.fitted import built, fitted_text
from heatsim.studies.match.hypothesis import Dataset
from heatsim.studies.match.meter_reading import MeterReading
from heatsim.studies.match.oddities import oddities, spread_of
from heatsim.studies.match.parameters import at_supply
from heatsim.studies.match.pool import MatchPool, Question, not_started
from heatsim.studies.match.refinement import fitted_heater
from heatsim.studies.match.response_library import ResponseLibrary, shape_of
from heatsim.studies.match.result import DECIDED, NONE_OF_THESE, TEMPERED, CauseCandidate, MatchResult, Record, explains
from heatsim.studies.match.search import Refine, by_cause, search
from heatsim.studies.match.solver import Solution
from heatsim.studies.match.traces import traces_of
from heatsim.studies.match.unranked import not_ranked
from heatsim.tasks import Failed

Progress = Callable[[str, float], None]
"""Called with what is being done and the share of all that is done."""

Condition = tuple[str, float]
"""An operating condition: case and supply voltage [V]."""


def match(
    scenario: Scenario,
    requests: Sequence[CaptureRequest],
    jobs: int | None = None,
    progress: Progress | None = None,
    folder: Path | None = None,
    readings: Sequence[MeterReading] = (),
) -> MatchResult:
    """Rank the causes of captures of one heater.

    jobs: processes, by default one a core
    folder: where simulations are cached for the next run, None for nowhere
    readings: of meters, each of the condition of one of the captures
    Raises InputError for bad captures and readings, SetupError when nothing can be simulated.
    """
    begun = time.perf_counter()
    progress = progress or (lambda what, share: None)
    if not requests:
        raise InputError.single("match", "needs a capture")
    reads = [read(scenario, each) for each in requests]
    conditions = [each.condition for each in reads]
    refuse_other_drives(scenario, (case for case, _ in conditions))
    refuse_others(conditions, readings)
    steps = scenario.tables.simulate.steps_per_period
    with MatchPool(jobs, folder) as pool:
        libraries = response_libraries(pool, scenario, list(dict.fromkeys(conditions)), steps, progress)
        plain = [Dataset(libraries[each.condition], each.observation) for each in reads]
        datasets = datasets_with(plain, conditions, readings)
        fits = search(datasets, refine_on_pool(pool, datasets, steps, progress))
        progress("drawing up the result", 0.95)
        best, case = fits[0], reads[0].record.case
        solutions = [_solution(pool, datasets, best, k, steps) for k in range(len(datasets))]
        candidates = candidates_of(datasets, fits)
        known = explains(candidates)
        names = ", ".join(Path(each.record.label).name for each in reads)
        heading = f"Fitted to {names}: {candidates[0].kind}" if known else f"Nearest fit to {names}, which it does not explain"
        text = fitted_text(scenario, case, datasets, best, candidates[0], heading, known)
        put_right = None
        if known and candidates[0].cause == best.hypothesis.cause:
            put_right = cure_of(pool, scenario, case, datasets[0].library, best, solutions[0], steps)
        fitted = built(scenario, text) if known else None
        checked, well = pool.checked([fitted, built(scenario, put_right[1]) if put_right else None])
        version, simulations, spared = pool.version, pool.simulations, pool.spared
    return MatchResult(
        scenario,
        tuple(
            replace(with_missing(each.record, libraries[each.condition].missing), not_ranked=not_ranked(each, solution))
            for each, solution in zip(reads, solutions, strict=True)
        ),
        (counted_turns(scenario, candidates[0]), *candidates[1:]),
        traces_of(datasets, [each.samples for each in reads], best, solutions),
        text,
        replace(put_right[0], checked=well) if put_right else None,
        version,
        simulations,
        spared,
        time.perf_counter() - begun,
        () if known else oddities(datasets, best),
        spread_of(datasets, fits),
        checked,
        readings_beside(datasets, conditions, readings, fits),
    )


def with_missing(record: Record, missing: Sequence[str]) -> Record:
    """A record with a note on the fault models that could not be tried on it."""
    note = f"not tried, because the simulator finds no steady state or takes too long: {', '.join(missing)}"
    return replace(record, notes=(*record.notes, note)) if missing else record


def response_libraries(
    pool: MatchPool, scenario: Scenario, conditions: Sequence[Condition], steps: int, progress: Progress
) -> dict[Condition, ResponseLibrary]:
    """A response library of every operating condition, with all signals that captures to come may hold."""
    heaters = [at_supply(scenario.heater(case), voltage) for case, voltage in conditions]
    limit = scenario.tables.simulate.time_limit
    progress("starting the heater as the scenario has it", 0.01)
    starts: dict[int, Solution] = {}
    for k, answer in pool.each([("start", ((heater, compared(heater), steps), limit)) for heater in heaters]):
        if isinstance(answer, Failed):
            raise not_started(*conditions[k], answer)
        starts[k] = answer
    tasks: dict[tuple[int, str], tuple[int, Question]] = {}  # with the number of simulations
    for k, heater in enumerate(heaters):
        setting = heater, compared(heater), steps
        tasks[k, ""] = 2 * len(nuisance_parameters(heater)), ("slopes", (setting, starts[k]))
        for fault in sorted(fault_models(heater), key=lambda fault: -math.prod(shape_of(fault))):  # the longest first
            tasks[k, fault.name] = math.prod(shape_of(fault)), ("surface", (setting, starts[k], fault.name))
    found: list[dict[str, Any]] = [{} for _ in heaters]
    places, done, whole = list(tasks), 0, sum(size for size, _ in tasks.values())
    for number, answer in pool.each([question for _, question in tasks.values()]):
        k, name = place = places[number]
        found[k][name] = answer
        done += tasks[place][0]
        progress("simulating what each cause does", 0.03 + 0.67 * done / whole)
    return {each: _library(heaters[k], starts[k], found[k]) for k, each in enumerate(conditions)}


def _library(heater: Heater, start: Solution, found: Mapping[str, Any]) -> ResponseLibrary:
    if isinstance(answer := found[""], Failed):
        raise SetupError(f"the spread of sound parts cannot be simulated: {answer.cause}")
    surfaces = {name: rest for name, rest in found.items() if name and not isinstance(rest, Failed)}
    sensitivities, step_error = answer
    return ResponseLibrary.of(heater, compared(heater), start, sensitivities, step_error, surfaces)


def refine_on_pool(pool: MatchPool, datasets: Sequence[Dataset], steps: int, progress: Progress) -> Refine:
    """On the workers of a pool."""

    def refine(groups: list[list[HypothesisFit]], thorough: bool) -> Iterator[tuple[int, list[HypothesisFit | None]]]:
        best, done, every = -math.inf, 0, range(len(groups))
        begin, share = (0.9, 0.05) if thorough else (0.7, 0.2)
        for places in (every[:1], every[1:]):  # the best one first: it tells how far behind the others are
            asked = [(list(datasets), steps, [one.plain for one in groups[k]], best, thorough) for k in places]
            for number, answer in pool.each([("settle", each) for each in asked]):
                fits, done = groups[places[number]], done + 1
                plain = [None] * len(fits) if isinstance(answer, Failed) else answer
                found = [one and HypothesisFit(old.hypothesis, **one[1]) for old, one in zip(fits, plain, strict=True)]
                best = max([best, *(one.evidence for one in found if one)])
                yield places[number], found
                progress("fitting the causes that may be it", begin + share * done / len(groups))

    return refine


def _solution(pool: MatchPool, datasets: Sequence[Dataset], best: HypothesisFit, k: int, steps: int) -> Solution:
    """The best fit with all its waveforms at one dataset."""
    near = best.hypothesis.surfaces[k].nearest(best.u[: best.hypothesis.own])
    answer = pool.one(("solve", (fitted_heater(datasets, best, k), datasets[k].library.signals, steps, near)))
    if isinstance(answer, Failed):
        raise SetupError(f"the best fit cannot be simulated: {answer.cause}")
    assert isinstance(answer, Solution)
    return answer


def candidates_of(datasets: Sequence[Dataset], fits: Sequence[HypothesisFit]) -> tuple[CauseCandidate, ...]:
    """A candidate for each cause, `none of these` among them, the best first."""
    full = by_cause(fits) | {NONE_OF_THESE: none_of_these(datasets)}
    evidence = {cause: TEMPERED * value for cause, value in full.items()}
    top, total = max(evidence.values()), float(np.logaddexp.reduce(list(evidence.values())))
    found = []
    for cause, value in sorted(evidence.items(), key=lambda each: -each[1]):
        chance, behind = math.exp(value - total), value - top
        if cause == NONE_OF_THESE:
            found.append(CauseCandidate(cause, cause, chance, behind, math.nan, True, (), (), NONE_FEATURE, *ADVICE[cause]))
            continue
        own = [each for each in fits if each.hypothesis.cause == cause]
        one = own[0]
        shown = behind > -4 * TEMPERED * math.log(DECIDED)
        told = (*cause_quantities(datasets, own), feature(datasets, one)) if shown else ((), (), "")
        rank = chance, behind, one.misfit, one.simulated
        found.append(CauseCandidate(cause, one.hypothesis.name, *rank, *told, *ADVICE[cause]))
    return tuple(found)


def counted_turns(scenario: Scenario, candidate: CauseCandidate) -> CauseCandidate:
    """A candidate with fewer turns, its remedy in turns where the scenario has their number."""
    for each in candidate.estimates:
        side = each.key.split(".")[1]
        turns = scenario.tables.choke[side].turns if each.key.endswith(".turns_ratio") else None
        if turns is not None:
            found = f"The {side} choke comes out at {each.value * turns:.3g} turns instead of {turns}: count them. "
            return replace(candidate, remedy=found + candidate.remedy)
    return candidate
