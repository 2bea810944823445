# SPDX-License-Identifier: GPL-3.0-or-later
"""The slow states of a heater and the sources that perturb them.

A stage forgets most of its state within a period: gates are charged anew, strays ring out. What it keeps is the tank's
energy (for about Q/pi periods), the reservoir's voltage and the lead's current (their own resonance), and the flux of
each choke, of which the difference between two chokes is the slowest of all: only winding resistance levels it. The flux of a
choke is all that links its winding, also what comes from the other choke: the integral of its voltage.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from heatsim.netlist.chokes import FLUX_UNIT, Emission
from heatsim.netlist.deck import SlowState
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import HystereticCurve

TURNS = 40
"""Turns in which the currents of coupled chokes are found from their fluxes: with M at 0.9 of the most, 0.81^40 = 2e-4 is left."""


def slow_states(heater: Heater) -> tuple[SlowState, ...]:
    """The slow states; scales are those of the ideal stage, so that state over scale hardly changes with the supply."""
    supply = heater.supply
    swing = heater.choke_swing
    ripple = max(swing / choke.curve.inductance_zero for choke in heater.chokes)
    current = heater.supply_current + ripple / 2  # an idle stage draws next to nothing on the mean
    drop = current * (supply.resistance + math.sqrt(supply.inductance / supply.reservoir))
    tank, lead = ((1.0, "v(xtank.c3)"), (-1.0, "v(t_right)")), ((1.0, "i(l.xsupply.ls)"),)
    reservoir = ((1.0, "v(bus)"), (-1.0, "v(xsupply.z)"))
    peak = math.pi * supply.voltage
    volt_per_coulomb = heater.damage.stiffness(peak) / heater.capacitors.capacitance
    found = [
        SlowState("tank", tank, peak, "iperturb_tank", volt_per_coulomb, 0.04, rotates=True),
        SlowState("reservoir", reservoir, drop, "iperturb_reservoir", 1 / supply.reservoir, 0.3, supply.voltage),
        SlowState("supply", lead, current, "v.xsupply.vs", -1 / supply.inductance, 0.3),
    ]
    for choke in heater.chokes:
        gain = 1.0 if isinstance(choke.curve, HystereticCurve) else FLUX_UNIT
        flux = ((FLUX_UNIT, f"v(xch_{choke.side}.phi)"),)
        found.append(SlowState(f"choke.{choke.side}", flux, swing, f"iperturb_{choke.side}", gain, 0.08))
    return tuple(found)


def fluxes_of(heater: Heater, currents: Sequence[float]) -> list[float]:
    """Flux that links each choke [Wb], with that of the other, at the chokes' currents [A]."""
    others, mutual = currents[::-1], heater.mutual_inductance
    return [float(choke.curve.flux(i)) + mutual * j for choke, i, j in zip(heater.chokes, currents, others, strict=True)]


def currents_of(heater: Heater, fluxes: Sequence[float]) -> list[float]:
    """Current of each choke [A] at all that links it [Wb]; by turns, which closes in where M^2 is below the product of the
    inductances."""
    mutual = heater.mutual_inductance
    found = [0.0] * len(fluxes)
    for _ in range(TURNS if mutual else 1):
        for k, choke in enumerate(heater.chokes):
            found[k] = float(choke.curve.current(fluxes[k] - mutual * found[-1 - k]))
    return found


def slowest_mode(heater: Heater) -> tuple[float, ...]:
    """Weights, in the order of `slow_states`, of the difference between the fluxes of two chokes.

    Over a period it changes by the integral of the difference of the drains' voltages. That is the coil's own voltage and,
    since the coil's current is nil at both sections, only a drop in resistances. The drop in the chokes' resistances comes
    on top. Whatever else moves shows in it by a few hundredths (tested).
    """
    return () if heater.tapped else (0.0, 0.0, 0.0, 1.0, -1.0)


def difference_time(heater: Heater) -> float:
    """Time constant with which the difference between two chokes' mean currents levels out [s], 0 with one choke.

    Faraday's and Kirchhoff's laws, averaged over a period: half of the difference d flows through the coil, because each bank
    carries both chokes' current for half of the time. So the fluxes drift apart by (L1 + L2)/2 dd/dt = -(R1 + R2 + Rc)/2 d,
    with each choke's inductance at its mean current, less what couples to the other, the resistances of the chokes, and that of
    coil and leads.
    """
    if heater.tapped:
        return 0.0
    mean = heater.supply_current / 2
    inductance = sum(float(choke.curve.inductance(mean)) for choke in heater.chokes) - 2 * heater.mutual_inductance
    resistance = sum(choke.resistance for choke in heater.chokes)
    return inductance / (resistance + heater.coil.resistance + heater.coil.lead_resistance)


def perturbation_sources(heater: Heater) -> Emission:
    """Current sources across the tank's and the reservoir's capacitance and into the chokes' flux nodes."""
    lines = ["iperturb_tank t_right xtank.c3 dc 0", "iperturb_reservoir xsupply.z bus dc 0"]
    lines += [f"iperturb_{choke.side} 0 xch_{choke.side}.phi dc 0" for choke in heater.chokes]
    return Emission((), "\n".join(lines), ())
