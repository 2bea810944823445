# SPDX-License-Identifier: GPL-3.0-or-later
"""`check`: the one place that goes all the way from a scenario to a verdict."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import heatsim
from heatsim.engine import MEASURABLE, Run, run_decks, run_on
from heatsim.engine.steady import LAST, shortened_run
from heatsim.measures.gather import MeasureContext, measure, measured_window
from heatsim.measures.latched import fuse_measures, latched_measures
from heatsim.measures.modulation import depth_of, modulation_depth
from heatsim.netlist.deck import Deck
from heatsim.netlist.generate import make_deck, measure_lines
from heatsim.parts.choke import Choke
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.advice import agreed
from heatsim.studies.check.bank import bank_measures
from heatsim.studies.check.copper import conductor_measures, water_measures
from heatsim.studies.check.heat import heat_measures
from heatsim.studies.check.instants import at_instant, instants, side_by_side, swing_of, worst_findings
from heatsim.studies.check.limits import case_limits, latched_limits, outcome_finding, over_voltage
from heatsim.studies.check.limits.device import device_measures
from heatsim.studies.check.limits.start import START_KEYS, held_down, start_measures
from heatsim.studies.check.restart import again, at_worst_start
from heatsim.studies.check.result import CaseResult, CheckResult, Measured
from heatsim.studies.check.shortened import coarse_errors, shortened, too_close
from heatsim.studies.check.silicon import silicon_measures
from heatsim.studies.check.start import looked_into
from heatsim.studies.check.warning import check_warnings
from heatsim.tasks import LocalPool
from heatsim.verdict import Finding, judge
from heatsim.waves import Waveforms

PERIODS = 20
"""Whole periods at the end of a run over which the steady measures are taken; of a shortened run fewer, which are all at rest."""

MODULATION = "tank.modulation_ratio"
"""Key of the depth to which a slow swing of the supply modulates the tank's envelope."""

Progress = Callable[..., None]


def case_deck(scenario: Scenario, case: str, heater: Heater | None = None, paused: bool = False) -> Deck:
    """The netlist of one case, as `heatsim netlist` writes it.

    heater: the scenario's parts in this case, built unless given
    paused: see `make_deck`
    """
    chosen = scenario.case(case)
    settings = chosen.tables.simulate
    parts = heater or scenario.heater(case)
    return make_deck(parts, f"{scenario.name}, {case}", settings.steps_per_period, settings.longest, paused)


def check(
    scenario: Scenario, cases: Sequence[str] | None = None, jobs: int | None = None, progress: Progress | None = None
) -> CheckResult:
    """Simulate the cases of a scenario, measure and judge them. A case that cannot be simulated is a result with its cause.

    cases: their names, all of them by default
    jobs: processes, by default one a core
    progress: see `heatsim.engine.run_decks`
    Raises InputError for a scenario that cannot be built.
    """
    return check_several([(scenario, cases or scenario.cases)], jobs, progress)[0]


def check_several(
    asked: Sequence[tuple[Scenario, Sequence[str]]], jobs: int | None = None, progress: Progress | None = None
) -> list[CheckResult]:
    """As `check`, the cases of several scenarios at once.

    asked: scenarios, each with the names of its cases
    """

    def run(decks: Sequence[Deck], limit: float, cases: Sequence[int]) -> list[Run]:
        return run_decks(decks, jobs, limit, progress and (lambda index, *reached: progress(cases[index], *reached)))

    return _checked([(scenario, tuple(cases)) for scenario, cases in asked], run)


def check_on(pool: LocalPool, scenarios: Sequence[Scenario]) -> list[CheckResult]:
    """As `check`, every case of several scenarios at once on a pool of simulators."""
    return _checked([(each, each.cases) for each in scenarios], lambda decks, limit, _: run_on(pool, decks, limit))


RunDecks = Callable[[Sequence[Deck], float, Sequence[int]], list[Run]]
"""Simulates decks, each within so much of the wall clock [s]; which cases they belong to, by place."""


