# SPDX-License-Identifier: GPL-3.0-or-later
"""A match of meter readings in words, on the terminal and on the page."""

import io
import json

from heatsim.report.base.terminal import WIDTH
from heatsim.report.match import plain_readings, readings_words, show_readings, write_readings
from tests.support.results import readings


def printed(result):
    stream = io.StringIO()
    show_readings(result, stream)
    return stream.getvalue()


def told(result):
    """The text in one line."""
    return " ".join(printed(result).split())


def test_readings_stand_beside_scenario_and_fit_with_their_errors():
    text = told(readings.result())
    assert "supply mean current, idle, 42 V 3.6 A ± 93 mA 3.54 A 3.59 A +0.3" in text
    assert "error: DC ammeter or the supply's display" in text and "error: stated" in text
    assert "common practice, no source" in text
    assert [row[0] for row in readings_words.reading_rows(readings.result())][1] == (
        "left choke temperature, loaded, 42 V, 20 min from cold"
    )


def test_what_was_not_known_is_told_or_not():
    answer = readings_words.answer(readings.result())
    assert answer.startswith("A heater of this scenario gives these readings (chance of readings as far off: 40 %).")
    assert answer.endswith(
        "Of what was not known, they tell the inductance of the chokes and they do not tell the current at which the chokes "
        "saturate."
    )
    assert "not known" not in readings_words.answer(readings.result(free=False))


def test_readings_that_no_heater_gives_name_the_one_furthest_off_and_propose_nothing():
    text = told(readings.result(chance=2e-4))
    assert "No heater of this scenario gives these readings (chance below 0.1 %)" in text
    assert f"Furthest off: {readings.TEXTS[1]}, by 3.7 standard deviations" in text
    assert "clamp meters and multimeters" in text and "What to read next" not in text and "95 % interval scenario" not in text


def test_a_fit_that_did_not_come_to_rest_says_so():
    assert "did not come to rest" in told(readings.result(at_rest=False))


def test_the_next_reading_is_said_with_what_to_expect():
    text = told(readings.result())
    assert "Left choke ripple current, peak to peak (idle, 42 V), with an AC current probe: expect 7.85 A" in text
    assert "It narrows what was not known by 23 %." in text
    assert "narrows the parts' spread" in told(readings.result(free=False))
    assert readings_words.NOTHING_MORE in told(readings.result(proposals=()))


def test_parts_far_from_the_ordinary_spread_are_named():
    assert "Stands out from the ordinary spread: effect of the workpiece by −2.6 standard deviations." in told(readings.result())


def test_the_danger_of_measuring_is_said_and_lines_are_short():
    text = printed(readings.result())
    assert "hands off and out of the coil" in text and max(map(len, text.splitlines())) <= WIDTH


def test_the_folder_holds_page_fitted_scenario_and_data(tmp_path):
    result = readings.result()
    files = write_readings(result, tmp_path)
    assert [path.name for path in files][0] == "index.html"
    page = (tmp_path / "index.html").read_text()
    for text in ("What to read next", "19 µH", "18 µH to 20 µH", "hands off and out of the coil", "Fitted to meter readings"):
        assert text in page
    data = json.loads((tmp_path / "results.json").read_text())
    assert data == json.loads(json.dumps(plain_readings(result)))
    assert data["schema"] == "heatsim.match.readings/1" and data["answer"] == readings_words.answer(result)
    assert data["readings"][1]["after_s"] == 1200.0 and data["next"][0]["gain"] == 0.23
    assert (tmp_path / "fitted.toml").read_text() == result.fitted
