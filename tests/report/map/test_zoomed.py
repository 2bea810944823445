# SPDX-License-Identifier: GPL-3.0-or-later
"""The map on its page in a browser: what is read with the pointer, with and without script, narrow, dark."""

import numpy as np
import pytest

from heatsim.report.map import words, write_folder
from heatsim.studies.map import map_grid
from tests.support.browser import LARGEST, opened
from tests.support.layers import quick_of
from tests.support.map_pools import two_limits


@pytest.fixture(scope="module")
def page(crossing, tmp_path_factory):
    return write_folder(crossing, tmp_path_factory.mktemp("map"))[0]


def test_the_page_is_whole_small_and_offline(page):
    assert page.name == "report.html" and page.stat().st_size < LARGEST
    with opened(page) as seen:
        seen.assert_sound(figures=1)
        assert not seen.page.locator("figure svg").first.is_visible()
        assert seen.along() == pytest.approx((0.0, 100.0), abs=1e-3), "the axes end where the map ends"


def test_what_is_read_is_the_map_there(page, crossing):
    with opened(page) as seen:
        read = seen.point(50.0)
        load, volts = (float(read[name].split()[0]) for name in ("load", "supply voltage"))
        assert abs(load - 50) <= 1 and abs(volts - 40) <= 1
        true = 100 * min(two_limits(load / 100, volts).values())
        assert float(read["least headroom"].replace("−", "-").split()[0]) == pytest.approx(true, abs=0.2)
        assert read["limit"] == "usable"


@pytest.mark.parametrize("dark", quick_of([False, True], True))
def test_on_a_phone_nothing_is_clipped(page, dark):
    with opened(page, width=400, dark=dark) as seen:
        seen.assert_sound(figures=1)


def test_without_script_the_still_picture_is_shown(page):
    with opened(page, script=False) as seen:
        assert seen.page.locator("figure svg").first.is_visible()
        assert not seen.page.locator(".zoomable").first.is_visible()


def test_cells_are_those_of_the_grid_and_labels_those_of_the_limits(page, crossing):
    grid, text = map_grid(crossing), page.read_text(encoding="utf-8")
    for label in grid.labels:
        assert text.count(f'"{words.ends_label(label)}"') > 10, "read at each cell beyond the boundary"
    assert np.isfinite(grid.least).all() and text.count('"usable"') > 1000
