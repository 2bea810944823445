# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of a map, from headrooms by formula."""

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from heatsim.report.map.picture import draw, figure, scale
from heatsim.studies.map import map_grid
from tests.support.map_pools import CHOKE, SUPPLY, island, jump, mapped, two_limits, two_limits_end


def texts(drawn):
    return [text.get_text().replace("\n", " ") for ax in drawn.axes for text in ax.texts]


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
