# SPDX-License-Identifier: GPL-3.0-or-later
"""Coil advice: which work coil suits a piece with the capacitors on hand, chosen among many by the ideal stage, then simulated.

    candidates -> estimates (`estimate`), corrected by what a simulation of the scenario's own coil shows that they miss ->
    ranking -> cold starts of the best, down the ranking until one holds

What is recommended has been simulated and kept every limit with the piece cold, where it draws most, and as warm as wanted.
"""

from __future__ import annotations

import copy
import itertools
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

import heatsim
from heatsim.errors import InputError
from heatsim.identity import simulator_version
from heatsim.parts.piece import CURIE_SPREAD
from heatsim.scenario.heat import HeatPlan, heat_plan
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, check
from heatsim.studies.heat.coils.estimate import Bench
from heatsim.studies.heat.coils.result import (
    CoilAdvice,
    CoilEstimate,
    CoilShape,
    CoilState,
    Compared,
    ConfirmedCoil,
    ConfirmedState,
    rank,
)
from heatsim.verdict import Finding, grade, headroom

TURNS = (3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 17, 20)
CLEARANCES = (3e-3, 5e-3, 8e-3, 12e-3, 16e-3, 22e-3, 30e-3)
PITCHES = (1.2, 1.7, 2.5)
"""Turns [1], room between piece and tube [m] and pitch over the tube's diameter [1] of the coils that are looked at."""

TEMPERATURES = 6
"""Temperatures from start to wanted at which the piece is looked at, beside those round its Curie point."""

ROUND_CURIE = (-60.0, -20.0, -5.0, CURIE_SPREAD / 2 + 1.0)
"""Where else, from the Curie point [K]: there the power falls within some ten kelvin, and at the last nothing is magnetic."""

TRIES = 6
"""Coils that are simulated at most, going down the ranking until one holds, unless more are asked for."""

COMPARED = {
    "workpiece.power_w": "power",
    "supply.mean_current_a": "supply_current",
    "tank.frequency_hz": "frequency",
    "coil.rms_current_a": "coil_current",
    "capacitor.rms_current_a": "capacitor_current",
}
"""Measures of a simulation held against the estimate, and what they are there."""

Watch = Callable[[str, float], None]
"""Told what is being done, and the share of this step that is done [1]."""


def coil_advice(scenario: Scenario, progress: Watch | None = None, jobs: int | None = None, confirm: int = 2) -> CoilAdvice:
    """Coils of the scenario's tube round its piece, ranked, the best and the scenario's own simulated.

    progress: see `Watch`; jobs: processes that simulate, by default one a core; confirm: how many of the best are
    simulated, beside the scenario's own, and more, up to TRIES, until one holds; nothing is for 0. Raises InputError for a
    scenario without a piece to be heated or a coil by geometry.
    """
    begun, tell = time.perf_counter(), progress or (lambda what, share: None)
    plan = heat_plan(scenario)
    _check_coil(plan)
    bench = Bench(plan, temperatures(plan)).settled()
    own = bench.look()
    shapes = tuple(candidates(plan))
    found: list[CoilEstimate] = []
    left_out: dict[str, int] = {}
    for number, shape in enumerate(shapes, 1):
        each = _looked(bench, shape)
        tell(f"estimated {number} of {len(shapes)} coils", number / len(shapes))
        if isinstance(each, str):
            left_out[each] = left_out.get(each, 0) + 1
        else:
            found.append(each)
    first = (simulated(plan, own, jobs, _simulating("the scenario's own coil", 0, confirm, tell)),) if confirm > 0 else ()
    shares = missed(first[0]) if first else {}
    ranked = tuple(sorted((corrected(each, shares) for each in found), key=rank))
    confirmed = (*first, *_confirmed(plan, ranked, confirm, jobs, tell))
    spent = time.perf_counter() - begun
    return CoilAdvice(
        scenario,
        plan.case,
        plan.words,
        plan.wanted,
        plan.at,
        own,
        ranked,
        left_out,
        confirmed,
        (*plan.cautions, *_cautions(bench, own)),
        heatsim.__version__,
        simulator_version(),
        spent,
    )


