# SPDX-License-Identifier: GPL-3.0-or-later
"""The way out of saturation on curves whose answer is known."""

import numpy as np
import pytest

import heatsim as hs
from heatsim.parts.choke import Choke
from heatsim.parts.curves import GappedCurve, LinearCurve, soft_curve
from heatsim.studies.check.limits.saturation import Excursion, saturation_remedy, stack_needed, supply_scale


def choke(curve):
    return Choke("left", curve, 0.01, 0.0, 60.0, 4e-6, None, "memory")


def test_the_supply_scale_is_where_the_wanted_share_is_left():
    """No swing: the peak is the mean, and a soft curve without air core has 1/(1+(i/ih)^c) left."""
    curve, at = soft_curve(80e-6, 1e-9, 20.0, 2.0), Excursion(40.0, 0.0)
    scale = supply_scale(curve, at, 0.6)
    assert scale * 40.0 == pytest.approx(20.0 * np.sqrt(1 / 0.6 - 1), rel=2e-3)
    assert at.remaining(curve, scale) == pytest.approx(0.6, abs=1e-6)


def test_a_supply_that_need_not_be_lowered_is_kept_and_one_that_cannot_be_is_not_named():
    curve = soft_curve(80e-6, 1e-9, 20.0, 2.0)
    assert supply_scale(curve, Excursion(5.0, 0.0), 0.6) == 1.0
    assert supply_scale(curve, Excursion(4000.0, 0.0), 0.6) is None
    assert supply_scale(LinearCurve(80e-6, 1e-6), Excursion(40.0, 1e-3), 0.6) == 1.0


def test_swing_and_mean_both_go_with_the_supply():
    curve = GappedCurve(80e-6, 2e-6, 1e-3, 0.1e-3)
    at = Excursion(6.0, 0.7e-3)
    scale = supply_scale(curve, at, 0.5)
    peak = float(curve.current(float(curve.flux(6.0 * scale)) + 0.7e-3 * scale))
    assert curve.inductance(peak) == pytest.approx(0.5 * 80e-6, rel=1e-6)


def test_a_stack_is_the_smallest_that_is_enough(checkout):
    made = hs.load(checkout / "scenarios" / "bench-heater-small-rings.toml").heater("loaded").chokes[0]
    at = Excursion(12.0, 0.1e-3)
    counts = [stack_needed(made, at, share) for share in (0.3, 0.45, 0.6, 0.99)]
    assert counts[-1] is None and counts[0] == 2
    assert [count for count in counts if count] == sorted(count for count in counts if count)
    assert stack_needed(choke(made.curve), at, 0.3) is None


@pytest.mark.parametrize(
    ("curve", "words"),
    [
        (GappedCurve(80e-6, 2e-6, 1e-5, 0.1e-5), "Take larger rings of lower permeability, or more gap."),
        (soft_curve(80e-6, 1e-6, 0.05, 2.0), "Take larger rings; four of these under the same turns are still not enough."),
    ],
)
def test_where_neither_helps_the_remedy_says_so(curve, words):
    assert saturation_remedy(choke(curve), 20.0, 40.0, 0.5, 42.0) == words


def test_the_remedy_names_the_voltage_rounded_down_to_half_a_volt():
    remedy = saturation_remedy(choke(soft_curve(80e-6, 1e-9, 20.0, 2.0)), 40.0, 40.0, 0.5, 42.0)
    scale = np.sqrt(1 / (0.5 * 1.04) - 1) * 20.0 / 40.0
    assert remedy == f"Keep the supply at or below {np.floor(scale * 42 * 2) / 2:g} V (estimated)."
