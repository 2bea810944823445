# SPDX-License-Identifier: GPL-3.0-or-later
"""Tolerance: each influence does what it says, and the yield of a borderline winding lies between."""

import numpy as np
import pytest

import heatsim as hs
from heatsim.studies.wind import duty_of
from heatsim.studies.wind.tolerance import influences, varied


@pytest.fixture(scope="module")
def planned(checkout):
    heater = hs.load(checkout / "scenarios" / "bench-heater.toml").heater("loaded")
    return heater.chokes[0], duty_of(heater)


def middle():
    return np.array([0.5 * (each.low + each.high) for each in influences(0.08)])


def changed(planned, name, value):
    values = middle()
    values[[each.name for each in influences(0.08)].index(name)] = value
    return varied(*planned, values)


def test_in_the_middle_the_choke_is_as_planned_but_for_loose_winding_and_warm_copper(planned):
    choke, duty = varied(*planned, middle())
    assert choke.curve.inductance_zero == pytest.approx(planned[0].curve.inductance_zero)
    assert duty == planned[1]


@pytest.mark.parametrize(
    ("name", "value", "ratio"),
    [
        ("inductance of the ring (AL)", 0.92, 0.92),
        ("turns miscounted", 0.6, (21 / 20) ** 2),
        ("turns miscounted", -0.6, (19 / 20) ** 2),
    ],
)
def test_inductance_follows_al_and_the_square_of_turns(planned, name, value, ratio):
    choke, _ = changed(planned, name, value)
    assert choke.curve.inductance_zero == pytest.approx(ratio * planned[0].curve.inductance_zero, rel=2e-3)


def test_an_earlier_saturation_moves_the_half_current(planned):
    choke, _ = changed(planned, "saturation of the material", 0.9)
    half = planned[0].curve
    i = np.linspace(1, 60, 50)
    share = (half.inductance(i) - half.inductance_air) / (half.inductance_zero - half.inductance_air)
    moved = (choke.curve.inductance(0.9 * i) - choke.curve.inductance_air) / (
        choke.curve.inductance_zero - choke.curve.inductance_air
    )
    assert np.abs(share - moved).max() < 0.01


def test_volts_and_load_carry_the_duty(planned):
    _, duty = changed(planned, "supply voltage", 1.03)
    assert duty.voltage == pytest.approx(1.03 * 42) and duty.mean_current == pytest.approx(1.03 * planned[1].mean_current)
    _, duty = changed(planned, "load", 0.9)
    assert duty.mean_current == pytest.approx(0.9 * planned[1].mean_current)


@pytest.mark.slow
def test_a_gapped_ring_keeps_its_gap_when_varied_or_compared(checkout):
    # L = mu0 N^2 A / ((le-g)/mu + g): with the gap lost, a ferrite of 2300 mu would show some fifty times the inductance
    from heatsim.studies.wind import ring_or_turns, wind

    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml").change(
        {
            "wind.ring": [
                {
                    "name": "ferrite",
                    "material": "mnzn-power-ferrite",
                    "outer_diameter": "50 mm",
                    "inner_diameter": "30 mm",
                    "height": "20 mm",
                    "gap": "3 mm",
                    "on_hand": 4,
                }
            ],
            "wind.most_strands": 1,
            "wind.confirm": 1,
            "supply.rise_time": "300 us",
        }
    )
    result = wind(scenario)
    one = next(each for each in result.candidates if each.stack == 1)
    as_it_is, more_rings, *_ = ring_or_turns(one, result.duty)
    assert as_it_is.choke.curve.inductance_zero == pytest.approx(one.choke.curve.inductance_zero)
    assert more_rings.choke.curve.inductance_zero == pytest.approx(2 * one.choke.curve.inductance_zero, rel=1e-3)
    made, _ = varied(one.choke, result.duty, middle())
    assert made.curve.inductance_zero == pytest.approx(one.choke.curve.inductance_zero, rel=1e-6)
