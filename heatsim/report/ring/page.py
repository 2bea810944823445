# SPDX-License-Identifier: GPL-3.0-or-later
"""report.html of an identified ring: what it is, the curve, each quantity with its interval, materials, and what it rests on."""

from __future__ import annotations

from collections.abc import Iterator

import heatsim
from heatsim.report.base import sheet as base
from heatsim.report.base.sheet import Block, Folded, Heading, Items, Links, Pairs, Picture, Prose, Section, Sheet, table
from heatsim.report.base.topics import topics
from heatsim.report.base.words import percent, sentence_case, value_text
from heatsim.report.ring import terminal as words
from heatsim.studies.ring import MaterialMatch, RingResult

TOPICS = ("choke-inductance-left", "dc-bias")
"""What the page explains, by topic."""

CAPTION = "Inductance against direct current: what was measured, the form that fits with its 95 % band, and catalogue materials."
"""Under the curve."""

RAMP_CAPTION = (
    "The captured ramp with the fit through it, and below what the fit leaves of it. A pattern there means that the form does not "
    "suit."
)
"""Under the ramp."""

FILES = (
    ("choke.toml", "[choke] for a scenario: this winding as measured"),
    ("material.toml", "the material for a catalogue, which other windings can use"),
    ("results.json", "all numbers in SI units"),
    ("ring.png", "the picture, also as SVG"),
)
"""Files beside the page."""


def render_page(result: RingResult, pictures: tuple[Picture, ...]) -> str:
    """The page. pictures: the inductance over current, and the ramp."""
    return base.render(sheet(result, pictures))


def sheet(result: RingResult, pictures: tuple[Picture, ...]) -> Sheet:
    """The page in parts."""
    first, *rest = words.sentence(result).split(". ")
    return Sheet(
        name=result.test.name,
        what=f"A ring from the bench: {_bench_words(result)}",
        tone="",
        word=headline(result),
        lead=(f"{first}.", ". ".join(rest)) if rest else (first,),
        flags=tuple(f"{sentence_case(text)}." for _, text in result.flags),
        tally=f"Identified from the measurements in {result.test.label.rsplit('/', 1)[-1]}.",
        sections=tuple(_sections(result, pictures)),
        cautions=(("Stored energy", words.CAUTION),),
        caution="The numbers hold for this ring as it was measured, at the frequency and temperature of the test.",
    )


def headline(result: RingResult) -> str:
    """What the ring may be, in a few words."""
    named = [match.material.name for match in result.fitting]
    if not named:
        return "None of the catalogue's materials fits"
    if len(named) > 2:
        return f"One of {len(named)} materials, {named[0]} the nearest"
    return f"It may be {' or '.join(named)}"


def _bench_words(result: RingResult) -> str:
    """What was measured."""
    turns = result.test.tables.winding.turns
    kinds = {"an LCR reading": result.data.lcr, "readings under bias": result.data.readings, "a captured ramp": result.data.ramp}
    return f"{turns} turns, {', '.join(name for name, there in kinds.items() if there)}"


def _sections(result: RingResult, pictures: tuple[Picture, ...]) -> Iterator[Section]:
    yield Section("picture", "Inductance against current", pictures)
    yield Section("quantities", "What was found", tuple(_quantities(result)))
    yield Section("materials", "Materials", tuple(_materials(result)))
    yield Section("next", "How to go on", (Links(FILES),))
    yield Section("basis", "What this rests on", tuple(_basis(result)))


def _quantities(result: RingResult) -> Iterator[Block]:
    """Every quantity with its interval, and what else is to be known of it."""
    headings = ("quantity", "found", "95 % interval", "fixed by the data")
    yield table("What was found", headings, words.quantity_rows(result))
    reasons = tuple(f"{sentence_case(text)}." for text in words.reasons(result))
    if reasons:
        yield Items(reasons)
    for name in TOPICS:
        yield from (Folded(topic.title, (Prose(topic.what), Prose(topic.why))) for topic in topics() if topic.id == name)


def _materials(result: RingResult) -> Iterator[Block]:
    """The catalogue's materials, best fitting first."""
    if not result.fitting:
        yield Prose("None of the catalogue's materials fits; these are the nearest.")
    yield Prose(
        "A misfit of 1 is the edge of what tolerance and uncertainty allow. Curve off: how far the inductance left lies from it.",
        "soft",
    )
    headings = ("material", "fits", "misfit", "permeability here", "listed", "curve off", "judged on")
    yield table("Materials", headings, (_material_row(match) for match in words.listed_materials(result)), ("fits", "judged on"))


def _material_row(match: MaterialMatch) -> tuple[str, ...]:
    memory = " (catalogue curve from memory)" if match.material.provenance == "memory" else ""
    gap = f"; gap {value_text(match.gap, 'm', 2)}" if match.gap else ""
    return (
        match.material.name,
        "yes" if match.fits else "no",
        f"{match.misfit:.2g}",
        f"{match.permeability:.4g}",
        f"{match.material.permeability:.4g}",
        percent(match.share_deviation).replace(" %", " points"),
        f"{match.judged_on}{gap}{memory}",
    )


def _basis(result: RingResult) -> Iterator[Block]:
    """Measurements as given, form and convention, and how it was computed."""
    yield Heading("What was measured")
    yield Pairs(tuple(_measured(result)))
    yield Heading("How it was computed")
    rule = result.test.tables.ring.path_rule
    rows = [
        ("form of the curve", words.evidence(result)),
        ("path length", f"{words.PATHS[rule]} ({rule})"),
        ("intervals", "95 %, from the scatter of the data and the accuracies stated in the file"),
        ("programs", f"heatsim {heatsim.__version__}"),
    ]
    yield Pairs(tuple(rows))


def _measured(result: RingResult) -> Iterator[tuple[str, str]]:
    """The bench test as the file tells it."""
    tables, size = result.test.tables, result.test.size
    sides = (size.outer_diameter, size.inner_diameter, size.height)
    yield "ring", f"{' × '.join(value_text(each, 'm', 4) for each in sides)}, {tables.ring.stack} under the winding"
    yield "winding", f"{tables.winding.turns} turns"
    if tables.lcr:
        yield "LCR reading", f"{value_text(tables.lcr.inductance, 'H', 4)} at {value_text(tables.lcr.frequency, 'Hz', 4)}"
    if result.data.readings:
        currents = result.data.readings.current
        yield "readings under bias", f"{currents.size}, up to {value_text(float(currents.max()), 'A')}"
    if result.data.ramp:
        ramp = result.data.ramp
        yield "captured ramp", f"{ramp.time.size * ramp.block:,} samples, up to {value_text(result.data.reach, 'A')}"
