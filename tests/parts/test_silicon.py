# SPDX-License-Identifier: GPL-3.0-or-later
"""Junctions, cases and sinks in balance: closed forms, a nodal solution, integrations of their own, and runaway."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from heatsim.parts.silicon import BankPower, Way, overdrive_at
from heatsim.parts.sink import CEILING, PADS, PlateSink, RatedSink, ThermalPath, pad_resistance
from tests.support import references_heating as ref
from tests.support.book import CLOSED, INDEPENDENT, known, listed

LINEAR = math.log(423.15 / 298.15)
PATH = ThermalPath(
    chain=((0.5, 0.0),),
    interface=0.8,
    interface_band=1.2,
    sink=RatedSink(2.0, None, None, 0.0, 250.0),
    shared="side",
    warm_exponent=2.3,
    warm_exponent_band=(2.0, 2.6),
    resistance_c=25.0,
    resistance_spread=0.0,
    threshold_mismatch=0.0,
    junction_limit=150.0,
    sink_limit=None,
    avalanche_energy=None,
    ambient=25.0,
)
ONE = BankPower(1, 10.0, 0.0, 0.0, 0.0, 1.0)


def both(power: BankPower) -> dict[str, BankPower]:
    return {"left": power, "right": power}


def test_without_a_rise_of_the_resistance_the_chain_is_a_sum_of_drops() -> None:
    """10 W through 2.0 + 0.8 + 0.5 K/W above 25 °C."""
    found = Way.best(replace(PATH, warm_exponent=0.0)).heat(both(ONE), "left")
    assert (found.sink, found.case, found.junction) == (pytest.approx(45.0), pytest.approx(53.0), pytest.approx(58.0))
    assert found.loss == pytest.approx(10.0) and found.ratio == pytest.approx(1.0)


@pytest.mark.parametrize("watts", [1.0, 20.0, 60.0, 85.0])
def test_a_resistance_that_rises_in_a_straight_line_is_the_closed_form_of_feedback(watts: float) -> None:
    """r = T/T0 [K]: T = Ta/(1 - P Rth/T0), a feedback 1/(1 - a P Rth) with a = 1/T0; at P = T0/Rth it runs away."""
    path = replace(PATH, warm_exponent=1.0)
    expected = 298.15 / (1 - watts * 3.3 / 298.15) - 273.15
    found = Way.best(path).heat(both(replace(ONE, conduction=watts)), "left")
    if expected > CEILING:
        assert found.junction is None and found.sink is None
    else:
        assert found.junction == known(expected, f"junction at {watts} W", "feedback in closed form", CLOSED, unit="°C", abs=0.01)


def test_runaway_is_where_no_balance_is() -> None:
    """Tangent of P Rth (T/T0)^n to T - Ta: T = n Ta/(n - 1), where P = (T - Ta)/Rth (T0/T)^n; 2 % less has a balance."""
    exponent, ambient = 2.3, 298.15
    at = exponent * ambient / (exponent - 1)
    critical = (at - ambient) / 3.3 * (ambient / at) ** exponent
    cool, hot = (Way.best(PATH).heat(both(replace(ONE, conduction=critical * each)), "left") for each in (0.98, 1.02))
    assert cool.junction is not None and cool.junction < at - 273.15
    assert hot.junction is None and hot.warming is not None


def test_loss_and_on_resistance_agree_against_one_equation() -> None:
    """T - Ta = Rth (Pc (T/T0)^2.3 + Po), solved for T by itself."""
    power = replace(ONE, conduction=12.0, overlap=5.0, rest=1.0)
    root = brentq(lambda k: k - 298.15 - 3.3 * (12.0 * (k / 298.15) ** 2.3 + 6.0), 298.15, 423.0)
    found = Way.best(PATH).heat(both(power), "left")
    assert found.junction == known(root - 273.15, "junction in balance", "root of one equation", INDEPENDENT, unit="°C", abs=0.01)
    assert found.ratio == pytest.approx((root / 298.15) ** 2.3, rel=1e-4)
    assert found.loss == pytest.approx((root - 298.15) / 3.3, rel=1e-4)


@pytest.mark.parametrize("count", [1, 2, 4, 6])
@pytest.mark.parametrize("shared", ["side", "all", "device"])
def test_what_shares_a_sink_warms_it(count: int, shared: str) -> None:
    """Equal devices, no feedback: 4 W each."""
    path = replace(PATH, warm_exponent=0.0, shared=shared)
    found = Way.best(path).heat(both(replace(ONE, count=count, conduction=2.0 * count, overlap=2.0 * count)), "left")
    on_it = {"device": 1, "side": count, "all": 2 * count}[shared]
    assert found.sink == pytest.approx(25.0 + 2.0 * 4.0 * on_it, abs=1e-3)
    assert found.junction == pytest.approx(25.0 + 2.0 * 4.0 * on_it + 1.3 * 4.0, abs=1e-3)


@pytest.mark.parametrize("count", [2, 3, 6])
def test_unequal_devices_share_as_a_nodal_solution_has_it(count: int) -> None:
    """Conductances from each source to the common drain and a current source at it: the node's voltage by linear algebra."""
    spread, amps, nominal = 0.2, 40.0, 20e-3
    power = BankPower(count, amps**2 * nominal / count, 0.0, 0.0, 0.0, 1.0)
    found = Way.best(replace(PATH, warm_exponent=0.0, resistance_spread=spread)).devices(power, np.array([60.0]))
    raw = np.array([1 - spread, *[1 + spread] * (count - 1)])
    scale = nominal / count / (1 / np.sum(1 / raw))  # the bank as a whole is the one simulated
    conductance = 1 / (raw * scale)
    bench = 1e-3 * np.eye(count)  # sources through a milliohm to ground: their nodes are unknowns too
    matrix = np.zeros((count + 1, count + 1))
    for k, each in enumerate(conductance):
        matrix[0, 0] += each
        matrix[0, k + 1] -= each
        matrix[k + 1, 0] -= each
        matrix[k + 1, k + 1] += each + 1 / (1e-6 * bench[k, k])
    volts = np.linalg.solve(matrix, np.append(amps, np.zeros(count)))
    losses = (volts[0] - volts[1:]) ** 2 * conductance
    assert found.loss[0] == known(losses[0], f"worst of {count} unequal devices", "nodal solution", INDEPENDENT, unit="W", rel=1e-4)
    assert found.bank[0] == pytest.approx(losses.sum(), rel=1e-4) == pytest.approx(power.conduction, rel=1e-4)


