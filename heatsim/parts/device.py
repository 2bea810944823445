# SPDX-License-Identifier: GPL-3.0-or-later
"""A MOSFET of the catalogue: its datasheet figures by name of the field in [switch], and where they come from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from heatsim.parts.materials import Provenance
from heatsim.parts.switch import DatasheetCurves


@dataclass(frozen=True)
class Device:
    """figures: field -> SI value, those that are given; curves: points to compare the model with; provenance and source of all."""

    name: str
    figures: Mapping[str, float]
    curves: DatasheetCurves
    provenance: Provenance
    source: str
