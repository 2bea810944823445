# SPDX-License-Identifier: GPL-3.0-or-later
"""The integration of whole circuits against closed forms: its steps, its laws' slopes, its sensitivities."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.support.independent.cores import Walls, through
from tests.support.independent.laws import channel, depletion, gate_drain, junction, transistor
from tests.support.independent.nodal import GROUND, Circuit, Stepper, System
from tests.support.independent.one_thread import one_thread
from tests.support.independent.whole_bank import terminal_inductance

HENRY, FARAD, OHM = 2e-6, 3e-6, 0.05


def ring() -> Circuit:
    """A capacitor and a coil with resistance."""
    circuit = Circuit()
    node = circuit.unknown("v")
    circuit.capacitor(node, GROUND, FARAD)
    circuit.branch("i", node, GROUND, OHM, HENRY)
    return circuit


def ringing(time: float) -> float:
    """Its voltage from 1 V at rest: exp(-at)(cos wt + a/w sin wt), a = R/2L, w^2 = 1/LC - a^2."""
    a = OHM / (2 * HENRY)
    w = math.sqrt(1 / (HENRY * FARAD) - a * a)
    return math.exp(-a * time) * (math.cos(w * time) + a / w * math.sin(w * time))


def test_a_ring_is_its_closed_form_and_steps_are_of_second_order() -> None:
    errors = []
    for steps in (200, 400):
        stepper = Stepper(System(ring()), tolerance=1e-6)
        course = stepper.run(np.array([1.0, 0.0]), 0.0, 5e-5, np.linspace(0, 1, steps + 1))
        errors.append(course.states[-1, 0] - ringing(5e-5))
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.05)
    course = Stepper(System(ring()), tolerance=1e-6).run(np.array([1.0, 0.0]), 0.0, 5e-5)
    assert course.states[-1, 0] == pytest.approx(ringing(5e-5), abs=1e-3)
    assert course.errors.max() <= 1.5


def test_sensitivities_are_those_of_a_ring() -> None:
    """Of a linear circuit they do not depend on the state: its voltage's share is the closed form itself."""
    course = Stepper(System(ring()), tolerance=1e-6).run(np.array([0.3, 2.0]), 0.0, 3e-5, sensitive=True)
    assert course.sensitivity is not None
    assert course.sensitivity[0, 0] == pytest.approx(ringing(3e-5), abs=1e-4)
    moved = Stepper(System(ring()), tolerance=1e-6).run(np.array([0.3, 3.0]), 0.0, 3e-5)
    assert moved.states[-1] - course.states[-1] == pytest.approx(course.sensitivity[:, 1], abs=1e-3)


LAWS = {
    "junction": (junction(1e-10, 1.2, (2e-9, 0.8, 0.5), 50e-9, (16.0, 5e-3)), [(-16.1,), (-3.0,), (0.2,), (0.7,)]),
    "channel": (channel(60.0, 3.8, 1e-3, 1.2, 0.1), [(3.7, 2.0), (6.0, 0.3), (6.0, 20.0), (6.0, -0.4), (-0.5, -0.9)]),
    "gate and drain": (gate_drain(15e-12, 3e-9, 0.9), [(-40.0,), (-0.5,), (0.4,), (8.0,)]),
    "transistor": (
        transistor(1e-13, 100, 5, 2.0, 1e-10, 3e-11, (6e-10, 2e-8)),
        [(0.7, -10.0), (0.75, 0.5), (0.3, 0.65), (-1.0, -2.0)],
    ),
}


@pytest.mark.parametrize("name", LAWS)
def test_slopes_are_those_of_the_law(name: str) -> None:
    law, places = LAWS[name]
    for at in places:
        _, by_flow, _, by_charge = law(*at)
        for kind, slopes in ((0, by_flow), (2, by_charge)):
            for k in range(len(at)):
                step = 1e-6
                ahead, behind = (law(*(v + sign * step * (k == j) for j, v in enumerate(at)))[kind] for sign in (1, -1))
                for out, (a, b) in enumerate(zip(ahead, behind, strict=True)):
                    assert slopes[out * len(at) + k] == pytest.approx((a - b) / (2 * step), rel=1e-4, abs=1e-15), (at, k, out)


