# SPDX-License-Identifier: GPL-3.0-or-later
"""What the catalogues hold of what is looked for."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from heatsim.errors import InputError, known_names
from heatsim.files import shown_path
from heatsim.physics.ringcore import RingSize
from heatsim.scenario.catalogue import builtin, catalogue_with
from heatsim.studies.parts.part import KINDS, Kind, Part, all_parts, kinds_in
from heatsim.studies.parts.search import Nearness, has_word, matching, nearest, ring_size, searched, words_of

SCHEMA = "heatsim.parts/1"

NEAREST = 8
"""Rings shown beside a measured one."""

LONGEST_WORDS = 400
"""Characters of all words together."""


@dataclass(frozen=True)
class PartsResult:
    """words, kind, catalogue, size: what was looked for (size of a ring [m]); parts: found; held: parts of each kind that there
    are; near: with a size, the rings in order of their distance, the same as `parts`; strange: words that no part has, each
    with near ones that some have.
    """

    words: tuple[str, ...]
    kind: Kind | None
    catalogue: str | None
    size: RingSize | None
    parts: tuple[Part, ...]
    held: Mapping[Kind, int]
    near: tuple[Nearness, ...] = ()
    strange: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @property
    def exit_code(self) -> int:
        """0 when something was found, else 1."""
        return 0 if self.parts else 1

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        measured = {f"{name}_m": length for name, length in self.size._asdict().items()} if self.size else None
        asked = {"words": list(self.words), "kind": self.kind, "catalogue": self.catalogue, "near": measured}
        near = {id(each.part): {"distance_ratio": each.distance, "coated": each.coated} for each in self.near}
        return {
            "schema": SCHEMA,
            "asked": asked,
            "held": dict(self.held),
            "parts": [each.as_dict() | near.get(id(each), {}) for each in self.parts],
        }


def find_parts(
    *words: str, kind: str | None = None, catalogue: str | Path | None = None, near: str | None = None, options: bool = False
) -> PartsResult:
    """What the catalogues hold.

    words: all must be in the name, the kind, or what it is
    kind: rings, materials, metals, wire, devices or pads; of all kinds by default
    catalogue: file of the user's own parts, which win over the built-in ones of the same name
    near: a ring's outer diameter x inner diameter x height, "40 x 24 x 14.5 mm": the rings nearest to it
    options: whether messages name these as options of a command
    Raises InputError for what cannot be used.
    """
    dashes = "--" if options else ""
    wanted = _kind(kind, f"{dashes}kind")
    size = None if near is None else ring_size(near, f"{dashes}near")
    if size is not None and wanted not in (None, "ring"):
        raise InputError.single(f"{dashes}near", "is for rings", f"{dashes}kind {kind}", f"{dashes}kind rings, or none")
    if sum(map(len, words)) > LONGEST_WORDS:
        raise InputError.single("words", "are too many", f"{sum(map(len, words))} characters", f"up to {LONGEST_WORDS}")
    file = None if catalogue is None else str(catalogue)
    parts = all_parts(catalogue_with(file, Path("."), f"{dashes}catalogue"), builtin())
    looked = words_of(words)
    found = matching([part for part in parts if wanted in (None, part.kind)], looked)
    rings = () if size is None else nearest(found, size, NEAREST)
    return PartsResult(
        looked,
        wanted,
        None if file is None else shown_path(file),
        size,
        found if size is None else tuple(each.part for each in rings),
        {kind: len(held) for kind, held in kinds_in(parts)},
        rings,
        () if found else _strange(parts, looked),
    )


def _kind(name: str | None, place: str) -> Kind | None:
    if name is None:
        return None
    for kind, plural in KINDS.items():
        if name.casefold() in (kind, plural):
            return kind
    raise InputError.single(place, "is no kind of parts", repr(name), known_names(name, KINDS.values()))


def _strange(parts: tuple[Part, ...], words: tuple[str, ...]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Words that no part has."""
    texts = list(map(searched, parts))
    known = sorted({word for text in texts for word in re.findall(r"[^\W\d_][\w.-]*", text)})
    strange = [word for word in words if not any(has_word(text, word) for text in texts)]
    return tuple((word, tuple(difflib.get_close_matches(word, known, n=3, cutoff=0.7))) for word in strange)
