# SPDX-License-Identifier: GPL-3.0-or-later
"""A map in words, as a table, as a picture and as results.json, from headrooms by formula."""

import io
import json
import re

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from heatsim.report import map as shown
from heatsim.report.map.picture import draw, figure, scale
from heatsim.report.map.words import ends_clause, ends_label, headline, sentences
from heatsim.scenario.scenario import Scenario
from heatsim.studies.map import map_grid, operating_map
from tests.support.map_pools import CHOKE, SUPPLY, FormulaPool, dead_below, island, jump, two_limits, two_limits_end


@pytest.fixture(scope="module")
def scenario(checkout):
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def mapped(scenario, formula, horizontal="load = 0 % to 100 %", vertical="supply.voltage = 20 V to 60 V", **more):
    return operating_map(scenario, horizontal, vertical, FormulaPool(formula), **more)


@pytest.fixture(scope="module")
def crossing(scenario):
    return mapped(scenario, two_limits)


@pytest.fixture(scope="module")
def dead(scenario):
    return mapped(scenario, dead_below)


def test_the_single_answer_and_what_follows(crossing):
    first, *more = sentences(crossing)
    assert first == "Usable up to 43.6 V at full load; the supply ends it: mean current."
    assert more[0] == "Next, 5.8 V further at about 49.5 V, the left choke would end it: inductance left at the peak."
    assert more[1] == "With the wanted headroom of 10 %: up to about 39.3 V."
    assert "over the whole range of load; weakest at full load" in more[2]
    assert more[3] == "The scenario's own point, 42 V at full load, has a headroom of +4 % (supply: mean current)."
    low, high = map(float, re.search(r"between ([\d.]+) V and ([\d.]+) V, both simulated", more[4]).groups())
    assert low <= two_limits_end(1.0) <= high and high - low <= 0.21


def test_words_for_a_start_that_fails_below(dead):
    assert headline(dead) == (
        "Usable from 34.1 V up to 43.6 V at full load; below, it does not start; above, the supply ends it: mean current."
    )
    assert "Usable from 34.1 V to 43.6 V over the whole range of load" in " ".join(sentences(dead))


@pytest.mark.parametrize(
    ("formula", "words"),
    [
        (
            lambda load, volts: {SUPPLY: 1 - volts / 100},
            ["Usable from 20 V to 60 V, the whole range, at full load; no limit is met.", "The same over the whole range of load."],
        ),
        (
            lambda load, volts: {SUPPLY: 0.5 - volts / 20},
            [
                "Nothing from 20 V to 60 V is usable at full load; the supply ends it: mean current, even where it comes nearest.",
                "Nothing is usable at any load.",
            ],
        ),
        (lambda load, volts: "latched", ["is usable at full load; it latches.", "own point, 42 V at full load: it latches."]),
        (
            lambda load, volts: "dead" if volts < 30 else {SUPPLY: 1 - volts / 100},
            [
                "up to 60 V, the end of the range, at full load; below, it does not start.",
                "Usable from 30 V to 60 V over the whole",
            ],
        ),
        (island, ["Nothing is usable below 32 % or above 68 % load."]),
        (lambda load, volts: {SUPPLY: 0.05, CHOKE: 1 - volts / 50}, ["The wanted headroom of 10 % is kept nowhere at full load."]),
        (
            lambda load, volts: {SUPPLY: 0.9, CHOKE: 0.5 if volts < 45 else None},
            ["beyond, left choke: inductance left at the peak cannot be judged"],
        ),
    ],
)
def test_honest_words_when_there_is_no_such_answer(scenario, formula, words):
    told = " ".join(sentences(mapped(scenario, formula)))
    for text in words:
        assert text in told


def test_words_for_other_fields(scenario):
    found = mapped(
        scenario,
        lambda count, turns: {SUPPLY: 1 - turns / (10.5 + 2 * count)},
        "capacitors.count = 3 to 11",
        "choke.turns = 10 to 40",
        case="idle",
    )
    assert headline(found) == "Choke turns: usable up to 22 at capacitors count 6; the supply ends it: mean current."
    assert "The boundary lies between 22 and 23, both simulated." in " ".join(sentences(found))


def test_words_when_the_points_run_out(scenario):
    assert "The number of points ran out" in " ".join(sentences(mapped(scenario, jump, most_points=40)))


def test_clauses_and_labels():
    assert ends_clause("capacitors: peak voltage") == "the capacitors end it: peak voltage"
    assert ends_clause("choke.left: temperature") == "the left choke ends it: temperature"
    assert ends_label("dead") == "does not start"
    assert ends_label(f"not judged: {CHOKE}") == "not known: left choke: inductance left at the peak"


