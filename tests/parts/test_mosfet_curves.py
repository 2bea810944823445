# SPDX-License-Identifier: GPL-3.0-or-later
"""The MOSFET's curves against a law worked out anew (test support: roots and integrals by SciPy), and points compared with them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from heatsim.parts.mosfet_curves import capacitances, curve_points, drain_current, gate_voltage, total_gate_charge
from heatsim.parts.switch import DatasheetCurves
from tests.parts.test_mosfet_model import BENCH, DEVICES
from tests.support.book import INDEPENDENT, known
from tests.support.independent.datasheet import figures, saturated, shape


@pytest.mark.parametrize("name", DEVICES)
def test_the_transfer_curve_is_the_root_of_the_square_law(name: str) -> None:
    switch, law = DEVICES[name], figures(DEVICES[name])
    for over in (0.3, 0.8, 1.5):
        # lambda acts on the inner drain voltage there, on the whole here: apart by 1e-3 of the drop
        wanted = saturated(law.threshold + over, law.threshold, law.stiffness, law.source)
        assert float(drain_current(switch, law.threshold + over, 10.0)) == known(
            wanted, f"{name}: drain current {over} V over threshold", "root of the square law", INDEPENDENT, unit="A", rel=5e-3
        )
        assert gate_voltage(switch, wanted) == pytest.approx(law.threshold + over, abs=5e-3)


@pytest.mark.parametrize("name", DEVICES)
def test_the_output_curve_begins_with_the_on_resistance_and_ends_flat(name: str) -> None:
    switch = DEVICES[name]
    assert 1e-3 / float(drain_current(switch, switch.on_gate_voltage, 1e-3)) == pytest.approx(switch.on_resistance, rel=1e-3)
    gate = gate_voltage(switch, switch.transconductance_current)
    far = drain_current(switch, gate, np.array([20.0, 21.0]))
    modulated = 1e-3 / (1 + 20e-3) * (1 - switch.transconductance * figures(switch).source)  # as the gate, so the source takes back
    assert far[1] / far[0] - 1 == pytest.approx(modulated, rel=0.02)
    assert np.all(np.diff(drain_current(switch, gate, np.linspace(0, 20, 50))) > 0)
    assert float(drain_current(switch, gate, 0.0)) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("name", DEVICES)
@pytest.mark.parametrize("volts", [0.0, 3.0, 25.0, 80.0])
def test_capacitances_are_those_of_the_forms_written_anew(name: str, volts: float) -> None:
    switch, law = DEVICES[name], figures(DEVICES[name])
    reverse = law.least + (law.most - law.least) * shape(-volts, law.steepness)
    wanted = law.gate_source + reverse, law.depletion / np.sqrt(1 + volts / 0.8) + reverse, reverse
    np.testing.assert_allclose(capacitances(switch, volts), wanted, rtol=1e-4)


@pytest.mark.parametrize("name", DEVICES)
def test_the_whole_gate_charge_is_the_integral_of_both_capacitances(name: str) -> None:
    switch, law = DEVICES[name], figures(DEVICES[name])
    end = switch.on_gate_voltage - switch.transconductance_current * (switch.on_resistance - law.drain)
    start, edges = -switch.gate_drain_charge_voltage, [x / law.steepness for x in (-10, -1, 0)]
    area, _ = quad(shape, start, end, args=(law.steepness,), points=[x for x in edges if start < x < end], limit=400)
    wanted = law.gate_source * switch.on_gate_voltage + law.least * (end - start) + (law.most - law.least) * area
    assert total_gate_charge(switch) == known(wanted, f"{name}: gate charge", "quadrature", INDEPENDENT, unit="C", rel=1e-4)


def test_points_on_the_curves_do_not_differ_and_points_off_them_by_what_they_are_off() -> None:
    ciss, coss, crss = (float(each) for each in capacitances(BENCH, 60.0))
    gate = gate_voltage(BENCH, 25.0)
    on = DatasheetCurves(((60.0, ciss, 1.25 * coss, crss),), ((gate, 25.0), (0.8 * gate, 25.0)), 0.0, total_gate_charge(BENCH))
    points = {(each.name, round(each.given, 3)): each for each in curve_points(replace(BENCH, curves=on))}
    by_name = {name: each.difference for (name, _), each in points.items() if not name.startswith("gate voltage")}
    assert by_name == pytest.approx(
        {
            "input capacitance at 60 V": 0.0,
            "output capacitance at 60 V": -0.2,
            "reverse capacitance at 60 V": 0.0,
            "gate charge in all": 0.0,
        },
        abs=1e-9,
    )
    assert sorted(each.difference for (name, _), each in points.items() if name == "gate voltage at 25 A") == pytest.approx(
        [0.0, 0.25]
    )


def test_a_users_own_model_and_no_points_have_nothing_to_compare() -> None:
    assert curve_points(BENCH) == ()
    own = replace(BENCH, user_model=".model mine vdmos(vto=3)", curves=DatasheetCurves(gate_charge=1e-7))
    assert curve_points(own) == ()
