# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of sweeps: the one that fits, the right numbers on it, and gaps shown as gaps."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.report.base.words import either_side, field_words
from heatsim.report.sweep.axes import title
from heatsim.report.sweep.influence import plane
from heatsim.report.sweep.lines import crossings
from heatsim.report.sweep.pictures import OUTPUTS, draw, kind
from heatsim.report.sweep.view import SweepView, columns_of
from tests.support.results.sweeps import falling, made

VOLTAGES, RESISTORS = "supply.voltage = 20 V to 60 V in 9", "gate.resistor = 2 ohm to 8 ohm in 7"


def texts(figure) -> str:
    """Everything written on a figure."""
    found = [text.get_text() for ax in figure.axes for text in [*ax.texts, ax.title, ax.xaxis.label, ax.yaxis.label]]
    found += [ax.get_title(loc="left") for ax in figure.axes]
    return " | ".join([figure.get_suptitle(), *found])


def test_one_axis_is_lines_of_the_usual_outputs():
    plan, frame = made(falling, [VOLTAGES])
    figure = draw(plan, frame)
    assert len(figure.axes) == len(OUTPUTS)
    peak = next(ax for ax in figure.axes if ax.get_title(loc="left").startswith("Tank peak voltage"))
    assert peak.lines[0].get_xdata() == pytest.approx(np.linspace(20, 60, 9))
    assert peak.lines[0].get_ydata() == pytest.approx(3.1 * np.linspace(20, 60, 9))
    choke = next(ax for ax in figure.axes if ax.get_title(loc="left").startswith("Choke peak current"))
    assert choke.lines[0].get_ydata() == pytest.approx(np.linspace(20, 60, 9) / 3), "the larger of both chokes"
    assert "idle: up to about 52" in texts(figure) and "loaded: up to about 41" in texts(figure)
    assert "then choke temperature" in texts(figure) and "supply voltage, V" in texts(figure)
    assert kind(SweepView(plan, frame)) == "lines"


def test_values_out_of_order_are_drawn_in_order():
    figure = draw(*made(falling, ["supply.voltage = 60 V, 20 V, 40 V"], cases=["idle"]))
    assert list(figure.axes[0].lines[0].get_xdata()) == [20, 40, 60]


def test_points_that_latch_are_crosses_and_pending_ones_gaps():
    plan, frame = made(
        lambda fields, case: None if fields["supply.voltage"] > 50 else falling(fields, case), [VOLTAGES], cases=["loaded"]
    )
    figure = draw(plan, frame.drop(index=[2]))
    line, crosses = figure.axes[0].lines[:2]
    assert np.isnan(line.get_ydata()).nonzero()[0].tolist() == [2, 7, 8]
    assert crosses.get_marker() == "x" and list(crosses.get_xdata()) == [55, 60]


def test_words_are_an_axis_too():
    figure = draw(*made(lambda fields, case: 0.2, ["choke.core.material = fe-si-al-60, mpp-60"]))
    labels = [label.get_text() for label in figure.axes[-1].get_xticklabels()]
    assert labels == ["fe-si-al-60", "mpp-60"]


def test_two_axes_are_a_map_with_the_line_of_no_headroom(tmp_path):
    plan, frame = made(falling, [VOLTAGES, RESISTORS], cases=["loaded"])
    figure = draw(plan, frame)
    ax, bar = figure.axes
    mesh = ax.collections[0]
    assert mesh.get_array().shape == (7, 9)
    assert np.asarray(mesh.get_array())[0] == pytest.approx([100 * (41 / volts - 1) for volts in np.linspace(20, 60, 9)])
    zero = np.concatenate([path.vertices for path in ax.collections[1].get_paths()])
    # Linear between 40 V and 45 V, where the headroom is 2.5 % and -8.9 %.
    assert zero[:, 0] == pytest.approx(40 + 5 * 2.5 / (2.5 + 100 * (1 - 41 / 45)), abs=1e-6)
    assert "choke:\ntemperature" in texts(figure) and "least headroom, %" in bar.get_ylabel()
    assert "gate resistor, Ω" in texts(figure)


def test_a_map_ends_where_its_points_end_and_so_does_its_boundary():
    plan, frame = made(falling, [VOLTAGES, "load = 0 % to 100 % in 11"], cases=["loaded"])
    ax = draw(plan, frame).axes[0]
    assert (ax.get_xlim(), ax.get_ylim()) == ((20, 60), (0, 100))
    zero = np.concatenate([path.vertices for path in ax.collections[1].get_paths()])
    assert (zero[:, 1].min(), zero[:, 1].max()) == (0, 100)
    legend = [text.get_text() for text in draw(plan, frame).legends[0].get_texts()]
    assert legend == ["no headroom left", "headroom wanted, 10 %"]