def test_a_warmer_device_gives_current_away_to_cooler_ones() -> None:
    """Worst and other device each on their own temperature, against two equations solved by iteration of their own."""
    path = replace(PATH, resistance_spread=0.15)
    power = BankPower(2, 20.0, 0.0, 0.0, 0.0, 1.0)
    cold = 1 / 0.85 + 1 / 1.15
    one = two = 40.0
    for _ in range(400):
        a, b = 0.85 * ((one + 273.15) / 298.15) ** 2.3, 1.15 * ((two + 273.15) / 298.15) ** 2.3
        bank = 20.0 * cold / (1 / a + 1 / b)
        one, two = 40.0 + 1.3 * bank * b / (a + b), 40.0 + 1.3 * bank * a / (a + b)
    found = Way.best(path).devices(power, np.array([40.0]))
    assert found.junction[0] == known(one, "warmer of two devices", "iteration of its own", INDEPENDENT, unit="°C", abs=1e-4)
    plain = 20.0 * cold / cold * (1 / 0.85) / cold
    assert found.loss[0] > plain and found.loss[0] / found.bank[0] < (1 / 0.85) / cold


def test_a_lower_threshold_takes_more_of_changing_over() -> None:
    """Squares of 1.2 V and twice 1.0 V: 1.44/3.44 of 30 W."""
    path = replace(PATH, warm_exponent=0.0, threshold_mismatch=0.2)
    found = Way.best(path).devices(BankPower(3, 0.0, 30.0, 0.0, 6.0, 1.0), np.array([25.0]))
    assert found.loss[0] == pytest.approx(30.0 * 1.44 / 3.44 + 2.0) and found.bank[0] == pytest.approx(36.0)


def test_the_banks_loss_is_kept_whatever_the_spread() -> None:
    path = replace(PATH, warm_exponent=0.0, resistance_spread=0.3, threshold_mismatch=0.4)
    found = Way.best(path).devices(BankPower(4, 11.0, 7.0, 0.0, 2.0, 0.6), np.linspace(20.0, 90.0, 5))
    assert found.bank == pytest.approx(20.0)
    alone = Way.best(path).devices(BankPower(1, 11.0, 7.0, 0.0, 2.0, 0.6), np.array([20.0]))
    assert alone.loss[0] == pytest.approx(20.0) == pytest.approx(alone.bank[0])


def test_an_avalanche_is_one_devices_own() -> None:
    found = Way.best(replace(PATH, warm_exponent=0.0)).devices(BankPower(4, 0.0, 0.0, 8.0, 4.0, 1.0), np.array([25.0]))
    assert found.loss[0] == pytest.approx(9.0)


@pytest.mark.parametrize("row", ref.FOSTER)
def test_the_foster_chain_of_the_reference_table(row: tuple) -> None:
    power, resistances, constants, time, *_ = row
    path = replace(PATH, chain=tuple(zip(resistances, constants, strict=True)))
    assert power * path.reached(time) == listed("FOSTER", "rise", row)
    assert path.reached(None) == path.junction_to_case == pytest.approx(sum(resistances))
    early = replace(path, chain=((0.2, 0.0), *path.chain))
    assert early.reached(time) == pytest.approx(path.reached(time) + 0.2)


