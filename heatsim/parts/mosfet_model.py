# SPDX-License-Identifier: GPL-3.0-or-later
"""The netlist's model of a MOSFET: parameters that meet every point of the datasheet, and what they come to at these points.

VDMOS (ngspice manual, power-MOS chapter; equations in `physics.mosfet`). Its gate-drain capacitance has a greatest value where the
gate is above the drain, a least one, and between them falls with an arctangent of v/M. Reverse capacitance and gate-drain charge
are two points of this curve: they give the greatest value and M. The least is a choice, a quarter of the reverse capacitance.
The smaller M, the harder the drains bounce when they change over (measured). An M of the scenario's own (miller_voltage) stands in
place of the reverse capacitance, which is then what it comes to.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import lru_cache

from heatsim.constants import THERMAL_VOLTAGE
from heatsim.parts.switch import Switch
from heatsim.physics.mosfet import effective_overdrive, gate_drain_capacitance, gate_drain_charge, gate_voltage_over

FLOOR_SHARE = 0.25
"""Least gate-drain capacitance as a share of the reverse capacitance. Choice: with it the capacitance falls to 0.44 from 25 to
100 V; that of an abrupt junction falls to a half."""

STEEPEST, FLATTEST = 0.01, 50.0
"""Bounds of M [V]: those of the scenario's field."""

CHANNEL_SHARE = 0.75
"""Largest share of the on-resistance that is channel; the rest is left to drift region and leads. Choice."""

SOURCE_SHARE, DEGENERATION = 0.15, 0.25
"""Share of the rest that stands in the source lead (common practice, no source), and the largest share of the inner
transconductance that it may take away."""

SUBTHRESHOLD = 0.1
"""Slope of the channel below threshold [V]; ngspice's own (memory)."""

MODULATION = 1e-3
"""Channel-length modulation [1/V]; common practice, no source."""

TRANSFER_VOLTAGE = 10.0
"""Drain voltage at which a datasheet measures transconductance and threshold [V]; common practice, no source."""

EMISSION = 1.2
"""Emission coefficient of the body diode; common practice, no source."""


@dataclass(frozen=True)
class DatasheetPoint:
    """A figure of the datasheet and what the model comes to in its place, SI, in `unit`."""

    name: str
    unit: str
    given: float
    model: float

    @property
    def difference(self) -> float:
        """Relative difference of the model, signed [1]."""
        return self.model / self.given - 1

    def as_dict(self) -> dict[str, str | float]:
        """Plain data for results.json."""
        return asdict(self) | {"difference_ratio": self.difference}


@dataclass(frozen=True)
class Channel:
    """vto [V], kp [A/V2] and triode factor of the square law behind `drain` and `source` resistance [ohm]; overdrive [V] of the
    channel at the transconductance's current."""

    vto: float
    kp: float
    triode: float
    drain: float
    source: float
    overdrive: float

    def plateau(self, current: float) -> float:
        """Gate voltage [V] at which the saturated channel carries the transconductance's `current` [A]."""
        return self.vto + gate_voltage_over(self.overdrive, SUBTHRESHOLD) + current * self.source


@lru_cache(maxsize=256)
def channel(switch: Switch) -> Channel:
    """Square law through transconductance, on-resistance and threshold.

    gfs = gm/(1 + gm Rs), gm = dId/dVgs = 2 Id/u (1 - exp(-u/w)) of Id = Kp (1 + lambda V) u^2/2, w the slope below threshold;
    channel 1/(m Kp u) of the on-resistance, m the triode factor, above 1 where the square law's channel alone would exceed its
    share; threshold at threshold_current where given, else of the square law itself.
    """
    kp, source, u, rest = 0.0, 0.0, 0.0, switch.on_resistance
    lift = 1 + MODULATION * TRANSFER_VOLTAGE
    vto, triode = switch.threshold, 1.0
    for _ in range(60):
        before = kp
        inner = switch.transconductance / (1 - switch.transconductance * source)
        u = _overdrive(2 * switch.transconductance_current / inner)
        kp = 2 * switch.transconductance_current / (lift * u**2)
        if switch.threshold_current:
            at = math.sqrt(2 * switch.threshold_current / (kp * lift))
            vto = switch.threshold - gate_voltage_over(at, SUBTHRESHOLD)
        open_channel = 1 / (kp * effective_overdrive(switch.on_gate_voltage - vto, SUBTHRESHOLD))
        triode = max(open_channel / (CHANNEL_SHARE * switch.on_resistance), 1.0)
        rest = switch.on_resistance - open_channel / triode
        source = min(SOURCE_SHARE * rest, DEGENERATION / switch.transconductance)
        if abs(kp - before) < 1e-12 * kp:
            break
    return Channel(vto, kp, triode, rest - source, source, u)


