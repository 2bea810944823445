# SPDX-License-Identifier: GPL-3.0-or-later
"""The quick estimate of a choke against the ideal stage's closed forms and against full simulations."""

import numpy as np
import pytest

import heatsim as hs
from heatsim.parts.choke import Choke
from heatsim.parts.curves import LinearCurve
from heatsim.studies.wind import Duty, duty_of, estimate
from tests.support.book import CLOSED, known
from tests.support.once import checked

# Reference file, section 8: flux swing 0.551101965822*Vdc/f with two chokes, 0.105256831177*Vdc/f with one; rms of the
# alternating flux 1.135723617*Vdc/w and 0.236997012*Vdc/w.
LAWS = [(False, 0.551101965822, 1.135723617), (True, 0.105256831177, 0.236997012)]


def linear(side):
    return Choke(side, LinearCurve(100e-6, 1e-6), 0.01, 0.0, 60.0, 4e-6, None, "unknown")


@pytest.mark.parametrize(("centre", "swing", "rms"), LAWS)
def test_a_linear_choke_has_the_closed_forms(centre, swing, rms):
    duty = Duty(24.0, 100e3, 6.0, centre, 25.0)
    found = estimate(linear("centre" if centre else "left"), duty)
    kind = "centre choke" if centre else "one of two chokes"
    assert found.flux_swing == known(swing * 24 / 100e3, f"{kind}: flux swing", "ideal stage", CLOSED, unit="Wb", rel=1e-4)
    assert found.ripple_current == pytest.approx(swing * 24 / 100e3 / 100e-6, rel=1e-4)
    alternating = rms * 24 / (2 * np.pi * 100e3) / 100e-6
    wanted = np.hypot(6.0, alternating)
    assert found.rms_current == known(wanted, f"{kind}: rms current", "ideal stage", CLOSED, unit="A", rel=1e-4)
    assert found.remaining == 1.0 and found.core_loss is None and found.temperature is None


def test_the_duty_is_the_ideal_stages(checkout):
    heater = hs.load(checkout / "scenarios" / "bench-heater.toml").heater("loaded")
    duty = duty_of(heater)
    across = heater.loaded_inductance / (heater.capacitors.capacitance * heater.loaded_resistance)
    assert duty.mean_current == pytest.approx(np.pi**2 * 42 / (2 * across) / 2)


@pytest.mark.ngspice
@pytest.mark.parametrize("name", ["bench-heater", "bench-heater-small-rings"])
def test_the_estimate_is_near_a_full_simulation(checkout, name):
    # what the estimate leaves out lowers the current a little: supply sag, drops, commutation
    scenario = hs.load(checkout / "scenarios" / f"{name}.toml")
    heater = scenario.heater("loaded")
    quick = estimate(heater.chokes[0], duty_of(heater))
    full = checked(scenario)["loaded"].measures
    assert quick.peak_current == pytest.approx(full["choke.left.peak_current_a"], rel=0.1)
    assert quick.ripple_current == pytest.approx(full["choke.left.ripple_current_a"], rel=0.1)
    assert quick.flux_swing == pytest.approx(full["choke.left.flux_swing_wb"], rel=0.05)
    assert quick.core_loss == pytest.approx(full["choke.left.core_loss_w"], rel=0.1)
    assert quick.remaining <= full["choke.left.inductance_remaining_ratio"] + 0.01
