# SPDX-License-Identifier: GPL-3.0-or-later
"""What is shown of a piece that leaves the coil or goes in: sentences, rows, pictures and folder, of a made-up result."""

from __future__ import annotations

import html
import io
import json
from dataclasses import replace

import numpy as np
import pytest

from heatsim.report.heat.pull import picture, show_pull, words, write_pull
from heatsim.verdict import Finding
from tests.report.heat import moved
from tests.report.heat.example import HOSTILE


def shown(result, width: int = 80) -> str:
    out = io.StringIO()
    show_pull(result, out, width)
    return out.getvalue()


def unwrapped(text: str) -> str:
    return " ".join(text.split())


def test_both_ways_are_told_with_outcome_and_highest_values():
    told = unwrapped(shown(moved.result()))
    leaves, enters = told.index("When the piece leaves"), told.index("When a piece goes in")
    assert 0 < leaves < enters
    assert "The heater keeps running, in the state that a start from rest reaches; the tank has settled after 600 µs." in told
    assert "Highest on the way: drains 210 V, chokes 16 A, coil 270 A and supply 26 A." in told[leaves:enters]
    assert "drains 131 V" in told[enters:]
    assert "supply from 26 A to 3.6 A" in told[leaves:enters]


def test_a_step_that_is_too_much_stands_beside_the_slower_movement():
    told = unwrapped(shown(moved.result()))
    assert "HOLDS WHEN IT IS MOVED SLOWLY; A SUDDEN STEP DOES NOT" in told
    assert "fails switches drain voltage 210 V 131 V ≤ 200 V" in told
    assert "Of 13 limits 2 fail and 11 hold. Moved in 10 ms, ten times as fast as a hand, all 13 hold." in told
    assert "All 13 limits hold." in told
    assert told.count("Or turn the supply down before the workpiece is moved.") == 1


def test_the_headline_says_what_a_slower_movement_does_not_mend():
    broken = replace(moved.result(), leaves=moved.way(True, 230.0, moved.way(True, 210.0, duration=10e-3)))
    assert words.headline(broken) == "fails" and broken.exit_code == 1
    sound = replace(moved.result(), leaves=moved.way(True, moved.CALM))
    assert words.headline(sound) == "holds" and sound.exit_code == 0
    assert words.headline(moved.unsimulated()) == "could not be simulated" and moved.unsimulated().exit_code == 3


def test_of_two_sides_the_worse_is_a_row():
    rows = words.lines(moved.result().leaves)
    drains = [row for row in rows if row.limit == "drain voltage"]
    assert len(drains) == 1 and drains[0].name == "switches" and rows[0] is drains[0]
    assert drains[0].cells == ("fails", "switches", "drain voltage", "210 V", "131 V", "≤ 200 V", "−5 %")
    runs = next(row for row in rows if row.name == "oscillator")
    assert (runs.step, runs.slower, runs.allowed) == ("holds", "holds", "–")
    left = next(row for row in rows if row.limit.startswith("inductance left"))
    assert left.allowed == "≥ 50 %" and not any(row.limit.endswith("leaves") for row in rows)


def test_what_stops_the_heater_is_told_with_its_cause():
    latched = Finding(
        "oscillator", "keeps running when the workpiece leaves", None, None, "", None, "fails", "estimate", "Shorted."
    )
    way = replace(moved.result().leaves, outcome="latches", cause="no oscillation while current stands high", findings=(latched,))
    told = words.outcome(way)
    assert told.startswith("The heater latches: both banks stay on") and told.endswith("No oscillation while current stands high.")
    assert "start from rest reaches" not in told


def test_what_the_numbers_leave_out_is_of_this_piece_and_supply():
    told = " ".join(words.left_out(moved.result()))
    assert "at 4 instants" in told and "up to 8 A flow back into the supply" in told
    assert "throughout" not in told  # a measured piece has no temperature
    hot = {"material": "steel", "diameter": "20 mm", "length": "100 mm", "temperature": "600 °C"}
    bar = moved.scenario().change({"case.loaded.workpiece": hot})
    assert "at 600 °C throughout (case.loaded.workpiece.temperature)" in " ".join(
        words.left_out(replace(moved.result(), scenario=bar))
    )


def test_without_a_simulation_nothing_is_made_up():
    told = unwrapped(shown(moved.unsimulated()))
    assert told.count("It could not be simulated. From rest with the workpiece the heater comes to no steady state") == 2
    assert "Highest" not in told and "Steady states" not in told and "fails" not in told


def test_everything_fits_eighty_columns():
    assert all(len(line) <= 80 for line in shown(moved.result()).splitlines())


def test_the_picture_has_the_step_at_zero_and_the_rating_where_it_is_near():
    leaves, low = (picture.figure(each) for each in (moved.result().leaves, moved.way(False, 118.0)))
    volts, far = leaves.axes[0], leaves.axes[1]
    tank = next(line for line in volts.lines if line.get_label() == "tank")
    time = np.asarray(tank.get_xdata())
    assert time[0] == pytest.approx(-2e6 / moved.FREQUENCY) and time[-1] == pytest.approx(10e6 / moved.FREQUENCY)
    assert far.get_xlim()[1] == pytest.approx(1e3 * 1.5 * 0.6e-3, rel=0.01)
    crest = next(line for line in far.lines if line.get_label() == "left drain, highest")
    assert np.max(np.asarray(crest.get_ydata())) == pytest.approx(moved.DRAIN, rel=0.03)
    notes = [{text.get_text() for text in each.axes[0].texts} for each in (leaves, low)]
    assert notes == [{"the piece moves", "rating 200 V"}, {"the piece moves"}]


def test_the_folder_is_whole_and_the_page_comes_first(tmp_path):
    files = [path.name for path in write_pull(moved.result(), tmp_path)]
    pictures = [f"{stem}.{ending}" for stem in ("piece-leaves", "piece-goes-in") for ending in ("png", "svg")]
    assert files[0] == "pull.html" and sorted(files[1:]) == sorted(["results.json", *pictures])
    page = html.unescape((tmp_path / "pull.html").read_text(encoding="utf-8"))
    assert page.count("<svg") == 2 and "src=" not in page and "A simulation is no proof" in page
    for way in (moved.result().leaves, moved.result().enters):
        assert words.outcome(way) in page and words.highest(way) in page
    data = json.loads((tmp_path / "results.json").read_text(encoding="utf-8"))
    assert (data["schema"], data["verdict"]) == ("heatsim.pull/1", "fails")
    assert data["leaves"]["slower"]["verdict"] == "holds" and data["enters"]["slower"] is None


def test_a_folder_without_waveforms_says_so(tmp_path):
    write_pull(moved.unsimulated(), tmp_path)
    assert (tmp_path / "pull.html").read_text(encoding="utf-8").count("no waveform was simulated") == 2


def test_a_hostile_cause_stays_text(tmp_path):
    told = replace(moved.result(), leaves=replace(moved.result().leaves, cause=HOSTILE), simulator_version=HOSTILE)
    write_pull(told, tmp_path)
    page = (tmp_path / "pull.html").read_text(encoding="utf-8")
    assert "<script>" not in page and "alert(1)" in page and "\x1b" not in page + shown(told)
