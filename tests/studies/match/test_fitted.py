# SPDX-License-Identifier: GPL-3.0-or-later
"""The fitted scenario's file: errors as comments, and a check of it."""

from dataclasses import replace
from types import SimpleNamespace

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match import fitted
from tests.support.results import matches

SCENARIO = Scenario.from_file(matches.SCENARIO)


def text_of(monkeypatch, candidate, known=True):
    """The file where nothing but the supply voltage is fitted."""
    monkeypatch.setattr(fitted, "fitted_fields", lambda *_: {"supply.voltage": "41.8 V"})
    monkeypatch.setattr(fitted, "fitted_heater", lambda *_: SCENARIO.heater("loaded"))
    monkeypatch.setattr(fitted, "ripple_of", lambda *_: ())
    return fitted.fitted_text(SCENARIO, "loaded", (), SimpleNamespace(), candidate, "Fitted to a.csv: something", known)


def test_every_fitted_quantity_stands_with_its_interval_and_whether_the_capture_tells_it(monkeypatch):
    text = text_of(monkeypatch, matches.WEAKER)
    top = text.split("[heater]")[0]
    assert "# Fitted to a.csv: something" in top
    assert "#   inductance of the right choke, over the scenario's: 26.2 % (24.3 % to 28.1 %), yes" in top
    assert "#   pull-up of the gates: 67.3 Ω (63.2 Ω to 71.5 Ω), no" in top
    assert "Only a combination of (inductance of the right choke" in top and "correlation -0.91" in top
    again = Scenario.from_text(text)
    assert again.tables.supply.voltage == 41.8


def test_no_intervals_where_the_capture_is_not_explained(monkeypatch):
    top = text_of(monkeypatch, matches.WEAKER, known=False).split("[heater]")[0]
    assert "No intervals are given" in top and "26.2" not in top


def test_a_label_with_a_line_break_stays_a_comment(monkeypatch):
    odd = replace(matches.ESTIMATES[0], label="one\n[supply]\nvoltage")
    text = text_of(monkeypatch, replace(matches.WEAKER, estimates=(odd,)))
    assert Scenario.from_text(text).tables.supply.voltage == 41.8


def test_a_fitted_file_that_cannot_be_built_is_none():
    assert fitted.built(SCENARIO, SCENARIO.text.replace("turns = 20", "turns = -3")) is None
    assert fitted.built(SCENARIO, SCENARIO.text) == SCENARIO