@pytest.mark.parametrize(("beyond", "shown"), [(None, "latched or dead"), (-0.2, "choke:\ntemperature")])
def test_even_the_smallest_region_has_its_limit_beside_it(beyond, shown):
    def corner(fields, case):
        return beyond if fields["supply.voltage"] > 59 and fields["gate.resistor"] > 7.5 else 0.3

    ax = draw(*made(corner, [VOLTAGES, RESISTORS], cases=["loaded"])).axes[0]
    (label,) = [text for text in ax.texts if text.get_text().replace("\n", " ") == shown.replace("\n", " ")]
    middle = label.xy
    assert 57.5 < middle[0] < 60 and 7.5 < middle[1] < 8
    x, y = label.get_position()
    assert 0.1 < x < 0.9 and 0.5 < y < 0.9


def test_maps_come_one_for_each_case_and_other_value():
    plan, frame = made(falling, [VOLTAGES, RESISTORS, "choke.turns = 18, 20"])
    figure = draw(plan, frame)
    shown = [ax for ax in figure.axes if ax.get_visible() and ax.get_title(loc="left")]
    assert [ax.get_title(loc="left") for ax in shown] == [
        f"{case}, choke turns {turns}" for case in ("idle", "loaded") for turns in (18, 20)
    ]


def test_other_outputs_are_drawn_when_asked_for():
    plan, frame = made(falling, [VOLTAGES, RESISTORS], cases=["loaded"])
    assert "tank peak voltage" in texts(draw(plan, frame, ["tank.peak_voltage_v"]))
    assert len(draw(*made(falling, [VOLTAGES]), ["tank.frequency_hz", "choke.*.peak_current_a"]).axes) == 2
    with pytest.raises(InputError, match=r"did you mean tank\.frequency_hz"):
        draw(plan, frame, ["tank.frequency"])


def test_samples_show_what_moves_the_headroom_most():
    def linear(fields, case):
        return 0.1 - 4 * (fields["gate.resistor"] / 4.7 - 1) + 1 * (fields["gate.pull_down"] / 1e4 - 1)

    plan, frame = made(
        linear, tolerance=["gate.pull_down = 5 %", "gate.resistor = 5 %", "gate.pull_up = 5 %"], cases=["loaded"], samples=128
    )
    figure = draw(plan, frame)
    names = [ax.get_title(loc="left") for ax in figure.axes[1:]]
    assert [name.split("\n")[0] for name in names] == ["gate resistor", "gate pull down", "gate pull up"]
    assert "moves it by 40 points" in names[0] and "moves it by 10 points" in names[1]  # 10 % wide times 4 and 1
    held = int((frame["headroom"] >= 0).sum())
    assert 0 < held < 128 and f"{held} of 128 samples keep every limit" in figure.get_suptitle()


def test_a_sweep_without_any_result_is_drawn_empty():
    plan, frame = made(falling, [VOLTAGES])
    assert draw(plan, frame.iloc[:0]).axes
    plan, frame = made(falling, [VOLTAGES, RESISTORS])
    assert draw(plan, frame.iloc[:0]).axes
    plan, frame = made(lambda fields, case: 0.1, tolerance=["gate.resistor = 5 %"])
    assert draw(plan, frame.iloc[:0]).axes


def test_crossings_are_between_points_with_numbers():
    x, y = np.arange(6.0), np.array([2.0, 1.0, -1.0, np.nan, -1.0, 3.0])
    assert crossings(x, y) == [(1, 1.5), (4, 4.25)]


def test_the_plane_through_points_of_a_plane_is_that_plane():
    random = np.random.default_rng(7)
    offsets = random.uniform(-5, 5, (3, 40))
    values = 12.0 + 3.0 * offsets[0] - 0.5 * offsets[2]
    values[3] = np.nan
    slopes, level = plane(offsets, values)
    assert slopes == pytest.approx([3.0, 0.0, -0.5], abs=1e-9) and level == pytest.approx(12.0)
    assert np.isnan(plane(offsets, np.full(40, np.nan))[1])


def test_words():
    assert field_words("choke.left.core.area") == "left choke core area"
    assert field_words("case.loaded.workpiece.share") == "workpiece share"
    assert either_side("choke.right: temperature") == "choke: temperature"
    assert columns_of("choke.*.peak_current_a")[0] == "choke.left.peak_current_a"
    assert title("switch.left.rms_current_a") == "Left switch rms current"


def test_a_view_opens_a_sweep_out_in_its_shape():
    plan, frame = made(falling, [VOLTAGES, RESISTORS])
    view = SweepView(plan, frame.drop(index=[5]))
    assert view.shape == (2, 9, 7, 1)
    assert view.cube(view.column("headroom"))[1, 4, 0, 0] == pytest.approx(41 / 40 - 1)
    assert np.isnan(view.column("headroom")[5]) and view.texts("grade")[5] == ""
    assert view.where(7) == "supply voltage 25 V, gate resistor 2 ohm (idle)"
