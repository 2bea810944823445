# SPDX-License-Identifier: GPL-3.0-or-later
"""The data vector: aliasing and model discrepancy."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from heatsim.measures.lines import record_lines
from heatsim.studies.match.data import Layout, Observation, aliasing, observed, with_meters
from heatsim.studies.match.discrepancy import OWN_FLOORS, RIPPLE_SHARE, discrepancy_of, floors_of, share_floor
from heatsim.studies.match.solver import COUNT
from tests.support.layers import quick_of


@pytest.mark.parametrize("periods", [5.0, 5.37, 41.3])
@pytest.mark.parametrize("density", quick_of([50.0, 52.31], 50.0))
def test_what_is_aliased_onto_lines_stays_within_what_is_allowed(density: float, periods: float) -> None:
    """Against records with one order above the lines, sampled and fitted: each of orders 13 to 190 shifts no line by more than
    three times what is allowed for it, and the line it shifts most by a third of it or more on the average: not idle."""
    phase = np.arange(round(density * periods)) * 2 * math.pi / density
    time, used = phase / (2 * math.pi * 1e5), []
    for order in range(13, 190):
        wave = np.cos(phase) + 0.01 * np.cos(order * phase + 0.7)
        found = record_lines(time, {"tank.voltage": wave}, 1e5, 12, "tank.voltage")
        observation = replace(observed(found, {"tank.voltage": wave}, 12), density=density)
        lines = np.zeros(200, complex)
        lines[1], lines[order] = 1.0, 0.01
        allowed = aliasing(observation, {"tank.voltage": lines}, {"tank.voltage": np.zeros(5)})
        real, imaginary = observation.layout.pairs()[0]
        off = np.hypot(observation.vector[real], observation.vector[imaginary])
        room = np.hypot(allowed[real], allowed[imaginary])
        assert np.all(off < 3 * room + 1e-7), order
        used.append(float(np.max(off) / np.max(room)))
    assert float(np.mean(used)) > 0.33


def test_the_model_discrepancy() -> None:
    """A line that a fault moves by 0.1 among 24 still ones of the tank: a share of it there, and of the rms in all the others;
    nothing of it in another signal."""
    layout = Layout(
        {"tank.voltage": np.array([0, *range(2, 26)]), "drain.left.voltage": np.arange(26)},
        dict.fromkeys(("tank.voltage", "drain.left.voltage"), np.zeros(5)),
    )
    off = np.zeros(layout.size)
    real, imaginary = layout.pairs()[0]
    off[real.start + 3] = 0.1
    floor = discrepancy_of(layout, off, 0.012)
    smear = 0.03 * 0.1 / math.sqrt(25 * 2)
    tank, drain = share_floor("tank"), share_floor("drain")
    assert floor[real.start + 3] == pytest.approx(math.sqrt(tank[4] ** 2 + 0.0012**2 + smear**2))
    assert floor[imaginary.start + 3] == floor[real.start + 3]
    assert floor[real.start + 9] == pytest.approx(math.hypot(tank[10], smear))
    other = layout.pairs()[1][0]
    assert floor[other] == pytest.approx(drain[:26])
    assert discrepancy_of(layout, off, 0.012, 16.0)[other] == pytest.approx(16 * drain[:26])
    assert discrepancy_of(layout, off, 0.012, 16.0)[0] == pytest.approx(4 * floor[0])


KINDS = ("tank.voltage", "drain.left.voltage", "choke.left.current", "gate.left.voltage")


def four_signals() -> Observation:
    """Ten periods of a tank, a drain, a choke of 12 A with a ripple of 2 A, and a gate of 6 V with 7 V of swing."""
    phase = np.arange(4000) * 2 * math.pi / 400
    size = {"tank.voltage": (0, 130), "drain.left.voltage": (41, 65), "choke.left.current": (12, 2), "gate.left.voltage": (6, 7)}
    samples = {name: mean + first * np.cos(phase) for name, (mean, first) in reversed(size.items())}
    return observed(record_lines(phase, samples, 1 / (2 * math.pi), 12, "tank.voltage"), samples, 60)


def test_gates_and_currents_have_model_errors_of_their_own_size() -> None:
    """Shares of their own mean and fundamental, over the tank's fundamental: siemens for a current. No bands of theirs are
    compared, and whatever the order of the channels, the tank is the reference."""
    layout = four_signals().layout
    assert tuple(layout.orders) == KINDS and layout.reference == "tank.voltage"
    assert [bool(layout.quiet[name].size) for name in KINDS] == [True, True, False, False]
    floors = floors_of(layout)
    for name, mean, first in (("choke.left.current", 12 / 130, 2 / 130), ("gate.left.voltage", 6 / 130, 7 / 130)):
        of_mean, of_first, power, least = OWN_FLOORS[name.split(".")[0]]
        assert floors[name][0] == pytest.approx(of_mean * mean, rel=1e-3)
        assert floors[name][1] == pytest.approx(of_first * first, rel=1e-3)
        assert floors[name][4] == pytest.approx(max(of_first / 4**power, least) * first, rel=1e-3)
    assert np.all(floors["tank.voltage"] == share_floor("tank")) and np.all(floors["drain.left.voltage"] == share_floor("drain"))


def test_what_a_fault_does_to_a_current_is_smeared_as_an_inductor_smears_it() -> None:
    """An edge's error of a voltage over L n w: it falls with the order, and what happens to the mean is no edge's."""
    layout = four_signals().layout
    place = dict(zip(layout.orders, layout.pairs(), strict=True))["choke.left.current"][0]
    assert layout.orders["choke.left.current"].tolist() == list(range(9))
    plain, effect = discrepancy_of(layout, np.zeros(layout.size), 0.0), np.zeros(layout.size)
    effect[place.start] = 0.05
    assert discrepancy_of(layout, effect, 0.0) == pytest.approx(plain)
    effect[place.start + 2] = 0.05
    grown = np.sqrt(discrepancy_of(layout, effect, 0.0) ** 2 - plain**2)[place]
    smear = [0.0, *(0.03 * 0.05 / math.sqrt(8 * 2) / n for n in range(1, 9))]
    smear[2] = math.hypot(smear[2], RIPPLE_SHARE * 0.05)
    assert grown == pytest.approx(smear, abs=1e-12)


def test_a_meters_reading_stands_at_the_end_of_the_vector() -> None:
    """With its own error and no other of the model's than a share of what the fault does to it."""
    plain = four_signals()
    found = with_meters(plain, [3, 0], [math.log(91.0), math.log(24.0)], [0.015, 0.01])
    assert found.layout.size == found.vector.size == plain.vector.size + 2 and found.layout.meters == (3, 0)
    assert found.noise[-2:] == pytest.approx([0.015, 0.01]) and found.vector[-1] == pytest.approx(math.log(24.0))
    vector = found.layout.vector(1.0, found.lines.lines, {name: np.zeros(5) for name in KINDS}, [4.0, 5.0])
    assert vector[-2:].tolist() == [4.0, 5.0] and vector.size == found.vector.size
    effect = np.zeros(found.vector.size)
    effect[-1] = 0.3
    assert discrepancy_of(found.layout, effect, 0.012)[-2:] == pytest.approx([0.0, 0.0036])


