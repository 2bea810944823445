# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim explain` prints, at any width from 50 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import TextIO

from heatsim.errors import printable
from heatsim.measures.gather import STANDARD
from heatsim.report.base.advice import Advice
from heatsim.report.base.terminal import WIDTH, columns, print_lines
from heatsim.report.base.topics import AT_INSTANTS, Topic, measured_key, shown_pattern, topics, unit_of

WIDE = 80
"""Columns from which what explains a name stands beside it; else below."""

NARROWEST = 20
"""Columns below which lines are longer than the window."""

UNITS = {"ratio": "a ratio, shown in %", "A/m2": "A/m², shown in A/mm²", "A2s": "A²s", "m3/s": "m³/s", "m2": "m²", "count": ""}
"""Units that are written otherwise."""

INSTANTS = {"crest": "at the crest of the supply's swing", "valley": "in the valley of the supply's swing"}
"""Head of a key -> when it was measured."""


def show(
    chosen: Sequence[Topic],
    asked: str = "",
    stream: TextIO | None = None,
    width: int | None = None,
    warnings: Sequence[Advice] = (),
) -> None:
    """Print topics and warnings in full. asked: the name they were found by; of a measure's key it is told which one."""
    room = _room(stream, width)
    for number, topic in enumerate(chosen):
        print_lines(["", ""] if number else [], stream)
        print_lines(_topic(topic, asked, room), stream)
    for number, each in enumerate(warnings):
        print_lines(["", ""] if number else [], stream)
        print_lines(_warning(each, room), stream)


def show_list(stream: TextIO | None = None, width: int | None = None) -> None:
    """Print the titles of all topics by group, with the name to ask for."""
    room = _room(stream, width)
    for group, members in groupby(topics(), lambda topic: topic.group):
        names = {each.id.replace("-", " "): each.title for each in members}
        rows = {name: "" if title.lower() == name else title for name, title in names.items()}
        print_lines([group, *_pairs(rows, room), ""], stream)
    told = "Ask for any of these, a limit, or a key of results.json: heatsim explain tank.thd_ratio"
    print_lines(_wrapped(told, room), stream)


def _room(stream: TextIO | None, width: int | None) -> int:
    return max(min(width or columns(stream), WIDTH), NARROWEST)


def _topic(topic: Topic, asked: str, room: int) -> Iterator[str]:
    told, unit = key_sentence(topic, asked), unit_words(topic.unit)
    yield from _wrapped(f"{topic.title}{f' [{unit}]' if unit and not told else ''}", room)
    yield from _wrapped(topic.group, room)
    if told:
        yield from ("", *_wrapped(told, room))
    yield from ("", *_wrapped(topic.what, room))
    yield from ("", "Why it matters", *_wrapped(topic.why, room, "  "))
    if topic.moves:
        yield from ("", "What moves it (fields of the scenario)", *_pairs(topic.moves, room))
    if topic.keys:
        yield from ("", "In results.json", *_pairs({_key(key): text for key, text in topic.keys.items()}, room))
    if topic.limits:
        yield from ("", "Judged as", *(line for each in topic.limits for line in _wrapped(_limit(each), room, "  ", "    ")))
    if topic.see:
        yield from ("", *_wrapped(f"See also: {', '.join(each.replace('-', ' ') for each in topic.see)}", room))


def _warning(each: Advice, room: int) -> Iterator[str]:
    yield from _wrapped(printable(each.says), room)
    yield from ("", "What it means", *_wrapped(each.meaning, room, "  "))
    yield from ("", "What to do", *_wrapped(each.to_do, room, "  "))


def key_sentence(topic: Topic, asked: str) -> str:
    """What the measure is that was asked for by its key; empty for any other name."""
    key = asked.strip().lower()
    pattern = topic.key_pattern(measured_key(key))
    if pattern is None:
        return ""
    unit, instant = unit_words(unit_of(pattern)), AT_INSTANTS.match(key)
    head = f"{INSTANTS[instant[1]]}; " if instant else "standard error of: " if STANDARD in key else ""
    return printable(f"{key}{f' [{unit}]' if unit else ''}: {head}{topic.keys[pattern]}.")


def unit_words(unit: str) -> str:
    """A unit as people write it."""
    return UNITS.get(unit, unit)


def _key(pattern: str) -> str:
    unit = unit_of(pattern)
    return shown_pattern(pattern) + (f" [{UNITS.get(unit, unit).split(',')[0].removeprefix('a ')}]" if unit_words(unit) else "")


def _limit(pattern: str) -> str:
    part, _, name = pattern.partition(": ")
    sides = {"choke": "each choke", "switch": "each bank of switches", "gate": "each gate", "conductor": "each conductor"}
    head = part.removesuffix(".*")
    return f"{sides.get(head, head) if part != head else head}: {name.replace(' *', ' the run')}"


def _pairs(rows: Mapping[str, str], room: int) -> Iterator[str]:
    """Names with what explains them: beside in a wide window, below in a narrow one."""
    left = max(map(len, rows), default=0) + 2
    for name, text in rows.items():
        if text and room >= WIDE and left <= room // 2:
            yield from _wrapped(text, room, f"  {name:<{left}}", " " * (left + 2))
        else:
            yield from (*_wrapped(name, room, "  "), *_wrapped(text, room, "    "))


def _wrapped(text: str, room: int, first: str = "", then: str | None = None) -> Iterable[str]:
    return textwrap.wrap(
        text, room, initial_indent=first, subsequent_indent=first if then is None else then, break_on_hyphens=False
    )
