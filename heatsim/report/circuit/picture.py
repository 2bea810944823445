# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of a circuit: beside each part its values, what a check gave, and its marks."""

from __future__ import annotations

import textwrap
from collections.abc import Container, Iterable, Iterator, Mapping

from heatsim.errors import printable
from heatsim.parts.heater import Heater
from heatsim.report.base.page import Shown, inline
from heatsim.report.circuit.drawing import FAILS, MARGINAL, UNIT, Drawing, Line, Style, as_png, as_svg
from heatsim.report.circuit.layout import lay_out
from heatsim.report.circuit.marks import SIGNS, TOLD_AT, WHOLE, mark_text, marked, simulated, told_at
from heatsim.report.circuit.sheet import AXIS, SIZE, Sheet, Symbol, Words
from heatsim.report.circuit.strokes import Stroke
from heatsim.report.circuit.table import MISSING, drawn
from heatsim.report.circuit.tank import ROOM, ROWS
from heatsim.report.circuit.values import values
from heatsim.studies.check import CaseResult
from heatsim.verdict import Finding

CAPTION = (
    "Every part of the netlist with its value. In italics what the simulation gave. A frame and ✕ mark a part one of whose limits "
    "fails, a dashed frame and ◆ one that only just holds."
)

LEAD = 0.43
"""From one line of words to the next [units]."""

MOST = 2
"""Marks of a part that are written out; more are counted."""


def circuit_picture(
    heater: Heater, netlist: str, stem: str, heading: str, case: CaseResult | None = None, png: bool = True
) -> tuple[dict[str, str | bytes], Shown]:
    """The picture as files by name, SVG and PNG, and as it goes into a page.

    stem: of the files' names; png: whether there is one; the rest: see `circuit_drawing`
    """
    drawing = circuit_drawing(heater, netlist, heading, case)
    svg = as_svg(drawing)
    shown = inline(svg).replace(MARGINAL, "var(--marginal)")
    return {f"{stem}.svg": svg} | ({f"{stem}.png": as_png(drawing)} if png else {}), Shown(heading, CAPTION, shown)


def circuit_drawing(heater: Heater, netlist: str, heading: str, case: CaseResult | None = None) -> Drawing:
    """A heater's circuit, laid out, with its words and marks.

    netlist: whose elements each symbol tells that it stands for; heading: title of the picture; case: of a check, whose numbers and
    marks are then beside the parts
    """
    found = marked(case.findings, heater) if case is not None else {}
    told = _told(heater, case)
    rows = _rows(ROOM, [*told["capacitors"], *_mark_lines(found.get("capacitors", ()))])
    sheet = lay_out(heater, LEAD * max(len(rows) - ROWS[heater.capacitors.rails is not None], 0))
    elements = drawn(netlist)
    lines = list(_lines(sheet, told, found))
    edges = [line.at[1] for line in lines]
    lines += _placed(Words((AXIS, max(edges) + 0.9), 20.0, "middle", upwards=True), _mark_lines(found.get(WHOLE, ())))
    lines += _placed(Words((AXIS, min(edges) - 0.9), 20.0, "middle"), _foot(case, elements.get(MISSING, ())))
    names = {symbol.name for symbol in sheet.symbols}
    frames = [frame for symbol in sheet.symbols for frame in _frames(symbol, _own(symbol.name, found, names))]
    return Drawing(sheet, tuple(lines), tuple(frames), heading, elements)


def _told(heater: Heater, case: CaseResult | None) -> dict[str, list[tuple[str, Style]]]:
    """Symbol -> its values, then what the run gave."""
    found: dict[str, list[tuple[str, Style]]] = {name: [(text, "value") for text in some] for name, some in values(heater).items()}
    for name, some in (simulated(case) if case is not None else {}).items():
        found.setdefault(name, []).extend((text, "simulated") for text in some)
    return found