def _overdrive(ideal: float) -> float:
    """u with u = ideal (1 - exp(-u/w)); ideal: 2 Id/gm of the square law [V]. Where the exponential tail has no such u, ideal."""
    u = ideal
    if ideal > 1.05 * SUBTHRESHOLD:
        for _ in range(400):
            u, before = -ideal * math.expm1(-u / SUBTHRESHOLD), u
            if abs(u - before) < 1e-14:
                break
    return u


@dataclass(frozen=True)
class GateDrain:
    """Gate-drain capacitance of VDMOS: least and greatest [F], scale M [V]."""

    least: float
    greatest: float
    scale: float

    def capacitance(self, v: float) -> float:
        """At a voltage from gate to drain [V]: [F]."""
        return float(gate_drain_capacitance(v, self.greatest, self.least, 1 / self.scale))

    def charge(self, start: float, end: float) -> float:
        """Taken up between two voltages from gate to drain [V]: [C]."""
        low, high = (float(gate_drain_charge(v, self.greatest, self.least, 1 / self.scale)) for v in (start, end))
        return high - low


def swing(switch: Switch, law: Channel) -> tuple[float, float]:
    """Voltages from gate to drain [V] between which the gate-drain charge is meant.

    As a gate-charge curve is read: from where the drain leaves gate_drain_charge_voltage, the gate on its plateau Vp at the
    transconductance's current I, to where the straight line through the curve at the on-resistance's gate voltage Von meets the
    plateau. On that line the drain's drop in the channel, r at Von, goes on with its slope there: I r (1 + (Von - Vp)/(Von - Vt)).
    The capacitance stands inside the drain resistance, whose drop it does not see. Figures with which the current's own drop leaves
    no fall are told by `no_swing`; here a quarter of it is left then.
    """
    current, fall = switch.transconductance_current, switch.gate_drain_charge_voltage
    plateau = law.plateau(current)
    reach = effective_overdrive(switch.on_gate_voltage - law.vto, SUBTHRESHOLD)
    across = current * (switch.on_resistance - law.drain - law.source) * (1 + (switch.on_gate_voltage - plateau) / reach)
    start = plateau + min(current * law.drain, fall / 2) - fall
    return start, max(plateau - current * law.source - across, start + fall / 4)


def no_swing(switch: Switch) -> bool:
    """Whether the transconductance's current drops so much in the on-resistance that no gate-drain charge is measured at it."""
    return switch.transconductance_current * switch.on_resistance > switch.gate_drain_charge_voltage / 2


def gate_drain(switch: Switch, law: Channel) -> GateDrain:
    """The curve of the switch's M that takes up the gate-drain charge; in that charge the greatest capacitance is linear.

    A charge that even the least capacitance exceeds is missed, `datasheet_points` tells by how much.
    """
    ends, least = swing(switch, law), FLOOR_SHARE * switch.reverse_capacitance
    unit = GateDrain(0.0, 1.0, switch.miller_voltage)
    above = max(switch.gate_drain_charge - least * (ends[1] - ends[0]), 0.0)
    return GateDrain(least, least + above / unit.charge(*ends), switch.miller_voltage)


@lru_cache(maxsize=256)
def miller_voltage(switch: Switch) -> float:
    """M [V] at which the curve through the gate-drain charge meets the reverse capacitance too, within bounds.

    The steeper the step, the more of the charge lies at low voltages: the capacitance rises with M. Bisection of log M.
    """
    law, low, high = channel(switch), math.log(STEEPEST), math.log(FLATTEST)
    for _ in range(60):
        middle = (low + high) / 2
        curve = gate_drain(replace(switch, miller_voltage=math.exp(middle)), law)
        low, high = (middle, high) if curve.capacitance(-switch.capacitance_voltage) < switch.reverse_capacitance else (low, middle)
    return math.exp((low + high) / 2)


