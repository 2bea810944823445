# SPDX-License-Identifier: GPL-3.0-or-later
"""A heat told: its series, the answers to what was asked, what happens when, and how well it is known."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

import numpy as np

from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.numeric import running_integral
from heatsim.scenario.heat import HeatPlan
from heatsim.studies.check import Measured
from heatsim.studies.heat.course import Course, Moment
from heatsim.studies.heat.limits import caught, measures_at
from heatsim.studies.heat.responses import Responses
from heatsim.studies.heat.result import Event, Snapshot, Trust, Wanted, Watched
from heatsim.studies.heat.states import States
from heatsim.studies.heat.warmth import PartsWarmth
from heatsim.studies.points import PointResult

MEASURES = (
    "supply.mean_current_a",
    "supply.power_w",
    "tank.frequency_hz",
    "tank.peak_voltage_v",
    "coil.rms_current_a",
    "loss.coil_w",
    "loss.leads_w",
    "capacitor.rms_current_a",
    "coil.water_outlet_c",
    "coil.wall_temperature_c",
)
"""Measures of the heater that are told against time."""

JOULES_PER_KWH = 3.6e6


def series(
    responses: Responses, warmth: PartsWarmth, moments: Sequence[Moment], parts: Mapping[str, Array], hottest: int
) -> dict[str, Array]:
    """Everything that is told against time, by key; of the piece in its hottest slice, given by number."""
    found: dict[str, Array] = {
        "time_s": _of(moments, lambda each: each.time),
        "surface_c": _of(moments, lambda each: each.surface[hottest]),
        "core_c": _of(moments, lambda each: each.celsius[hottest, 0]),
        "coldest_c": _of(moments, lambda each: each.celsius.min()),
        "piece_power_w": _of(moments, lambda each: each.power),
        "given_off_w": _of(moments, lambda each: sum(each.given.values())),
        "caught_by_coil_w": _of(moments, caught),
        "coil_inductance_h": _of(moments, lambda each: each.load.inductance),
        "coil_resistance_ohm": _of(moments, lambda each: each.load.resistance),
    }
    rows = [measures_at(responses, warmth, each, _at(parts, place)) for place, each in enumerate(moments)]
    found |= {name: _numbers(rows, name) for name in MEASURES if any(isinstance(row.get(name), float) for row in rows)}
    for name in parts:
        own = "temperature_c" if name.startswith("choke.") else "junction_temperature_c"
        found[f"{name}.{own}"] = _numbers(rows, f"{name}.{own}")
    found["efficiency_ratio"] = found["piece_power_w"] / found["supply.power_w"]
    return found | {"supply.energy_j": running_integral(found["supply.power_w"], found["time_s"])}


def _of(moments: Sequence[Moment], of: Callable[[Moment], float]) -> Array:
    return np.array([float(of(each)) for each in moments])


def _at(parts: Mapping[str, Array], place: int) -> dict[str, float]:
    return {name: float(values[place]) for name, values in parts.items()}


def _numbers(rows: Sequence[Mapping[str, Measured]], name: str) -> Array:
    return np.array([value if isinstance(value := row.get(name), float) else np.nan for row in rows])


def hottest_slice(plan: HeatPlan, moments: Sequence[Moment]) -> int:
    """Number of the slice that is first as warm as wanted; of the one that is hottest at the end where none is."""
    for moment in moments:
        warm = moment.warm(plan.at)
        if float(np.max(warm)) >= plan.wanted:
            return int(np.argmax(warm))
    return int(np.argmax(moments[-1].warm(plan.at)))


def answers(plan: HeatPlan, moments: Sequence[Moment], told: Mapping[str, Array], hottest: int) -> Wanted:
    """When the piece is as warm as wanted, what it is like then, and what that took."""
    time, reached = told["time_s"], _first_above(told["time_s"], told[f"{plan.at}_c"], plan.wanted)
    if reached is None:
        return Wanted(plan.wanted, plan.at, None)
    surface, core = (float(np.interp(reached, time, told[name])) for name in ("surface_c", "core_c"))
    energy = float(np.interp(reached, time, told["supply.energy_j"])) / (plan.efficiency or 1.0)
    cost = None if plan.price is None else plan.price * energy / JOULES_PER_KWH
    depth = _depth(plan, _celsius_at(moments, reached)[hottest], surface)
    return Wanted(plan.wanted, plan.at, reached, surface, core, plan.depth_above, depth, energy, cost)


def _first_above(time: Array, values: Array, wanted: float) -> float | None:
    """When values first pass what is wanted [s], None if never."""
    above = np.flatnonzero(values >= wanted)
    if not above.size:
        return None
    place = int(above[0])
    if place == 0:
        return float(time[0])
    before, after = values[place - 1], values[place]
    return float(time[place - 1] + (wanted - before) / (after - before) * (time[place] - time[place - 1]))


def _celsius_at(moments: Sequence[Moment], time: float) -> Array:
    """The piece's temperatures [°C] at a time [s], straight between the moments beside it."""
    times = np.array([each.time for each in moments])
    place = int(np.clip(np.searchsorted(times, time), 1, len(moments) - 1))
    first, last = moments[place - 1], moments[place]
    part = float(np.clip((time - first.time) / (last.time - first.time), 0.0, 1.0))
    return np.asarray((1 - part) * first.celsius + part * last.celsius)


