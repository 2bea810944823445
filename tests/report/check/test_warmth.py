# SPDX-License-Identifier: GPL-3.0-or-later
"""The warm-up picture holds the curves of the measures, ends where a choke is destroyed, and is left out without them."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from heatsim.report.check import figures, warmth
from heatsim.studies.check import WARM_UP_TIMES
from tests.support.results import checks as made

COMFORT = [25.0 + 60.0 * (1 - 2.0 ** (-t / 300.0)) for t in WARM_UP_TIMES]
BURNT = [min(25.0 + 0.3 * t, 250.0) for t in WARM_UP_TIMES]
MEASURES = {"choke.left.warm_up_c": COMFORT, "choke.right.warm_up_c": BURNT, "choke.right.time_to_limit_s": 317.0}


def test_curves_limit_and_times() -> None:
    ax = warmth.warm_up(MEASURES, Figure().add_subplot(), 120.0)
    left, right = ax.lines[:2]
    np.testing.assert_allclose(left.get_xdata(), WARM_UP_TIMES)
    np.testing.assert_allclose(left.get_ydata(), COMFORT)
    assert max(right.get_ydata()) == 250.0 and list(right.get_ydata()).count(250.0) == 1
    assert right.get_label() == "right choke, at the limit after 5.28 min" and left.get_label() == "left choke"
    assert any("limit 120 °C" in text.get_text() for text in ax.texts)


@pytest.mark.parametrize("known", [True, False])
def test_the_picture_is_there_when_a_curve_is(known: bool) -> None:
    case = made.case(measures=made.MEASURES | (MEASURES if known else dict.fromkeys(MEASURES)))
    shown = [picture.name for picture in figures.pictures(replace(case))]
    assert ("warm-up" in shown) == known and "power" in shown
    if known:
        scene = figures.Scene(case)
        picture = next(each for each in figures.PICTURES if each.name == "warm-up")
        assert len(figures.figure(scene, picture).axes[0].lines) == 3
