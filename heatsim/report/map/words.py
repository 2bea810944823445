# SPDX-License-Identifier: GPL-3.0-or-later
"""A map in words: up to where the heater is usable, what ends it there, what would end it next, and how sure that is."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from heatsim.errors import printable
from heatsim.report.base.words import (
    field_words,
    limit_words,
    outdated_words,
    part_words,
    percent,
    plural,
    sentence_case,
    value_text,
)
from heatsim.studies.map import DOUBTFUL, JUDGED, UNKNOWN, MapAxis, MapResult, Reach

LEAST_SHARE = 0.0005
"""Smallest share of the axes that is named."""

STEADY = "Most points are steady states: check one to see how it starts, drains at switch-on included."
"""Told below every map: a followed point has no start."""

OUTCOMES = {
    "dead": "it does not start",
    "latched": "it latches",
    "drifting": "it had not settled when the simulation ended",
    DOUBTFUL: "the powers of its simulation do not add up",
    "unbuildable": "the parts contradict one another",
    "stalled": "the simulation did not finish",
    "unsolved": "the simulator could not solve the circuit",
}
"""Outcome without headrooms -> clause."""


def sentences(result: MapResult) -> Iterator[str]:
    """The map in a few sentences, the single answer first."""
    answer = result.answer
    yield from unjudged(result)
    yield headline(result)
    yield from _second(result, answer.reference)
    yield from _comfortable(result, answer.reference)
    yield from _weakest(result)
    yield from _own(result)
    yield how_sure(result)


def unjudged(result: MapResult) -> Iterator[str]:
    """Limits of which the map says nothing."""
    if result.evidence.unjudged:
        named = ", ".join(map(ends_label, result.evidence.unjudged))
        yield f"Could not be judged at any point, so the map leaves it out: {named}."


def headline(result: MapResult) -> str:
    """The single answer: "Usable up to 43.5 V at full load; the left choke ends it: inductance left at the peak."."""
    return f"{reached(result)}; {_ended(result, result.answer.reference)}."


def reached(result: MapResult) -> str:
    """How far it is usable, without what ends it: "Usable up to 43.5 V at full load"."""
    reach = result.answer.reference
    what = "" if result.vertical.field.path == "supply.voltage" else f"{field_words(result.vertical.field.path)}: "
    return f"{sentence_case(what + _reach(result, reach))} {place(result.horizontal, reach.x)}"


def ended(result: MapResult) -> str:
    """What ends it there, in a sentence: "The left choke sets the limit: inductance left at the peak."."""
    return sentence_case(f"{_ended(result, result.answer.reference)}.")


def _reach(result: MapResult, reach: Reach) -> str:
    """Up to where it is usable."""
    axis = result.vertical
    if reach.start is None or reach.stop is None:
        return f"nothing from {value(axis, axis.low)} to {value(axis, axis.high)} is usable"
    if reach.upper is None and reach.lower is None:
        return f"usable from {value(axis, axis.low)} to {value(axis, axis.high)}, the whole range,"
    if reach.upper is None:
        return f"usable from {lower_end(result, reach)} up to {value(axis, axis.high)}, the end of the range,"
    if reach.lower is None:
        return f"usable up to {upper_end(result, reach)}"
    return f"usable from {lower_end(result, reach)} up to {upper_end(result, reach)}"


def upper_end(result: MapResult, reach: Reach) -> str:
    """Up to where it is usable: the last evaluated point that is, rounded towards what is usable, so that it holds as printed."""
    axis = result.vertical
    return value(axis, axis.high if reach.upper is None else rounded(axis, reach.upper.low, ROUND_FLOOR))


def lower_end(result: MapResult, reach: Reach) -> str:
    """From where it is usable, likewise."""
    axis = result.vertical
    return value(axis, axis.low if reach.lower is None else rounded(axis, reach.lower.high, ROUND_CEILING))


def rounded(axis: MapAxis, number: float, towards: str, digits: int = 3) -> float:
    """A coordinate [SI] as it is printed, rounded upwards or downwards only; never beyond the axis."""
    exact = Decimal(repr(float(number)))
    if axis.field.kind == "count" or not exact:
        return number
    last = Decimal(1).scaleb(exact.adjusted() - digits + 1)
    return min(max(float(exact.quantize(last, rounding=towards)), axis.low), axis.high)


def _ended(result: MapResult, reach: Reach) -> str:
    """What ends it."""
    if reach.start is None and reach.fails.startswith(UNKNOWN):
        return f"{ends_label(reach.fails.removeprefix(UNKNOWN))} cannot be judged"
    if reach.start is None:
        return ends_clause(reach.fails) + ("" if reach.fails in OUTCOMES else ", even where it comes nearest")
    clauses = []
    if reach.lower is not None:
        clauses.append(f"below, {ends_clause(reach.lower.ends, reach.lower.both)}")
    if reach.upper is not None:
        clause = ends_clause(reach.upper.ends, reach.upper.both)
        clauses.append(clause if reach.lower is None else f"above, {clause}")
    elif reach.lower is None:
        clauses.append("no limit is met")
    if reach.others:
        more = " and ".join(_stretch(result.vertical, *other) for other in reach.others)
        clauses.append(f"it is usable again from {more}")
    return "; ".join(clauses)


def _stretch(axis: MapAxis, low: float, high: float) -> str:
    """From and to where, rounded towards what is usable."""
    return f"{value(axis, rounded(axis, low, ROUND_CEILING))} to {value(axis, rounded(axis, high, ROUND_FLOOR))}"


def ends_clause(ends: str, both: bool = False) -> str:
    """`choke.left: temperature` -> "the left choke sets the limit: temperature"; both: sides alike."""
    if ends in OUTCOMES:
        return OUTCOMES[ends]
    if ends.startswith(UNKNOWN):
        return f"beyond, {ends_label(ends.removeprefix(UNKNOWN))} cannot be judged"
    part, _, limit = ends.partition(": ")
    name = f"both {plural(part)}" if both else f"the {part_words(part)}"
    verb = "set" if both or part == "capacitors" else "sets"
    return printable(f"{name} {verb} the limit: {limit}" if limit else f"it ends as {ends}")


def ends_label(ends: str, both: bool = False) -> str:
    """The same for a label: "left choke: inductance left at the peak", "does not start"."""
    if ends in OUTCOMES:
        return OUTCOMES[ends].removeprefix("it ")
    if ends.startswith(UNKNOWN):
        return f"not known: {ends_label(ends.removeprefix(UNKNOWN))}"
    return limit_words(ends, both)


def _second(result: MapResult, reach: Reach) -> Iterator[str]:
    """What would end it next."""
    if reach.upper is None or reach.stop is None:
        return
    axis = result.vertical
    if reach.second is None:
        yield f"Nothing else sets a limit up to {value(axis, axis.high)}."
        return
    after = reach.second
    further = value(axis, max(after.at - reach.stop, 0.0), 2)
    clause = re.sub(r" sets? the limit", " would set the limit", ends_clause(after.ends, after.both))
    yield f"Next, {further} further at about {value(axis, after.at)}, {clause}."


def _comfortable(result: MapResult, reach: Reach) -> Iterator[str]:
    """Up to where the wanted headroom is kept."""
    wanted = f"{100 * result.scenario.tables.heater.wanted_headroom:.3g} %"
    if reach.start is None or result.scenario.tables.heater.wanted_headroom == 0:
        return
    axis = result.vertical
    if reach.kept is None:
        yield f"The wanted headroom of {wanted} is not reached anywhere {place(result.horizontal, reach.x)}."
    elif reach.upper is not None or reach.kept < axis.high:
        yield f"With the wanted headroom of {wanted}: up to {value(axis, rounded(axis, reach.kept, ROUND_FLOOR))}."


def _weakest(result: MapResult) -> Iterator[str]:
    """Over the whole horizontal axis."""
    answer, axis = result.answer, result.vertical
    across = field_words(result.horizontal.field.path)
    if len({reach.stop for reach in answer.reaches}) == 1 and answer.weakest.stop is not None and not _raised(result):
        yield f"The same applies over the whole range of {across}."
        return
    if answer.nowhere:
        yield f"Nothing is usable {_parts(result)}."
        return
    usable = [reach for reach in answer.reaches if reach.start is not None and reach.stop is not None]
    if not usable:
        return
    low, high = max(usable, key=lambda one: one.start or 0.0), min(usable, key=lambda one: one.stop or 0.0)
    if high.stop is None or low.start is None or low.start >= high.stop:
        yield f"No {field_words(axis.field.path)} works over the whole range of {across}."
        return
    top = upper_end(result, high)
    span = f"from {lower_end(result, low)} to {top}" if _raised(result) else f"up to {top}"
    weak = ""
    if high.upper is not None:
        weak = f"; weakest {place(result.horizontal, high.x)}, where {ends_clause(high.upper.ends, high.upper.both)}"
    yield f"Usable {span} over the whole range of {across}{weak}."


def _raised(result: MapResult) -> bool:
    """Whether a lower end is met anywhere."""
    return any(reach.lower is not None for reach in result.answer.reaches)


def _parts(result: MapResult) -> str:
    """The parts of the horizontal axis where nothing is usable."""
    axis, parts = result.horizontal, []
    for low, high in result.answer.nowhere:
        if low <= axis.low and high >= axis.high:
            return f"at any {field_words(axis.field.path)}"
        if low <= axis.low and low < high:
            parts.append(f"below {value(axis, high, 2)}")
        elif high >= axis.high and low < high:
            parts.append(f"above {value(axis, low, 2)}")
        else:
            parts.append(f"from {value(axis, low, 2)} to {value(axis, high, 2)}" if low < high else f"at {value(axis, low)}")
    some = " or ".join(parts)
    return f"{some} load" if axis.field.path == "load" else f"where {field_words(axis.field.path)} is {some}"


def _own(result: MapResult) -> Iterator[str]:
    """The scenario's own operating point."""
    own = result.own
    if own is None:
        return
    room, ends = result.evidence.least(own)
    where = f"The scenario's own point, {value(result.vertical, own.y)} {place(result.horizontal, own.x)}"
    if room is None:
        yield f"{where}: {ends_clause(ends)}."
    else:
        yield f"{where}, has a headroom of {percent(room)} ({ends_label(ends)})."