def _lines(sheet: Sheet, told: Mapping[str, list[tuple[str, Style]]], found: Mapping[str, tuple[Finding, ...]]) -> Iterator[Line]:
    """Words of every part that has any, where the sheet has room for them."""
    for name, words in sheet.words.items():
        marks = [each for part, some in found.items() if _shared(part, sheet) == name for each in some if told_at(each, part)]
        yield from _placed(words, [*told.get(name, ()), *_mark_lines(marks)])


def _shared(part: str, sheet: Sheet) -> str:
    """Where the words of a part are that shares them with its like."""
    kind, _, side = part.partition(".")
    if kind in TOLD_AT:
        return f"{TOLD_AT[kind]}.{side}"
    return part if part in sheet.words else part.rpartition(".")[0]


def _mark_lines(marks: Iterable[Finding]) -> Iterator[tuple[str, Style]]:
    """Marks in words, each limit once, the first few of them."""
    once = {each.limit: each for each in reversed(list(marks))}
    some = list(reversed(once.values()))
    for each in some[:MOST]:
        yield mark_text(each), "fails" if each.grade == "fails" else "marginal"
    if len(some) > MOST:
        yield f"and {len(some) - MOST} more", "fails" if some[MOST].grade == "fails" else "marginal"


def _placed(words: Words, texts: Iterable[tuple[str, Style]]) -> Iterator[Line]:
    """Lines wrapped to the room there is, one under the other."""
    rows, (x, y) = _rows(words.width, texts), words.at
    first = y + LEAD * (len(rows) - 1) if words.upwards else y
    for k, (row, kind) in enumerate(rows):
        yield Line(row, kind, (x, first - k * LEAD), words.anchor)


def _rows(width: float, texts: Iterable[tuple[str, Style]]) -> list[tuple[str, Style]]:
    return [(row, kind) for text, kind in texts for row in _wrapped(text, width, kind)]


def _wrapped(text: str, width: float, kind: Style) -> list[str]:
    """Text in lines that fit a width [units]; letters taken as 0.6 of their height wide, bold ones as 0.72. A number stays with its
    unit."""
    letters = max(int(width * UNIT / (SIZE * (0.6 if kind in ("value", "simulated") else 0.72))), 4)
    rows = textwrap.wrap(_tied(printable(text)), letters, break_on_hyphens=False)
    return [row.replace("\xa0", " ") for row in rows]


def _tied(text: str) -> str:
    """The text with spaces that do not break between a number and its unit."""
    words = text.split(" ")
    joints = [
        "\xa0" if a[-1:].isdigit() and not b[:1].isdigit() and len(b) <= 4 and b != "×" else " "
        for a, b in zip(words, words[1:], strict=False)
    ]
    return "".join(word + joint for word, joint in zip(words, [*joints, ""], strict=True))


def _foot(case: CaseResult | None, missing: tuple[str, ...]) -> Iterator[tuple[str, Style]]:
    """Of which case it is, and what is simulated but not drawn."""
    if case is not None:
        yield f"in italics: simulated, case {case.name}, {case.outcome}", "simulated"
    if missing:
        yield f"in the netlist and not drawn: {', '.join(missing)}", "value"


def _own(name: str, found: Mapping[str, tuple[Finding, ...]], names: Container[str]) -> tuple[Finding, ...]:
    """Marks of a symbol; those of a part that is drawn as two halves are each half's."""
    whole = name.rpartition(".")[0]
    return found.get(name) or (() if whole in names else found.get(whole, ()))


def _frames(symbol: Symbol, findings: tuple[Finding, ...]) -> Iterator[tuple[Stroke, str]]:
    """A frame round a symbol and the sign at its corner."""
    if findings:
        a, b, c, d = symbol.box
        a, b, c, d = a - 0.14, b - 0.14, c + 0.14, d + 0.14
        bad = findings[0].grade == "fails"
        corners = ((a, b), (c, b), (c, d), (a, d), (a, b))
        yield Stroke(corners, FAILS if bad else MARGINAL, 2.6 if bad else 1.6, dash=() if bad else (4, 3)), SIGNS[findings[0].grade]
