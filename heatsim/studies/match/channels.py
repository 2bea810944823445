# SPDX-License-Identifier: GPL-3.0-or-later
"""What the channels of a capture are, told apart by their shape.

The tank alternates about zero and peaks near pi times the supply; a drain is one half of that and rests near zero in the other; a
gate stays within its clamp. tank.voltage = drain.left.voltage - drain.right.voltage, so the left drain is up while the tank is, and
the left gate while it is not. L di/dt = V - v(drain): the ripple of the left choke's current goes against the integral of the tank.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from heatsim.errors import InputError, known_names
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.probes import FACTORS
from heatsim.waves import Array
from heatsim.waves.capture import Capture

VOLTAGES = ("tank", "drain.left", "drain.right", "gate.left", "gate.right")
CURRENTS = ("choke.left", "choke.right", "choke.centre", "coil", "capacitor", "supply")
SIGNALS = (*(f"{part}.voltage" for part in VOLTAGES), *(f"{part}.current" for part in CURRENTS))
"""What a channel may be."""

GATE_REACH = 1.6
"""A channel that stays below this many times the gates' clamp may be a gate's, where the tank swings far more."""

GATE_SWING, ALONG = 0.5, 0.5
"""Swing of a gate over its supply or clamp at least, and correlation with the tank or its integral from which a channel goes along
with it: a gate's and a choke's are 0.85 to 0.98, a supply's current, whose ripple has twice the frequency, has next to none."""

CENTRED = 0.25
"""Mean over peak up to which a wave counts as alternating about zero."""


def assign(capture: Capture, scenario: Scenario, case: str, stated: Mapping[str, str]) -> tuple[dict[str, str], tuple[str, ...]]:
    """Channel -> signal, and notes on what was guessed.

    stated: by the caller, by name or number; then nothing is guessed
    Raises InputError for channels and signals that do not exist, and when no channel is left to be matched.
    """
    for signal in stated.values():
        if signal not in SIGNALS:
            raise InputError.single(capture.label, "has no such signal", signal, known_names(signal, SIGNALS))
    if stated:
        return {capture[key].name: signal for key, signal in stated.items()}, ()
    every = {channel.name: channel.samples for channel in capture.channels if channel.unit != "A"}
    notes: list[str] = []
    centred = {name: x for name, x in every.items() if abs(float(np.mean(x))) < CENTRED * float(np.ptp(x)) / 2}
    found: dict[str, str] = {}
    tank: Array | None = None
    if centred:
        widest = max(centred, key=lambda name: float(np.ptp(centred[name])))
        tank, found[widest] = centred[widest], "tank.voltage"
        notes.append(f"{widest} alternates about zero: taken for the tank voltage")
        notes += [
            f"{name} alternates about zero too, as a current does or a drain without its mean: left out; state "
            f"--signal {name}=SIGNAL to use it"
            for name in centred
            if name != widest
        ]
    heater = scenario.heater(case)
    for name in (name for name in every if name not in centred):
        _one_sided(name, every[name], tank, heater, found, notes)
    for channel in capture.channels:
        if channel.unit == "A":
            _current(channel.name, channel.samples, tank, heater, found, notes)
    if not found:
        what = "has no channel that looks like a tank or drain voltage"
        raise InputError.single(capture.label, what, allowed="--signal CHANNEL=SIGNAL, such as --signal CH1=tank.voltage")
    return found, tuple(notes)


def _one_sided(name: str, samples: Array, tank: Array | None, heater: Heater, found: dict[str, str], notes: list[str]) -> None:
    """A drain, a gate, or nothing that is compared."""
    gate = GATE_REACH * heater.gate.clamp_voltage
    if float(np.max(np.abs(samples))) < gate and tank is not None and np.ptp(tank) > 4 * gate:
        _gate(name, samples, tank, heater, found, notes)
        return
    upright = samples if np.mean(samples) >= np.median(samples) else -samples
    side = "left" if tank is None or float(np.dot(upright - np.mean(upright), tank)) >= 0 else "right"
    signal = f"drain.{side}.voltage"
    if signal in found.values():
        notes.append(f"{name} looks like a second {side} drain: left out")
        return
    found[name] = signal
    sure = "rises with the tank" if side == "left" else "rises against the tank"
    notes.append(
        f"{name} stands on one side of zero and {sure}: taken for the {side} drain"
        if tank is not None
        else f"{name} stands on one side of zero: taken for the left drain; which side it is cannot be told without the tank"
    )


def _gate(name: str, samples: Array, tank: Array, heater: Heater, found: dict[str, str], notes: list[str]) -> None:
    """A gate: it goes most of the way to its supply or clamp and back, against the tank on the left and with it on the right."""
    high = min(heater.gate.clamp_voltage, heater.gate.supply_voltage)
    along = _correlation(samples, tank)
    signal = f"gate.{'left' if along < 0 else 'right'}.voltage"
    if np.ptp(samples) < GATE_SWING * high or abs(along) < ALONG or signal in found.values():
        notes.append(f"{name} stays within what a gate sees: left out; state --signal {name}=gate.left.voltage to use it")
        return
    found[name] = signal
    notes.append(
        f"{name} goes up and down as a gate, {'against' if along < 0 else 'with'} the tank: taken for the {_side(signal)} gate"
    )


def _current(name: str, samples: Array, tank: Array | None, heater: Heater, found: dict[str, str], notes: list[str]) -> None:
    """The current of one of two chokes, or nothing that is told by its shape."""
    along = 0.0 if tank is None else _correlation(samples, _integral(tank))
    signal = f"choke.{'left' if along < 0 else 'right'}.current"
    uncentred = float(np.mean(samples)) > CENTRED * float(np.ptp(samples)) / 2
    if len(heater.chokes) < 2 or abs(along) < ALONG or not uncentred or signal in found.values():
        notes.append(f"{name} is in amperes: left out; state --signal, such as {name}=choke.left.current, to use it")
        return
    found[name] = signal
    way = "falls" if along < 0 else "rises"
    notes.append(f"{name} is a direct current that {way} while the tank is positive: taken for that of the {_side(signal)} choke")


def _side(signal: str) -> str:
    return signal.split(".")[1]


def _correlation(one: Array, other: Array) -> float:
    """Of two records, -1 to 1."""
    a, b = one - np.mean(one), other - np.mean(other)
    size = math.sqrt(float(np.dot(a, a)) * float(np.dot(b, b)))
    return float(np.dot(a, b)) / size if size else 0.0


def _integral(samples: Array) -> Array:
    """Of a record's alternating part over its instants, without its trend."""
    total = np.cumsum(samples - np.mean(samples))
    at = np.arange(total.size) - (total.size - 1) / 2
    return np.asarray(total - at * float(np.dot(at, total) / np.dot(at, at)))


def looks(capture: Capture, signals: Mapping[str, str], supply: float) -> tuple[str, ...]:
    """Notes on probes: an amplitude that is off by a usual factor, a drain the other way round. supply: voltage [V] stated."""
    said = list(capture.contradictions(signals))
    for name, signal in signals.items():
        if signal == "tank.voltage" or signal.startswith("drain"):
            ratio = float(np.max(np.abs(capture[name].samples))) / (math.pi * supply)
            near = min(FACTORS, key=lambda factor: abs(math.log(ratio / factor)))
            if abs(math.log(ratio / near)) < 0.15 and abs(math.log(ratio)) > 0.5:
                way = f"{ratio:.3g} times more" if ratio > 1 else f"{1 / ratio:.3g} times less"
                said.append(f"{name} reads {way} than the scenario leads to expect: is the probe's factor set?")
    return tuple(said)
