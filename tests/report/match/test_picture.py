# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of a match."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_hex

from heatsim.report.base.style import FAINT
from heatsim.report.match.picture import CAUSE, FIT, evidence, overlay
from tests.support.results import matches


def labelled(ax):
    """Labels of an axes' legend."""
    return [text.get_text() for text in ax.get_legend().get_texts()]


def test_the_overlay_has_a_column_a_signal_and_shows_capture_fit_scenario_cause_and_rest():
    figure = overlay(matches.result())
    assert len(figure.axes) == 6 and figure._suptitle.get_text() == "distorted.csv: best fit is right choke weaker"
    cycle, drain, added, _, rest, _ = figure.axes
    assert labelled(cycle) == ["scenario as written", "best fit", "capture, ± 2 standard errors"]
    assert cycle.get_title(loc="left") == "Tank voltage over one period"
    assert drain.get_title(loc="left") == "Left drain voltage over one period"
    assert labelled(added) == ["what the cause adds", "capture"]
    assert added.get_title(loc="left") == "Departure from the scenario: most at 3.4 µs (tank positive)"
    assert rest.get_title(loc="left") == "847 mV rms per sample is left over; the noise is 830 mV: nothing beyond noise"
    period = 1e6 / matches.FREQUENCY
    assert cycle.get_xlim() == pytest.approx((0, period))


def test_the_overlay_draws_the_numbers_of_the_trace():
    trace = matches.trace()
    cycle, added, rest = overlay(matches.result(traces=(trace,))).axes
    best = next(line for line in cycle.lines if line.get_color() == FIT)
    np.testing.assert_allclose(best.get_ydata(), trace.best)
    area = next(patch for patch in added.collections if to_hex(patch.get_facecolor()[0]) == CAUSE)
    assert area.get_paths()[0].vertices[:, 1].max() == pytest.approx(np.max(trace.best - trace.sound))
    band = rest.collections[0].get_paths()[0].vertices[:, 1]
    assert (band.min(), band.max()) == pytest.approx((-0.18, 0.18))
    np.testing.assert_allclose(rest.lines[0].get_ydata(), trace.measured - trace.best)


def test_halves_are_marked_only_where_the_tank_shows_them():
    def marks(**changes):
        return [text.get_text().split("\n")[1] for ax in overlay(matches.result(**changes)).axes for text in ax.texts]

    assert marks() == ["right bank on", "left bank on"] * 2
    assert marks(traces=(matches.trace("drain.left.voltage"),)) == []
    tank = matches.trace()
    assert marks(traces=(replace(tank, best=np.sin(12 * np.pi * tank.time * matches.FREQUENCY)),)) == []


def test_of_a_sound_heater_no_cause_is_drawn():
    added = overlay(matches.led_by("nothing wrong")).axes[2]
    assert labelled(added)[0] == "what ordinary spread of parts adds"
    same = replace(matches.trace(), best=matches.trace().sound)
    assert overlay(matches.result(traces=(same,))).axes[1].get_title(loc="left").endswith("too small to be seen")


def test_the_overlay_is_of_one_record():
    result = matches.result(
        records=(matches.RECORD, replace(matches.RECORD, label="idle.csv")), traces=(matches.trace(), matches.trace(record=1))
    )
    assert len(overlay(result, 1).axes) == 3 and overlay(result, 1)._suptitle.get_text().startswith("idle.csv")
    with pytest.raises(IndexError, match="record 2 has no traces"):
        overlay(result, 2)


def test_evidence_has_a_bar_a_cause_grey_where_ruled_out():
    ax = evidence(matches.result()).axes[0]
    assert [bar.get_width() for bar in ax.patches][:2] == [0.9967, 0.0033] and len(ax.patches) == 8
    grey = [to_hex(bar.get_facecolor()) == FAINT for bar in ax.patches]
    assert grey == [False, False, False, False, False, True, False, True]
    said = [text.get_text() for text in ax.texts]
    assert said[0] == "> 98 %" and said[1] == "< 2 %   odds < 1 to 50" and said[3] == "< 2 %   odds < 1 to 50"
    assert "ruled out at first look" in said[-1]
