# SPDX-License-Identifier: GPL-3.0-or-later
"""report.html of a winding: what to wind, the card to take to the bench, every winding, its limits, and what it rests on.

The card itself stays a page of its own, which is printed and lies beside the work.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import heatsim
from heatsim.report.base import sheet as base
from heatsim.report.base.findings import allowed_text
from heatsim.report.base.sheet import (
    Block,
    Cell,
    Folded,
    Grade,
    Heading,
    Items,
    Links,
    Pairs,
    Picture,
    Prose,
    Section,
    Sheet,
    Told,
    table,
)
from heatsim.report.base.words import BASES, number, percent, sentence_case, value_text
from heatsim.report.wind.terminal import card_sentence, heading, named, what_if_row, yield_sentence
from heatsim.studies.wind import Card, WindingCandidate, WindResult, YieldResult, ring_or_turns
from heatsim.studies.wind.tolerance import influences
from heatsim.verdict.finding import SEVERITY, Finding

CAPTION = (
    "Each dot is a winding that goes through the bore and that the drawer has parts for, by estimate. Left is little copper, low "
    "is cool. Ringed: no other beats it in headroom, temperature and copper at once. The diamond was simulated and holds."
)
"""Under the picture."""

NEAREST = 8
"""Windings told where none holds, the best first."""

LEFT_OUT = (
    "Candidates are estimated, then the best few are simulated in every case of the scenario; nothing is called good that was only "
    "estimated.",
    "Estimated temperatures scale a rule of thumb for still air; those of the simulated windings are a heat balance in still air.",
    "The loss of the core is that of the swing alone; what direct current in it adds is not in it.",
)
"""What the numbers rest on."""

STEP = (
    "Step test",
    "The current step of the card charges a winding to its peak current: wear glasses, keep the step short, give the current a "
    "freewheel path, and discharge the capacitor afterwards.",
)
"""A caution of the card's own."""


def render_page(result: WindResult, proof: Card | None, built: YieldResult | None, pictures: tuple[Picture, ...]) -> str:
    """The page. pictures: every winding, last; before it how the chosen one lies, where one was found."""
    return base.render(sheet(result, proof, built, pictures))


def sheet(result: WindResult, proof: Card | None, built: YieldResult | None, pictures: tuple[Picture, ...]) -> Sheet:
    """The page in parts."""
    best = result.best
    lead = [heading(result).removeprefix(f"{result.scenario.name}: ")] if best is None else []
    if proof is not None:
        lead = [card_sentence(proof), *([yield_sentence(built)] if built else [])]
    return Sheet(
        name=result.scenario.name,
        what="A winding for the chokes, from the rings and the wire in the drawer",
        tone="fails" if best is None else best.result.verdict,
        word="No winding found" if best is None else f"Wind {named(best.candidate)}",
        lead=tuple(sentence_case(text) for text in lead),
        flags=tuple(_flags(result)),
        tally=f"{_looked(result)} {base.simulated(result.scenario.label)}",
        sections=tuple(_sections(result, proof, built, pictures)),
        cautions=(*((STEP,) if proof is not None else ()), *base.HEATER_CAUTIONS),
        caution=base.NO_PROOF,
    )


def _looked(result: WindResult) -> str:
    """How many were looked at."""
    tried = f"{len(result.confirmed)} simulated"
    return f"{result.considered:,} combinations, {len(result.candidates):,} of them fit bore and drawer, {tried}."


def _flags(result: WindResult) -> Iterator[str]:
    """Warnings of the simulated winding."""
    if result.best is not None:
        yield from dict.fromkeys(warning.text for warning in result.best.result.warnings)


def _sections(
    result: WindResult, proof: Card | None, built: YieldResult | None, pictures: tuple[Picture, ...]
) -> Iterator[Section]:
    if result.best is not None and proof is not None:
        lies, pictures = pictures[:-1], pictures[-1:]
        yield Section("card", "Wind and measure", (*_card(proof), *lies))
        yield Section("limits", "Limits of the chokes", tuple(_limits(result)))
    if result.confirmed:
        yield Section("simulated", "Simulated windings", tuple(_simulated(result)))
    elif result.candidates:
        yield Section("nearest", "Nearest to what is asked", tuple(_nearest(result)))
    if result.best is not None:
        yield Section("turns", "A second ring or more turns?", tuple(_ways(result.best.candidate, result)))
    yield Section("all", "Every winding the drawer allows", pictures)
    if built is not None:
        yield Section("yield", "Will the second one hold as well?", tuple(_yield(result, built)))
    yield Section("basis", "What this rests on", tuple(_basis(result, proof)))


