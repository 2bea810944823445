# SPDX-License-Identifier: GPL-3.0-or-later
"""Parts found by words, and rings by their size."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from heatsim.errors import InputError
from heatsim.physics.ringcore import RingSize
from heatsim.quantity import LONGEST, QuantityError, parse_quantity, shown
from heatsim.studies.parts.part import KINDS, Part

SMALLEST, LARGEST = 1e-3, 1.0
"""Lengths [m] that a ring may have."""

SIZE = '"40 x 24 x 14.5 mm", outer x inner diameter x height'
"""How a ring's size is written."""

_BETWEEN = re.compile(r"\s*[xX×*]\s*|\s+by\s+")
_LAST_UNIT = re.compile(r"[^\d\s.,/+-]+\.?$")


@dataclass(frozen=True)
class Nearness:
    """A ring and how far its size is from a measured one: distance [1], and whether that is from its size with coating."""

    part: Part
    distance: float
    coated: bool


def words_of(texts: Iterable[str]) -> tuple[str, ...]:
    """The words of a search, each once, in small letters."""
    return tuple(dict.fromkeys(word for text in texts for word in text.casefold().split()))


def searched(part: Part) -> str:
    """The text of a part in which words are looked for: its name, its kind and what it is."""
    return " ".join((part.name, part.kind, KINDS[part.kind], part.what, part.also)).casefold()


def has_word(text: str, word: str) -> bool:
    """Whether a word begins in a text; of a number it must be all: "60" is in "fe-si-al-60", not in "160", "600" or "60.5"."""
    before = r"(?<![^\W_])" if word[:1].isalnum() else ""
    behind = r"(?!\.?[0-9])" if word[-1:].isdigit() else ""
    return re.search(before + re.escape(word) + behind, text) is not None


def matching(parts: Sequence[Part], words: Sequence[str]) -> tuple[Part, ...]:
    """Parts that have every word."""
    return tuple(part for part in parts if all(has_word(searched(part), word) for word in words))


def ring_size(text: str, place: str = "near") -> RingSize:
    """Outer diameter, inner diameter and height [m] of a text such as "40 x 24 x 14.5 mm"; a unit stands for those before it.

    place: what names it, for messages. Raises InputError.
    """
    pieces = _BETWEEN.split(text.strip()) if len(text) <= 3 * LONGEST else []
    if len(pieces) != 3:
        raise InputError.single(place, "is not a ring's size", shown(text), SIZE)
    size = RingSize(*_lengths(pieces, text, place))
    for name, length in size._asdict().items():
        if not SMALLEST <= length <= LARGEST:
            raise InputError.single(place, f"has a {name.replace('_', ' ')} that is out of range", shown(text), "1 mm to 1 m")
    if size.inner_diameter >= size.outer_diameter:
        raise InputError.single(place, "has an inner diameter that is not smaller than the outer one", shown(text), SIZE)
    return size


def _lengths(pieces: Sequence[str], text: str, place: str) -> Iterator[float]:
    last = _LAST_UNIT.search(pieces[-1])
    for piece in pieces:
        own = _LAST_UNIT.search(piece)
        try:
            yield parse_quantity(piece if own or not last else f"{piece} {last.group()}", "m")
        except QuantityError as error:
            raise InputError.single(place, f"{error.what} ({shown(piece)})", shown(text), SIZE) from None


def nearest(parts: Sequence[Part], size: RingSize, most: int) -> tuple[Nearness, ...]:
    """The rings among the parts that are nearest to a size [m], nearest first; at most so many.

    The distance is the root of the mean square of ln(measured/listed) over the three dimensions: for small ones the mean
    relative difference. Catalogues print rings bare, while callipers find them coated: the nearer of the two counts.
    """
    found = [_nearness(part, size) for part in parts if part.kind == "ring"]
    return tuple(sorted(found, key=lambda each: each.distance)[:most])


def _nearness(part: Part, size: RingSize) -> Nearness:
    (d1, d2, height), coating = part.size, part.figures["coating_m"]
    coated = RingSize(d1 + 2 * coating, max(d2 - 2 * coating, 1e-9), height + 2 * coating)
    distances = (_distance(size, part.size), _distance(size, coated))
    return Nearness(part, min(distances), distances[1] < distances[0])


def _distance(measured: RingSize, listed: RingSize) -> float:
    return math.sqrt(sum(math.log(a / b) ** 2 for a, b in zip(measured, listed, strict=True)) / len(listed))
