# SPDX-License-Identifier: GPL-3.0-or-later
"""Builds side by side on the terminal, on the page and in pictures. Results made by hand."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from heatsim.report.check import beside, overlay
from heatsim.studies.check import compared
from tests.support.browser import opened, without_scripts
from tests.support.results import checks as made
from tests.support.screen import Screen


def other(name="Bench heater"):
    """A build with less supply, fewer limits and one case; its run is shorter and ends at another phase of the tank."""
    result = made.result(name=name)
    waves = made.waveforms(periods=150)
    stop = float(waves.time[-1]) - 0.3 / made.FREQUENCY
    findings = tuple(
        replace(each, headroom=each.headroom and each.headroom - 0.2, grade="fails" if each.headroom else each.grade)
        for each in made.FINDINGS[:-1]
    )
    measures = made.MEASURES | {"tank.peak_voltage_v": 118.7, "choke.left.temperature_c": 64.0}
    case = made.case(findings=findings, measures=measures, waveforms=waves, window=(stop - 20 / made.FREQUENCY, stop))
    return replace(result, scenario=result.scenario.change({"supply.voltage": "38 V"}), cases=(case,))


@pytest.fixture(scope="module")
def comparison():
    return compared([made.result(), other()], ["one", "two"])


def shown(found, width=100, **options):
    stream = Screen(tty=False)
    beside.show_beside(found, stream=stream, width=width, **options)
    return stream.getvalue()


def test_fields_limits_and_measures_are_there(comparison) -> None:
    text = shown(comparison)
    assert re.search(r"^supply.voltage +42 V +38 V$", text, re.MULTILINE)
    assert re.search(r"^loaded +supply +mean current +\+5 % marginal +−15 % fails +−20$", text, re.MULTILINE)
    assert re.search(r"^loaded +tank peak voltage +132 V +119 V \(−10.0 %\)$", text, re.MULTILINE)
    assert re.search(r"^loaded +left choke temperature +71 °C +64 °C \(−7.0 K\)$", text, re.MULTILINE)
    assert re.search(r"^loaded +tank frequency +80 kHz +80 kHz \(same\)$", text, re.MULTILINE)
    assert re.search(r"^loaded +oscillator +starts and settles +holds +not there +–$", text, re.MULTILINE)
    assert "The verdict is the same: each of one and two fails." in text and "Case idle: only one has it." in text


def test_what_did_not_change_is_counted_and_told_when_asked(comparison) -> None:
    assert "1 more, none of them" in shown(comparison) and not re.search("capacitors +peak", shown(comparison))
    assert "more, none of them" not in shown(comparison, verbose=True)
    assert re.search(r"^loaded +capacitors +peak voltage +unknown +unknown +–$", shown(comparison, verbose=True), re.MULTILINE)


@pytest.mark.parametrize("width", [60, 80, 120])
def test_no_line_is_wider_than_the_terminal(comparison, width) -> None:
    assert max(len(line) for line in shown(comparison, width, verbose=True).splitlines()) <= width


def test_builds_that_are_the_same_are_told_to_be() -> None:
    assert "No field differs: the builds are the same." in shown(compared([made.result(), made.result()]))


def test_verdicts_that_differ_are_said() -> None:
    sound = made.result(made.case(findings=made.FINDINGS[4:]))
    assert "The verdicts differ: one holds and two fails." in shown(compared([sound, made.result()], ["one", "two"]))


def test_both_sides_that_read_the_same_share_a_line() -> None:
    left, right = made.FINDINGS[:2]
    for apart, together in ((0.01, True), (0.03, False)):
        pair = made.case(findings=(left, replace(right, headroom=left.headroom + apart)))
        assert ("chokes, both" in shown(compared([made.result(pair)] * 2), verbose=True)) == together


def test_the_folder_has_page_numbers_and_pictures_and_nothing_stale(comparison, tmp_path) -> None:
    (tmp_path / "beside-idle.png").write_text("old")
    paths = beside.write_beside(comparison, tmp_path, png=True)
    assert paths[0].name == "beside.html" and set(paths) == set(tmp_path.iterdir())
    assert {path.name for path in paths[1:]} == {"beside.json", "beside-loaded.png", "beside-loaded.svg"}
    data = json.loads((tmp_path / "beside.json").read_text(encoding="utf-8"))
    assert data["schema"] == "heatsim.compare/1" and data["fields"] == [{"field": "supply.voltage", "values": ["42 V", "38 V"]}]
    page = without_scripts(paths[0].read_text(encoding="utf-8"))
    assert 'href="two/report.html"' in page and "<svg" in page and "Limits that not every build has" in page
    assert not re.search(r'(src|href)="(https?:)?//', page)


@pytest.mark.slow
@pytest.mark.parametrize("dark", [False, True])
def test_builds_are_read_over_one_another_in_a_browser(comparison, tmp_path, dark) -> None:
    with opened(beside.write_beside(comparison, tmp_path)[0], 400, dark) as shown:
        read = shown.point(1.25)
        assert set(read) == {"periods of the tank", "one", "two"} and all(
            text.endswith(" V") for text in (read["one"], read["two"])
        )
        shown.assert_sound(figures=1)


def test_hostile_names_and_values_are_texts() -> None:
    found = compared([made.result(), other(made.HOSTILE)], ["<b>one", "two & $x$"])
    page = beside.render_beside(found)
    assert "<script>" not in page and "<b>one" not in page and "&lt;b&gt;one" in page and "49" not in page.split("<main>")[1][:600]
    drawn = overlay.overlay([found.results[0].cases[1], found.results[1].cases[0]], found.names)
    assert [text.get_text() for text in drawn.axes[0].get_legend().get_texts()] == ["<b>one", r"two & \$x\$"]


def test_waveforms_lie_on_one_another_whenever_their_runs_end(comparison) -> None:
    cases = comparison.cases[1].results
    figure = overlay.overlay(cases, comparison.names)
    tank, drain = figure.axes
    lines = tank.lines[:2]
    assert [line.get_label() for line in lines] == ["one", "two"] and len(drain.lines) == 3
    assert lines[0].get_linestyle() != lines[1].get_linestyle() and lines[0].get_color() != lines[1].get_color()
    for line in lines:
        phase, volts = line.get_data()
        assert phase[0] < 0.01 and phase[-1] > 1.99
        assert volts == pytest.approx(np.pi * made.VOLTAGE * np.sin(2 * np.pi * phase), abs=0.01 * np.pi * made.VOLTAGE)


def test_a_build_without_a_steady_state_is_not_drawn_and_a_missing_drain_is_said() -> None:
    bare = made.case(waveforms=made.waveforms(signals=("tank.voltage",)))
    assert overlay.drawable([bare, None, made.failed("loaded", "dead", made.waveforms()), replace(bare, waveforms=None)]) == [0]
    tank, drain = overlay.overlay([bare, bare], ["one", "_two"]).axes
    assert len(tank.get_legend().get_texts()) == 2 and "no build recorded" in drain.texts[0].get_text()
