# SPDX-License-Identifier: GPL-3.0-or-later
"""Which channel of a capture is which signal, told by its shape, and what its probe seems to have done.

The tank alternates about zero and peaks near pi times the supply; a drain is one half of that and rests near zero in the other; a
gate stays within its clamp. tank.voltage = drain.left.voltage - drain.right.voltage, so the left drain is up while the tank is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from heatsim.errors import InputError, known_names
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.probes import FACTORS
from heatsim.waves import Array
from heatsim.waves.capture import Capture

SIGNALS = (
    "tank.voltage",
    *(f"{part}.{side}.voltage" for part in ("drain", "gate") for side in ("left", "right")),
    "coil.current",
    "capacitor.current",
    "supply.current",
    *(f"choke.{side}.current" for side in ("left", "right", "centre")),
)
"""What a channel may be."""

GATE_REACH = 1.6
"""A channel that stays below this many times the gates' clamp may be a gate's, where the tank swings far more."""

CENTRED = 0.25
"""Mean over peak up to which a wave counts as alternating about zero."""


def assign(capture: Capture, scenario: Scenario, case: str, stated: Mapping[str, str]) -> tuple[dict[str, str], tuple[str, ...]]:
    """Channel -> signal, and notes on what was guessed. stated: by the caller, by name or number; then nothing is guessed. Raises
    InputError for channels and signals that do not exist, and when no channel is left to be matched."""
    heater = scenario.heater(case)
    found: dict[str, str] = {}
    for key, signal in stated.items():
        if signal not in SIGNALS:
            raise InputError.single(capture.label, "has no such signal", signal, known_names(signal, SIGNALS))
        found[capture[key].name] = signal
    if stated:
        return found, ()
    notes = [
        f"{channel.name} is in amperes: left out; state --signal to have it measured"
        for channel in capture.channels
        if channel.unit == "A"
    ]
    volts = [channel for channel in capture.channels if channel.unit != "A"]
    centred = [channel for channel in volts if abs(float(np.mean(channel.samples))) < CENTRED * float(np.ptp(channel.samples)) / 2]
    tank: Array | None = None
    if centred:
        widest = max(centred, key=lambda channel: float(np.ptp(channel.samples)))
        tank, found[widest.name] = widest.samples, "tank.voltage"
        notes.append(f"{widest.name} alternates about zero: taken for the tank voltage")
        notes += [
            f"{channel.name} alternates about zero too, as a current does or a drain without its mean: left out; state "
            f"--signal {channel.name}=SIGNAL to use it"
            for channel in centred
            if channel is not widest
        ]
    for channel in volts:
        if channel not in centred:
            _one_sided(channel.name, channel.samples, tank, GATE_REACH * heater.gate.clamp_voltage, found, notes)
    if not found:
        raise InputError.single(
            capture.label,
            "has no channel that looks like a tank or drain voltage",
            allowed="--signal CHANNEL=SIGNAL, such as --signal CH1=tank.voltage",
        )
    return found, tuple(notes)


def _one_sided(name: str, samples: Array, tank: Array | None, gate: float, found: dict[str, str], notes: list[str]) -> None:
    """A drain, or nothing that is compared."""
    if float(np.max(np.abs(samples))) < gate and tank is not None and np.ptp(tank) > 4 * gate:
        notes.append(f"{name} stays within what a gate sees: left out; state --signal {name}=gate.left.voltage to use it")
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


def looks(capture: Capture, signals: Mapping[str, str], scenario: Scenario, case: str, supply: float) -> tuple[str, ...]:
    """Notes on probes: an amplitude that is off by a usual factor, a drain the other way round. supply: voltage [V] stated."""
    said = list(capture.contradictions(signals))
    for name, signal in signals.items():
        if signal == "tank.voltage" or signal.startswith("drain"):
            peak = float(np.max(np.abs(capture[name].samples)))
            ratio = peak / (math.pi * supply)
            near = min(FACTORS, key=lambda factor: abs(math.log(ratio / factor)))
            if abs(math.log(ratio / near)) < 0.15 and abs(math.log(ratio)) > 0.5:
                way = f"{ratio:.3g} times more" if ratio > 1 else f"{1 / ratio:.3g} times less"
                said.append(f"{name} reads {way} than the scenario leads to expect: is the probe's factor set?")
    return tuple(said)
