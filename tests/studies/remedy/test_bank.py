# SPDX-License-Identifier: GPL-3.0-or-later
"""Another connection of the coil to a capacitor bank as a remedy. No simulator."""

from __future__ import annotations

import pytest

import heatsim as hs
from heatsim.studies.check import BY_CONNECTION
from heatsim.studies.remedy import changes as ways
from heatsim.studies.remedy.predict import predicted_measures


class Known:
    """What a prediction reads of a case."""

    def __init__(self, heater, measures) -> None:
        self.heater, self.measures = heater, measures


@pytest.fixture(scope="module")
def long_bank(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater-long-bank.toml")


def test_other_connections_come_with_the_inductance_that_they_give(long_bank, checkout) -> None:
    opposite, middle = ways.connections_of(long_bank)
    assert opposite.fields == {"capacitors.rails.coil_connection": "opposite ends"}
    heater = long_bank.change(middle.fields).heater("loaded")
    assert heater.capacitors.rails.coil == "middle" and 30e-9 < heater.capacitors.inductance < 60e-9
    assert list(ways.connections_of(hs.load(checkout / "scenarios" / "bench-heater.toml"))) == []


def test_a_prediction_goes_by_the_shares_of_the_new_connection(long_bank) -> None:
    before = {
        "capacitor.worst_rms_current_a": 21.0,
        "capacitor.worst_temperature_c": 45.0,
        "capacitor.worst_peak_voltage_v": 90.0,
        "capacitor.near_resonance_current_a": None,
        **{BY_CONNECTION[way]: [10.0, most] for way, most in (("same end", 20.0), ("opposite ends", 16.0), ("middle", 15.0))},
    }
    known = Known(long_bank.heater("loaded"), before)
    # the bars' resistance is another too, so that the frequency moves by 2e-5
    found = predicted_measures(known, long_bank.change({"capacitors.rails.coil_connection": "opposite ends"}).heater("loaded"))
    assert found["capacitor.worst_rms_current_a"] == pytest.approx(21 * 0.8, rel=1e-4)
    assert found["capacitor.worst_peak_voltage_v"] == pytest.approx(90 * 0.8, rel=1e-4)
    assert found["capacitor.worst_temperature_c"] == pytest.approx(25 + 20 * 0.64, rel=1e-4)
    assert predicted_measures(known, known.heater)["capacitor.worst_rms_current_a"] == 21.0
    lower = predicted_measures(known, long_bank.change(supply__voltage="10 V").heater("loaded"))
    assert lower["capacitor.worst_rms_current_a"] == pytest.approx(10.5) and lower["capacitor.near_resonance_current_a"] is None
