# SPDX-License-Identifier: GPL-3.0-or-later
"""What a deck promises about its signals: how to read them and how to book the energy.

A `Signal` is a linear combination of simulator vectors under a name of ours. A `Ledger` lists, in terms of signals,
every source, loss and store of the circuit, so that `heatsim.measures.energy` can close the balance of any run
without knowing which parts are behind it. Tellegen's theorem says that the balance must close; that it does says
that no part was forgotten, that the window is whole periods and that the simulator kept its accuracy.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Signal:
    """name: ours, e.g. `drain.left.voltage`; unit: SI symbol; terms: (factor, simulator vector) to be summed."""

    name: str
    unit: str
    terms: tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Resistive:
    """Loss i^2 * R of part `part`: signal `current` [A] through `resistance` [ohm], `count` equal ones.

    told: key of a measure that tells this loss by itself, as that of each of `pieces` equal ones.
    """

    part: str
    current: str
    resistance: float
    count: float = 1.0
    told: str = ""
    pieces: int = 1


@dataclass(frozen=True)
class Ohmic:
    """Loss v^2 / R of part `part`: signal `voltage` [V] across `resistance` [ohm], `count` equal ones. told, pieces: see
    `Resistive`.
    """

    part: str
    voltage: str
    resistance: float
    count: float = 1.0
    told: str = ""
    pieces: int = 1


@dataclass(frozen=True)
class Product:
    """Power into part `part`: sum of voltage [V] times current [A] over `pairs` of signals.

    Includes what the part stores in its own capacitances and gives back; over whole periods that is nil. told, pieces: see
    `Resistive`.
    """

    part: str
    pairs: tuple[tuple[str, str], ...]
    told: str = ""
    pieces: int = 1


@dataclass(frozen=True)
class Capacitive:
    """Energy C*v^2/2 stored on signal `voltage` [V] across `capacitance` [F]."""

    voltage: str
    capacitance: float


@dataclass(frozen=True)
class Inductive:
    """Energy stored in coupled coils: half of i^T L i with signals `currents` [A] and matrix `inductances` [H]."""

    currents: tuple[str, ...]
    inductances: tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class Magnetic:
    """Energy of a saturable winding: integral of i d(flux), signals `current` [A] and `flux` [Wb]."""

    current: str
    flux: str


@dataclass(frozen=True)
class Ledger:
    """Every way energy enters (`sources`), leaves (`losses`) or waits (`stores`) in a circuit."""

    sources: tuple[Product, ...] = ()
    losses: tuple[Resistive | Ohmic | Product, ...] = ()
    stores: tuple[Capacitive | Inductive | Magnetic, ...] = ()
