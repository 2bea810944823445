# SPDX-License-Identifier: GPL-3.0-or-later
"""Joule integrals against that of an exponential rise, written out from its integral."""

import numpy as np
import pytest

from heatsim.measures.fusing import integral_at, joule_integral, time_to_reach
from heatsim.measures.latched import fuse_measures
from heatsim.waves import Waveforms
from tests.support.book import CLOSED, known

FINAL, TAU = 200.0, 1e-3


def closed_form(t):
    """Integral of (I (1 - exp(-t/tau)))^2 from 0 to t."""
    return FINAL**2 * (t - 2 * TAU * (1 - np.exp(-t / TAU)) + TAU / 2 * (1 - np.exp(-2 * t / TAU)))


@pytest.fixture
def rise():
    time = np.sort(np.concatenate([[0.0, 5e-3], np.random.default_rng(3).uniform(0, 5e-3, 4000)]))
    return time, FINAL * (1 - np.exp(-time / TAU))


def test_an_exponential_rise_has_its_closed_form(rise):
    time, current = rise
    wanted = closed_form(time[1:])
    assert joule_integral(time, current)[1:] == known(
        wanted, "Joule integral of an exponential rise", "integral written out", CLOSED, unit="A2 s", rel=1e-4, abs=1e-6
    )


def test_the_instant_of_a_value_is_found_and_carried_on_beyond_the_record(rise):
    time, current = rise
    for instant in (0.7e-3, 3e-3):
        assert time_to_reach(time, current, closed_form(instant)) == pytest.approx(instant, rel=1e-3)
        assert integral_at(time, current, instant) == pytest.approx(closed_form(instant), rel=1e-3)
    later = closed_form(5e-3) + current[-1] ** 2 * 2e-3
    assert time_to_reach(time, current, later) == pytest.approx(7e-3, rel=1e-3)
    assert integral_at(time, current, 7e-3) == pytest.approx(later, rel=1e-3)
    assert time_to_reach(time, 0 * current, 1.0) == float("inf")


def test_a_fuse_must_let_less_through_than_flows_until_the_silicon_has_had_its_share(rise):
    """Two devices a bank, each with a quarter of the lead's current: their integral is a sixteenth of the lead's."""
    time, current = rise
    waves = Waveforms(time, {"supply.current": current, "switch.left.current": current / 2, "switch.right.current": current * 0.49})
    found = fuse_measures(waves, 2, fuse_i2t=closed_form(1e-3), device_i2t=closed_form(3e-3) / 16)
    assert found["latch.switch_time_s"] == pytest.approx(3e-3, rel=1e-3)
    assert found["latch.fuse_time_s"] == pytest.approx(1e-3, rel=1e-3)
    assert found["latch.saving_i2t_a2s"] == pytest.approx(closed_form(3e-3), rel=2e-3)
    assert found["latch.cleared_current_a"] == pytest.approx(FINAL * (1 - np.exp(-1)) / 4, rel=5e-3)
    without = fuse_measures(waves, 2, None, None)
    assert without["latch.fuse_time_s"] is without["latch.saving_i2t_a2s"] is without["latch.cleared_current_a"] is None
