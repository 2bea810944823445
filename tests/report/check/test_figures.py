# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures hold the data they claim to show, leave out what is not there, and say so."""

import re

import numpy as np
import pytest
from matplotlib.figure import Figure

from heatsim.parts.curves import GappedCurve, LinearCurve, table_curve
from heatsim.physics.stage import tank_harmonic_ratio
from heatsim.report.base import style
from heatsim.report.base.pictures import files
from heatsim.report.check import charts, figures, traces
from heatsim.verdict import Finding
from tests.support.results import checks as made


@pytest.fixture
def ax():
    return Figure().add_subplot()


def lines(ax):
    return {line.get_label(): line for line in ax.lines}


def words_on(ax):
    return " | ".join(text.get_text() for text in ax.texts)


LAST = made.waveforms().between(157 / made.FREQUENCY, 160 / made.FREQUENCY)


@pytest.mark.parametrize(
    ("draw", "signal", "label"),
    [
        (traces.tank, "tank.voltage", "tank (left minus right)"),
        (traces.tank, "drain.right.voltage", "right drain"),
        (traces.choke_currents, "choke.left.current", "left choke, mean 13 A"),
        (traces.gates, "gate.left.voltage", "left gate"),
        (traces.switches, "switch.right.current", "right switch"),
    ],
)
def test_a_trace_is_the_signal_over_microseconds(draw, signal, label, ax):
    assert draw(LAST, ax) is ax
    drawn = lines(ax)[label]
    np.testing.assert_allclose(drawn.get_ydata(), LAST[signal])
    np.testing.assert_allclose(drawn.get_xdata(), 1e6 * (LAST.time - LAST.time[0]))
    assert ax.get_xlim()[1] == pytest.approx(3e6 / made.FREQUENCY)
    assert ax.get_xlabel() == "µs from 1.962 ms after switching on"


@pytest.mark.parametrize("draw", [traces.choke_currents, traces.gates, traces.switches])
def test_left_and_right_differ_in_colour_and_in_line(draw, ax):
    draw(LAST, ax)
    left, right = (next(line for label, line in lines(ax).items() if label.startswith(side)) for side in ("left", "right"))
    assert (left.get_color(), right.get_color()) == (style.LEFT, style.RIGHT)
    assert left.get_linestyle() == "-" and right.get_linestyle() == "--"


def luminance(colour):
    """Relative luminance, WCAG 2.1."""
    part = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    return float(np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4) @ [0.2126, 0.7152, 0.0722])


@pytest.mark.parametrize("colour", [style.LEFT, style.RIGHT, style.CENTRE, style.LIMIT, style.HEAT, style.SUPPLY, style.BUS])
def test_colours_read_on_white_and_on_dark(colour):
    """3:1 for graphics, WCAG 2.1 criterion 1.4.11; dark: the page's card, #1e2127."""
    own = luminance(colour)
    assert 1.05 / (own + 0.05) >= 3.0 and (own + 0.05) / (luminance("#1e2127") + 0.05) >= 3.0


def test_missing_signals_are_said_not_raised(ax):
    nothing = made.waveforms(signals=("supply.current",))
    for draw, said in (
        (traces.tank, "neither tank nor drain"),
        (traces.gates, "no gate voltage"),
        (traces.choke_currents, "no choke current"),
        (traces.switches, "no switch current"),
    ):
        ax.clear()
        draw(nothing, ax)
        assert said in words_on(ax) and not ax.lines


def test_one_side_alone_is_drawn(ax):
    traces.gates(made.waveforms(signals=("gate.right.voltage",)), ax)
    assert list(lines(ax)) == ["right gate"]


def test_a_rating_near_the_data_is_a_line_and_one_far_off_a_note(ax):
    traces.gates(LAST, ax, rating=20.0, threshold=3.6)
    heights = [line.get_ydata()[0] for line in ax.lines if len(set(line.get_ydata())) == 1 and line.get_color() == style.LIMIT]
    assert heights == [20.0]
    assert ax.get_ylim()[1] > 20 and ax.get_ylim()[0] > -20
    assert "rating +20 V" in words_on(ax) and "rating −20 V: below this picture" in words_on(ax)
    assert "threshold 3.6 V" in words_on(ax)


def test_a_banks_rating_counts_its_devices(ax):
    traces.switches(LAST, ax, rating=20.0, count=2)
    assert [line.get_ydata()[0] for line in ax.lines if line.get_color() == style.LIMIT] == [40.0]
    assert "rating 2 × 20 A" in words_on(ax)


def test_a_bank_that_shares_unevenly_may_carry_less(ax):
    """One device takes 1.1 times the mean: the bank is at its end where that one is."""
    traces.switches(LAST, ax, rating=20.0, count=2, heaviest=1.1)
    assert [line.get_ydata()[0] for line in ax.lines if line.get_color() == style.LIMIT] == [pytest.approx(40.0 / 1.1)]
    assert "rating 2 × 20 A, shared unevenly" in words_on(ax)