def test_the_table_reads_at_80_columns(dead):
    out = io.StringIO()
    shown.show(dead, out, width=80)
    text = out.getvalue()
    assert max(map(len, text.splitlines())) <= 80
    assert "below: does not start" in " ".join(text.split())
    for reach in dead.answer.reaches:
        assert f"{reach.stop:.3g} V" in text
    assert "A simulation does not make a build safe." in " ".join(text.split())


def test_results_json(dead, tmp_path):
    paths = shown.write_folder(dead, tmp_path / "map")
    assert [path.name for path in paths] == ["map.png", "map.svg", "results.json"]
    told = json.loads(paths[2].read_text(encoding="utf-8"))
    assert told["schema"] == "heatsim.map/1"
    assert told["sentences"][0] == headline(dead)
    assert told["answer"]["at_reference"]["lower"]["ends"] == "dead"
    assert {point["outcome"] for point in told["points"]} == {"settled", "dead", "latched"}
    assert all((point["headroom"] is None) == (point["outcome"] != "settled") for point in told["points"])
    assert paths[1].read_text(encoding="utf-8").count("<svg") == 1


def test_the_grid_agrees_with_the_truth(dead):
    grid = map_grid(dead)
    load, volts = np.meshgrid(grid.u, 20 + 40 * grid.v)
    true = (volts >= 24 + 10 * load**2) & (volts <= np.vectorize(two_limits_end)(load))
    wrong = (grid.margin >= 0) != true
    assert wrong.mean() < 0.01
    inside = true & ~wrong
    least = np.vectorize(lambda u, v: min(two_limits(u, v).values()))(load, volts)
    assert np.abs(grid.least - least)[inside].max() < 0.01
    assert ((grid.ends >= 0) == (grid.margin < 0)).mean() > 0.99
    assert {grid.labels[int(k)] for k in np.unique(grid.ends) if k >= 0} == {"dead", CHOKE, SUPPLY}


def texts(drawn):
    return [text.get_text().replace("\n", " ") for ax in drawn.axes for text in ax.texts]


def test_the_picture_names_what_ends_each_region(crossing, dead):
    named = texts(figure(crossing))
    assert "left choke: inductance left at the peak" in named and "supply: mean current" in named
    assert "does not start" in texts(figure(dead))


def test_the_picture_tells_usable_from_not_without_colour(crossing):
    ax = Figure((6, 4)).add_subplot()
    FigureCanvasAgg(ax.figure)
    draw(crossing, ax)
    hatches = {hatch for item in ax.collections for hatch in getattr(item, "hatches", ())}
    assert "////" in hatches
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("load, %", "supply voltage, V")
    assert (ax.get_xlim(), ax.get_ylim()) == ((0, 100), (20, 60))


def test_the_picture_shows_every_point_and_the_scenario_itself(dead):
    ax = Figure((6, 4)).add_subplot()
    FigureCanvasAgg(ax.figure)
    draw(dead, ax)
    points = {(round(x, 6), round(y, 6)) for line in ax.lines for x, y in zip(*line.get_data(), strict=True)}
    assert {(round(100 * one.x, 6), round(one.y, 6)) for one in dead.evidence.samples} <= points
    assert any(line.get_marker() == "D" and list(line.get_data()[1]) == [42.0] for line in ax.lines)


@pytest.mark.parametrize("formula", [island, jump, lambda load, volts: {SUPPLY: 1 - volts / 100}, lambda load, volts: "dead"])
def test_pictures_of_odd_maps_can_be_drawn_and_fit_their_page(scenario, formula):
    drawn = figure(mapped(scenario, formula))
    canvas = FigureCanvasAgg(drawn)
    canvas.draw()
    image = np.asarray(Image.frombuffer("RGBA", canvas.get_width_height(), canvas.buffer_rgba()).convert("L"))
    assert image.std() > 5
    assert (image[:, -1] > 250).all() and (image[-1] > 250).all()
    for text in drawn.texts:
        box = text.get_window_extent(canvas.get_renderer())
        assert box.x1 <= drawn.bbox.x1 and box.y0 >= drawn.axes[0].bbox.y1


def test_units_of_axes(scenario):
    farads = "capacitors.capacitance = 100 nF to 470 nF"
    found = mapped(scenario, lambda _, volts: {SUPPLY: 1 - volts / 50}, farads, case="idle")
    assert scale(found.horizontal) == (pytest.approx(1e9), "nF")
    assert scale(found.vertical) == (1.0, "V")


def test_an_interrupted_map_says_how_to_go_on(tmp_path):
    out = io.StringIO()
    shown.say_interrupted(None, tmp_path / "points.db", out)
    assert "Run the same command again to continue" in out.getvalue()
