# SPDX-License-Identifier: GPL-3.0-or-later
"""The pictures show the result's numbers: curves, marks and texts are read back from the figures."""

from dataclasses import replace

import numpy as np
import pytest

from heatsim.report.heat import axes, parts_picture, picture, piece_picture
from tests.report.heat import example


def texts(figure):
    return [each.get_text() for ax in figure.axes for each in ax.texts]


def line(ax, label):
    return next(each for each in ax.get_lines() if each.get_label() == label)


def test_a_long_heat_has_two_parts_and_a_short_one_has_one():
    result = example.example()
    first, last = axes.stretches(result)
    assert first.start == 0 and first.end == last.start == pytest.approx(1.35 * result.wanted.reached)
    assert last.end == result.series["time_s"][-1] and (first.unit, last.unit) == ((1.0, "seconds"), (60.0, "minutes"))
    short = replace(result, series={name: values[:200] for name, values in result.series.items()})
    assert axes.stretches(short) == (axes.Stretch(0.0, float(result.series["time_s"][199])),)


def test_what_is_never_reached_is_shown_up_to_most_of_its_rise():
    result = example.short_of()
    first, _ = axes.stretches(result)
    surface = np.interp(first.end / axes.BEYOND, result.series["time_s"], result.series["surface_c"])
    assert surface == pytest.approx(20 + 0.9 * (result.series["surface_c"][-1] - 20), abs=8)


def test_curves_are_those_of_the_result():
    result = example.example()
    figure = picture.figure(result, 770.0)
    first, last = figure.axes[:2]
    for ax, unit in ((first, 1.0), (last, 60.0)):
        for label, key in (("surface", "surface_c"), ("core", "core_c"), ("coldest place", "coldest_c")):
            assert np.array_equal(
                line(ax, label).get_xydata(), np.column_stack([result.series["time_s"] / unit, result.series[key]])
            )
    power = line(figure.axes[2], "into the piece").get_ydata()
    assert np.allclose(power, 1e-3 * result.series["piece_power_w"])


def test_the_dot_is_where_it_is_as_wanted_and_the_words_agree():
    result = example.example()
    figure = picture.figure(result, 770.0)
    dot = next(each for each in figure.axes[0].get_lines() if each.get_marker() == "o")
    assert dot.get_xydata().tolist() == [[result.wanted.reached, 850.0]]
    told = texts(figure)
    assert "after 1 min 15 s\ncore 850 °C\nsurface 865 °C" in told and "Curie point 770 °C" in told and "at rest: 1147 °C" in told


def test_without_curie_point_or_arrival_there_is_no_mark_of_it():
    figure = picture.figure(example.short_of(), None)
    assert not any("Curie" in text or text.startswith("after") for text in texts(figure))
    assert not any(each.get_marker() == "o" for each in figure.axes[0].get_lines())


def test_the_caption_tells_what_is_there():
    told = picture.caption(example.example(), 770.0)
    assert "The dot is" in told and "Curie point" in told
    assert "The dot is" not in picture.caption(example.short_of(), 770.0)
    assert picture.caption(example.example(), 770.0, "upright line") == told.replace("The dot is", "The upright line is")
    assert "Curie" not in picture.caption(example.example(), None) + picture.caption(example.example(), 1200.0)


def test_a_level_is_named_where_the_curve_leaves_room():
    for result, ax in ((example.example(), 0), (example.short_of(), 1)):
        axes_of_names = picture.figure(result, 770.0).axes[:2]
        assert any("Curie point 770 °C" in each.get_text() for each in axes_of_names[ax].texts)


def test_all_that_is_drawn_is_in_view():
    for result in (example.example(), example.broken(), example.short_of()):
        for figure in (picture.figure(result, 770.0), parts_picture.figure(result)):
            for ax in figure.axes:
                low, high = ax.get_ylim()
                values = [np.asarray(each.get_ydata(), dtype=float) for each in ax.get_lines() if len(each.get_xdata()) > 2]
                assert all(low <= np.nanmin(each) and np.nanmax(each) <= high for each in values)


def test_missing_series_leave_the_rest():
    kept = ("time_s", "surface_c", "core_c", "coldest_c", "piece_power_w", "given_off_w")
    bare = replace(example.example(), series={name: example.example().series[name] for name in kept}, limits=())
    assert len(picture.figure(bare, None).axes) == 8
    assert len(parts_picture.figure(bare).axes) == 2


def test_the_piece_is_cut_where_it_is_as_wanted_or_last():
    assert piece_picture.shown(example.example()).name == "as wanted"
    assert piece_picture.shown(example.short_of()).name == "at the end"
    figure = piece_picture.figure(example.example())
    radial = next(ax for ax in figure.axes if ax.get_xlabel().startswith("mm from the axis"))
    snapshot = example.example().snapshots[1]
    drawn = line(radial, f"half way, {27} s")
    assert np.allclose(drawn.get_ydata(), snapshot.celsius[example.example().hottest])


def test_edges_of_cells_meet_between_their_middles():
    assert np.allclose(piece_picture.edges([1.0, 3.0, 4.0]), [0.0, 2.0, 3.5, 4.5])
    assert np.allclose(piece_picture.edges([1.0, 3.0], end=3.5), [0.0, 2.0, 3.5])


def test_what_is_shown_starts_at_zero_or_holds_what_lies_below():
    assert axes.around([-0.01, 10.0], zero=True) == pytest.approx((0.0, 11.0))
    low, high = axes.around([-5.0, 10.0], zero=True)
    assert low < -5.0 and high > 10.0
    assert axes.around([np.nan]) == (0.0, 1.0)


def test_limits_of_parts_are_drawn_or_said():
    told = texts(parts_picture.figure(example.example()))
    assert "limit 105 °C" in told and "limit 150 °C: above this picture" in told and "limit at the outlet 60 °C" in told


def test_the_tightest_limits_are_told_worst_first_and_alike_sides_once():
    tight = parts_picture.tightest(example.broken())
    least = [float(np.nanmin(each.headroom)) for _, each in tight]
    assert least == sorted(least) and len(tight) == parts_picture.WORST
    assert tight[0][0] == "left choke: temperature" and not any(name == "right choke: temperature" for name, _ in tight)
