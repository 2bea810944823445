# SPDX-License-Identifier: GPL-3.0-or-later
"""report.html of a tolerance study: how many heaters keep their limits, the worst of them, what it hangs on, and how that is
known."""

from __future__ import annotations

from collections.abc import Iterator

import heatsim
from heatsim.report.base import sheet as base
from heatsim.report.base.page import Shown
from heatsim.report.base.sheet import Block, Folded, Items, Picture, Prose, Section, Sheet, Told, table
from heatsim.report.base.words import field_words, percent, sentence_case, value_text
from heatsim.report.tolerance import words
from heatsim.studies.tolerance import ToleranceResult

TITLE = "Least headroom and what makes it spread"
"""Of the picture."""

CAPTION = (
    "Left: each mark is a simulated heater, over that field which moves the least headroom most; the shaded band holds nine "
    "heaters in ten. Below the line at zero a limit is broken. Right: the share of each field in the spread, alone and together "
    "with others."
)
"""Under the picture."""

BESIDE = (
    "tolerance.svg and tolerance.png: the picture; results.json: all numbers in SI units; points.db: the points, for the same "
    "command to go on with"
)
"""Files beside the page."""

SPREADS = ("output", "nominal", "nine in ten lie within", "known to", "moved most by")
"""Headings of the table of spreads."""

TIGHTEST = 8
"""Limits shown before the others are folded away."""


def render_page(result: ToleranceResult, picture: Shown) -> str:
    """The page. picture: see `picture`."""
    return base.render(sheet(result, picture))


def sheet(result: ToleranceResult, picture: Shown) -> Sheet:
    """The page in parts."""
    cases = " and ".join(result.cases)
    first, *rest = words.sentences(result)
    return Sheet(
        name=result.scenario.name,
        what=f"Tolerances of {len(result.bands)} fields, case{'s' if len(result.cases) > 1 else ''} {cases}",
        tone=tone(result),
        word=sentence_case(first).rstrip("."),
        lead=(" ".join(rest),),
        flags=tuple(words.doubts(result)),
        tally=base.simulated(result.scenario.label),
        sections=tuple(_sections(result, picture)),
        cautions=base.HEATER_CAUTIONS,
        caution=base.NO_PROOF,
    )


def tone(result: ToleranceResult) -> str:
    """Holds where every simulated heater keeps every limit, marginal where the nominal one does."""
    if result.exit_code == 3 or result.share is None or result.unjudged:
        return "unknown"
    nominal = result.samples[0]
    if not nominal.runs or nominal.least[0] < 0:
        return "fails"
    return "marginal" if result.failing else "holds"


def _sections(result: ToleranceResult, picture: Shown) -> Iterator[Section]:
    yield Section("picture", "Spread", (Picture.of(picture, " ".join(words.sentences(result))),))
    yield Section("tolerances", "What is toleranced", tuple(_toleranced(result)))
    if result.ends:
        yield Section("ends", "What fails first", tuple(_ends(result)))
    if result.spreads:
        yield Section("spreads", "How every number spreads", tuple(_spreads(result)))
    yield Section("trust", "How well it is known", tuple(_trust(result)))
    yield Section("basis", "What this rests on", tuple(_basis(result)))


def _toleranced(result: ToleranceResult) -> Iterator[Block]:
    influences, rows = words.influences(result), []
    for place, band in enumerate(result.bands):
        found = influences.get(band.field.path)
        share, moves = (f"{100 * found.total:.0f} %", words.moves_text(found.moves)) if found else ("", "")
        at = (
            ""
            if result.worst is None
            else words.value_of(result, result.worst.sample, place).removeprefix(field_words(band.field.path))
        )
        rows.append((words.band_words(result, band, place), share, moves, at.strip()))
    yield table("What is toleranced", ("field", "share of the spread", "moves the headroom by", "at the worst"), rows)
    yield Prose("Moves: from the lower end of its band to the upper, all else nominal, in points of the least headroom.", "soft")


def _ends(result: ToleranceResult) -> Iterator[Block]:
    rows = [
        (Told.limit(key.partition(": ")[2]), key.partition(": ")[0], f"{100 * share:.2g} %") for key, share in result.ends.items()
    ]
    yield table("What fails first", ("limit", "case", "of all heaters"), rows, ("case",))


def _spreads(result: ToleranceResult) -> Iterator[Block]:
    limits = words.of_limits(result)
    measures = [one for one in result.spreads if one not in limits]
    moving = [words.spread_row(result, one, True) for one in limits if one.deviation > 0]
    yield table("Headroom of each limit, the tightest first", SPREADS, moving[:TIGHTEST], SPREADS[-1:])
    if moving[TIGHTEST:]:
        yield Folded("The other limits", (table("The other limits", SPREADS, moving[TIGHTEST:], SPREADS[-1:]),))
    yield table("Measures", SPREADS, [words.spread_row(result, one, False) for one in measures], SPREADS[-1:])


def _trust(result: ToleranceResult) -> Iterator[Block]:
    yield from (Prose(text) for text in words.how_sure(result))
    headings = (*(field_words(band.field.path) for band in result.bands), "least headroom", "limit")
    rows = []
    for sample in result.samples:
        values = result.offsets_as_values(sample, result.cases[0])
        told = [value_text(values[band.field.path], band.field.unit, 4) for band in result.bands]
        room, key = sample.least if sample.runs and sample.rooms else (None, "")
        rows.append((*told, percent(room, 1), words.limit_of(key) if key else "does not run"))
    yield Folded(f"All {len(rows)} simulated heaters", (table("Simulated heaters", headings, rows, headings[-1:]),))


def _basis(result: ToleranceResult) -> Iterator[Block]:
    yield Items(
        (
            "A heater counts as keeping its limits where every limit that heatsim check judges has a headroom of nil or more, in "
            "every case.",
            "Fields that are not named here are as in the scenario file. Values that are wrong rather than spread are not covered.",
            "Most heaters are steady states followed from their neighbours; how they start is judged of those started from rest "
            "only.",
        )
    )
    points = f"{result.known} points known before"
    made = f"heatsim {heatsim.__version__}; {len(result.samples)} heaters, {points}, in {value_text(result.wall_s, 's')}"
    yield base.how_computed(result.scenario.identity, made, BESIDE)