def _checked(asked: Sequence[tuple[Scenario, tuple[str, ...]]], run: RunDecks) -> list[CheckResult]:
    """Scenarios with the names of their cases."""
    if not asked:
        return []
    begun = time.perf_counter()
    runs, judged = _cold_starts([(scenario, case) for scenario, cases in asked for case in cases], run)
    found, version = enumerate(judged), runs[0].simulator_version
    results = []
    for scenario, cases in asked:
        own = agreed([_looked_into(scenario, *next(found), run) for _ in cases])
        spent, warnings = time.perf_counter() - begun, check_warnings(scenario, own)
        results.append(CheckResult(scenario, own, heatsim.__version__, version, spent, warnings))
    return results


def _cold_starts(
    asked: Sequence[tuple[Scenario, str]], run: RunDecks, places: Sequence[int] = (), trial: bool = False
) -> tuple[list[Run], list[CaseResult]]:
    """Scenarios, each with the name of one case, from rest: how the simulations ended, and what was found in them.

    places: of the cases, by their order unless given
    trial: whether they are given up where they ring beyond what a sound heater does
    """
    heaters = [scenario.heater(case) for scenario, case in asked]
    decks = [case_deck(scenario, case, heater) for (scenario, case), heater in zip(asked, heaters, strict=True)]
    decks = [deck.as_trial() for deck in decks] if trial else decks
    limit = max(scenario.tables.simulate.time_limit for scenario, _ in asked)
    places = places or range(len(asked))
    short = zip(asked, heaters, decks, strict=True)
    runs = run([shortened(deck, case_deck(*each, heater, paused=True), heater) for each, heater, deck in short], limit, places)
    judged = [judge_run(*each, heater, done) for each, heater, done in zip(asked, heaters, runs, strict=True)]
    close = [k for k, each in enumerate(judged) if too_close(asked[k][0], each)]
    anew = run([decks[k] for k in close], limit, [places[k] for k in close]) if close else []
    for k, done in zip(close, anew, strict=True):
        runs[k], judged[k] = done, judge_run(*asked[k], heaters[k], done)
    return runs, judged


def _looked_into(scenario: Scenario, place: int, case: CaseResult, run: RunDecks) -> CaseResult:
    """A case that did not start, with what starts it; one whose start overshoots, judged by the worst of several."""

    def tried(variants: Sequence[Scenario]) -> list[CaseResult]:
        return _cold_starts([(each, case.name) for each in variants], run, [place] * len(variants), trial=True)[1]

    return _started_again(scenario, looked_into(case, scenario, tried), run, place)


def try_case(scenario: Scenario, case: str, run: RunDecks) -> CaseResult:
    """One case from rest, judged as `check` does; given up where it rings beyond what a sound heater does, and not looked into."""
    _, (found,) = _cold_starts([(scenario, case)], run, trial=True)
    return _started_again(scenario, found, run)


def _started_again(scenario: Scenario, case: CaseResult, run: RunDecks, place: int = 0) -> CaseResult:
    """A case whose start overshoots with its drains judged by the worst of several starts; see `heatsim.studies.check.restart`."""
    decks = [case_deck(scenario, case.name, heater).to_first_look() for heater in again(case)]
    if not decks:
        return case
    return at_worst_start(case, scenario, run(decks, scenario.tables.simulate.time_limit, [place] * len(decks)))


def judge_run(scenario: Scenario, case: str, heater: Heater, run: Run, from_rest: bool = True) -> CaseResult:
    """From one finished run to measures and findings; where the supply swings slowly, at the worst instant of the swing.

    heater: the scenario's parts in this case
    from_rest: whether the run begins with the supply being switched on
    """
    stretches = instants(run, PERIODS) if run.outcome in MEASURABLE else ()
    if not stretches:
        return _judged(scenario, case, heater, run, from_rest, LAST - 2 if shortened_run(run.attempts) else PERIODS)
    cases: dict[str, CaseResult] = {}
    for each in stretches:
        first, cut = each.name == "crest", at_instant(run, each, 1 / heater.frequency)
        started = {} if first else {key: cases["crest"].measures.get(key) for key in START_KEYS}
        cases[each.name] = _judged(scenario, case, heater, cut, from_rest and first, each.periods, started)
    worst, waves, rule = at_worst(scenario, cases), run.waveforms, run.deck.settle
    if waves is None:
        return worst
    depth = modulation_depth(waves.time, waves["tank.voltage"], waves.time[-1] - swing_of(rule, run.swings))
    return replace(worst, waveforms=waves, measures=worst.measures | {MODULATION: depth})


