# SPDX-License-Identifier: GPL-3.0-or-later
"""How the current of a capacitor bank divides over its capacitors where bars are between them (`heatsim.physics.bank`)."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from heatsim.parts.rails import Connection, Rails, places
from heatsim.parts.tank import CapacitorBank
from heatsim.physics.bank import BankFlow, ComplexArray, bank_flow, inner_resonances
from heatsim.physics.numeric import FloatArray

NEAR = 0.1
"""Share [1] by which a resonance inside the bank may lie off a harmonic and yet be on it: inductances known to a fifth, as those of
bars and leads are at best, and capacitances to 5 %."""


@dataclass(frozen=True)
class TankCurrents:
    """Harmonics of the tank's currents as complex rms values [A], shape (orders,), of one time base.

    frequency: of the first [Hz]; bank: through the capacitors from left to right; coil_left, coil_right: through the coil likewise,
    at either end; rest: rms of what of the bank's current is in no harmonic [A], shared evenly.
    """

    frequency: float
    bank: ComplexArray
    coil_left: ComplexArray
    coil_right: ComplexArray
    rest: float = 0.0


@dataclass(frozen=True)
class Division:
    """squares: of the rms current of each capacitor by harmonic, shape (orders, n) [A2]; rest: likewise, in no harmonic [A2];
    rails_loss: in both bars [W].
    """

    squares: FloatArray
    rest: float
    rails_loss: float

    @property
    def rms(self) -> FloatArray:
        """Current of each capacitor, shape (n,) [A]."""
        return np.asarray(np.sqrt(self.squares.sum(axis=0) + self.rest))


@dataclass(frozen=True)
class Hit:
    """A resonance inside the bank near a harmonic: its frequency [Hz], the harmonic's order, and the rms current of the most loaded
    capacitor were it on it [A].
    """

    frequency: float
    order: int
    current: float


def divided(bank: CapacitorBank, rails: Rails, currents: TankCurrents, coil: Connection | None = None) -> Division:
    """The share of each capacitor at the currents that the circuit was simulated with, the bank in one piece.

    coil: how it connects, the bars' own by default; the drains stay where they are, or with the coil where it is not said
    """
    rails = rails if coil is None else replace(rails, coil=coil)
    squares, loss = np.zeros((currents.bank.size, bank.count)), 0.0
    for order in range(1, currents.bank.size + 1):
        frequency = order * currents.frequency
        flow = _flow(bank, rails, currents, order, frequency)
        squares[order - 1] = np.abs(flow.branches) ** 2
        loss += rails.segment.impedance(frequency).real / 2 * float(flow.rail_squares().sum())
    return Division(squares, (currents.rest / bank.count) ** 2, loss)


def _flow(bank: CapacitorBank, rails: Rails, currents: TankCurrents, order: int, frequency: float) -> BankFlow:
    """Currents of one harmonic at a frequency [Hz] that need not be its own."""
    whole, left, right = (complex(each[order - 1]) for each in (currents.bank, currents.coil_left, currents.coil_right))
    coil, drains = places(rails.coil, bank.count), places(rails.drains or rails.coil, bank.count)
    enters, leaves = ((coil[0], -left), (drains[0], whole + left)), ((coil[1], -right), (drains[1], whole + right))
    return bank_flow(np.full(bank.count, _place(bank, rails, frequency)), rails.segment.impedance(frequency), enters, leaves)


def _place(bank: CapacitorBank, rails: Rails, frequency: float) -> complex:
    """Impedance [ohm] of what stands at one place."""
    omega = 2 * math.pi * frequency
    return bank.count * bank.resistance + 1j * (omega * rails.own_inductance - 1 / (omega * bank.unit))


def rails_resistance(bank: CapacitorBank, rails: Rails, frequency: float) -> float:
    """Of both bars at a frequency [Hz], as the bank's current sees it, coil and drains connected alike [ohm]: their loss at 1 A."""
    one = np.ones(1, dtype=complex)
    return divided(bank, replace(rails, drains=None), TankCurrents(frequency, one, -one, -one)).rails_loss


def terminal_inductance(bank: CapacitorBank, rails: Rails, frequency: float) -> float | None:
    """Inductance [H] of the bank with its bars where the coil connects, at a frequency [Hz]; None with the coil at opposite ends,
    where the bars are part of the coil's loop and no more can be told without it.

    V I = sum of z i^2 over all branches (Tellegen), of which what the capacitance alone would have is taken off.
    """
    if rails.coil == "opposite ends":
        return None
    at, z = places(rails.coil, bank.count)[0], rails.segment.impedance(frequency)
    flow = bank_flow(np.full(bank.count, _place(bank, rails, frequency)), z, [(at, 1.0)], [(at, 1.0)])
    of_rails = z / 4 * ((flow.left**2).sum() + (flow.right**2).sum())
    whole = _place(bank, rails, frequency) * (flow.branches**2).sum() + of_rails
    omega = 2 * math.pi * frequency
    return float(whole.imag / omega + 1 / (omega**2 * bank.capacitance))


def resonances(bank: CapacitorBank, rails: Rails, frequency: float) -> FloatArray:
    """Frequencies [Hz] of the resonances inside the bank, rising; the bars' inductance is that at `frequency` [Hz]."""
    return inner_resonances(bank.count, bank.unit, rails.own_inductance, rails.segment_inductance(frequency))


def worst_hit(bank: CapacitorBank, rails: Rails, currents: TankCurrents, division: Division) -> Hit | None:
    """The resonance near a harmonic that would load a capacitor most, None where none is near; on it, the harmonic's current
    divides as at the resonance.
    """
    return max(_hits(bank, rails, currents, division), key=lambda hit: hit.current, default=None)


def _hits(bank: CapacitorBank, rails: Rails, currents: TankCurrents, division: Division) -> Iterator[Hit]:
    for frequency in resonances(bank, rails, currents.frequency).tolist():
        order = round(frequency / currents.frequency)
        if 1 <= order <= currents.bank.size and abs(frequency / (order * currents.frequency) - 1) < NEAR:
            on_it = np.abs(_flow(bank, rails, currents, order, frequency).branches) ** 2
            square = division.squares.sum(axis=0) + division.rest - division.squares[order - 1] + on_it
            yield Hit(frequency, order, math.sqrt(float(square.max())))
