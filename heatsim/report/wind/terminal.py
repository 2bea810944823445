# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim wind` shows: the winding it chose, those it simulated, a second ring or more turns, and the yield."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, TextIO

from heatsim.errors import printable
from heatsim.report.base.terminal import print_blocks, table
from heatsim.report.base.words import number, value_text
from heatsim.studies.wind import Card, WhatIf, WindingCandidate, WindResult, YieldResult, ring_or_turns

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def show(
    result: WindResult, proof: Card | None, built: YieldResult | None, stream: TextIO | None = None, width: int | None = None
) -> None:
    """Print a result: the simulated windings, the question of ring or turns, the yield."""
    print_blocks(_blocks(result, proof, built), stream, width)


def _blocks(result: WindResult, proof: Card | None, built: YieldResult | None) -> Iterator[RenderableType]:
    yield heading(result)
    if result.confirmed:
        yield ""
        yield confirmed_table(result)
    if result.best is not None and proof is not None:
        yield "\nA second ring or more turns? At the same volts and load:"
        yield what_if_table(ring_or_turns(result.best.candidate, result.duty))
        yield f"\n{card_sentence(proof)}"
        if built is not None:
            yield yield_sentence(built)


def heading(result: WindResult) -> str:
    """One sentence that says what was found."""
    looked = f"{result.considered} combinations, {len(result.candidates)} of which fit the bore and the stock in the drawer"
    if result.best is None:
        tried = f"none of the {len(result.confirmed)} simulated holds" if result.confirmed else "none keeps every limit"
        return printable(f"{result.scenario.name}: no winding found. Looked at {looked}; {tried}.")
    simulated = f"Looked at {looked}; simulated {len(result.confirmed)}."
    return printable(f"{result.scenario.name}: wind {named(result.best.candidate)}. {simulated}")


def named(one: WindingCandidate) -> str:
    """A winding in words."""
    rings = f"{one.stack} × {one.ring}" if one.stack > 1 else f"one {one.ring}"
    return f"{one.turns} turns of {one.strands} × {one.wire} on {rings}"


def confirmed_table(result: WindResult) -> Table:
    """The simulated windings, best first."""
    left = ("grade", "rings", "wire")
    made = table(left, "grade", "rings", "turns", "wire", "L0", "left", "choke", "copper", "cost")
    for each in result.confirmed:
        one, part = each.candidate, f"choke.{each.candidate.choke.side}"
        cases = [case.measures for case in each.result.cases]
        remaining = [share for m in cases if (share := number(m, f"{part}.inductance_remaining_ratio")) is not None]
        hot = [degrees for m in cases if (degrees := number(m, f"{part}.temperature_c")) is not None]
        made.add_row(
            each.result.verdict,
            printable(f"{one.stack} × {_short(one.ring, 'ring')}"),
            str(one.turns),
            printable(f"{one.strands} × {_short(one.wire, 'enamelled')}"),
            value_text(one.choke.curve.inductance_zero, "H"),
            value_text(min(remaining, default=None), "ratio"),
            value_text(max(hot, default=None), "°C"),
            f"{1e3 * one.copper_mass:.0f} g",
            "–" if one.cost is None else f"{one.cost:.2f}",
        )
    return made


def _short(name: str, word: str) -> str:
    """A drawer name without the word every such name has."""
    return name.replace(f" {word}", "") or name


def what_if_row(way: WhatIf) -> list[str]:
    """What changes, and what that makes of inductance, swing, inductance left, losses and temperature."""
    core, found = way.choke.core, way.estimate
    assert core is not None
    numbers = (
        (way.choke.curve.inductance_zero, "H"),
        (core.flux_density(found.flux_swing), "T"),
        (found.remaining, "ratio"),
        (found.core_loss, "W"),
        (found.copper_loss, "W"),
        (found.temperature, "°C"),
    )
    return [way.change, *(value_text(value, unit) for value, unit in numbers)]


def what_if_table(ways: Sequence[WhatIf]) -> Table:
    """What a second ring and what more turns would do, side by side."""
    made = table(("estimated",), "estimated", "L0", "swing", "left", "core", "copper", "choke")
    for way in ways:
        made.add_row(*what_if_row(way))
    return made


def card_sentence(proof: Card) -> str:
    """What to cut and what to measure."""
    henries = (proof.inductance, proof.inductance_least, proof.inductance_greatest)
    expected, least, greatest = (value_text(value, "H") for value in henries)
    return (
        f"Cut {proof.strands} × {proof.cut_length:.2f} m for each choke. Expect {expected} on the meter ({least} to {greatest}) "
        f"and {value_text(proof.resistance, 'ohm')} at 20 °C."
    )


def yield_sentence(built: YieldResult) -> str:
    """How many builds would keep every choke limit."""
    low, high = built.interval
    return (
        f"Of {built.samples} builds with everything a little off, {100 * built.share:.0f} % keep every choke limit "
        f"(95 % interval {100 * low:.0f} to {100 * high:.0f} %, estimated); what matters most: {built.matters_most}."
    )
