# SPDX-License-Identifier: GPL-3.0-or-later
"""Core materials, rings, metals, switches and capacitors by name; `heatsim.scenario.catalogue` reads them from files."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from heatsim.errors import InputError
from heatsim.parts.device import Device
from heatsim.parts.film import FilmCapacitor
from heatsim.parts.materials import Material, Metal
from heatsim.parts.ring import RingEntry

Entry = TypeVar("Entry", Material, RingEntry, Metal, Device, FilmCapacitor)


@dataclass(frozen=True)
class Catalogue:
    """Core materials, rings, metals of workpieces, devices for the switches, and capacitors by name."""

    materials: Mapping[str, Material]
    rings: Mapping[str, RingEntry]
    metals: Mapping[str, Metal] = field(default_factory=dict)
    devices: Mapping[str, Device] = field(default_factory=dict)
    capacitors: Mapping[str, FilmCapacitor] = field(default_factory=dict)

    def joined(self, own: Catalogue) -> Catalogue:
        """This catalogue with another on top, whose entries win."""
        return Catalogue(
            {**self.materials, **own.materials},
            {**self.rings, **own.rings},
            {**self.metals, **own.metals},
            {**self.devices, **own.devices},
            {**self.capacitors, **own.capacitors},
        )

    def material(self, name: str, place: str) -> Material:
        """A material by name; InputError with the nearest names."""
        return _named(self.materials, name, place)

    def ring(self, name: str, place: str) -> RingEntry:
        """A ring by name; InputError with the nearest names."""
        return _named(self.rings, name, place)

    def metal(self, name: str, place: str) -> Metal:
        """A metal by name; InputError with the nearest names."""
        return _named(self.metals, name, place)

    def device(self, name: str, place: str) -> Device:
        """A MOSFET by name; InputError with the nearest names."""
        return _named(self.devices, name, place)

    def capacitor(self, name: str, place: str) -> FilmCapacitor:
        """A capacitor by name; InputError with the nearest names."""
        return _named(self.capacitors, name, place)


def _named(known: Mapping[str, Entry], name: str, place: str) -> Entry:
    if name in known:
        return known[name]
    close = difflib.get_close_matches(name, known, n=4, cutoff=0.5)
    raise InputError.single(place, "is not in the catalogue", repr(name), ", ".join(close or known))