def at_worst(scenario: Scenario, cases: Mapping[str, CaseResult]) -> CaseResult:
    """One result of a case that was judged at several instants of the supply's slow swing, each limit at its worst.

    cases: name of the instant, `crest` (first) and `valley` among them -> what was found there
    """
    crest = cases["crest"]
    limits = case_limits(scenario.case(crest.name), crest.heater, crest.measures)
    measures = side_by_side({name: each.measures for name, each in cases.items()}, limits)
    peaks = [each.measures.get("tank.peak_voltage_v") for each in (crest, cases.get("valley", crest))]
    measures[MODULATION] = depth_of(peaks[0], peaks[1]) if isinstance(peaks[0], float) and isinstance(peaks[1], float) else None
    measures["startup.time_s"] = None  # it is told from when the amplitude stays, and here it never does
    return replace(crest, measures=measures, findings=worst_findings({name: each.findings for name, each in cases.items()}))


def quarter_before_crest(scenario: Scenario, crest: CaseResult, valley: CaseResult, charging: float) -> CaseResult:
    """What the supply gives at the worst instant of a slow ripple, from two steady states; the rest is the crest's.

    charging: amplitude of the reservoir's current, w C V [A]

    The stage's current follows the ripple, the reservoir's leads it by a quarter of its period: the sum swings about the mean
    of crest and valley by the root of the sum of their squares.
    """
    key = "supply.mean_current_a"
    high, low = crest.measures[key], valley.measures[key]
    if not isinstance(high, float) or not isinstance(low, float):
        return crest
    measures = crest.measures | {key: (high + low) / 2 + math.hypot((high - low) / 2, charging)}
    chosen = scenario.case(crest.name)
    limits = case_limits(chosen, crest.heater, measures)
    judged = judge(measures, limits, chosen.tables.heater.wanted_headroom)
    return replace(crest, measures=measures, findings=(crest.findings[0], *judged))


def _judged(
    scenario: Scenario,
    case: str,
    heater: Heater,
    run: Run,
    from_rest: bool,
    periods: int,
    started: Mapping[str, Measured] | None = None,
) -> CaseResult:
    """As `judge_run`, at the end of the run, from so many periods; started: measures of the start, where it is not in the run."""
    chosen = scenario.case(case)
    wanted = chosen.tables.heater.wanted_headroom
    measures: dict[str, Measured] = {}
    window, deck = None, run.deck
    if run.waveforms is not None:
        measures, window = _measured(chosen, heater, run, from_rest, periods)
    if window is not None and run.waveforms is not None:
        later = max(0.0, deck.transient.stop - float(run.waveforms.time[-1]))
        deck = replace(deck, measures=measure_lines(window[0] + later, window[1] + later, heater, periods - 2))
    broken = over_voltage(run, heater)
    measures |= started or {}
    if run.waveforms is not None and from_rest:
        measures |= start_measures(heater, run.outcome, run.waveforms, deck.settle, broken is not None, measures)
        frequency = measures.get("tank.frequency_hz")
        if shortened_run(run.attempts) and isinstance(frequency, float):
            measures |= coarse_errors(heater, run.waveforms, frequency)
    findings: tuple[Finding, ...] = (held_down(outcome_finding(run.outcome, run.detail, broken, heater.gate), heater, measures),)
    if run.outcome in MEASURABLE:
        findings += judge(measures, case_limits(chosen, heater, measures), wanted)
    elif run.outcome == "latched":
        findings += judge(measures, latched_limits(chosen, heater, measures), wanted)
    return CaseResult(
        case, run.outcome, run.detail, measures, findings, heater, deck, run.waveforms, window, run.attempts, run.wall_s, wanted
    )


