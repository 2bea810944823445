# SPDX-License-Identifier: GPL-3.0-or-later
"""Film capacitors under a sine (tests/support/references_heating.py)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.physics import capacitor as cap
from tests.support import references_heating as ref
from tests.support.book import MEMORY, known, listed


@pytest.mark.parametrize("row", ref.CAP)
def test_stress_of_a_capacitor(row: tuple) -> None:
    capacitance, voltage, frequency, loss_tangent, current, resistance, loss, _, rtol = row
    assert cap.rms_current(capacitance, voltage, frequency) == listed("CAP", "current", row)
    assert cap.series_resistance(capacitance, frequency, loss_tangent) == listed("CAP", "esr", row)
    assert cap.dielectric_loss(capacitance, voltage, frequency, loss_tangent) == listed("CAP", "loss", row)
    assert current**2 * resistance == pytest.approx(loss, rel=rtol)
    assert cap.peak_slope(np.sqrt(2) * voltage, frequency) / 1e6 == listed("CAP", "slope", row)


@pytest.mark.parametrize("row", ref.TAN_DELTA)  # published chart, typical
def test_typical_loss_tangent(row: tuple) -> None:
    dielectric, frequency, loss_tangent, factor = row
    ours = cap.typical_loss_tangent(dielectric, frequency)
    assert loss_tangent / factor <= ours <= loss_tangent * factor
    assert ours == listed("TAN_DELTA", "tan", row, rel=1e-6)


def test_permitted_voltage_has_three_regions() -> None:
    """Rated voltage, then loss, then current: the shape of data-sheet curves after IEC 60384-17."""
    limits = {"rated_rms_voltage": 400.0, "permitted_rms_current": 12.0, "permitted_loss": 0.5, "loss_tangent": 5e-4}
    low, middle, high = (cap.permitted_rms_voltage(330e-9, f, **limits) for f in (1e3, 5e3, 4e5))
    assert low == 400.0
    assert cap.dielectric_loss(330e-9, middle, 5e3, 5e-4) == pytest.approx(0.5)
    assert cap.rms_current(330e-9, high, 4e5) == pytest.approx(12.0)


@given(st.floats(10.0, 1e6), st.floats(1.0, 10.0))
def test_permitted_voltage_never_rises_with_frequency(frequency: float, step: float) -> None:
    limits = (630.0, 8.0, 0.4, 3e-4)
    here = cap.permitted_rms_voltage(1e-7, frequency, *limits)
    assert cap.permitted_rms_voltage(1e-7, frequency * step, *limits) <= here <= 630.0
    assert cap.rms_current(1e-7, here, frequency) <= 8.0 * (1 + 1e-12)


def test_permitted_voltage_without_a_loss_limit() -> None:
    assert cap.permitted_rms_voltage(1e-6, 1e5, 400.0, 20.0) == pytest.approx(20.0 / (2 * np.pi * 0.1))


def test_derating_with_temperature() -> None:
    """1.25 %/K from 85 to 105 degC: common film-capacitor practice (memory)."""
    shares = cap.voltage_derating(np.array([20.0, 85.0, 95.0, 105.0, 106.0]))
    assert shares == known([1.0, 1.0, 0.875, 0.75, 0.0], "voltage left at 20 to 106 °C", "film-capacitor practice", MEMORY)


def test_impossible_input_is_named() -> None:
    for call in (
        lambda: cap.series_resistance(0.0, 1e5, 1e-3),
        lambda: cap.permitted_rms_voltage(1e-6, -1.0, 400.0, 20.0),
        lambda: cap.typical_loss_tangent("paper", 1e3),
    ):
        with pytest.raises(InputError):
            call()
