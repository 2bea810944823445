# SPDX-License-Identifier: GPL-3.0-or-later
"""What a workpiece is made of."""

from __future__ import annotations

from dataclasses import dataclass

from heatsim.parts.materials import Provenance


@dataclass(frozen=True)
class Metal:
    """A material of workpieces, cold.

    resistivity [ohm*m] and by how much it may differ [1]; permeability: relative, or None where it follows the field after the
    curve of a steel in `heatsim.physics.magnetisation.STEELS`; provenance and source of all of it.
    """

    name: str
    resistivity: float
    resistivity_band: float
    permeability: float | None
    curve: str | None
    provenance: Provenance
    source: str