@pytest.mark.parametrize("row", ref.LUMPED_HEAT)
def test_the_sink_warms_up_as_the_reference_table_has_it(row: tuple) -> None:
    """The table's rise of 107 K; the sink's table is straight between its entries, so that it is exact."""
    watts, capacity, conductance, time, *_ = row
    path = replace(PATH, warm_exponent=0.0, sink=RatedSink(1 / conductance, None, None, 0.0, capacity), interface=0.01)
    found = Way.best(path).heat(both(replace(ONE, conduction=watts)), "left")
    assert found.warming is not None
    assert found.warming.temperature(time) - 25.0 == listed("LUMPED_HEAT", "rise", row, rel=1e-5)


def test_the_time_to_the_limit_against_an_integration() -> None:
    """C dT/dt = P(T) - (T - Ta)/Rs with the junction in balance above the sink, until the junction is at 150 °C."""
    power = replace(ONE, conduction=14.0, overlap=6.0)
    path = replace(PATH, sink=RatedSink(5.0, None, None, 0.0, 250.0))
    found = Way.best(path).heat(both(power), "left")

    def loss(sink: float) -> float:
        junction = brentq(lambda c: c - sink - 1.3 * (14.0 * ((c + 273.15) / 298.15) ** 2.3 + 6.0), sink, 400.0)
        return (junction - sink) / 1.3

    def rate(_: float, sink: np.ndarray) -> list[float]:
        return [(loss(float(sink[0])) - (float(sink[0]) - 25.0) / 5.0) / 250.0]

    at = brentq(lambda sink: sink + 1.3 * loss(sink) - 150.0, 25.0, 140.0)
    event = lambda _, sink: sink[0] - at  # noqa: E731
    event.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(rate, (0.0, 5000.0), [25.0], events=event, rtol=1e-8, max_step=20.0)
    assert found.junction is None  # it runs away in the end
    assert found.time_to(150.0) == known(
        float(solved.t_events[0][0]), "time of a junction to 150 °C", "integration by SciPy", INDEPENDENT, unit="s", rel=2e-3
    )


def test_a_cool_sink_never_comes_to_the_limit_and_one_without_mass_does_not_say() -> None:
    assert Way.best(PATH).heat(both(ONE), "left").time_to(150.0) is None
    massless = replace(PATH, sink=RatedSink(2.0, None, None, 0.0, None))
    assert Way.best(massless).heat(both(replace(ONE, conduction=40.0)), "left").time_to(60.0) is None


def test_the_ends_hold_the_best_known_between_them() -> None:
    power = replace(ONE, conduction=12.0)
    ends = [each.heat(both(power), "left").junction or CEILING for each in Way.ends(PATH)]
    best = Way.best(PATH).heat(both(power), "left").junction
    assert best is not None and min(ends) < best < max(ends)


def test_a_device_that_finds_no_balance_over_any_sink() -> None:
    assert Way.best(PATH).heat(both(replace(ONE, conduction=4000.0)), "left").junctions is None


def test_a_fan_counts_from_its_own_speed_and_another_speed_widens_the_band() -> None:
    still, at, faster = (RatedSink(4.0, 1.0, 3.0, speed, None) for speed in (0.0, 3.0, 6.0))
    flows = [float(each.flow(np.array([45.0]), 25.0)[0]) for each in (still, at, faster)]
    assert flows == [pytest.approx(5.0), pytest.approx(20.0), pytest.approx(20.0 * math.sqrt(2))]
    assert still.band == at.band == pytest.approx(1.2) and faster.band == pytest.approx(1.2 * 2**0.3)


def test_a_plates_capacity_and_flow() -> None:
    plate = PlateSink(0.2, 0.1, 3e-3, 0.1, 0.0)
    assert plate.capacity == pytest.approx(0.2 * 0.1 * 3e-3 * 2700 * 897)
    flow = plate.flow(np.array([25.0, 60.0, 95.0]), 25.0)
    assert flow[0] == 0.0 and flow[2] > 2 * flow[1] > 0.0


def test_pads_by_hand() -> None:
    assert pad_resistance(PADS["silicone pad"], 2e-4) == pytest.approx(200e-6 / (0.8 * 2e-4))


def test_overdrive_of_the_square_law() -> None:
    """gm = 2 I/u: 40 A and 80 S make 1 V; at a quarter of the current half of it."""
    assert overdrive_at(40.0, 80.0, 40.0) == 1.0 and overdrive_at(10.0, 80.0, 40.0) == 0.5
