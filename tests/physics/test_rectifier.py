# SPDX-License-Identifier: GPL-3.0-or-later
"""The rectifier against its closed forms, written out here from Kirchhoff's laws."""

import math

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from heatsim.errors import InputError
from heatsim.physics.rectifier import full_wave, ripple_transfer
from tests.support.book import CLOSED, known

PEAK, MAINS = 30.0, 50.0


def closed_form(capacitance, conductance):
    """Ripple and mean without any resistance: on the sine until C dv/dt + G v = 0, then exp(-t G/C) to the next half sine."""
    w, tau = 2 * math.pi * MAINS, capacitance / conductance
    leaves = math.pi - math.atan(w * tau)

    def left(angle):
        return PEAK * math.sin(leaves) * math.exp(-(angle - leaves) / (w * tau))

    meets = brentq(lambda angle: left(angle) + PEAK * math.sin(angle), math.pi, 1.5 * math.pi)
    falling = quad(left, leaves, meets)[0]
    on_sine = PEAK * (math.cos(meets - math.pi) - math.cos(leaves))
    return PEAK - left(meets), (falling + on_sine) / math.pi


@pytest.mark.parametrize(("capacitance", "conductance"), [(10e-3, 0.3), (4.7e-3, 0.4), (22e-3, 0.1)])
def test_without_resistance_ripple_and_mean_are_those_of_the_closed_form(capacitance, conductance):
    found = full_wave(PEAK, MAINS, 1e-5, 0.0, capacitance, 1e-6, conductance)
    ripple, mean = closed_form(capacitance, conductance)
    what = f"bridge with {1e3 * capacitance:g} mF and {conductance} S, no resistance"
    assert found.ripple == known(ripple, f"{what}: ripple", "closed form of the decay", CLOSED, unit="V", rel=3e-3)
    assert found.mean == known(mean, f"{what}: mean", "closed form of the decay", CLOSED, unit="V", rel=1e-3)


def test_a_small_ripple_is_the_current_over_twice_the_frequency_and_the_capacitance():
    found = full_wave(PEAK, MAINS, 1e-5, 0.0, 0.3, 1e-6, 0.02)
    small = 0.02 * found.mean / (2 * MAINS * 0.3)  # less the time it charges
    assert found.ripple == known(small, "bridge with a small ripple", "I/(2 f C)", CLOSED, unit="V", rel=0.03)


def test_resistance_lowers_ripple_mean_and_peak_current():
    loose, stiff = (full_wave(PEAK, MAINS, r, 50e-6, 10e-3, 0.015, 0.4) for r in (0.3, 0.03))
    assert loose.mean < stiff.mean < PEAK and loose.ripple < stiff.ripple
    assert loose.peak_current < stiff.peak_current and loose.conduction > stiff.conduction
    assert loose.resistance > 0.3


def test_charge_and_energy_balance():
    """The mean current is the load's, and the transformer's rms lies above it by its form factor."""
    found = full_wave(PEAK, MAINS, 0.1, 20e-6, 10e-3, 0.01, 0.4)
    current = (PEAK - found.mean) / found.resistance
    assert current == pytest.approx(0.4 * found.mean, rel=2e-3)
    assert 1.3 * current < found.rms_current < found.peak_current


def test_twice_the_steps_change_nothing():
    one, two = (full_wave(PEAK, MAINS, 0.1, 20e-6, 10e-3, 0.01, 0.4, steps) for steps in (4000, 8000))
    for name in ("mean", "ripple", "rms_current", "peak_current", "resistance"):
        assert getattr(one, name) == pytest.approx(getattr(two, name), rel=2e-3), name


def test_a_bridge_that_conducts_without_a_pause_is_refused():
    with pytest.raises(InputError, match="without a pause"):
        full_wave(PEAK, MAINS, 0.1, 5e-3, 100e-6, 0.01, 1.0)


def test_a_reservoir_passes_a_ripple_on_as_a_low_pass():
    w = 2 * math.pi * 100.0
    assert ripple_transfer(100.0, 0.5, 0.0, 10e-3, 0.0, 0.0) == pytest.approx(1 / math.hypot(1, w * 0.5 * 10e-3), rel=1e-9)
