# SPDX-License-Identifier: GPL-3.0-or-later
"""Results made by hand for the report: ideal-stage waveforms, invented findings of every grade, no simulator.

The parts and the netlist are real (from a demo scenario); numbers are chosen so that each can be told from the others.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np

from heatsim.engine import Attempt, Rung
from heatsim.netlist.generate import make_deck
from heatsim.physics.stage import choke_flux_waveform
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, CheckResult
from heatsim.verdict.finding import Finding
from heatsim.waves import Waveforms

SCENARIO = Path(__file__).resolve().parents[3] / "scenarios" / "bench-heater.toml"
VOLTAGE, FREQUENCY, MEAN = 42.0, 80e3, 13.0
HOSTILE = "<script>alert(1)</script>\n\"quoted\" & 'more' \x1b[31m{{ 7*7 }}"

FINDINGS = (
    Finding(
        "choke.left",
        "inductance left at the peak",
        0.31,
        0.5,
        "ratio",
        -0.38,
        "fails",
        "memory",
        "Its current swings too far.",
        "Put 3 of these rings under the same turns.",
    ),
    Finding(
        "choke.right",
        "inductance left at the peak",
        0.305,
        0.5,
        "ratio",
        -0.39,
        "fails",
        "memory",
        "Its current swings too far, right.",
        "Put 3 of these rings under the same turns, right.",
    ),
    Finding(
        "supply",
        "mean current",
        33.0,
        35.0,
        "A",
        0.057,
        "marginal",
        "rating",
        "The load draws much.",
        "Keep the supply at or below 39.5 V.",
    ),
    Finding(
        "capacitors",
        "peak voltage",
        131.0,
        None,
        "V",
        None,
        "unknown",
        "rating",
        "Cannot be judged: the rating is not given.",
        "Give the capacitor's voltage rating.",
    ),
    Finding("gate.left", "lowest gate voltage", -0.7, -20.0, "V", 0.965, "holds", "rating"),
    Finding("gate.right", "lowest gate voltage", -8.2, -20.0, "V", 0.59, "holds", "rating"),
    Finding("choke.left", "current density in the copper, rms", 3.4e6, 6e6, "A/m2", 0.433, "holds", "builder"),
    Finding("oscillator", "starts and settles", None, None, "", None, "holds", "estimate"),
)


def waveforms(periods=160, per_period=160, growth=60.0, signals=None):
    """An ideal stage that comes up: tank, drains, gates, chokes, banks, supply; `growth`: time constant in periods."""
    time = np.linspace(0, periods / FREQUENCY, periods * per_period + 1)
    rise = 1 - np.exp(-time * FREQUENCY / (growth / 5))
    tank = np.pi * VOLTAGE * rise * np.sin(2 * np.pi * FREQUENCY * time)
    made = {"tank.voltage": tank, "bus.voltage": VOLTAGE * rise, "supply.current": 26.0 * rise + 3.0 * np.sin(40 * time)}
    ripple = choke_flux_waveform(VOLTAGE, FREQUENCY, time) / 60e-6
    shifted = choke_flux_waveform(VOLTAGE, FREQUENCY, time + 0.5 / FREQUENCY) / 60e-6
    for side, sign, swing in (("left", 1, ripple), ("right", -1, shifted)):
        on = sign * tank <= 0
        made |= {
            f"drain.{side}.voltage": np.maximum(sign * tank, 0),
            f"gate.{side}.voltage": np.where(on, 13.8, -0.7),
            f"choke.{side}.current": rise * (MEAN + swing),
            f"switch.{side}.current": np.where(on, 26.0 * rise, 0.0),
        }
    if signals is not None:
        made = {name: samples for name, samples in made.items() if name in signals}
    units = {name: "A" if name.endswith("current") else "V" for name in made}
    return Waveforms(time, made, units, "made for a test")


MEASURES = {
    "tank.frequency_hz": FREQUENCY,
    "tank.peak_voltage_v": 131.9,
    "tank.rms_voltage_v": 93.3,
    "tank.thd_ratio": 0.0173,
    "tank.harmonic_ratios": [1.0, 2e-4, 0.0164, 1e-4, 0.0047, 1e-6, 0.0021] + [1e-5] * 33,
    "tank.crest_ratio": 1.414,
    "coil.rms_current_a": 99.7,
    "drain.left.peak_voltage_v": 130.1,
    "drain.right.peak_voltage_v": 130.4,
    "choke.left.peak_current_a": 15.81,
    "choke.right.peak_current_a": 15.92,
    "choke.left.mean_current_a": 13.0,
    "choke.left.temperature_c": 71.0,
    "choke.right.temperature_c": 72.5,
    "choke.left.warm_up_c": [25.0 + 46.0 * (1 - 0.5 ** (5 * 2 ** (k / 2) / 300)) for k in range(24)],
    "choke.right.warm_up_c": [25.0 + 47.5 * (1 - 0.5 ** (5 * 2 ** (k / 2) / 300)) for k in range(24)],
    "choke.left.inductance_zero_h": 65.5e-6,
    "choke.left.inductance_remaining_ratio": 0.31,
    "choke.right.inductance_remaining_ratio": 0.305,
    "choke.left.flux_swing_wb": 289e-6,
    "choke.left.current_density_a_per_m2": 3.4e6,
    "gate.left.ringing_frequency_hz": None,
    "supply.mean_current_a": 26.4,
    "supply.power_w": 1108.8,
    "gate_supply.power_w": 3.0,
    "workpiece.power_w": 930.0,
    "loss.coil_w": 140.0,
    "loss.switch.left_w": 9.0,
    "loss.switch.right_w": 10.0,
    "loss.choke.left.copper_w": 6.4,
    "loss.choke.right.copper_w": 6.4,
    "loss.supply_w": 9.9,
    "energy.imbalance_ratio": 9e-5,
    "energy.stored_change_w": 1e-3,
    "startup.outcome": "settled",
    "startup.time_s": 0.42e-3,
    "startup.overshoot_ratio": 0.03,
}


def case(name="loaded", **changes):
    """A settled case with everything there; `changes` to its fields."""
    heater = Scenario.from_file(SCENARIO).heater("idle" if name == "idle" else "loaded")
    waves = waveforms()
    stop = float(waves.time[-1])
    whole = CaseResult(
        name,
        "settled",
        "",
        dict(MEASURES),
        FINDINGS,
        heater,
        make_deck(heater, f"made, {name}"),
        waves,
        (stop - 20 / FREQUENCY, stop),
        (Attempt(Rung("as given"), "settled", "", 1.2, stop),),
        1.3,
    )
    return replace(whole, **changes)


def failed(name, outcome, waves=None):
    """A case that came to nothing: measures None, one finding, perhaps some waveforms."""
    finding = Finding(
        "oscillator",
        "starts and settles",
        None,
        None,
        "",
        None,
        "fails" if outcome in ("dead", "latched") else "unknown",
        "estimate",
        f"It is {outcome}.",
        "Do better.",
    )
    attempts = (
        Attempt(Rung("as given"), outcome, "timestep too small <here>", 0.4, 1.1e-3),
        Attempt(Rung("half the step"), outcome, "again", 0.9, 1.3e-3),
    )
    measures = dict.fromkeys(MEASURES) | {"startup.outcome": outcome}
    return case(
        name,
        outcome=outcome,
        outcome_detail="the time step fell below 1 as",
        measures=measures,
        findings=(finding,),
        waveforms=waves,
        window=None,
        attempts=attempts,
    )


def result(*cases, name=None):
    """A check of these cases, by default idle (all holding) and loaded (every grade)."""
    scenario = Scenario.from_file(SCENARIO)
    if name is not None:  # past the file's own rules, which let no such name in
        heater = scenario.tables.heater.model_copy(update={"name": name})
        scenario = replace(scenario, tables=scenario.tables.model_copy(update={"heater": heater}))
    holding = case("idle", findings=tuple(f for f in FINDINGS if f.grade == "holds"))
    return CheckResult(scenario, cases or (holding, case()), "0.1.0", "ngspice-39", 2.5)
