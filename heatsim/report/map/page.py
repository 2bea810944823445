# SPDX-License-Identifier: GPL-3.0-or-later
"""report.html of a map: where the heater is usable, the map, what ends it, the scenario's own point, and what it all rests on."""

from __future__ import annotations

from collections.abc import Iterator

import heatsim
from heatsim.report.base import sheet as base
from heatsim.report.base.page import Shown
from heatsim.report.base.sheet import Block, Folded, Grade, Items, Picture, Prose, Section, Sheet, Told, table
from heatsim.report.base.words import field_words, percent, value_text
from heatsim.report.map import words
from heatsim.studies.map import UNKNOWN, MapResult, Sample, family
from heatsim.verdict import grade, worst

TITLE = "Operating map"
"""Of the picture."""

CAPTION = (
    "Colours: the least headroom of all limits; green-blue has room, brown has none. The thick line is the boundary of "
    "what is usable, the dashed one that of the wanted headroom. Written beyond the boundary: the limit that ends the use there."
)
"""Under the map."""

BESIDE = (
    "map.svg and map.png: the picture; results.json: all numbers in SI units; points.db: the points, for the same command to go "
    "on with"
)
"""Files beside the page."""

OWN_ROWS = 8
"""Limits told of the scenario's own point, the tightest first."""


def render_page(result: MapResult, picture: Shown, zoomed: str = "") -> str:
    """The page. picture: the map; zoomed: the same to be zoomed."""
    return base.render(sheet(result, picture, zoomed))


def sheet(result: MapResult, picture: Shown, zoomed: str = "") -> Sheet:
    """The page in parts."""
    against = f"{field_words(result.vertical.field.path)} against {field_words(result.horizontal.field.path)}"
    return Sheet(
        name=result.scenario.name,
        what=f"Where it is usable: {against}, case {result.case}",
        tone=tone(result),
        word=words.reached(result),
        lead=(words.ended(result), " ".join(_rest(result))),
        flags=(*words.unjudged(result), *words.doubts(result), *_gaps(result)),
        tally=base.simulated(result.scenario.label),
        sections=tuple(_sections(result, picture, zoomed)),
        cautions=base.HEATER_CAUTIONS,
        caution=base.NO_PROOF,
    )


def tone(result: MapResult) -> str:
    """The grade that a map comes to: that of the scenario's own point where it is on the map, but for what could not be judged."""
    if result.exit_code == 3 or result.evidence.unjudged:
        return "unknown"
    if result.exit_code:
        return "fails"
    return own_grade(result, result.own) if result.own is not None else "holds"


def own_grade(result: MapResult, sample: Sample) -> str:
    """The grade of a point by its headrooms and those wanted."""
    least, cause = result.evidence.least(sample)
    if least is None:
        return "unknown" if cause.startswith(UNKNOWN) else "fails"
    return worst(grade(room, result.wanted_of(key)) for key, room in sample.margins.items())


def _rest(result: MapResult) -> Iterator[str]:
    """The sentences behind the headline, without those that are warnings and how sure it is."""
    told = {*words.unjudged(result), words.headline(result), words.how_sure(result)}
    yield from (text for text in words.sentences(result) if text not in told)


def _gaps(result: MapResult) -> Iterator[str]:
    """That the number of points ran out."""
    if result.gaps:
        yield words.how_sure(result)


def _sections(result: MapResult, picture: Shown, zoomed: str) -> Iterator[Section]:
    yield Section("map", "The map", (Picture.of(picture, " ".join(words.sentences(result)), zoomed=zoomed),))
    yield Section("ends", "What sets the limit where", tuple(_ends(result)))
    if result.own is not None:
        yield Section("own", "The scenario's own point", tuple(_own(result, result.own)))
    yield Section("trust", "How well it is known", tuple(_trust(result)))
    yield Section("basis", "What this rests on", tuple(_basis(result)))