def _depth(plan: HeatPlan, celsius: Array, surface: float) -> float:
    """How deep [m] a slice is warmer than asked, from its surface inwards; the whole wall where all of it is."""
    radii = np.append(plan.piece.middles, plan.piece.shape.outer)[::-1]
    values = np.append(celsius, surface)[::-1]
    cold = np.flatnonzero(values < plan.depth_above)
    if not cold.size:
        return float(plan.piece.shape.outer - plan.piece.edges[0])
    place = int(cold[0])
    if place == 0:
        return 0.0
    part = (values[place - 1] - plan.depth_above) / (values[place - 1] - values[place])
    return float(plan.piece.shape.outer - (radii[place - 1] + part * (radii[place] - radii[place - 1])))


def snapshots(plan: HeatPlan, moments: Sequence[Moment], wanted: Wanted) -> tuple[Snapshot, ...]:
    """The piece at some times: a quarter, half and three quarters of the way to the wanted temperature, when it has it, and
    last."""
    told, surface = [], np.array([float(each.surface.max()) for each in moments])
    times = np.array([each.time for each in moments])
    for share, name in ((0.25, "a quarter of the way"), (0.5, "half way"), (0.75, "three quarters of the way")):
        when = _first_above(times, surface, plan.start + share * (plan.wanted - plan.start))
        if when is not None:
            told.append((name, when))
    told += [("as wanted", wanted.reached)] if wanted.reached is not None else []
    told.append(("at the end", moments[-1].time))
    return tuple(Snapshot(name, when, _celsius_at(moments, when)) for name, when in told)


def events(plan: HeatPlan, course: Course, wanted: Wanted, limits: Sequence[Watched], hottest: int) -> tuple[Event, ...]:
    """What happens when, in order."""
    return tuple(sorted(_events(plan, course, wanted, limits, hottest), key=lambda each: each.time))


def _events(plan: HeatPlan, course: Course, wanted: Wanted, limits: Sequence[Watched], hottest: int) -> Iterator[Event]:
    times = np.array([each.time for each in course.moments])
    surface = np.array([float(each.surface[hottest]) for each in course.moments])
    core = np.array([float(each.celsius[hottest, 0]) for each in course.moments])
    curie = plan.piece.curie_c
    for name, values in (("surface", surface), ("core", core)):
        when = None if curie is None or plan.start >= curie else _first_above(times, values, curie)
        if when is not None and curie is not None:
            yield Event(when, f"{name} at Curie point", f"The {name} passes {curie:g} °C and is no longer magnetic.")
    if wanted.reached is not None:
        yield Event(wanted.reached, "as wanted", f"The {plan.at} is at {plan.wanted:g} °C.")
    for each in limits:
        if each.crossed is not None:
            yield Event(each.crossed, "limit", f"{each.worst.part}: {each.worst.limit} is no longer kept.")
    yield Event(course.moments[-1].time, course.ends, _last(course))


def _last(course: Course) -> str:
    warmest = f"{float(course.moments[-1].surface.max()):.0f} °C"
    return {
        "settled": f"The piece gives off as much as it takes in; its surface is at {warmest}.",
        "time is up": f"Time is up; its surface is at {warmest}.",
        "beyond the data": f"The piece is at {warmest}, where the data of its material end.",
        "does not run": f"The heater does not run with the piece at {warmest}.",
    }[course.ends]


def end_words(plan: HeatPlan, course: Course, failure: PointResult | None) -> str:
    """Why the heat ended, in sentences."""
    told = _last(course)
    if course.ends == "beyond the data":
        told += f" Above lies {plan.piece.heat.metals[-1].end_words}."
    if course.ends == "does not run" and failure is not None:
        told += f" {failure.outcome.capitalize()}: {failure.outcome_detail}."
    return told


def trust(responses: Responses, moments: Sequence[Moment], told: Mapping[str, Array], states: States) -> Trust:
    """How well the heat is known."""
    last = moments[-1]
    lost = sum(last.lost.values())
    piece = (last.energy - last.stored - lost) / last.energy if last.energy else 0.0
    return Trust(
        responses.error,
        max(
            (
                abs(value)
                for point in responses.points
                if isinstance(value := point.result.measures.get("energy.imbalance_ratio"), float)
            ),
            default=np.nan,
        ),
        piece,
        sum(each.error for each in moments),
        states.simulated,
        states.found,
    )
