# SPDX-License-Identifier: GPL-3.0-or-later
"""Windings of enamelled wire by gauge or size."""

from __future__ import annotations

from heatsim.parts.gauge import wire_diameter
from heatsim.parts.winding import Winding
from heatsim.physics.conductor import enamelled_diameter


def of_wire(turns: int, wire: str, strands: int = 1, grade: int = 2) -> Winding:
    """A winding of enamelled wire, "AWG 14" or "1.6 mm", enamel of grade 1 or 2 (IEC 60317-0-1)."""
    bare = wire_diameter(wire)
    return Winding(turns, strands, bare, float(enamelled_diameter(bare, grade)))
