# SPDX-License-Identifier: GPL-3.0-or-later
"""A winding's resistance against frequency as a circuit: a chain of resistors, some with an inductor beside them.

Z(f) = R0 + sum of R0 r_k j f/f_k/(1 + j f/f_k): the resistance R0 at zero frequency exactly, rising with frequency, every
element positive, so that the circuit takes power and never gives any. One chain serves the netlist, the energy balance and
the choke's temperature.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from heatsim.parts.choke import Choke
from heatsim.parts.ring import RingCore
from heatsim.parts.winding import Winding
from heatsim.physics.conductor import copper_resistivity
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.numeric import Numeric

CORNERS = (0.8, 3.0, 12.0, 60.0)
"""Corner frequencies of the cells over the frequency the chain is made for. The lowest is forgotten within a period."""

SPAN = (0.7, 40.0)
"""Frequencies over that one between which the chain is fitted. Of 250 random windings on rings of the catalogue the chain is
within 8 % of the winding's own resistance at the first three harmonics and 14 % up to the fortieth, bundles worst; wires side by
side are within 7 %."""


@dataclass(frozen=True)
class Cell:
    """A resistor [ohm] with an inductor [H] beside it."""

    resistance: float
    inductance: float

    @property
    def corner(self) -> float:
        """Frequency [Hz] at which half of the resistance shows."""
        return self.resistance / (2 * np.pi * self.inductance)


@dataclass(frozen=True)
class Ladder:
    """resistance: at zero frequency [ohm], at a copper temperature [°C]; cells: in series with it."""

    resistance: float
    temperature: float
    cells: tuple[Cell, ...] = ()

    def direct(self, celsius: Numeric) -> Array:
        """Resistance at zero frequency [ohm] at a copper temperature [°C]."""
        return np.asarray(self.resistance * copper_resistivity(celsius) / copper_resistivity(self.temperature))

    def at(self, frequency: Array, celsius: Numeric) -> Array:
        """Resistance [ohm] at each frequency [Hz] and a copper temperature [°C]; the two broadcast.

        Skin and proximity effect depend on frequency over resistivity alone, so warmer copper is colder copper at a lower
        frequency.
        """
        warmth = copper_resistivity(celsius) / copper_resistivity(self.temperature)
        cold = np.asarray(frequency, dtype=float) / warmth
        total = np.full(np.shape(cold), self.resistance)
        for cell in self.cells:
            square = (cold / cell.corner) ** 2
            total = total + cell.resistance * square / (1 + square)
        return np.asarray(total * warmth)


def copper_ladder(choke: Choke, frequency: float) -> Ladder:
    """The chain for a choke whose ripple has a fundamental frequency [Hz]; without cells where the winding is not known."""
    if choke.core is None:
        return Ladder(choke.resistance, choke.temperature)
    shares = _shares(choke.core.winding, choke.core.ring, choke.temperature, frequency)
    cells = (
        Cell(r * choke.resistance, r * choke.resistance / (2 * np.pi * c * frequency))
        for r, c in zip(shares, CORNERS, strict=True)
        if r > 1e-4
    )
    return Ladder(choke.resistance, choke.temperature, tuple(cells))


@lru_cache(maxsize=256)
def _shares(winding: Winding, ring: RingCore, celsius: float, frequency: float) -> tuple[float, ...]:
    """Resistance of each cell over the direct one [1]: least squares of the relative misfit, none below zero."""
    from scipy.optimize import nnls

    over = np.geomspace(*SPAN, 60)
    wanted = winding.ac_factor(ring, over * frequency, celsius)
    squares = (over[:, np.newaxis] / np.array(CORNERS)) ** 2
    found, _ = nnls(squares / (1 + squares) / wanted[:, np.newaxis], (wanted - 1) / wanted)
    return tuple(float(share) for share in found)