def how_sure(result: MapResult) -> str:
    """How well the boundary is known."""
    bound, axis = result.answer.reference.upper, result.vertical
    known = ""
    if bound is not None:
        known = f"The boundary lies between {value(axis, bound.low, 4)} and {value(axis, bound.high, 4)}, both simulated. "
    share = f"{100 * (result.accuracy if result.gaps else max(result.missed, LEAST_SHARE)):.2g} %"
    if result.gaps:
        return (
            f"{known}The points ran out: between {len(result.gaps)} pairs of neighbouring columns the boundary is "
            f"not known to {share} of the axes."
        )
    return f"{known}Where it was interpolated and then simulated, the two agreed within {share} of the axes."


def reach_row(result: MapResult, reach: Reach) -> tuple[str, str, str, str, str]:
    """A column of the map in cells: from, up to, what ends it, what would end it next, at about."""
    axis = result.vertical
    if reach.start is None or reach.stop is None:
        return "–", "–", f"nowhere usable: {ends_label(reach.fails)}", "", ""
    low = "" if reach.lower is None else lower_end(result, reach)
    ends = "no limit is met" if reach.upper is None else ends_label(reach.upper.ends, reach.upper.both)
    if reach.lower is not None:
        ends += f"; below: {ends_label(reach.lower.ends, reach.lower.both)}"
    after = reach.second
    second = ("", "") if after is None else (ends_label(after.ends, after.both), value(axis, after.at))
    return low, upper_end(result, reach), ends, *second