def test_a_depleted_junctions_charge_is_the_integral_of_its_capacitance() -> None:
    """cjo vj/(1-m) (1 - (1 - v/vj)^(1-m))."""
    charge, capacitance = depletion(1e-9, 0.8, 0.5)(-7.2)
    assert capacitance == pytest.approx(1e-9 / math.sqrt(10), rel=1e-9, abs=0)
    assert charge == pytest.approx(1.6e-9 * (1 - math.sqrt(10)), rel=1e-9, abs=0)


def test_a_transistors_gain_is_the_forward_one_and_halves_at_the_knee() -> None:
    """Gummel and Poon: the collector carries I/q, q = (1 + sqrt(1 + 4 I/IK))/2; where that is the knee's current, q is 2."""
    law = transistor(1e-13, 100, 5, 2.0, 1e-10, 3e-11, (6e-10, 2e-8))
    base, collector = law(0.5, -5.0)[0]
    assert collector / base == pytest.approx(100, rel=1e-3)
    share = 0.025865 * math.log(4.0 / 1e-13)
    base, collector = law(share * 1.00001, -5.0)[0]
    assert (base, collector) == pytest.approx((0.04, 2.0), rel=5e-3)


def test_a_measured_table_is_met_at_its_points() -> None:
    currents, inductances = np.array([0.0, 8.0, 14.0, 20.0]), np.array([60e-6, 55e-6, 40e-6, 25e-6])
    law = through(currents, inductances, 1e-6)
    flux = np.trapezoid(np.interp(np.linspace(0, 8, 2001), currents, inductances), np.linspace(0, 8, 2001))
    i, slope = law(float(flux))
    assert i == pytest.approx(8.0, rel=0.03) and 1 / slope == pytest.approx(55e-6, rel=0.03)
    assert law(-float(flux))[0] == -i


def test_a_core_without_pinning_keeps_to_one_line() -> None:
    """With c = 1 no wall is pinned: flux follows the current, and the rates of field and flux are those of the voltage."""

    class Bare:
        parameters = (716.5e3, 6567.0, 1040.0, 0.01055, 1.0)
        path, turns, area, inductance_air = 98.4e-3, 20, 214e-6, 1.5e-6

    core = Walls(Bare())  # type: ignore[arg-type]
    x, m = 0.4, 0.0
    rate, _ = core.rates(x, m, 10.0)
    step = 1e-6
    flux = [core.air * core.current(y, m)[0][0] + core.core * (1 / math.tanh(y) - 1 / y) for y in (x - step, x + step)]
    assert rate * (flux[1] - flux[0]) / (2 * step) == pytest.approx(10.0, rel=1e-6)
    assert core.current(core.field_at(12.0), 0.0)[0][0] == pytest.approx(12.0, rel=1e-9)


def test_capacitors_along_bars_of_no_length_are_in_parallel() -> None:
    found = terminal_inductance(5, 330e-9, 25e-9, (1e-12, 0.0), "same end", 86e3)
    assert found == pytest.approx(5e-9, rel=1e-3, abs=0)
    two = terminal_inductance(2, 330e-9, 0.0, (8e-9, 0.0), "same end", 1e5)
    assert two == pytest.approx(2e-9, rel=1e-3, abs=0), "a quarter of 8 nH at low frequencies"


def test_threads_are_as_many_afterwards_as_before() -> None:
    rng = np.random.default_rng(0)
    matrix = rng.normal(size=(80, 80)) + 80 * np.eye(80)
    with one_thread():
        inside = np.linalg.solve(matrix, np.ones(80))
    assert np.linalg.solve(matrix, np.ones(80)) == pytest.approx(inside, rel=1e-12)
