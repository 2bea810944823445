# SPDX-License-Identifier: GPL-3.0-or-later
"""Quantities of a fitted heater with 95 % intervals, how much of each the capture tells, and which are tied together.

A quantity q(u, t) of the heater has the variance g^T V g with g its slopes and V the covariance of the fit (linear propagation);
what is positive is propagated as its logarithm. Beforehand V is that of the ranges and tolerances: the share of its deviation that
is gone afterwards is what the capture told.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from heatsim.parts.curves import half_current
from heatsim.parts.heater import Heater
from heatsim.studies.match.faults import Parameter
from heatsim.studies.match.fit import RIPPLE, WIDTH, Fit, Model, Site
from heatsim.studies.match.probes import GOOD
from heatsim.studies.match.result import Estimate, Tied
from heatsim.studies.match.search import heater_of
from heatsim.waves import Array

NORMAL_95 = 1.96
TIED = 0.9
"""Correlation from which two quantities count as tied."""

CLEAR = 0.7
"""What is told to this share needs no partner."""


@dataclass(frozen=True)
class Quantity:
    """key, label and unit as in `Estimate`; of: a heater."""

    key: str
    label: str
    unit: str
    of: Callable[[Heater], float | None]


def _zero(k: int, heater: Heater) -> float:
    return heater.chokes[k].curve.inductance_zero


def _half(k: int, heater: Heater) -> float | None:
    return half_current(heater.chokes[k].curve)


def _copper(k: int, heater: Heater) -> float:
    return heater.chokes[k].resistance


def quantities_of(heater: Heater) -> list[Quantity]:
    """What is told of every heater."""
    found = [
        Quantity("tank.quality_ratio", "Q of the loaded tank" if heater.workpiece else "Q of the tank", "", lambda h: h.quality),
        Quantity("supply.voltage_v", "supply voltage", "V", lambda h: h.supply.voltage),
        Quantity("capacitors.capacitance_f", "capacitance of the bank", "F", lambda h: h.capacitors.capacitance),
        Quantity("coil.inductance_h", "inductance of the coil circuit as loaded", "H", lambda h: h.loaded_inductance),
        Quantity("coil.resistance_ohm", "resistance of the tank circuit as loaded", "ohm", lambda h: h.loaded_resistance),
    ]
    for k, choke in enumerate(heater.chokes):
        side = choke.side
        found += [
            Quantity(f"choke.{side}.inductance_h", f"{side} choke, inductance at zero current", "H", partial(_zero, k)),
            Quantity(f"choke.{side}.half_current_a", f"{side} choke, current at half of it", "A", partial(_half, k)),
            Quantity(f"choke.{side}.resistance_ohm", f"{side} choke, resistance with its feed", "ohm", partial(_copper, k)),
        ]
    return [
        *found,
        Quantity("gate.pull_up_ohm", "gate pull-up", "ohm", lambda h: h.gate.pull_up),
        Quantity("gate.overdrive_v", "gate supply above the threshold", "V", lambda h: h.gate.supply_voltage - h.switch.threshold),
        Quantity(
            "gate.resistance_ohm", "gate resistor with the chip's own", "ohm", lambda h: h.gate.resistor + h.switch.gate_resistance
        ),
        Quantity("gate.inductance_h", "inductance of each gate loop", "H", lambda h: h.gate.inductance),
    ]


def estimates_of(sites: Sequence[Site], one: Fit) -> tuple[tuple[Estimate, ...], tuple[Tied, ...]]:
    """Estimates of the kind's own parameters, of the heater, and of the probes; and what is tied."""
    rows: list[tuple[Estimate, Array]] = []
    for k, parameter in enumerate(one.hypothesis.parameters):
        rows.append(_own(one, k, parameter))
    moved = _moved(sites, one)
    own = {estimate.key for estimate, _ in rows}
    for quantity in quantities_of(sites[0].atlas.heater):
        if quantity.key in own:
            continue
        row = _derived(sites, one, quantity, moved)
        if row is not None:
            rows.append(row)
    rows += _probes(sites, one)
    kept = [row for row in rows if row[0].low < row[0].high]
    return (*ripple_of(sites, one), *(estimate for estimate, _ in kept)), _tied(one, kept)


def ripple_of(sites: Sequence[Site], one: Fit) -> tuple[Estimate, ...]:
    """Of a rippling supply: frequency and, where it is slow beside tank and reservoir, peak to peak. The tank's amplitude then goes
    with the supply, to some 3 % (held against the independent integration); a fast ripple is passed on weaker or stronger."""
    sway = next((site.seen.sway for site in sites if site.seen.sway), None)
    if one.hypothesis.name != RIPPLE or sway is None:
        return ()
    heater = sites[0].atlas.heater
    span = NORMAL_95 * math.sqrt(6) / math.pi * sway.error / sway.amplitude / sites[0].seen.duration
    ends = (sway.frequency - span, sway.frequency + span)
    rate = Estimate("supply.ripple_frequency_hz", "frequency of the ripple", sway.frequency, *ends, "Hz", None, 1.0)
    reservoir = heater.supply.reservoir * (heater.supply.resistance + heater.supply.reservoir_resistance)
    if max(heater.quality / (math.pi * heater.frequency), reservoir) * sway.frequency > SLOW:
        return (rate,)
    volts = 2 * heater.supply.voltage
    error = math.hypot(NORMAL_95 * sway.error, PASSED_ON * sway.amplitude)
    size = (volts * sway.amplitude, volts * max(sway.amplitude - error, 0.0), volts * (sway.amplitude + error))
    return (Estimate("supply.ripple_v", "ripple of the supply, peak to peak", *size, "V", None, 1.0), rate)