def doubts(result: MapResult) -> Iterator[str]:
    """What could not be judged or computed, and older points that are not used."""
    if result.outdated:
        yield f"{outdated_words(result.outdated)}."
    samples = result.evidence.samples
    doubtful = sum(not one.trusted for one in samples)
    if doubtful:
        yield (f"{doubtful} of {len(samples)} points fail their energy balance and count as not usable.")
    lost = [one for one in samples if one.outcome not in (*JUDGED, "dead", "latched", "drifting")]
    if lost:
        clause = OUTCOMES.get(lost[0].outcome, lost[0].outcome)
        yield printable(f"{len(lost)} points without a result; the first: {clause} ({lost[0].detail}).")


def place(axis: MapAxis, x: float) -> str:
    """Where on the horizontal axis: "at full load", "at 73 % load", "at capacitors count 7"."""
    if axis.field.path == "load":
        return "at full load" if x == 1.0 else "without load" if x == 0.0 else f"at {value(axis, x)} load"
    return f"at {field_words(axis.field.path)} {value(axis, x)}"


def value(axis: MapAxis, number: float, digits: int = 3) -> str:
    """A coordinate with its unit."""
    if axis.field.kind == "quantity":
        return value_text(number, axis.field.unit, digits)
    return f"{number:.{digits}g}" if axis.field.kind == "number" else f"{number:.0f}"
