# SPDX-License-Identifier: GPL-3.0-or-later
"""A film capacitor of the catalogue."""

from __future__ import annotations

from dataclasses import dataclass

from heatsim.parts.provenance import Provenance


@dataclass(frozen=True)
class FilmCapacitor:
    """One capacitor: capacitance [F]; dissipation_factor: near 100 kHz [1]; voltage_rating: peak [V] and current_rating: rms [A]
    near 100 kHz, None where unknown; build: dielectric and make in words; provenance and source of all.
    """

    name: str
    capacitance: float
    dissipation_factor: float
    voltage_rating: float | None
    current_rating: float | None
    build: str
    provenance: Provenance
    source: str