def vdmos_parameters(switch: Switch, threshold_shift: float = 0.0) -> dict[str, float]:
    """Parameters of the VDMOS of one device, `threshold_shift` [V] added to its threshold.

    Cgs = Ciss - Crss and Cjo from Coss - Crss by the junction law (Vj 0.8 V, m 0.5), Crss the model's own, neither difference below
    a twentieth; Is from the diode drop at its current, of which a bulk resistance of a fifth of Rds(on) takes its share, half of it
    at most. The rest: `channel` and `gate_drain`.
    """
    law = channel(switch)
    miller, at = gate_drain(switch, law), switch.capacitance_voltage
    crss = min(miller.capacitance(-at), 0.95 * switch.input_capacitance)
    bulk = min(0.2 * switch.on_resistance, 0.5 * switch.diode_drop / switch.diode_current)
    forward = switch.diode_drop - switch.diode_current * bulk
    return {
        "vto": law.vto + threshold_shift,
        "kp": law.kp,
        "lambda": MODULATION,
        "mtriode": law.triode,
        "ksubthres": SUBTHRESHOLD,
        "rd": law.drain,
        "rs": law.source,
        "rg": switch.gate_resistance,
        "cgs": switch.input_capacitance - crss,
        "cgdmin": miller.least,
        "cgdmax": miller.greatest,
        "a": 1 / miller.scale,
        "cjo": max(switch.output_capacitance - crss, 0.05 * switch.output_capacitance) * math.sqrt(1 + at / 0.8),
        "vj": 0.8,
        "m": 0.5,
        "is": switch.diode_current / math.expm1(forward / (EMISSION * THERMAL_VOLTAGE)),
        "n": EMISSION,
        "rb": bulk,
        "tt": switch.recovery_time,
        "bv": switch.voltage_rating,
        "ibv": 250e-6,
        "eg": 1.12,
    }


def on_state_resistance(parameters: Mapping[str, float], gate_voltage: float) -> float:
    """On-resistance [ohm] of a VDMOS of these parameters at a small current and a gate voltage [V]; without some, ngspice's own."""
    p = parameters
    over = float(effective_overdrive(gate_voltage - p["vto"], p.get("ksubthres", SUBTHRESHOLD)))
    return p.get("rd", 0.0) + p.get("rs", 0.0) + 1 / (p.get("mtriode", 1.0) * p["kp"] * over)


@lru_cache(maxsize=256)
def datasheet_points(switch: Switch) -> tuple[DatasheetPoint, ...]:
    """Every point of the datasheet against the model's own equations with its parameters; none for a user's own model."""
    if switch.user_model:
        return ()
    p, law = vdmos_parameters(switch), channel(switch)
    curve = gate_drain(switch, law)
    at, current = switch.capacitance_voltage, switch.transconductance_current
    lift = 1 + p["lambda"] * TRANSFER_VOLTAGE
    crss = curve.capacitance(-at)
    coss = crss + p["cjo"] / math.sqrt(1 + at / p["vj"])
    on = on_state_resistance(p, switch.on_gate_voltage)
    u = math.sqrt(2 * current / (p["kp"] * lift))
    inner = -2 * current / u * math.expm1(-u / SUBTHRESHOLD)
    drop = p["n"] * THERMAL_VOLTAGE * math.log1p(switch.diode_current / p["is"]) + switch.diode_current * p["rb"]
    points = (
        DatasheetPoint("input capacitance", "F", switch.input_capacitance, p["cgs"] + crss),
        DatasheetPoint("output capacitance", "F", switch.output_capacitance, coss),
        DatasheetPoint("reverse capacitance", "F", switch.reverse_capacitance, crss),
        DatasheetPoint("gate-drain charge", "C", switch.gate_drain_charge, curve.charge(*swing(switch, law))),
        DatasheetPoint("on-resistance", "ohm", switch.on_resistance, on),
        DatasheetPoint("transconductance", "S", switch.transconductance, inner / (1 + inner * p["rs"])),
        DatasheetPoint("diode drop", "V", switch.diode_drop, drop),
    )
    if not switch.threshold_current:
        return points
    at_threshold = gate_voltage_over(math.sqrt(2 * switch.threshold_current / (p["kp"] * lift)), SUBTHRESHOLD)
    return (*points, DatasheetPoint("threshold", "V", switch.threshold, p["vto"] + float(at_threshold)))
