# SPDX-License-Identifier: GPL-3.0-or-later
"""MOSFETs: channel current, gate-drain capacitance, warm on-resistance, losses, thermal step.

The forms are those of ngspice's power-MOS model (VDMOS; form from memory, parameter list in its README), so
that a netlist and a hand check agree.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from heatsim.errors import InputError
from heatsim.physics.numeric import Numeric, Result, require_positive, scalar_or_array


def channel_current(
    gate_voltage: Numeric,
    drain_voltage: Numeric,
    transconductance: float,
    threshold: float,
    modulation: float = 0.0,
    triode_factor: float = 1.0,
) -> Result:
    """Drain current [A] of the channel at gate-source and drain-source voltages [V], drain voltage not negative.

    gate_voltage: gate-source [V]; drain_voltage: drain-source, not negative [V]; transconductance: Kp [A/V2]
    threshold: [V]; modulation: lambda [1/V]; triode_factor: mtriode [1]

    transconductance Kp [A/V2], threshold [V], modulation lambda [1/V]. Triode (m Vds < Vgs - Vt):
    m Kp [(Vgs - Vt) Vds - m Vds^2/2](1 + lambda Vds); saturated: (Kp/2)(Vgs - Vt)^2 (1 + lambda Vds); off:
    zero. m = `triode_factor` (mtriode) [1]; 1 is the SPICE level-1 MOSFET (Shichman & Hodges 1968), where the
    printed check values apply; other values follow VDMOS (memory). Series resistances are not included.
    """
    if np.any(np.asarray(drain_voltage) < 0.0):
        raise InputError.single("channel_current", "drain voltage", drain_voltage, "zero or more")
    overdrive = np.maximum(np.subtract(gate_voltage, threshold), 0.0)
    reach = np.minimum(triode_factor * np.asarray(drain_voltage), overdrive)
    return scalar_or_array(transconductance * (overdrive * reach - reach**2 / 2.0) * (1.0 + modulation * np.asarray(drain_voltage)))


def gate_drain_capacitance(gate_drain_voltage: Numeric, greatest: float, least: float, slope: float) -> Result:
    """Gate-drain capacitance [F] at a gate-drain voltage [V], between `greatest` and `least` [F].

    gate_drain_voltage: [V]; greatest: [F]; least: [F]; slope: [1/V]

    s tanh(a v) + y for v > 0, s atan(a v) + y for v < 0, s = (Cmax - Cmin)/(1 + pi/2), y = Cmax - s; `slope`
    a [1/V]. Form of ngspice's VDMOS (memory).
    """
    require_positive("gate_drain_capacitance", greatest=greatest, slope=slope)
    scale = (greatest - least) / (1.0 + np.pi / 2.0)
    v = slope * np.asarray(gate_drain_voltage, dtype=float)
    return scalar_or_array(scale * np.where(v > 0.0, np.tanh(v), np.arctan(v)) + greatest - scale)


def gate_drain_charge(gate_drain_voltage: Numeric, greatest: float, least: float, slope: float) -> Result:
    """Charge [C] taken up by `gate_drain_capacitance` from zero to a gate-drain voltage [V]; its exact integral.

    gate_drain_voltage: [V]; greatest: [F]; least: [F]; slope: [1/V]

    Useful to fit Cmax, Cmin and slope to a data sheet's gate charge. Arguments as there.
    """
    require_positive("gate_drain_charge", greatest=greatest, slope=slope)
    scale = (greatest - least) / (1.0 + np.pi / 2.0)
    v = slope * np.asarray(gate_drain_voltage, dtype=float)
    positive = np.logaddexp(v, -v) - np.log(2.0)
    negative = v * np.arctan(v) - 0.5 * np.log1p(v**2)
    bend = scale / slope * np.where(v > 0.0, positive, negative)
    return scalar_or_array(bend + (greatest - scale) / slope * v)


def effective_overdrive(over_threshold: Numeric, width: float) -> Result:
    """Overdrive [V] that the channel feels at a gate voltage over its threshold [V]: w ln(1 + exp(x/w)).

    over_threshold: [V]; width: slope below threshold [V]

    Above threshold x itself, below it fades by a factor e each `width`. Form of ngspice's VDMOS (memory).
    """
    require_positive("effective_overdrive", width=width)
    return scalar_or_array(width * np.logaddexp(0.0, np.asarray(over_threshold, dtype=float) / width))


def gate_voltage_over(overdrive: Numeric, width: float) -> Result:
    """Gate voltage over threshold [V] at which the channel feels an overdrive [V]; inverse of `effective_overdrive`.

    overdrive: above zero [V]; width: slope below threshold [V]
    """
    require_positive("gate_voltage_over", overdrive=overdrive, width=width)
    u = np.asarray(overdrive, dtype=float) / width
    return scalar_or_array(width * (u + np.log(-np.expm1(-u))))


def warm_resistance_ratio(junction_k: Numeric, reference_k: Numeric = 300.0, exponent: float = 2.3) -> Result:
    """On-resistance at a junction temperature over that at the reference [1], both [K]: (Tj/Tref)^2.3.

    junction_k: [K]; reference_k: [K]; exponent: [1]

    Rule for silicon parts of 100 V and more, 250 to 450 K (memory); sheets show 1.6-2.0 at 100 °C, 2.0-2.5 at
    150 °C.
    """
    require_positive("warm_resistance_ratio", junction_k=junction_k, reference_k=reference_k)
    return np.power(np.divide(junction_k, reference_k), exponent)


def parallel_share(resistance: Numeric, others: Numeric, count: int) -> Result:
    """Share of the current [1] that one of `count` resistances in parallel takes, the others being equal.

    resistance: of the one [ohm]; others: of each other one [ohm]; count: [1]

    (1/R)/(1/R + (n - 1)/Ro); its share of the loss is the same, the voltage being common. Kirchhoff's laws.
    """
    require_positive("parallel_share", resistance=resistance, others=others, count=count)
    own = np.divide(1.0, resistance)
    return scalar_or_array(own / (own + (count - 1) / np.asarray(others, dtype=float)))


def saturated_share(overdrive: Numeric, lower: Numeric, count: int) -> Result:
    """Share of the current [1] that one of `count` saturated channels takes whose threshold lies lower than the others'.

    overdrive: of the others, gate voltage over threshold [V]; lower: by how much its threshold lies lower [V]; count: [1]

    (u + d)^2/((u + d)^2 + (n - 1) u^2) at one common gate voltage. Square law (Shichman & Hodges 1968); sources without
    inductance, which would even it out.
    """
    require_positive("saturated_share", overdrive=overdrive, count=count)
    own = np.square(np.add(overdrive, lower))
    return scalar_or_array(own / (own + (count - 1) * np.square(overdrive)))


def conduction_loss(rms_current: Numeric, on_resistance: Numeric) -> Result:
    """Conduction loss [W] from the rms current [A] and the warm on-resistance [ohm]: I^2 R.

    rms_current: [A]; on_resistance: warm [ohm]
    """
    return np.square(rms_current) * on_resistance


def gate_drive_power(gate_charge: Numeric, gate_voltage: Numeric, frequency: Numeric) -> Result:
    """Power [W] to charge and discharge a gate (charge [C], swing [V]) at a frequency [Hz]: Q V f.

    gate_charge: [C]; gate_voltage: gate-source [V]; frequency: [Hz]
    """
    return np.multiply(gate_charge, gate_voltage) * frequency


def foster_temperature_rise(power: float, resistances: npt.ArrayLike, time_constants: npt.ArrayLike, time: Numeric) -> Result:
    """Temperature rise [K] a time [s] after a power step [W], from a Foster chain of a data sheet.

    power: [W]; resistances: shape (n,) [K/W]; time_constants: shape (n,) [s]; time: [s]

    P sum R_i (1 - exp(-t/tau_i)); resistances [K/W], time constants [s]. Junction to case for a case held
    constant: Foster chains must not be joined end to end.
    """
    r, tau = np.asarray(resistances, dtype=float), np.asarray(time_constants, dtype=float)
    if r.shape != tau.shape or r.ndim != 1 or np.any(tau <= 0.0):
        given = f"{r.shape} and {tau.shape}"
        raise InputError.single("foster_temperature_rise", "the chain", given, "as many time constants > 0 as resistances")
    return scalar_or_array(-power * np.sum(r * np.expm1(-np.asarray(time)[..., np.newaxis] / tau), axis=-1))
