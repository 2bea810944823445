# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of a bank along bars and its sentences, on invented currents."""

from __future__ import annotations

import pytest
from matplotlib.figure import Figure

import heatsim as hs
from heatsim.report.check import bank
from heatsim.report.check.page import number_groups
from heatsim.studies.check import BY_CONNECTION

CURRENTS = {"same end": [10.0, 15.0, 20.0], "opposite ends": [14.5, 16.0, 14.5], "middle": [15.5, 14.0, 15.5]}
MEASURES = {BY_CONNECTION[way]: list(each) for way, each in CURRENTS.items()}


@pytest.fixture(scope="module")
def heater(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater-long-bank.toml").heater("loaded")


def test_the_picture_has_every_capacitor_for_every_connection_and_the_limit(heater) -> None:
    ax = bank.shares(MEASURES, heater.capacitors.rails, Figure().add_subplot(), 18.0)
    assert [bar.get_height() for bar in ax.patches] == [each for way in CURRENTS.values() for each in way]
    colours = [bar.get_facecolor() for bar in ax.patches]
    assert len(set(colours[:3])) == 1 and colours[0] != colours[3] == colours[8]
    texts = [text.get_text() for text in ax.texts]
    assert "same end, as built" in texts and "at most 16 A" in texts and "allowed 18 A" in texts
    assert ax.lines[0].get_ydata()[0] == 18.0


def test_without_a_steady_state_the_picture_says_so(heater) -> None:
    ax = bank.shares({}, heater.capacitors.rails, Figure().add_subplot(), None)
    assert not ax.patches and "not measured" in ax.texts[0].get_text()


def test_the_sentences_name_every_connection(heater) -> None:
    told = " ".join(bank.advice(MEASURES | {"capacitor.rails_loss_w": 3.0}, heater.capacitors.rails))
    assert "20 A with the coil at the same end (as built), 16 A at opposite ends and 15.5 A in the middle" in told
    assert "common practice, no source" in told and "3 W" in told
    assert bank.advice({}, heater.capacitors.rails) == () and bank.advice(MEASURES, None) == ()


def test_where_the_values_come_from(heater, checkout) -> None:
    assert "tolerance 5 %" in bank.origin(heater, frozenset({"own_inductance"})) and "own inductance" not in bank.origin(
        heater, frozenset({"own_inductance"})
    )
    plain = hs.load(checkout / "scenarios" / "bench-heater.toml").heater("loaded")
    assert "evenly" in bank.origin(plain, frozenset())


def test_numbers_of_single_capacitors_have_rows_of_their_own() -> None:
    (group,) = number_groups({"capacitor.1.rms_current_a": 10.0, "capacitor.2.rms_current_a": 20.0, **MEASURES})
    assert {label: row[""] for label, row in group.rows.items()} == {
        "rms current, number 1": "10 A",
        "rms current, number 2": "20 A",
    }
