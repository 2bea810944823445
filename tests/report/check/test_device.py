# SPDX-License-Identifier: GPL-3.0-or-later
"""The pictures of the MOSFET's curves: lines of the model, points of the datasheet, differences beside points that are off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatsim.parts.mosfet_curves import capacitances, drain_current, gate_voltage
from heatsim.parts.switch import DatasheetCurves, Origin, Switch
from heatsim.report.check import device, origins, page
from tests.support.results import checks as made

SWITCH = made.result().cases[0].heater.switch
OFF = DatasheetCurves(((60.0, 4.2e-9, 1.25 * float(capacitances(SWITCH, 60.0)[1]), 45e-12),), ((4.4, 20.0),), 4.9, 80e-9)


def drawn(switch: Switch, which: int) -> Axes:
    ax = Figure().add_subplot()
    device.PICTURES[which][3](switch, ax)
    return ax


def points(ax: Axes) -> list[tuple[float, float]]:
    return [(float(x.get_xdata()[0]), float(x.get_ydata()[0])) for x in ax.get_lines() if x.get_marker() == "o"]


def test_capacitances_are_the_models_and_points_the_datasheets() -> None:
    ax = drawn(SWITCH, 0)
    lines = {str(line.get_label()): line for line in ax.get_lines() if line.get_marker() != "o"}
    volts = lines["input"].get_xdata()
    for line, wanted in zip(("input", "output", "reverse"), capacitances(SWITCH, np.asarray(volts)), strict=True):
        np.testing.assert_allclose(lines[line].get_ydata(), 1e9 * wanted)
    assert points(ax) == [pytest.approx((25.0, 4.2)), pytest.approx((25.0, 0.42)), pytest.approx((25.0, 0.06))]
    assert not ax.texts and ax.get_xscale() == ax.get_yscale() == "log"


def test_points_that_the_model_leaves_have_the_difference_beside_them() -> None:
    ax = drawn(replace(SWITCH, curves=OFF), 0)
    assert len(points(ax)) == 6 and "−20.0%" in {text.get_text() for text in ax.texts}


def test_an_estimated_capacitance_is_a_hollow_point() -> None:
    ax = drawn(replace(SWITCH, origins=(Origin("output_capacitance", "estimate", "a rule", 2.5),)), 0)
    filled = [line.get_markerfacecolor() == line.get_markeredgecolor() for line in ax.get_lines() if line.get_marker() == "o"]
    assert filled == [True, False, True]


def test_output_curves_start_with_the_on_resistance() -> None:
    ax = drawn(SWITCH, 1)
    *curves, given = ax.get_lines()
    assert len(curves) == 5 and given.get_xydata()[1] == pytest.approx((40 * 16e-3, 40.0))
    top = curves[-1].get_xydata()
    np.testing.assert_allclose(top[:, 1], drain_current(SWITCH, 10.0, top[:, 0]))
    assert "+0.0%" in str(given.get_label())


def test_the_transfer_curve_has_transconductance_plateau_and_points() -> None:
    ax = drawn(replace(SWITCH, curves=OFF), 2)
    curve, slope, *_ = ax.get_lines()
    np.testing.assert_allclose(curve.get_ydata(), drain_current(SWITCH, curve.get_xdata(), 10.0))
    (x0, y0), (x1, y1) = slope.get_xydata()
    assert (y1 - y0) / (x1 - x0) == pytest.approx(70.0) and (x0 + x1) / 2 == pytest.approx(gate_voltage(SWITCH, 40.0))
    assert points(ax) == [(4.4, 20.0), (4.9, 40.0)]


def test_a_users_own_model_has_no_pictures() -> None:
    assert len(list(device.device_figures(SWITCH))) == 3
    assert not list(device.device_figures(replace(SWITCH, user_model=".model mine vdmos(vto=3)")))


def of(switch: Switch) -> object:
    result = made.result()
    first, *others = result.cases
    return replace(result, cases=(replace(first, heater=replace(first.heater, switch=switch)), *others))


def test_the_page_says_where_each_figure_comes_from() -> None:
    told = (
        Origin("input_capacitance", "memory", "device generic 200 V 20 mohm of the catalogue"),
        Origin("transconductance", "estimate", "square law", 1.8),
        Origin("recovery_time", "assumed", "150 ns", 4.0),
        Origin("gate_charge", "published", "device mine of the catalogue"),
    )
    switch = replace(SWITCH, origins=told, device="generic 200 V 20 mohm", curves=DatasheetCurves(gate_charge=80e-9))
    assert origins.figures(of(switch)) == [
        ("input capacitance", "4.2 nF; device generic 200 V 20 mohm of the catalogue: recalled, not looked up"),
        ("transconductance", "70 S; estimated, within a factor of 1.8: square law (common practice, no source)"),
        ("recovery time", "150 ns; not given, assumed, within a factor of 4: 150 ns (common practice, no source)"),
        ("gate charge", "80 nC; device mine of the catalogue: published data"),
    ]
    text = page.render_page(of(switch), {case.name: [] for case in made.result().cases})
    assert "not the scenario" in text and "within a factor of 1.8" in text and "gate charge in all" in text
    assert "over which those in the scenario file win" in text


def test_of_a_model_file_it_is_told_what_need_not_be_given() -> None:
    rows = dict(origins.origins(of(replace(SWITCH, user_model=".model mine vdmos(vto=3)", user_name="mine"))))
    assert "need not be given" in rows["switches"] and "mine" in rows["switches"]
