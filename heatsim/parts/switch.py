# SPDX-License-Identifier: GPL-3.0-or-later
"""MOSFET banks from datasheet figures, and the gate network that drives them."""

from __future__ import annotations

import math
from dataclasses import dataclass

MILLER_VOLTAGE = 1 / 0.3
"""Where nothing else is known: 1/a of the VDMOS gate-drain capacitance [V]; memory: a is 0.2 to 0.5 per volt."""


@dataclass(frozen=True)
class Switch:
    """One MOSFET as its datasheet gives it, and `count` of them in parallel in each bank.

    on_resistance [ohm] at on_gate_voltage [V] and junction_temperature (already hot); threshold [V];
    transconductance [S] at transconductance_current [A]; input_, output_, reverse_capacitance [F] at
    capacitance_voltage [V]; gate_drain_charge [C]; gate_resistance: inside the chip [ohm];
    diode_drop [V] at diode_current [A]; recovery_time [s]; voltage_rating (avalanche) [V]; current_rating [A];
    gate_rating [V]; threshold_spread: left bank minus right bank [V], which also starts the oscillation;
    drain_inductance: of one bank's leads [H]; miller_voltage: scale on which the reverse capacitance falls with the drain's
    voltage over the gate's [V]; user_model: text of a checked .model or .subckt of the user's, and
    user_name its name and user_subcircuit whether it is a subcircuit; spread devices are not modelled one by one.
    """

    count: int
    on_resistance: float
    on_gate_voltage: float
    threshold: float
    transconductance: float
    transconductance_current: float
    input_capacitance: float
    output_capacitance: float
    reverse_capacitance: float
    capacitance_voltage: float
    gate_drain_charge: float
    gate_resistance: float
    diode_drop: float
    diode_current: float
    recovery_time: float
    voltage_rating: float
    current_rating: float | None
    gate_rating: float
    threshold_spread: float
    drain_inductance: float
    miller_voltage: float = MILLER_VOLTAGE
    user_model: str = ""
    user_name: str = ""
    user_subcircuit: bool = False


CHANNEL_SHARE = 0.25
"""Smallest share of Rds(on) left to drift region and leads when the transconductance would claim more."""


def vdmos_parameters(switch: Switch, threshold_shift: float = 0.0) -> dict[str, float]:
    """VDMOS model parameters (ngspice manual, power-MOS chapter) that meet the datasheet figures.

    Kp from gfs = sqrt(2 Kp Id); Rd = Rds(on) - 1/(Kp (Vgs-Vth)) - Rs; Cgs = Ciss - Crss; Cgdmin = Crss/2 and Cgdmax
    from the gate-drain charge, Qgd = integral of Cgd over the drain swing in the model's own tanh/atan form;
    Cjo from Coss - Crss by the junction law (Vj 0.8 V, m 0.5); Is from the diode drop at its current, of which a bulk
    resistance of a fifth of Rds(on) takes its share, half of it at most.
    """
    kp = switch.transconductance**2 / (2 * switch.transconductance_current)
    channel = 1 / (kp * (switch.on_gate_voltage - switch.threshold))
    floor = CHANNEL_SHARE * switch.on_resistance
    if channel > switch.on_resistance - floor:
        channel = switch.on_resistance - floor
        kp = 1 / (channel * (switch.on_gate_voltage - switch.threshold))
    ohmic = switch.on_resistance - channel
    emission, drop_over_vt = 1.2, 1.2 * 0.02585
    bulk = min(0.2 * switch.on_resistance, 0.5 * switch.diode_drop / switch.diode_current)
    forward = switch.diode_drop - switch.diode_current * bulk
    return {
        "vto": switch.threshold + threshold_shift,
        "kp": kp,
        "lambda": 1e-3,
        "rd": 0.85 * ohmic,
        "rs": 0.15 * ohmic,
        "rg": switch.gate_resistance,
        "cgs": switch.input_capacitance - switch.reverse_capacitance,
        "cgdmin": switch.reverse_capacitance / 2,
        "cgdmax": miller_capacitance(switch),
        "a": 1 / switch.miller_voltage,
        "cjo": (switch.output_capacitance - switch.reverse_capacitance) * math.sqrt(1 + switch.capacitance_voltage / 0.8),
        "vj": 0.8,
        "m": 0.5,
        "is": switch.diode_current * math.exp(-forward / drop_over_vt),
        "n": emission,
        "rb": bulk,
        "tt": switch.recovery_time,
        "bv": switch.voltage_rating,
        "ibv": 250e-6,
        "eg": 1.12,
    }


def miller_capacitance(switch: Switch) -> float:
    """Cgdmax [F] from the gate-drain charge.

    Cgd(v) = s*atan(a v) + y for v = vgd < 0, s = (Cmax-Cmin)/(1+pi/2), y = Cmax - s (VDMOS form). The charge from
    v = 0 down to -V is y V - s [V atan(aV) - ln(1+(aV)^2)/(2a)], linear in Cmax: solved directly.
    """
    a, v, low = 1 / switch.miller_voltage, switch.capacitance_voltage, switch.reverse_capacitance / 2
    bent = v * math.atan(a * v) - math.log(1 + (a * v) ** 2) / (2 * a)
    share = 1 / (1 + math.pi / 2)
    per_max, per_min = v - share * v - share * bent, share * v + share * bent
    return max((switch.gate_drain_charge - low * per_min) / per_max, 2 * low)


@dataclass(frozen=True)
class GateDrive:
    """Gate network of one bank: supply through pull_up to the gate node, clamp, pull_down, diode to the other drain.

    supply_voltage [V] through pull_up [ohm] (may also be taken from the main supply: from_main); supply_delay,
    supply_rise [s]; pull_down [ohm]; clamp_voltage of the zener [V]; resistor: of each device [ohm];
    inductance: of each device's gate loop [H]; diode_drop [V] at 1 A, diode_capacitance [F], diode_recovery [s],
    diode_rating [V].
    """

    supply_voltage: float
    supply_delay: float
    supply_rise: float
    pull_up: float
    pull_down: float
    clamp_voltage: float
    clamp_capacitance: float
    resistor: float
    inductance: float
    diode_drop: float
    diode_capacitance: float
    diode_recovery: float
    diode_rating: float


@dataclass(frozen=True)
class Supply:
    """voltage [V] rising in `rise_time` [s]; resistance, inductance of source and leads; reservoir and its series
    resistance; ripple: peak to peak [V] at ripple_frequency [Hz]; current_rating [A] or None.
    """

    voltage: float
    rise_time: float
    resistance: float
    inductance: float
    reservoir: float
    reservoir_resistance: float
    ripple: float
    ripple_frequency: float
    current_rating: float | None

    def slow_mode(self, conductance: float) -> tuple[float, float]:
        """Slowest time constant [s] and period of the ringing [s], 0 without, of source, leads and reservoir under a load.

        conductance: of the load on the bus [S]

        Kirchhoff's laws with lead current i and reservoir voltage v: L di/dt = V - R i - u, C dv/dt = i - G u, bus voltage
        u = (v + r i)/(1 + r G); the modes are the eigenvalues of these two equations, s^2 + 2 a s + b = 0.
        """
        share = 1 / (1 + self.reservoir_resistance * conductance)
        lead = (self.resistance + self.reservoir_resistance * share) / self.inductance
        drain = conductance * share / self.reservoir
        half = (lead + drain) / 2
        product = lead * drain + share**2 / (self.inductance * self.reservoir)
        square = product - half**2
        if square > 0:
            return 1 / half, 2 * math.pi / math.sqrt(square)
        return (half + math.sqrt(-square)) / product, 0.0
