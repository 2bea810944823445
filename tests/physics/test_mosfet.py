# SPDX-License-Identifier: GPL-3.0-or-later
"""MOSFET formulas (tests/support/references_heating.py)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.physics import mosfet
from tests.support import references_heating as ref
from tests.support.book import CLOSED, known, listed

CGD = (2.45e-9, 10e-12, 0.3)
VOLTS = st.floats(-200.0, 30.0)


@pytest.mark.parametrize("row", ref.MOS1)
def test_channel(row: tuple) -> None:
    kp, threshold, modulation, gate, drain, *_ = row
    assert mosfet.channel_current(gate, drain, kp, threshold, modulation) == listed("MOS1", "current", row)


@given(st.floats(4.1, 15.0), st.floats(0.5, 4.0))
def test_channel_joins_smoothly_and_is_off_below_threshold(gate: float, triode: float) -> None:
    """Value and slope agree where triode meets saturation; nothing flows below the threshold."""
    edge = (gate - 4.0) / triode
    drains = edge * np.array([1 - 1e-6, 1.0, 1 + 1e-6])
    below, at, above = mosfet.channel_current(gate, drains, 5.9, 4.0, 0.001, triode)
    assert at == pytest.approx(2.95 * (gate - 4.0) ** 2 * (1 + 0.001 * edge))
    assert below <= at <= above and above - below < 1e-5 * at
    assert mosfet.channel_current(3.9, edge, 5.9, 4.0) == 0.0


def test_channel_resistance_at_small_voltage() -> None:
    """1/(m Kp (Vgs - Vt)), the slope of the triode form at zero."""
    assert 1e-6 / mosfet.channel_current(10.0, 1e-6, 5.9, 4.0) == pytest.approx(1 / (5.9 * 6.0), rel=1e-5)
    assert 1e-6 / mosfet.channel_current(10.0, 1e-6, 5.9, 4.0, 0.0, 2.0) == pytest.approx(1 / (11.8 * 6.0), rel=1e-5)


@pytest.mark.parametrize("row", ref.VDMOS_CGD)  # form: memory
def test_gate_drain_capacitance(row: tuple) -> None:
    greatest, least, slope, voltage, *_ = row
    assert mosfet.gate_drain_capacitance(voltage, greatest, least, slope) == listed("VDMOS_CGD", "cgd", row)


def test_gate_drain_capacitance_ends() -> None:
    what, ends = "gate-drain capacitance far out", "end of the form, exact"
    assert mosfet.gate_drain_capacitance(1e9, *CGD) == known(2.45e-9, what, ends, CLOSED, unit="F", rel=1e-9)
    assert mosfet.gate_drain_capacitance(-1e12, *CGD) == known(10e-12, what, ends, CLOSED, unit="F", rel=1e-6)


@given(VOLTS, st.floats(0.01, 5.0))
def test_gate_drain_capacitance_rises_within_its_ends(voltage: float, step: float) -> None:
    here = mosfet.gate_drain_capacitance(voltage, *CGD)
    assert 10e-12 < here <= mosfet.gate_drain_capacitance(voltage + step, *CGD) <= 2.45e-9 * (1 + 1e-12)


@given(VOLTS)
def test_gate_drain_charge_is_the_integral(voltage: float) -> None:
    charge = mosfet.gate_drain_charge(np.array([voltage - 1e-3, voltage + 1e-3]), *CGD)
    middle = mosfet.gate_drain_capacitance(voltage, *CGD)
    assert np.diff(charge)[0] / 2e-3 == pytest.approx(middle, rel=1e-4)
    assert mosfet.gate_drain_charge(0.0, *CGD) == 0.0


@pytest.mark.parametrize("row", ref.RDSON_T)  # power 2.3: memory
def test_warm_resistance(row: tuple) -> None:
    assert mosfet.warm_resistance_ratio(row[0]) == listed("RDSON_T", "ratio", row)


def test_warm_resistance_lies_in_the_band_of_data_sheets() -> None:
    """1.6-2.0 at 100 degC and 2.0-2.5 at 150 degC for parts of 100 V and more (memory)."""
    at_100, at_150 = mosfet.warm_resistance_ratio(np.array([373.15, 423.15]), 298.15)
    assert 1.6 < at_100 < 2.0 < at_150 < 2.5


@pytest.mark.parametrize("row", ref.FOSTER)
def test_foster(row: tuple) -> None:
    assert mosfet.foster_temperature_rise(*row[:4]) == listed("FOSTER", "rise", row)


@given(st.floats(0.0, 1.0), st.floats(1e-6, 1.0))
def test_foster_rises_to_the_sum(time: float, step: float) -> None:
    chain = (20.0, [0.1, 0.3], [1e-3, 2e-2])
    early, late, settled = mosfet.foster_temperature_rise(*chain, np.array([time, time + step, 1e3]))
    assert 0.0 <= early <= late <= settled == pytest.approx(20.0 * 0.4)


def test_losses() -> None:
    assert mosfet.conduction_loss(10.0, 0.02) == pytest.approx(2.0)
    assert mosfet.gate_drive_power(100e-9, 12.0, 1e5) == pytest.approx(0.12)


def test_impossible_input_is_named() -> None:
    for call in (
        lambda: mosfet.channel_current(10.0, -1.0, 5.9, 4.0),
        lambda: mosfet.gate_drain_capacitance(1.0, 2e-9, 1e-11, 0.0),
        lambda: mosfet.warm_resistance_ratio(-5.0),
        lambda: mosfet.foster_temperature_rise(1.0, [0.1], [1e-3, 1e-2], 1.0),
    ):
        with pytest.raises(InputError):
            call()


@pytest.mark.parametrize(("over", "overdrive"), [(0.0, 0.1 * np.log(2.0)), (5.0, 5.0), (-1.0, 0.1 * np.log1p(np.exp(-10.0)))])
def test_overdrive_is_the_gate_voltage_above_threshold_and_fades_below(over: float, overdrive: float) -> None:
    assert mosfet.effective_overdrive(over, 0.1) == pytest.approx(overdrive, rel=1e-9)
    assert mosfet.gate_voltage_over(overdrive, 0.1) == pytest.approx(over, abs=1e-9)


def test_overdrive_falls_by_e_each_width_far_below_threshold() -> None:
    ratio = mosfet.effective_overdrive(-2.0, 0.1) / mosfet.effective_overdrive(-2.1, 0.1)
    assert ratio == pytest.approx(np.e, rel=1e-6)
