# SPDX-License-Identifier: GPL-3.0-or-later
"""A piece moved out of the bench heater and into it, made up for tests of words, pictures and pages: every number is invented."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from heatsim.scenario.scenario import Scenario
from heatsim.studies.heat.pull import Moved, PullResult
from heatsim.studies.heat.pull.measures import findings
from heatsim.verdict import Finding
from heatsim.waves import Waveforms

SCENARIO = Path(__file__).resolve().parents[3] / "scenarios" / "bench-heater.toml"
FREQUENCY, AT, DRAIN, CALM = 90e3, 3e-3, 210.0, 131.0
"""Of the tank [Hz]; of the step [s]; highest drain voltage with the step, and slowly [V]; the rating is 200 V."""


@cache
def scenario() -> Scenario:
    """The bench heater, its workpiece measured."""
    return Scenario.from_file(SCENARIO).change({"supply.current_rating": "60 A"})


def waves(highest: float) -> Waveforms:
    """Two periods before the step to 1.5 ms after it: a swing of 120 V whose drains come to `highest` [V] just after it."""
    time = np.linspace(AT - 2 / FREQUENCY, AT + 1.5e-3, 6000)
    after = np.clip(time - AT, 0.0, None)
    swing = (120.0 + (highest - 120.0) * after / 60e-6 * np.exp(1 - after / 60e-6)) * np.sin(2 * np.pi * FREQUENCY * time)
    signals = {
        "tank.voltage": swing,
        "drain.left.voltage": np.clip(swing, 0.0, None),
        "drain.right.voltage": np.clip(-swing, 0.0, None),
        "coil.current": -1.3 * np.roll(swing, 17),
        "supply.current": 4.0 + 22.0 * np.exp(-after / 2e-4),
    }
    return Waveforms(time, signals, dict.fromkeys(signals, ""), "made up")


def measures(highest: float) -> dict[str, float | None]:
    """Everything that is measured of a movement."""
    found: dict[str, float | None] = {
        "capacitor.peak_voltage_v": highest,
        "supply.max_current_a": 26.0,
        "supply.min_current_a": -8.0,
    }
    for side in ("left", "right"):
        found |= {f"drain.{side}.peak_voltage_v": highest - (side == "right"), f"switch.{side}.peak_current_a": 20.0}
        found |= {f"gate.{side}.max_voltage_v": 14.0, f"gate.{side}.min_voltage_v": -1.0}
        found |= {f"choke.{side}.peak_current_a": 16.0, f"choke.{side}.inductance_remaining_ratio": 0.8}
    found |= {"coil.peak_current_a": 270.0, "step.time_s": AT, "settling.time_s": 0.6e-3}
    for when, current in (("before", 26.0), ("after", 3.6)):
        found |= {f"{when}.tank.frequency_hz": FREQUENCY, f"{when}.tank.peak_voltage_v": 131.0}
        found |= {f"{when}.supply.mean_current_a": current}
    return found


def way(leaves: bool, highest: float, slower: Moved | None = None, duration: float = 1.1e-6) -> Moved:
    """One direction, judged; it runs on."""
    own = scenario().case("loaded")
    runs = Finding("oscillator", "keeps running when it moves", None, None, "", None, "holds", "estimate")
    judged = (runs, *findings(own, own.heater("loaded"), leaves, measures(highest)))
    return Moved(leaves, duration, 4, "runs on", "", measures(highest), judged, waves(highest), slower)


@cache
def result() -> PullResult:
    """The step out is too much for the drains and holds in 10 ms; the way in holds."""
    leaves = way(True, DRAIN, way(True, CALM, duration=10e-3))
    return PullResult(scenario(), "loaded", leaves, way(False, CALM), "0.1.0", "ngspice-39", 71.0)


def unsimulated() -> PullResult:
    """A heater that does not start."""
    cause = "From rest with the workpiece the heater comes to no steady state: no oscillation."
    judged = (Finding("oscillator", "keeps running when it moves", None, None, "", None, "unknown", "estimate", cause),)
    none = [Moved(leaves, 1.1e-6, 0, "not simulated", cause, {}, judged) for leaves in (True, False)]
    return replace(result(), leaves=none[0], enters=none[1])
