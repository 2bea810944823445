# SPDX-License-Identifier: GPL-3.0-or-later
"""The book as a page: what it is, what is near its tolerance, then every check by room and test file."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from pathlib import Path

from tests.support.book.records import Record
from tests.support.book.tables import unchecked

PAGE = Path(__file__).resolve().parents[3] / "heatsim" / "docs" / "verification.md"
NEAR = 0.8
"""Share of the tolerance from which a check is marked."""

ROOMS = {
    "physics": "Equations",
    "parts": "Parts: windings, cores, coil, workpiece, switches, conductors",
    "measures": "Numbers read from waveforms",
    "netlist": "Models in the simulator",
    "engine": "The simulator on circuits with a closed form",
    "independent": "The whole circuit, integrated apart from heatsim",
    "studies": "Studies",
    "foreign": "Heaters that another simulator made",
}

MEANING = {
    "published": "read in a source that anyone can look up",
    "common practice": "what the trade does, no source",
    "memory": "recalled from a standard, book or catalogue, not looked up again: a failing check asks about the value first",
    "closed form": "a published law, or a limit, evaluated apart from heatsim",
    "independent computation": "other equations or another way to cut up space and time, with none of heatsim's functions",
}


def page(records: Sequence[Record], robustness: str = "") -> str:
    """The whole page in Markdown."""
    parts = ["# Verification book", _introduction(records), _provenance(records), robustness, _near(records)]
    for room, title in ROOMS.items():
        of_room = [each for each in records if each.room == room]
        if of_room:
            parts.append(f"## {title}")
            parts += [_file(file, list(group)) for file, group in groupby(of_room, key=lambda each: each.file)]
    parts.append(_unchecked())
    return "\n\n".join(part for part in parts if part) + "\n"


def _introduction(records: Sequence[Record]) -> str:
    """What this is, when and with which code it was made, and how many checks."""
    codes, days = sorted({each.code for each in records}), sorted({each.made for each in records})
    when = days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"
    rows = len({each.row for each in records if each.row})
    values, near = sum(each.values for each in records), sum(each.used > NEAR for each in records)
    return (
        "Every number that heatsim's tests hold against something outside heatsim: a published value, a law evaluated apart, "
        "another way to compute the same. Each line says what was compared, where the expected value comes from, what heatsim "
        "gives, how far that is off and how far it may be. The tests themselves write this page; none of it is typed.\n\n"
        f"**{len(records):,} checks** of {values:,} numbers in {len({(each.file, each.function) for each in records})} tests, "
        f"with {rows} of the collected reference values; made {when} by code `{'`, `'.join(codes)}`. {near} use more than "
        "four fifths of their tolerance and are marked ▲. To make the page anew: `python -m tests.support.book`.\n\n"
        "Where several numbers are compared at once, the line tells the one furthest off by its tolerance. A difference is in "
        "per cent where the tolerance is, otherwise in the unit of the quantity. Behind source and provenance stands the test, as "
        'its name is spoken: `test_awg` is "awg".'
    )


def _provenance(records: Sequence[Record]) -> str:
    """What the words for origins mean, and how many checks have each."""
    counts = Counter(each.provenance for each in records)
    lines = [f"| {name} | {meaning} | {counts[name]:,} |" for name, meaning in MEANING.items() if counts[name]]
    return "\n".join(["| Provenance | Means | Checks |", "| --- | --- | ---: |", *lines])


def _near(records: Sequence[Record]) -> str:
    """The checks that use most of their tolerance."""
    near = sorted((each for each in records if each.used > NEAR), key=lambda each: -each.used)
    return "\n\n".join(["## More than four fifths of the tolerance", _table(near)]) if near else ""


def _file(file: str, records: Sequence[Record]) -> str:
    """A test file's checks."""
    return f"### `{file}`\n\n{_table(records)}"


HEAD = ["Quantity", "Expected", "Obtained", "Difference", "Tolerance", "Source, provenance, test"]


def _table(records: Iterable[Record]) -> str:
    """Lines of a table, in the order of the tests."""
    lines = ["| " + " | ".join(HEAD) + " |", "| --- | ---: | ---: | ---: | ---: | --- |"]
    return "\n".join([*lines, *("| " + " | ".join(_cells(each)) + " |" for each in records)])


def _cells(each: Record) -> Iterator[str]:
    """One line; the unit stands behind the quantity."""
    many = f" ({each.values} values)" if each.values > 1 else ""
    yield ("▲ " if each.used > NEAR else "") + escaped(each.quantity) + many + escaped(f" [{each.unit}]")
    yield short(each.expected)
    yield short(each.obtained)
    yield difference(each)
    yield tolerance(each)
    row = f" `{each.row}`" if each.row else ""
    yield f"{escaped(each.source)}{row}; *{each.provenance}*; {in_words(each.function)}"


def in_words(function: str) -> str:
    """Name of a test as it is spoken; it breaks into lines."""
    return function.removeprefix("test_").replace("_", " ")


def escaped(text: str) -> str:
    """Markdown's own signs made harmless."""
    return re.sub(r"([\\|*_<>\[\]`$^~])", r"\\\1", text)


def short(number: str) -> str:
    """Six digits are enough to look at."""
    try:
        return f"{float(number):.6g}"
    except ValueError:
        return number


def difference(each: Record) -> str:
    """In per cent where the tolerance is."""
    expected, obtained = complex(each.expected), complex(each.obtained)
    if each.rel and expected:
        if expected.imag or obtained.imag:
            return f"{100 * abs(obtained - expected) / abs(expected):.2g} %"
        return f"{100 * (obtained - expected).real / abs(expected):+.2g} %"
    return f"{(obtained - expected).real:+.2g}"


def tolerance(each: Record) -> str:
    """Relative and absolute, the wider of which counts."""
    told = [f"{100 * each.rel:.3g} %"] if each.rel else []
    return " or ".join([*told, f"{each.abs:.3g}"] if each.abs else told)


def _unchecked() -> str:
    """Reference values that heatsim is not held against."""
    lines = [f"| `{name}` | {escaped(why)} |" for name, why in unchecked()]
    head = ["## Reference values not checked by heatsim", "", "| Values | Reason |", "| --- | --- |"]
    return "\n".join([*head, *lines])