def _check_coil(plan: HeatPlan) -> None:
    coil = plan.scenario.tables.coil
    if coil.tube_diameter is None or coil.tube_wall is None:
        allowed = "turns, diameter, length, tube_diameter and tube_wall of the coil; the coils looked at are of its tube"
        raise InputError.single(plan.scenario.where("coil"), "is not given by geometry", allowed=allowed)


def _cautions(bench: Bench, own: CoilEstimate) -> Iterator[str]:
    """What the estimates leave out."""
    yield (
        f"Times are of an evenly warm piece and count {abs(bench.surplus):.1f} s for the {bench.plan.at} being "
        f"{'later' if bench.surplus > 0 else 'earlier'} than the mean; where a coil is shorter than the piece its ends stay colder."
    )
    if bench.plan.heater.capacitors.rails is not None:
        yield "The estimate shares the capacitors' currents evenly; along bars the most loaded one carries more (simulated)."
    if own.doubts:
        yield f"Of the scenario's own coil: {'; '.join(own.doubts)}."


def temperatures(plan: HeatPlan) -> tuple[float, ...]:
    """At which the piece is looked at [°C], rising."""
    start, wanted, curie = plan.start, plan.wanted, plan.piece.curie_c
    even = [start + (wanted - start) * part / (TEMPERATURES - 1) for part in range(TEMPERATURES)]
    near = [curie + each for each in ROUND_CURIE if start < curie + each < wanted] if curie is not None else []
    return tuple(sorted({*even, *near}))


def candidates(plan: HeatPlan) -> Iterator[CoilShape]:
    """Coils of the scenario's tube round its piece."""
    tube, thick = plan.scenario.case(plan.case).tables.coil.tube_diameter or 0.0, 2 * plan.piece.shape.outer
    for clearance, turns, pitch in itertools.product(CLEARANCES, TURNS, PITCHES):
        yield CoilShape(float(turns), thick + 2 * clearance, turns * pitch * tube, tube)


def _looked(bench: Bench, shape: CoilShape) -> CoilEstimate | str:
    """A coil's estimate, or why there is none."""
    lining = bench.plan.losses.surroundings.lining
    if lining is not None and shape.bore <= 2 * lining.outer_radius:
        return "the sleeve does not fit"
    try:
        return bench.look(shape)
    except InputError as error:
        return error.problems[0].what


def missed(own: ConfirmedCoil) -> dict[tuple[str, str], float]:
    """What the simulated worst value of each limit is of the estimated one [1], by part and limit; none where it does not run."""
    states = [each for each in own.states if each.celsius is not None]
    if not states or any(each.outcome != "settled" for each in states):
        return {}
    found: dict[tuple[str, str], float] = {}
    for one in own.estimate.findings:
        told = [each for state in states for each in state.findings if (each.part, each.limit) == (one.part, one.limit)]
        judged = [each for each in told if each.headroom is not None and each.value is not None]
        if judged and one.value:
            worst_value = min(judged, key=lambda each: each.headroom or 0.0).value or 0.0
            found[one.part, one.limit] = worst_value / one.value
    return found


def corrected(one: CoilEstimate, shares: Mapping[tuple[str, str], float]) -> CoilEstimate:
    """A coil with what each limit is judged by taken as far from the estimate as it is for the scenario's own coil."""
    wanted = one.wanted_headroom
    return replace(one, findings=tuple(_corrected(each, shares.get((each.part, each.limit), 1.0), wanted) for each in one.findings))


def _corrected(finding: Finding, share: float, wanted: float) -> Finding:
    if share == 1.0 or finding.value is None or finding.allowed is None or finding.headroom is None:
        return finding
    lower = (finding.value > finding.allowed) == (finding.headroom > 0)
    left = headroom(share * finding.value, finding.allowed, lower)
    return replace(finding, value=share * finding.value, headroom=left, grade=grade(left, wanted))