def test_an_edge_met_at_the_same_places_is_aliased_as_an_impulse_there() -> None:
    """Sixty samples a period, a spike of one sample where the tank crosses zero upwards: the spectrum of an impulse, 2/60 each."""
    phase = np.arange(1200) * 2 * math.pi / 60
    wave = np.cos(phase)
    wave[45::60] += 0.01  # phase 3 pi/2, which is -pi/2
    time = phase / (2 * math.pi * 1e5)
    observation = observed(record_lines(time, {"tank.voltage": wave}, 1e5, 12, "tank.voltage"), {"tank.voltage": wave}, 12)
    _, edge = observation.layout.edges(np.full(observation.layout.size, 2 * 0.01 / 60))
    real, imaginary = observation.layout.pairs()[0]
    orders = observation.layout.orders["tank.voltage"]
    turned = np.exp(1j * orders * np.angle(observation.lines.lines["tank.voltage"][1]))
    spike = (observation.vector[real] + 1j * observation.vector[imaginary]) * turned
    assert spike[1:] == pytest.approx((edge[real] + 1j * edge[imaginary])[1:], abs=3e-6)
    assert spike[0].real == pytest.approx(0.01 / 60, abs=1e-6)


def test_what_a_short_record_shares_is_how_its_vector_moves_with_the_frequency() -> None:
    """Against the vector of lines fitted at frequencies held still a standard error above and below: 2 % of the largest."""
    time = np.linspace(0.0, 1.3e-5, 300)
    phase = 2 * math.pi * 1e5 * time
    wave = {"tank.voltage": 100 * np.cos(phase) + 5 * np.cos(2 * phase + 0.4) + np.random.default_rng(2).normal(0, 0.5, 300)}
    lines = record_lines(time, wave, 1e5, 12, "tank.voltage")
    observation = observed(lines, wave, 100.0)
    assert observation.layout.quiet["tank.voltage"].size == 0, "bands are not compared"
    assert observation.noise[0] == 0.0, "the frequency's error is in what is shared"
    sides = []
    for way in (1, -1):
        angle = 2 * math.pi * (lines.frequency + way * lines.together[0].frequency) * (time - time.mean())
        harmonics = [part(n * angle) for n in range(1, 50) for part in (np.cos, np.sin)]
        design = np.column_stack([np.ones_like(angle), *harmonics])
        found = np.linalg.lstsq(design, wave["tank.voltage"], rcond=None)[0]
        c = np.concatenate([found[:1], found[1::2] - 1j * found[2::2]])
        frequency = lines.frequency + way * lines.together[0].frequency
        sides.append(observation.layout.vector(frequency, {"tank.voltage": c}, {"tank.voltage": np.zeros(0)}))
    moved = (sides[0] - sides[1]) / 2
    assert np.max(np.abs(moved - observation.together[0])) < 0.02 * np.max(np.abs(moved))


def test_floors_stand_from_their_order_on() -> None:
    tank = share_floor("tank")
    assert tank.shape == (COUNT + 1,) and tank[:5].tolist() == [1e-4, 4e-4, 3e-4, 2e-4, 1e-4] and set(tank[4:]) == {1e-4}