SLOW = 0.03
"""Share of its period that passes while tank and reservoir settle, up to which a ripple is slow; an estimate."""

PASSED_ON = 0.03
"""By how much the tank's amplitude may sway more or less than a slow supply."""


def _beforehand(one: Fit) -> Array:
    """Variances of u and tolerances before the capture."""
    return np.concatenate([np.full(one.u.size, WIDTH**2), np.ones(len(one.covariance) - one.u.size)])


def _share_told(one: Fit, slopes: Array) -> float:
    before = float(np.sum(slopes**2 * _beforehand(one)))
    after = float(slopes @ one.covariance @ slopes)
    return max(0.0, 1 - math.sqrt(after / before)) if before > 0 else 0.0


def _own(one: Fit, k: int, parameter: Parameter) -> tuple[Estimate, Array]:
    slopes = np.zeros(len(one.covariance))
    slopes[k] = 1.0
    reach = NORMAL_95 * math.sqrt(float(one.covariance[k, k]))
    ends = sorted(parameter.value(float(one.u[k]) + sign * reach) for sign in (-1, 1))
    return Estimate(
        parameter.key,
        parameter.label,
        parameter.value(float(one.u[k])),
        ends[0],
        ends[1],
        parameter.unit,
        None,
        _share_told(one, slopes),
    ), slopes


def _moved(sites: Sequence[Site], one: Fit) -> list[tuple[int, float, Heater]]:
    """Heaters with one coordinate of the fit moved a little: place in the covariance, step, heater."""
    model = Model(sites, one.hypothesis)
    found = []
    for place in range(one.u.size + len(model.used)):
        if place < one.u.size:
            step = 1e-3 if one.u[place] < 0.5 else -1e-3
            u, tolerances = one.u.copy(), one.tolerances
            u[place] += step
        else:
            step, u, tolerances = 1e-2, one.u, one.tolerances.copy()
            tolerances[model.used[place - one.u.size]] += step
        found.append((place, step, heater_of(sites, replace(one, u=u, tolerances=tolerances), 0)))
    return found


def _derived(
    sites: Sequence[Site], one: Fit, quantity: Quantity, moved: Sequence[tuple[int, float, Heater]]
) -> tuple[Estimate, Array] | None:
    value = quantity.of(heater_of(sites, one, 0))
    if value is None or value <= 0:
        return None
    slopes = np.zeros(len(one.covariance))
    for place, step, heater in moved:
        there = quantity.of(heater)
        if there is None or there <= 0:
            return None
        slopes[place] = math.log(there / value) / step
    reach = NORMAL_95 * math.sqrt(float(slopes @ one.covariance @ slopes))
    estimate = Estimate(
        quantity.key,
        quantity.label,
        value,
        value * math.exp(-reach),
        value * math.exp(reach),
        quantity.unit,
        quantity.of(sites[0].atlas.heater),
        _share_told(one, slopes),
    )
    return estimate, slopes


def _probes(sites: Sequence[Site], one: Fit) -> list[tuple[Estimate, Array]]:
    """Gains of the probes."""
    model = Model(sites, one.hypothesis)
    found = []
    for k, (site, name) in enumerate(model.channels):
        slopes = np.zeros(len(one.covariance))
        slopes[one.u.size + len(model.used) + k * len(GOOD)] = GOOD["gain"]
        value = math.exp(float(one.tolerances[len(model.names) + k * len(GOOD)]) * GOOD["gain"])
        reach = NORMAL_95 * math.sqrt(float(slopes @ one.covariance @ slopes))
        where = f"{name}, capture {site + 1}" if len(sites) > 1 else name
        key = f"probe.{site + 1}.{name}.gain_ratio" if len(sites) > 1 else f"probe.{name}.gain_ratio"
        found.append(
            (
                Estimate(
                    key,
                    f"gain of the probe on {where}",
                    value,
                    value * math.exp(-reach),
                    value * math.exp(reach),
                    "ratio",
                    1.0,
                    _share_told(one, slopes),
                ),
                slopes,
            )
        )
    return found


def _tied(one: Fit, rows: Sequence[tuple[Estimate, Array]]) -> tuple[Tied, ...]:
    """Pairs of quantities that are not told well but strongly correlated, where the capture made them so."""
    names = [estimate.key for estimate, _ in rows if estimate.told < CLEAR]
    slopes = np.array([each for estimate, each in rows if estimate.told < CLEAR])
    if len(names) < 2:
        return ()
    covariance = slopes @ one.covariance @ slopes.T
    size = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(size, size)
    before = (slopes * _beforehand(one)) @ slopes.T
    grown = np.abs(correlation) - np.abs(before / np.sqrt(np.outer(np.diag(before), np.diag(before))))
    found = []
    for i in range(len(names)):
        for j in range(i):
            if abs(correlation[i, j]) > TIED and grown[i, j] > 0.2:
                found.append(Tied((names[j], names[i]), float(correlation[i, j])))
    return tuple(sorted(found, key=lambda tied: -abs(tied.correlation))[:4])