def measure_context(heater: Heater, deck: Deck, from_rest: bool = True, periods: int = PERIODS) -> MeasureContext:
    """What the waveforms of a heater do not say about themselves."""
    return MeasureContext(
        devices=heater.switch.count,
        gate_threshold=heater.switch.threshold,
        inductance_zero={choke.side: choke.curve.inductance_zero for choke in heater.chokes},
        inductance={choke.side: choke.curve.inductance for choke in heater.chokes},
        ledger=deck.ledger,
        periods=periods,
        quiet=deck.settle.quiet,
        from_rest=from_rest,
    )


def _measured(
    scenario: Scenario, heater: Heater, run: Run, from_rest: bool, periods: int
) -> tuple[dict[str, Measured], tuple[float, float] | None]:
    """All measures of a run, and the window they were taken over."""
    waves = run.waveforms
    assert waves is not None
    measures: dict[str, Measured] = dict(
        measure(waves, replace(measure_context(heater, run.deck, from_rest, periods), outcome=run.outcome))
    )
    if run.outcome not in MEASURABLE:
        steady = {key for key in measures if not key.startswith("startup.") and not key.endswith("inductance_zero_h")}
        latched = _latched(heater, waves) if run.outcome == "latched" else {}
        return measures | dict.fromkeys(steady) | latched, None
    window = measured_window(measures)
    if window is None:
        return measures, None
    imbalance = measures.get("energy.imbalance_ratio")
    measures["energy.imbalance_ratio"] = abs(imbalance) if isinstance(imbalance, float) else None
    if heater.workpiece is None:
        measures["workpiece.power_w"] = None
    measures |= _workpiece(heater, measures) | device_measures(scenario, heater)
    measures |= silicon_measures(heater, waves, (window.start, window.stop), measures, scenario.tables)
    read = [f"choke.{choke.side}.{name}" for choke in heater.chokes for name in ("flux", "current")]
    period = waves.only((*read, *(each.signal for each in heater.conductors))).between(window.stop - window.period, window.stop)
    if heater.capacitors.rails or heater.conductors:
        whole = waves.between(window.start, window.stop)
        measures |= bank_measures(heater, whole, window.periods, measures) | conductor_measures(heater, whole, period)
    measures |= water_measures(heater, measures)
    for choke in heater.chokes:
        measures |= heat_measures(choke, heater, period, measures, scenario.tables) | _choke_build(choke)
        density = measures[f"choke.{choke.side}.rms_current_a"]
        if choke.copper_area and isinstance(density, float):
            measures[f"choke.{choke.side}.current_density_a_per_m2"] = density / choke.copper_area
    return measures, (window.start, window.stop)


def _latched(heater: Heater, waves: Waveforms) -> dict[str, Measured]:
    """What can be measured where both banks stay on; of fuse and heaviest device where the supply's source is given."""
    source, switch = heater.supply.source, heater.switch
    fuse = fuse_measures(waves, switch.count / heater.heaviest_of_all, source.fuse_i2t, switch.i2t) if source else {}
    return {**latched_measures(waves, switch.count), **fuse}


def _choke_build(choke: Choke) -> dict[str, Measured]:
    """How a choke's winding lies in its hole; None where it is not known."""
    part, core = f"choke.{choke.side}", choke.core
    return {
        f"{part}.copper_fill_ratio": core.winding.copper_fill(core.ring) if core else None,
        f"{part}.hole_left_m": core.winding.fill(core.ring).free_diameter if core else None,
    }


def _workpiece(heater: Heater, measures: Mapping[str, Measured]) -> dict[str, Measured]:
    """The permeability a workpiece was given, and where it follows the field, the field that the simulated current makes."""
    piece, current = heater.workpiece, measures["coil.rms_current_a"]
    if piece is None or piece.permeability is None:
        return {}
    found: dict[str, Measured] = {"workpiece.permeability_ratio": piece.permeability}
    if piece.field is not None and piece.current is not None:
        share = math.sqrt(2) * current / piece.current if isinstance(current, float) else None
        found["workpiece.surface_field_a_per_m"] = None if share is None else share * piece.field
        found["workpiece.field_departure_ratio"] = None if share is None else abs(share - 1)
    return found