def _card(proof: Card) -> Iterator[Block]:
    """What to cut, wind and measure, in short, and the way to the card."""
    strands = f"{proof.strands} × {proof.cut_length:.2f} m"
    cost = () if proof.cost is None else (("cost of a choke", f"{proof.cost:.2f} at the drawer's prices"),)
    yield Pairs(
        (
            ("rings under each winding", f"{proof.stack} × {proof.ring}"),
            ("turns", str(proof.turns)),
            ("wire", f"{proof.strands} {'strands' if proof.strands > 1 else 'strand'} of {proof.wire}"),
            ("cut for each choke, tails included", f"{strands}; {proof.wire_total:.1f} m in all"),
            ("layers in the bore, hole left", f"{proof.layers}, {value_text(proof.free_bore, 'm')}"),
            (
                "inductance on the meter",
                f"{value_text(proof.inductance, 'H')}, {_between(proof.inductance_least, proof.inductance_greatest, 'H')}",
            ),
            ("resistance", f"{value_text(proof.resistance, 'ohm')} at {proof.resistance_temperature:.0f} °C"),
            (
                "mean and peak current, hardest case",
                f"{value_text(proof.mean_current, 'A')}, {value_text(proof.peak_current, 'A')}",
            ),
            *cost,
        )
    )
    yield Links(
        (
            ("winding-card.html", "the card for the bench: print it, fill in what you measure"),
            ("wound.toml", "the scenario with this winding in it"),
        )
    )


def _between(least: float, greatest: float, unit: str) -> str:
    return f"{value_text(least, unit)} to {value_text(greatest, unit)} by the rings' tolerance"


def _limits(result: WindResult) -> Iterator[Block]:
    """The chokes' limits of the simulated winding, the tightest first; alike ones of both sides once."""
    assert result.best is not None
    rows: dict[tuple[str, ...], list[tuple[Finding, str]]] = {}
    every = [
        (case.name, finding) for case in result.best.result.cases for finding in case.findings if finding.part.startswith("choke")
    ]
    for case, finding in sorted(
        every, key=lambda one: (-SEVERITY[one[1].grade], one[1].headroom if one[1].headroom is not None else 9.0)
    ):
        found, allowed = value_text(finding.value, finding.unit), allowed_text(finding)
        rows.setdefault((case, finding.limit, finding.grade, found, allowed, percent(finding.headroom)), []).append((finding, case))
    yield Prose("As simulated in every case, the tightest first. Open one to read what it is.", "soft")
    headings = ("limit", "case", "grade", "found", "allowed", "headroom", "known from")
    cells = (
        (
            Told.limit(f"{same[0][0].part}: {limit}", len(same) > 1),
            case,
            Grade(grade),
            found,
            allowed,
            room,
            BASES.get(same[0][0].basis, same[0][0].basis),
        )
        for (case, limit, grade, found, allowed, room), same in rows.items()
    )
    yield table("Limits of the chokes", headings, cells, ("case", "grade", "known from"))
    others = [one for case in result.best.result.cases for one in case.findings if not one.part.startswith("choke")]
    tight = min((one for one in others if one.headroom is not None), key=lambda one: one.headroom or 0.0, default=None)
    if tight is not None:
        yield Prose(
            f"Of the heater's other limits the tightest has {percent(tight.headroom)} left; heatsim check wound.toml tells all."
        )