def _ends(result: MapResult) -> Iterator[Block]:
    """One row a column of the map, then what the limits mean."""
    across = field_words(result.horizontal.field.path)
    wide = ("limited by", "next")
    rows = [(words.value(result.horizontal, each.x), *words.reach_row(result, each)) for each in result.answer.reaches]
    yield Prose(
        f"At each {across}: from where up to where {field_words(result.vertical.field.path)} can go, what sets the limit, and "
        "what would set it next if that were mended.",
        "soft",
    )
    yield table("What sets the limit where", (across, "from", "up to", *wide, "at about"), rows, wide)
    yield from base.explained(_named(result))


def _named(result: MapResult) -> Iterator[str]:
    """Limits that end it anywhere or would next."""
    for reach in result.answer.reaches:
        yield from (each.ends for each in (reach.upper, reach.lower, reach.second) if each is not None)
        yield reach.fails


def _own(result: MapResult, own: Sample) -> Iterator[Block]:
    """The limits of the scenario's own point, the tightest first."""
    where = f"{words.value(result.vertical, own.y)} {words.place(result.horizontal, own.x)}"
    if result.evidence.blocked(own):
        yield Prose(f"{where}: {words.ends_clause(result.evidence.blocked(own))}.")
        return
    rows = _own_rows(result, own)
    yield Prose(f"At {where}, the tightest first. Open a limit to read what it is.", "soft")
    yield table("Limits of the scenario's own point", ("limit", "headroom", "wanted"), rows[:OWN_ROWS])
    if len(rows) > OWN_ROWS:
        more = table("The other limits of the scenario's own point", ("limit", "headroom", "wanted"), rows[OWN_ROWS:])
        yield Folded("The other limits", (more,))


def _own_rows(result: MapResult, own: Sample) -> list[tuple[Told, str, str]]:
    """Every limit with its headroom, the tightest first; both sides of a part in one row where they are alike."""
    rows: dict[tuple[str, str, str], list[str]] = {}
    for key, room in sorted(own.margins.items(), key=lambda one: one[1]):
        rows.setdefault((family(key), percent(room), percent(result.wanted_of(key)).removeprefix("+")), []).append(key)
    return [(Told.limit(keys[0], len(keys) > 1), room, wanted) for (_, room, wanted), keys in rows.items()]


def _trust(result: MapResult) -> Iterator[Block]:
    """How it was found, and every simulated point."""
    yield Prose(words.how_sure(result))
    yield Prose(words.STEADY)
    yield Prose("A region narrower than a quarter of an axis can be missed. Between the simulated points the map is interpolated.")
    samples = result.evidence.samples
    headings = (field_words(result.horizontal.field.path), field_words(result.vertical.field.path), "headroom", "least", "found by")
    rows = (_point_row(result, one) for one in sorted(samples, key=lambda one: (one.x, one.y)))
    yield Folded(f"All {len(samples)} simulated points", (table("Simulated points", headings, rows, headings[3:]),))


def _point_row(result: MapResult, one: Sample) -> tuple[str | Grade, ...]:
    least, cause = result.evidence.least(one)
    where = words.value(result.horizontal, one.x, 4), words.value(result.vertical, one.y, 4)
    return (*where, percent(least, 1), words.ends_label(cause), one.method)


def _basis(result: MapResult) -> Iterator[Block]:
    """Limits, what is taken for granted, and how it was computed."""
    judged = ", ".join(sorted({words.ends_label(key) for key in result.evidence.keys}))
    yield Folded(f"The {len(result.evidence.keys)} limits that were judged", (Prose(f"{judged}."),))
    yield Items(
        (
            "A point counts as usable only if its run settled and keeps its energy balance, and no limit fails or is unknown.",
            "Everything but the two fields is as in the scenario file: parts as given, without their tolerances.",
            "What each value of the file, each temperature and each limit rests on, the page of heatsim check tells.",
        )
    )
    known = f"{result.evaluated} points evaluated, {result.known} known before"
    made = f"heatsim {heatsim.__version__}; {known}, in {value_text(result.wall_s, 's')}"
    yield base.how_computed(result.scenario.identity, made, BESIDE)