def _confirmed(
    plan: HeatPlan, ranked: Sequence[CoilEstimate], confirm: int, jobs: int | None, tell: Watch
) -> Iterator[ConfirmedCoil]:
    """The best coils simulated; beyond those asked for, until one holds, those alone that keep every limit by the estimate."""
    held = False
    for number, each in enumerate(ranked[: max(TRIES, confirm) if confirm > 0 else 0], 1):
        if number > confirm and (held or not each.keeps):
            return
        words = f"number {number} of the ranking: {each.shape.turns:g} turns, bore {1e3 * each.shape.bore:g} mm"
        found = simulated(plan, each, jobs, _simulating(words, number, confirm, tell))
        held = held or found.holds
        yield found


def _simulating(words: str, number: int, confirm: int, tell: Watch) -> Callable[[float], None]:
    """Tells how far coils are that are simulated one after the other. number: of this one, the first is 0; confirm: of the last one
    for certain. What is returned takes the share of this one that is done [1]."""
    last = max(confirm, number)
    return lambda share: tell(f"simulating {words}", (number + share) / (last + 1))


def _of_all(count: int, tell: Callable[[float], None]) -> Callable[[int, float, float], None]:
    """Progress of so many cases as the share of all that is done, which never falls."""
    parts: dict[int, float] = {}
    most = 0.0

    def told(index: int, reached: float, target: float) -> None:
        nonlocal most
        parts[index] = reached / target if target else 0.0
        most = max(most, min(sum(parts.values()) / count, 1.0))
        tell(most)

    return told


def simulated(
    plan: HeatPlan, one: CoilEstimate, jobs: int | None = None, progress: Callable[[float], None] | None = None
) -> ConfirmedCoil:
    """A coil from rest with the piece cold, where it draws most, and as warm as wanted; and in the scenario's other cases."""
    states = _told_states(one)
    warm = {_case_name(name): each.celsius for name, each in states.items()}
    others = [name for name in plan.scenario.cases if name != plan.case]
    watch = _of_all(len(warm) + len(others), progress or (lambda share: None))
    try:
        found = check(with_coil(plan.scenario, plan.case, None if one.own else one.shape, warm), [*warm, *others], jobs, watch)
    except InputError as error:
        return ConfirmedCoil(one, (), error.problems[0].what)
    warmed, rest = found.cases[: len(states)], found.cases[len(states) :]
    told = [_state_of(name, state, case) for (name, state), case in zip(states.items(), warmed, strict=True)]
    told += [ConfirmedState(each.name, None, each.outcome, each.outcome_detail, each.findings, ()) for each in rest]
    return ConfirmedCoil(one, tuple(told))


def _told_states(one: CoilEstimate) -> dict[str, CoilState]:
    """The states that are simulated, by name."""
    first, last, most = one.states[0], one.states[-1], one.worst
    between = {} if most in (first, last) else {"drawing most": most}
    return {"cold": first, **between, "as wanted": last}


def _case_name(state: str) -> str:
    return f"piece-{state.replace(' ', '-')}"


def with_coil(scenario: Scenario, case: str, shape: CoilShape | None, warm: Mapping[str, float]) -> Scenario:
    """The scenario with another coil (its own for None), and cases beside its own with the piece at a temperature [°C] each."""
    import tomlkit

    raw = copy.deepcopy(scenario.raw)
    if shape is not None:
        raw["coil"].pop("measured", None)
        raw["coil"] |= shape.fields
    for name, celsius in warm.items():
        raw["case"][name] = copy.deepcopy(raw["case"][case])
        raw["case"][name]["workpiece"]["temperature"] = f"{celsius:g} °C"
    return Scenario.from_text(tomlkit.dumps(raw), scenario.label, scenario.folder)


def _state_of(name: str, state: CoilState, case: CaseResult) -> ConfirmedState:
    compared = [
        Compared(key, float(getattr(state, field)), value)
        for key, field in COMPARED.items()
        if isinstance(value := case.measures.get(key), float) and getattr(state, field) > 0
    ]
    return ConfirmedState(name, state.celsius, case.outcome, case.outcome_detail, case.findings, tuple(compared))
