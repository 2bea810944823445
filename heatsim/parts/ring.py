# SPDX-License-Identifier: GPL-3.0-or-later
"""Ring cores: sizes as catalogues list them, and rings alone or stacked under one winding."""

from __future__ import annotations

from dataclasses import dataclass

from heatsim.errors import InputError
from heatsim.parts.materials import Provenance
from heatsim.physics.ringcore import PathConvention, RingSize, ring_constants, ring_path_length, stacked


@dataclass(frozen=True)
class RingEntry:
    """A ring size as a catalogue prints it.

    size: bare, without coating [m]; path_rule: convention of the printed path; path_length [m], area [m2]: as printed,
    None where not; coating: thickness of paint or epoxy [m]; inductance_factors: printed AL, pairs (initial permeability,
    inductance for one turn [H]), within inductance_tolerance; provenance, source.
    """

    name: str
    size: RingSize
    path_rule: PathConvention
    provenance: Provenance
    source: str
    path_length: float | None = None
    area: float | None = None
    coating: float = 0.0
    inductance_factors: tuple[tuple[float, float], ...] = ()
    inductance_tolerance: float = 0.1


@dataclass(frozen=True)
class RingCore:
    """`stack` equal rings under one winding.

    size: of one bare ring [m]; path_length [m]; area: of one ring [m2]; coating: thickness on every side of each ring [m].
    """

    size: RingSize
    stack: int
    path_length: float
    area: float
    coating: float = 0.0

    @classmethod
    def from_size(
        cls,
        size: RingSize,
        stack: int,
        convention: PathConvention,
        path_length: float | None = None,
        area: float | None = None,
        coating: float = 0.0,
    ) -> RingCore:
        """Path length by the convention of the material's catalogue, area, each where not given as printed.

        The area is IEC 60205's for "iec", else the plain section h*(d1-d2)/2, within a few per cent of what powder
        catalogues print (they take the rounded corners off).
        """
        if not 1 <= stack <= LARGEST_STACK:
            raise InputError.single("ring core", "stack", stack, f"1 to {LARGEST_STACK} rings")
        plain = size.height * (size.outer_diameter - size.inner_diameter) / 2
        section = ring_constants(size).area if convention == "iec" else plain
        return cls(size, stack, path_length or ring_path_length(size, convention), area or section, coating)

    @classmethod
    def from_entry(cls, entry: RingEntry, stack: int, rule: PathConvention) -> RingCore:
        """Rings of a catalogue size, for a material whose DC-bias curve is drawn over paths of `rule`.

        The printed path is used where its convention is that rule, else the path is computed by the rule.
        """
        path = entry.path_length if entry.path_rule == rule else None
        return cls.from_size(entry.size, stack, rule, path, entry.area, entry.coating)

    @property
    def total_area(self) -> float:
        """Magnetic cross-section of the stack [m2]."""
        return self.area * self.stack

    @property
    def volume(self) -> float:
        """Magnetic volume of the stack [m3]."""
        return self.total_area * self.path_length

    @property
    def former(self) -> RingSize:
        """Size of one coated ring [m]: what the wire goes round."""
        d1, d2, height = self.size
        return RingSize(d1 + 2 * self.coating, d2 - 2 * self.coating, height + 2 * self.coating)

    @property
    def whole(self) -> RingSize:
        """Size of the coated stack [m]."""
        return stacked(self.former, self.stack)


LARGEST_STACK = 4
"""Rings in a stack: above, the turn is so long that a larger ring serves better."""
