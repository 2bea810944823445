# SPDX-License-Identifier: GPL-3.0-or-later
"""What the parts of a heater on a bench may have beside their sound values: devices that are open, leaks, contacts with a film,
ceramics that bend, steel that saturates, chokes that couple. By default nothing is damaged."""

from __future__ import annotations

import math
from dataclasses import dataclass

SIDES = ("left", "right")
Pair = tuple[float, float]
"""Of the left and of the right side."""


@dataclass(frozen=True)
class SaturatingSteel:
    """The part of the workpiece's flux that gives way, in series with the coil: an inductance with a resistance beside it for eddy
    currents.

    inductance: at small currents [H]; knee: current at which the flux is half of what that inductance would hold [A];
    resistance [ohm]; seen_inductance [H], seen_resistance [ohm]: in series, what both together are at the working current

    Power-law magnetisation, i = (flux/L) (1 + (flux/(L k))^4) with k = knee/2 (as in studies of ferroresonance; memory).
    """

    inductance: float
    knee: float
    resistance: float
    seen_inductance: float
    seen_resistance: float

    @property
    def knee_flux(self) -> float:
        """L k, the flux linkage at the knee [Wb]."""
        return self.inductance * self.knee / 2


def steel_at(eddy: float, current: float, depth: float, omega: float, reactance: float = 1.0) -> SaturatingSteel:
    """Steel with an eddy resistance [ohm] in series with the coil at a current's amplitude [A], its peak flux being `depth` times
    that of the knee; reactance: that of the inductance at this current, over the eddy resistance beside it; omega: 2 pi f [rad/s].

    Of R beside X = q R a coil sees R q^2/(1 + q^2) and X/(1 + q^2), and the inductance carries 1/sqrt(1 + q^2) of the current. A
    thick conductor has q = 1, as much reactance as resistance; steel whose flux has given way has less. Of a flux F sin(wt) the
    current's fundamental is (F/L)(1 + 5/8 depth^4), since sin^5 has the fundamental 5/8.
    """
    effective, square = reactance * eddy / omega, 1 + reactance**2
    flux = effective * current / math.sqrt(square)
    inductance = effective * (1 + 0.625 * depth**4)
    knee = 2 * flux / (inductance * depth)
    return SaturatingSteel(inductance, knee, eddy, effective / square, eddy * reactance**2 / square)


def voltage_coefficient(lost: float, peak: float) -> float:
    """Coefficient b [1/V^2] of a bank that has lost a share of its capacitance at a peak [V]: see `Damage`.

    With w = q/C and v = w (1 + b w^2) the capacitance dq/dv is C/(1 + 3 b w^2).
    """
    bent = lost / (3 * (1 - lost))
    return bent * ((1 + bent) / peak) ** 2


@dataclass(frozen=True)
class Damage:
    """open_devices: of each bank; drain_leakage: from each drain to ground [S]; clamps: whether the gates have them;
    clamp_leakage: from each gate node to ground [S]; contact_drop: of an oxide film in the tank's lead [V], reached at some
    `FILM_CURRENT`; voltage_coefficient b: of the bank, whose voltage at a charge q is (q/C) (1 + b (q/C)^2) [1/V^2];
    coil_capacitance: across the coil behind its leads [F]; steel: a workpiece that saturates; choke_coupling k: of the two feed
    chokes, whose mutual inductance is k times the geometric mean of theirs at zero current, above zero where the flux of one adds
    to the other's [1].
    """

    open_devices: tuple[int, int] = (0, 0)
    drain_leakage: Pair = (0.0, 0.0)
    clamps: bool = True
    clamp_leakage: Pair = (0.0, 0.0)
    contact_drop: float = 0.0
    voltage_coefficient: float = 0.0
    coil_capacitance: float = 0.0
    steel: SaturatingSteel | None = None
    choke_coupling: float = 0.0

    def stiffness(self, volts: float) -> float:
        """Capacitance of the bank without voltage over that at a voltage [V], 1 + 3 b w^2 with w (1 + b w^2) the voltage."""
        b, w = self.voltage_coefficient, volts
        for _ in range(30):  # Newton's method on a rising cubic from above: monotone
            w -= (w * (1 + b * w**2) - volts) / (1 + 3 * b * w**2)
        return 1 + 3 * b * w**2


FILM_CURRENT = 8.0
"""Current [A] on whose scale the drop of an oxide film rises, drop * tanh(i/FILM_CURRENT); common practice, no source."""