def _simulated(result: WindResult) -> Iterator[Block]:
    """The simulated windings, best first."""
    rows = []
    for each in result.confirmed:
        one, part = each.candidate, f"choke.{each.candidate.choke.side}"
        cases = [case.measures for case in each.result.cases]
        left = [share for found in cases if (share := number(found, f"{part}.inductance_remaining_ratio")) is not None]
        hot = [degrees for found in cases if (degrees := number(found, f"{part}.temperature_c")) is not None]
        told = (value_text(min(left, default=None), "ratio"), value_text(max(hot, default=None), "°C"))
        rows.append((named(one), Grade(each.result.verdict), value_text(one.choke.curve.inductance_zero, "H"), *told, *_costs(one)))
    headings = ("winding", "grade", "inductance", "left at the peak", "choke", "copper", "cost")
    yield table("Simulated windings", headings, rows, ("grade",))


def _costs(one: WindingCandidate) -> tuple[str, str]:
    """Copper and cost of a choke."""
    return f"{1e3 * one.copper_mass:.0f} g", "–" if one.cost is None else f"{one.cost:.2f}"


def _nearest(result: WindResult) -> Iterator[Block]:
    """The best of those that were estimated, where none keeps every limit."""
    yield Prose("None keeps every limit by estimate, so that none was simulated. These come nearest:")
    near = sorted(result.candidates, key=lambda one: -one.headroom)[:NEAREST]
    rows = [
        (named(one), one.worst, percent(one.headroom), value_text(one.estimate.temperature, "°C"), *_costs(one)) for one in near
    ]
    yield table(
        "Nearest to what is asked", ("winding", "broken most", "headroom", "choke", "copper", "cost"), rows, ("broken most",)
    )


def _ways(best: WindingCandidate, result: WindResult) -> Iterator[Block]:
    """What a second ring and what more turns would do."""
    yield Prose("At the same volts and load, estimated.", "soft")
    headings = ("winding", "inductance", "swing", "left at the peak", "core", "copper", "choke")
    rows: list[Sequence[Cell]] = [what_if_row(way) for way in ring_or_turns(best, result.duty)]
    yield table("A second ring or more turns?", headings, rows)


def _yield(result: WindResult, built: YieldResult) -> Iterator[Block]:
    """The share of builds that hold, and what matters."""
    yield Prose(yield_sentence(built))
    tolerance = result.scenario.tables.wind.al_tolerance if result.scenario.tables.wind else 0.08
    basis = {each.name: each.basis for each in influences(tolerance)}
    order = sorted(built.total, key=lambda name: -built.total[name])
    rows = ((name, value_text(max(built.total[name], 0.0), "ratio", 2), basis.get(name, "")) for name in order)
    yield Prose(
        "Share of the headroom's scatter in which each has a part (total Sobol index), and what its spread rests on.", "soft"
    )
    yield table("What matters", ("what varies", "part in the scatter", "spread known from"), rows, ("spread known from",))
    if any(built.broken_by.values()):
        broken = ((name, value_text(share, "ratio", 2)) for name, share in built.broken_by.items() if share)
        yield table("Limits that builds break", ("limit", "builds that break it"), broken)


def _basis(result: WindResult, proof: Card | None) -> Iterator[Block]:
    """The drawer, the duty, what is left out, and how it was computed."""
    table_of = result.scenario.tables.wind
    assert table_of is not None
    if proof is not None:
        memory = "; the card's step test is how to find out" if proof.provenance == "memory" else ""
        yield Pairs((("saturation curve of the ring", f"{BASES.get(proof.provenance, proof.provenance)}{memory}"),))
    yield Heading("The drawer")
    rings = [f"{one.name}: {one.on_hand} of {one.material}" for one in table_of.ring]
    wires = [f"{one.name}: {one.on_hand:.4g} m" for one in table_of.wire]
    yield Folded(f"{len(rings)} rings and {len(wires)} wires", (Items((*rings, *wires)),))
    yield Heading("Taken for granted")
    yield Items((f"The load is that of case {table_of.case}.", *LEFT_OUT))
    yield Heading("How it was computed")
    simulator = result.confirmed[0].result.simulator_version if result.confirmed else ""
    programs = f"heatsim {heatsim.__version__}{f', {simulator}' if simulator else ''}"
    files = (
        "candidates.csv: every estimated winding; results.json: all numbers in SI units; windings.svg and windings.png: the picture"
    )
    yield base.how_computed(result.scenario.identity, programs, files)