def test_slices_keep_every_peak():
    time, samples = np.linspace(0, 1, 10_001), np.zeros(10_001)
    samples[[777, 5001]] = 9.0, -4.0
    middle, low, high = traces.sliced(time, samples, 50)
    assert high.max() == 9.0 and low.min() == -4.0 and middle.size == 50
    assert middle[high.argmax()] == pytest.approx(0.0777, abs=0.01)


def test_slices_without_samples_are_left_out():
    middle, low, high = traces.sliced(np.array([0.0, 0.1, 0.95, 1.0]), np.array([1.0, 2.0, 3.0, 4.0]), 10)
    np.testing.assert_allclose(high, [1.0, 2.0, 4.0])
    assert middle.size == low.size == 3


def test_startup_shows_envelope_bus_and_supply(ax):
    waves = made.waveforms()
    traces.startup(waves, ax, settled=0.42e-3, window=(1.75e-3, 2e-3), slices=80)
    upper, lower = (line for line in ax.lines if line.get_color() == style.TANK)
    size = np.pi * made.VOLTAGE * (1 - np.exp(-np.asarray(upper.get_xdata()) * 1e-3 * made.FREQUENCY / 12))
    np.testing.assert_allclose(upper.get_ydata()[8:], size[8:], rtol=0.03)
    np.testing.assert_allclose(lower.get_ydata()[8:], -size[8:], rtol=0.03)
    assert lines(ax)["bus voltage"].get_ydata()[-1] == pytest.approx(made.VOLTAGE, rel=1e-3)
    other = next(axes for axes in ax.figure.axes if axes is not ax)
    assert other.lines[0].get_ydata()[-1] == pytest.approx(waves["supply.current"][-1], rel=0.01)
    assert "settled 0.42 ms" in words_on(ax) and "measured here" in words_on(ax)


CURVE = table_curve([0, 10, 20, 40], [65e-6, 58e-6, 45e-6, 20e-6], 2e-6)


def test_the_excursion_lies_on_the_curve_between_its_ends(ax):
    charts.choke_curves([charts.Excursion("left", CURVE, 8.0, 13.0, 35.0, 0.5)], ax)
    curve, beyond, used, mean, limit = ax.lines
    assert curve.get_xdata()[-1] <= 40.0 < beyond.get_xdata()[0] and beyond.get_label() == "beyond what is known"
    np.testing.assert_allclose(curve.get_ydata(), 1e6 * CURVE.inductance(curve.get_xdata()))
    assert (used.get_xdata()[0], used.get_xdata()[-1]) == (8.0, 35.0) and used.get_linewidth() > 2 * curve.get_linewidth()
    np.testing.assert_allclose(used.get_ydata(), 1e6 * CURVE.inductance(used.get_xdata()))
    assert (mean.get_xdata()[0], mean.get_ydata()[0]) == (13.0, pytest.approx(1e6 * float(CURVE.inductance(13.0))))
    assert limit.get_ydata()[0] == pytest.approx(32.5) and "limit: 50 % left" in words_on(ax)
    assert "left choke, used from 8 to 35 A" in lines(ax) and ax.get_ylabel() == "differential inductance, µH"


@pytest.mark.parametrize("curve", [LinearCurve(47e-6, 1e-6), GappedCurve(47e-6, 1e-6, 1.2e-3, 1e-4)])
def test_a_choke_never_run_still_has_its_curve(curve, ax):
    charts.choke_curves([charts.Excursion("centre", curve)], ax)
    assert ax.get_xlim()[1] >= 1.0 and ax.get_ylim()[1] > 47
    assert "centre choke" in lines(ax) and len(ax.lines) <= 2


def test_harmonics_are_drawn_in_decibels_with_the_ideal_stage(ax):
    ratios = made.MEASURES["tank.harmonic_ratios"]
    charts.harmonics(ratios, ax, quality=8.0)
    tops = {round(bar.get_x() + bar.get_width() / 2): bar.get_y() + bar.get_height() for bar in ax.patches}
    assert sorted(tops) == list(range(2, 16))
    assert tops[3] == pytest.approx(20 * np.log10(0.0164)) and tops[2] == pytest.approx(-73.98, abs=0.01)
    assert tops[6] == -100.0  # below the floor
    odd, even = (box.patches[0] for box in ax.containers)
    assert odd.get_facecolor() != even.get_facecolor() and even.get_hatch() and not odd.get_hatch()
    (marks,) = ax.collections
    heights = [segment[0][1] for segment in marks.get_segments()]
    np.testing.assert_allclose(heights, 20 * np.log10(tank_harmonic_ratio(8.0, np.arange(3, 16, 2))))
    assert "1.6 %" in words_on(ax) and max(heights) < ax.get_ylim()[1]


def test_without_harmonics_the_picture_says_so(ax):
    charts.harmonics(None, ax)
    assert "no harmonics" in words_on(ax) and not ax.patches


def test_power_bars_sum_to_what_is_supplied(ax):
    charts.power(made.MEASURES, ax)
    assert sum(bar.get_width() for bar in ax.patches) == pytest.approx(930 + 140 + 19 + 12.8 + 9.9)
    assert [label.get_text() for label in ax.get_yticklabels()] == ["workpiece", "coil", "switches", "chokes, copper", "supply"]
    assert ax.get_title() == "Where the power goes: 1.112 kW in, 1.112 kW accounted for"
    assert "930 W, 83.6 %" in words_on(ax)


