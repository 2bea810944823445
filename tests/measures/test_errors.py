# SPDX-License-Identifier: GPL-3.0-or-later
"""Stated errors: which measures have one, of what they are a share, and that what differs by more is noticed.

That real measures move by less is tried in `tests/test_kernels.py`.
"""

from __future__ import annotations

from fnmatch import fnmatchcase

import numpy as np
import pytest

from heatsim.measures import MeasureContext, measure
from heatsim.measures.errors import ROUNDING, STANDARD, standard_error_key, stated_errors
from tests.support.rounding import moved
from tests.support.shapes import Stage

MEASURES = dict(measure(Stage().waveforms(), MeasureContext(from_rest=False, periods=8)))


def test_every_number_has_an_error_and_no_standard_error_has() -> None:
    found = stated_errors(MEASURES)
    numbers = {key for key, value in MEASURES.items() if isinstance(value, float | list)}
    assert numbers - found.keys() <= {key for key in numbers if STANDARD in key or key.startswith("window.")}
    assert not any(STANDARD in key for key in found) and not found.keys() - numbers


def test_shares_are_of_what_the_table_says() -> None:
    found = stated_errors(
        {
            "tank.frequency_hz": 100e3,
            "gate.left.fall_delay_s": 1e-7,
            "choke.right.peak_current_a": 20.0,
            "choke.right.mean_current_a": 1.0,
            "tank.even_harmonic_ratio": 0.0,
            "supply.mean_current_a": -5.0,
            "tank.harmonic_ratios": [1.0, 0.01],
            "supply.power_w": None,
        }
    )
    assert found["gate.left.fall_delay_s"] == pytest.approx(ROUNDING["gate.*.fall_delay_s"][0] * 1e-5)
    assert found["choke.right.mean_current_a"] == pytest.approx(ROUNDING["choke.*.*_current_a"][0] * 20.0)
    assert found["tank.even_harmonic_ratio"] == found["tank.harmonic_ratios"] == ROUNDING["tank.*harmonic_ratio*"][0]
    assert found["supply.mean_current_a"] == pytest.approx(ROUNDING["*"][0] * 5.0)
    assert "supply.power_w" not in found


def test_shares_grow_with_the_harder_ring_of_the_gates() -> None:
    key = "tank.even_harmonic_ratio"
    gates = {"gate.left.max_voltage_v": 12.0, "gate.right.max_voltage_v": 10.0, "gate.left.ringing_amplitude_v": 0.1}
    found = stated_errors({key: 0.0, **gates, "gate.right.ringing_amplitude_v": 0.5})
    assert found[key] == pytest.approx(2.0 * ROUNDING["tank.*harmonic_ratio*"][0])
    assert stated_errors({key: 0.0, **gates})[key] == pytest.approx(
        (1.0 + (0.1 / 12.0 / 0.05) ** 2) * ROUNDING["tank.*harmonic_ratio*"][0]
    )


def test_three_standard_errors_of_a_record_are_added() -> None:
    key = "supply.ripple_current_a"
    assert standard_error_key(key) == "supply.ripple_current_standard_error_a"
    alone = stated_errors({key: 2.0})[key]
    assert stated_errors({key: 2.0, standard_error_key(key): 0.1})[key] == pytest.approx(alone + 0.3)


def test_a_ring_that_does_not_decay_has_no_error_of_its_decay() -> None:
    """Nor is it a number that is not one: it is infinite, and both runs say so."""
    endless = {"gate.left.ringing_decay_s": np.inf, "gate.left.ringing_decay_standard_error_s": np.inf}
    assert stated_errors(endless) == {"gate.left.ringing_decay_s": np.inf}
    assert moved(endless, endless) == []


def test_crest_and_valley_have_the_error_of_the_measure() -> None:
    key = "tank.peak_voltage_v"
    assert stated_errors({f"crest.{key}": 100.0, key: 50.0}) == pytest.approx(
        {f"crest.{key}": ROUNDING["*"][0] * 100.0, key: ROUNDING["*"][0] * 50.0}
    )


def test_no_row_of_the_table_is_hidden_by_one_before_it() -> None:
    patterns = list(ROUNDING)
    for place, pattern in enumerate(patterns):
        assert not any(fnmatchcase(pattern.replace("*", "left"), other) for other in patterns[:place]), pattern


RINGING = {
    "gate.left.ringing_state": "rings",
    "gate.left.ringing_decay_s": 1e-7,
    "gate.left.ringing_decay_standard_error_s": 1e-8,
    "tank.peak_voltage_v": 130.0,
}


@pytest.mark.parametrize(
    ("change", "count"),
    [
        ({}, 0),
        ({"gate.left.ringing_decay_s": 1.25e-7}, 0),
        ({"gate.left.ringing_decay_s": 1.35e-7}, 1),
        ({"tank.peak_voltage_v": 131.0}, 1),
        ({"tank.peak_voltage_v": None}, 1),
        ({"gate.left.ringing_state": "too weak or uneven to tell", "gate.left.ringing_decay_s": None}, 0),
        ({"gate.left.ringing_state": "does not ring", "gate.left.ringing_decay_s": None}, 2),
    ],
)
def test_what_moves_by_more_than_stated_is_noticed(change: dict[str, object], count: int) -> None:
    assert len(moved(RINGING, RINGING | change)) == count
