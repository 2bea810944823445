# SPDX-License-Identifier: GPL-3.0-or-later
"""The MOSFET model from datasheet figures: every point met, against a law worked out anew in the test support, and
told where the figures cannot be met together. `tests/netlist/test_mosfet_datasheet.py` measures it in the simulator."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from scipy.integrate import quad

from heatsim.parts.mosfet_model import channel, datasheet_points, gate_drain, miller_voltage, no_swing, swing, vdmos_parameters
from heatsim.parts.switch import Switch
from heatsim.scenario.scenario import Scenario
from tests.support.independent.datasheet import figures, shape

BENCH = Scenario.from_file(Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater.toml").heater("loaded").switch
KNOBS = ("input_capacitance", "output_capacitance", "gate_drain_charge", "miller_voltage", "on_resistance", "transconductance")


def fitted(**figures: float) -> Switch:
    """The demo's switch with some figures changed, M worked out anew."""
    changed = replace(BENCH, **figures)  # type: ignore[arg-type]
    return replace(changed, miller_voltage=miller_voltage(changed))


DEVICES = {
    "demo": fitted(),
    "threshold at 1 mA": fitted(threshold=3.3, threshold_current=1e-3),
    "low voltage": fitted(
        voltage_rating=55.0, gate_drain_charge_voltage=44.0, reverse_capacitance=250e-12, gate_drain_charge=40e-9
    ),
    "high voltage": fitted(
        on_resistance=0.42,
        transconductance=9.0,
        transconductance_current=7.0,
        input_capacitance=1.3e-9,
        output_capacitance=160e-12,
        reverse_capacitance=18e-12,
        gate_drain_charge=17e-9,
        gate_drain_charge_voltage=400.0,
    ),
    "weak channel": fitted(transconductance=20.0, on_resistance=25e-3),
}


@pytest.mark.parametrize("name", DEVICES)
def test_parameters_are_those_of_a_law_worked_out_anew(name: str) -> None:
    """Roots and quadrature by SciPy against ours."""
    ours, other = vdmos_parameters(DEVICES[name]), figures(DEVICES[name])
    pairs = {
        "vto": other.threshold,
        "kp": other.stiffness,
        "mtriode": other.triode,
        "rd": other.drain,
        "rs": other.source,
        "cgs": other.gate_source,
        "cgdmin": other.least,
        "cgdmax": other.most,
        "a": other.steepness,
        "cjo": other.depletion,
        "is": other.saturation,
        "rb": other.bulk,
    }
    for key, value in pairs.items():
        assert ours[key] == pytest.approx(value, rel=1e-4), key


@pytest.mark.parametrize("name", DEVICES)
def test_every_point_is_met(name: str) -> None:
    points = datasheet_points(DEVICES[name])
    assert {each.name for each in points} >= {"reverse capacitance", "gate-drain charge", "on-resistance", "transconductance"}
    assert ("threshold" in {each.name for each in points}) == bool(DEVICES[name].threshold_current)
    assert all(abs(each.difference) < 1e-6 for each in points)


@pytest.mark.parametrize("name", DEVICES)
def test_charge_and_reverse_capacitance_are_the_curves(name: str) -> None:
    """By quadrature of the form written in the test support."""
    switch, p = DEVICES[name], vdmos_parameters(DEVICES[name])
    start, end = swing(switch, channel(switch))

    def capacitance(v: float) -> float:
        return p["cgdmin"] + (p["cgdmax"] - p["cgdmin"]) * shape(v, p["a"])

    charge, _ = quad(capacitance, start, end, points=[-10 / p["a"], 0.0], limit=400)
    assert charge == pytest.approx(switch.gate_drain_charge, rel=1e-6)
    assert capacitance(-switch.capacitance_voltage) == pytest.approx(switch.reverse_capacitance, rel=1e-6)


def test_the_demo_has_its_reverse_capacitance_at_25_volts() -> None:
    """It had some 340 pF while the charge was taken over capacitance_voltage."""
    curve = gate_drain(BENCH, channel(BENCH))
    assert curve.capacitance(-25.0) == pytest.approx(60e-12, rel=1e-6)
    assert curve.capacitance(-1.0) > 10 * curve.capacitance(-25.0)
    assert curve.capacitance(10.0) == pytest.approx(curve.greatest, rel=1e-3)


@pytest.mark.parametrize("charge", [2e-9, 4e-9])
def test_a_charge_below_the_capacitance_times_the_swing_is_told(charge: float) -> None:
    """60 pF fall no lower than to a quarter: over some 99 V that is 1.5 nC, and with the rise below 25 V more."""
    points = {each.name: each for each in datasheet_points(fitted(gate_drain_charge=charge))}
    worst = max(abs(points[name].difference) for name in ("reverse capacitance", "gate-drain charge"))
    assert worst > 0.05
    assert all(
        abs(each.difference) < 1e-6 for name, each in points.items() if name not in ("reverse capacitance", "gate-drain charge")
    )


def test_a_miller_voltage_of_ones_own_keeps_all_but_the_reverse_capacitance() -> None:
    points = {each.name: each.difference for each in datasheet_points(replace(BENCH, miller_voltage=2 * BENCH.miller_voltage))}
    assert points.pop("reverse capacitance") > 0.3
    assert all(abs(share) < 1e-6 for share in points.values())


def test_the_users_own_model_has_no_points() -> None:
    assert datasheet_points(replace(BENCH, user_model=".model mine vdmos(vto=3)", user_name="mine")) == ()


def test_a_current_that_drops_the_whole_swing_gives_a_model_all_the_same() -> None:
    odd = fitted(on_resistance=10.0)
    assert no_swing(odd) and not no_swing(BENCH)
    assert all(math.isfinite(value) for value in vdmos_parameters(odd).values())


@pytest.mark.parametrize("knob", KNOBS)
def test_parameters_follow_each_figure_smoothly(knob: str) -> None:
    """Halved steps halve the change, to second order: no kink at the demo's figures. Each figure moves something of its own."""

    def logs(step: float) -> dict[str, float]:
        changed = replace(BENCH, **{knob: getattr(BENCH, knob) * math.exp(step)})
        return {key: math.log(value) for key, value in vdmos_parameters(changed).items()}

    base, up, down, half = logs(0.0), logs(0.1), logs(-0.1), logs(0.05)
    moved = {key for key, value in base.items() if abs(up[key] - value) > 1e-3}
    assert moved
    for key in moved:
        assert up[key] - base[key] == pytest.approx(base[key] - down[key], rel=0.25)
        assert half[key] - base[key] == pytest.approx((up[key] - base[key]) / 2, rel=0.15)