def test_power_without_measures_says_so(ax):
    charts.power(dict.fromkeys(made.MEASURES), ax)
    assert "no powers" in words_on(ax) and not ax.patches


def test_a_settled_case_has_every_picture_and_the_sheet_holds_them():
    case = made.case()
    pictures = tuple(picture for picture in figures.PICTURES if picture.name != "capacitor-shares")  # needs bars
    assert figures.pictures(case) == pictures
    titles = [axes.get_title("left") for axes in figures.sheet(case).axes]
    assert all(any(title.startswith(picture.title) for title in titles) for picture in pictures)
    assert [axes.get_title("left") for axes in figures.sheet(case, ["gates"]).axes] == ["Gate voltages"]


def test_the_excursion_is_that_of_the_measured_window():
    case = made.case()
    left, right = figures.excursions(figures.Scene(case))
    current = case.waveforms.between(*case.window)["choke.left.current"]
    assert (left.least, left.greatest) == (current.min(), current.max()) and left.mean == pytest.approx(made.MEAN, rel=1e-3)
    assert (left.side, right.side, left.share) == ("left", "right", 0.5)


def test_one_choke_to_the_tap_has_a_colour_of_its_own(ax):
    scenario = made.Scenario.from_file(made.SCENARIO).change({"heater.topology": "one-choke"})
    waves = made.waveforms()
    signals = {**waves.only(["tank.voltage"]).signals, "choke.centre.current": waves["choke.left.current"]}
    case = made.case(heater=scenario.heater("loaded"), waveforms=made.Waveforms(waves.time, signals))
    (centre,) = figures.excursions(figures.Scene(case))
    assert centre.side == "centre" and centre.greatest == pytest.approx(waves["choke.left.current"][-3000:].max(), rel=1e-3)
    drawn(case, "choke-currents", ax)
    assert [line.get_color() for line in ax.lines] == [style.CENTRE] * 2


def test_a_failed_case_shows_what_there_is():
    latched = made.failed("loaded", "latched", made.waveforms(periods=30))
    names = [picture.name for picture in figures.pictures(latched)]
    assert names == ["tank", "choke-currents", "choke-curves", "gates", "switches", "startup"]
    last = figures.last_periods(latched, 3)
    assert last.time[-1] == latched.waveforms.time[-1] and last.duration == pytest.approx(3 / latched.heater.frequency)
    assert [picture.name for picture in figures.pictures(made.failed("loaded", "unsolved"))] == ["choke-curves"]


def test_a_run_shorter_than_three_periods_is_shown_whole():
    short = made.failed("loaded", "stalled", made.waveforms(periods=2))
    assert figures.last_periods(short, 3).duration == short.waveforms.duration


def drawn(case, name, ax):
    """A picture of a case on axes of the test's."""
    return next(picture for picture in figures.PICTURES if picture.name == name).draw(figures.Scene(case), ax)


def test_pictures_can_be_drawn_on_other_axes(ax):
    assert drawn(made.case(), "harmonics", ax) is ax and len(ax.patches) == 14


def test_svg_is_the_same_for_the_same_picture_and_needs_nothing_else():
    case = made.case()
    texts = [files(figures.figure(figures.Scene(case), figures.PICTURES[0]), "tank", "Tank & drains")["tank.svg"] for _ in range(2)]
    assert texts[0] == texts[1] and "<title>Tank &amp; drains</title>" not in texts[0][:60]
    assert not re.search(r'(?:href|src)="(?!#)', texts[0]) and "left drain" in texts[0]


def test_the_settings_use_the_colours_of_the_house():
    rules = style.rules()
    assert (rules["text.color"], rules["grid.color"], rules["figure.facecolor"]) == (style.INK, style.FAINT, style.PAPER)


def test_the_warmest_of_equal_parts_is_drawn_nearest_to_its_limit_first(ax) -> None:
    def found(part: str, limit: str, value: float | None, allowed: float, unit: str = "°C") -> Finding:
        room = None if value is None else (allowed - value) / allowed
        return Finding(part, limit, value, allowed, unit, room, "holds" if room and room > 0 else "fails", "estimate")

    findings = [
        found("choke.left", "temperature", 60.0, 120.0),
        found("choke.right", "temperature", 90.0, 120.0),
        found("switch.left", "junction temperature", 160.0, 150.0),
        found("coil", "hottest wall against boiling", None, 100.0),
        found("supply", "mean current", 20.0, 30.0, "A"),
    ]
    assert [each.part for each in charts.warmest(findings)] == ["switch.left", "choke.right"]
    charts.temperatures(findings, ax)
    assert [each.get_text() for each in ax.get_yticklabels()] == ["left switch, junction", "right choke"]
    assert [bar.get_width() for bar in ax.patches] == [160.0, 90.0]
    assert words_on(ax) == "160 °C of 150 °C | 90 °C of 120 °C"


def test_without_a_judged_temperature_the_picture_says_so(ax) -> None:
    assert words_on(charts.temperatures([], ax)) == "no temperature is judged"
