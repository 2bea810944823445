# SPDX-License-Identifier: GPL-3.0-or-later
"""Pull-ups that hang on the main supply, by ngspice on heatsim's deck and by SciPy on equations written by hand.

Allowed: 0.2 % of frequency, 1 % of the gates' highest voltage, 0.15 V of their lowest, 2 % of the pull-ups' heat and 3 % of the
clamps', whose current falls by the difference of two large voltages.
"""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.engine import run_deck
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck, judge_run
from tests.support.book import INDEPENDENT, Known, known
from tests.support.independent.circuits import FOLDER
from tests.support.independent.solve import Integrator, Period, periodic

MAIN = {"gate.supply": "main", "gate.pull_up": "220 ohm"}


def mean(period: Period, samples: np.ndarray) -> float:
    """Over the period."""
    return float(np.trapezoid(samples, period.time) / period.time[-1])


def by_scipy(value: float, what: str, unit: str, **tolerance: float) -> Known:
    """A number of the other leg."""
    return known(value, f"pull-ups on the main supply: {what}", "equations by hand, SciPy", INDEPENDENT, unit=unit, **tolerance)


def heat(heater: Heater, period: Period, side: str) -> tuple[float, float]:
    """Of pull-up and clamp [W]: (V - k)^2/R with the supply's mean V, and k i(k) of a breakdown that carries 5 mA at the clamp's
    voltage and e times as much 25.9 mV above (Shockley), both by hand."""
    k = period.signals[f"gate_drive.{side}.voltage"]
    bus = heater.supply.voltage - heater.supply.resistance * mean(period, period.signals["supply.current"])
    clamp = np.where(k > heater.gate.clamp_voltage - 0.5, 5e-3 * np.exp((k - heater.gate.clamp_voltage) / 0.0259), 0.0)
    return mean(period, (bus - k) ** 2) / heater.gate.pull_up, mean(period, k * clamp)


@pytest.mark.slow
def test_pull_ups_on_the_main_supply_agree_with_equations_written_by_hand() -> None:
    scenario = Scenario.from_file(FOLDER / "bench-heater.toml").change(MAIN)
    heater = scenario.heater("loaded")
    run = run_deck(case_deck(scenario, "loaded"))
    measures = judge_run(scenario, "loaded", heater, run).measures
    period = periodic(Integrator(heater))
    assert measures["tank.frequency_hz"] == by_scipy(period.frequency, "frequency", "Hz", rel=2e-3)
    for side in ("left", "right"):
        gate = period.signals[f"gate.{side}.voltage"]
        assert measures[f"gate.{side}.max_voltage_v"] == by_scipy(gate.max(), f"highest gate voltage, {side}", "V", rel=0.01)
        assert measures[f"gate.{side}.min_voltage_v"] == by_scipy(gate.min(), f"lowest gate voltage, {side}", "V", abs=0.15)
        pull_up, clamp = heat(heater, period, side)
        assert measures[f"gate.{side}.pull_up_loss_w"] == by_scipy(pull_up, f"heat of the pull-up, {side}", "W", rel=0.02)
        assert measures[f"gate.{side}.clamp_loss_w"] == by_scipy(clamp, f"heat of the clamp, {side}", "W", rel=0.03)
