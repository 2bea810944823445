# SPDX-License-Identifier: GPL-3.0-or-later
"""MOSFETs that are not heatsim's: they meet the datasheet they are drawn about, and differ from heatsim's."""

from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from heatsim.scenario.scenario import Scenario
from tests.support.captures import switches
from tests.support.captures.make import make_capture

SCENARIO = Scenario.from_file(Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater.toml")
HEATER = SCENARIO.heater("loaded")
BANKS = {law: switches.foreign(law, np.random.default_rng(0))(HEATER, "left") for law in switches.LAWS}


@pytest.mark.parametrize("law", switches.LAWS)
def test_reverse_capacitance_and_charge_are_the_datasheets(law: str) -> None:
    """60 pF at 25 V a device, and 24 nC while the drain falls from 100 V to 0.64 V with the gate on 3.6 V + 80 A/70 S."""
    switch, miller, at = HEATER.switch, BANKS[law].miller, 3.6 + 80 / 70
    assert miller(-25.0) == pytest.approx(switch.count * switch.reverse_capacitance, rel=0.05)
    charge, _ = quad(lambda v: miller(-v), 0.64 - at, 100 - at, limit=200)
    assert charge == pytest.approx(switch.count * switch.gate_drain_charge, rel=0.03)
    volts = np.linspace(-150, 15, 400)
    assert np.all(np.diff([miller(v) for v in volts]) >= 0)


@pytest.mark.parametrize("law", switches.LAWS)
def test_on_resistance_is_within_its_spread_and_the_channel_is_odd_and_steady(law: str) -> None:
    switch, channel = HEATER.switch, BANKS[law].channel
    over = switch.on_gate_voltage - switch.threshold
    resistance = 0.01 / channel(over, 0.01)
    assert 0.85 <= resistance / (switch.on_resistance / switch.count) <= 1.16
    assert channel(over, 0.0) == pytest.approx(0.0, abs=1e-12)
    assert channel(over, 1e-4) == pytest.approx(-channel(over - 1e-4, -1e-4), rel=1e-3)
    currents = [channel(x, 20.0) for x in np.linspace(-1, 8, 200)]
    assert np.all(np.diff(currents) >= 0) and currents[0] < 1e-3


def test_draws_differ_by_seed_and_a_capture_says_whose_switches_it_has() -> None:
    one, two = (switches.foreign("junction", np.random.default_rng(seed))(HEATER, "left") for seed in (1, 2))
    assert one.gate_source != two.gate_source
    assert one.gate_source == switches.foreign("plateau", np.random.default_rng(1))(HEATER, "left").gate_source


@pytest.mark.slow
def test_a_sound_heater_of_other_switches_is_nearly_the_same_and_not_quite() -> None:
    """The tank's peak within 2 %; the drain's lines differ by more than the noise of a converter."""
    own, other = (make_capture(SCENARIO, "loaded", "nothing wrong", 4, switches=law) for law in ("own", "junction"))
    peaks = [float(np.ptp(each.period["tank.voltage"])) for each in (own, other)]
    assert peaks[0] == pytest.approx(peaks[1], rel=0.02)
    assert abs(peaks[0] / peaks[1] - 1) > 1e-5
