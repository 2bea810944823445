# SPDX-License-Identifier: GPL-3.0-or-later
"""An identified ring as shown: text and picture."""

import io

import pytest

from heatsim.report.ring import picture, show, terminal
from heatsim.scenario.ringtest import RingTest
from heatsim.studies.ring import identify
from tests.support.once import demo_ring


@pytest.fixture(scope="module")
def result():
    return demo_ring()


@pytest.fixture(scope="module")
def reading(tmp_path_factory):
    """A test with an LCR reading alone."""
    path = tmp_path_factory.mktemp("ring") / "reading.toml"
    path.write_text(
        '[ring]\nname = "black"\nouter_diameter = "27 mm"\ninner_diameter = "15 mm"\nheight = "11 mm"\n[winding]\n'
        'turns = 26\n[lcr]\ninductance = "300 uH"\nfrequency = "10 kHz"\n'
    )
    return path


def test_the_text_says_what_was_found_how_surely_and_what_fits(result):
    text = " ".join(" ".join(terminal.lines(result)).split())
    for words in (
        "Relative permeability 61.",
        "It may be fe-si-al-60",
        "18.5",
        "95 % interval",
        "pi (d1 - d2)/ln(d1/d2)",
        "store of energy",
        "soft form by Schwarz's criterion",
    ):
        assert words in text
    assert max(len(line) for line in terminal.lines(result)) <= 130


def test_the_text_fits_an_output_without_greek(result):
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    show(result, stream=stream)
    stream.flush()
    assert b"uH" in stream.buffer.getvalue()


def test_a_single_reading_is_told_as_one(reading):
    found = identify(RingTest.from_file(reading))
    text = " ".join(" ".join(terminal.lines(found)).split())
    assert "Nothing is known of its saturation" in text and "one reading" in text


@pytest.mark.parametrize("columns", [40, 60, 80, 99])
def test_a_narrow_terminal_gets_running_text_with_the_same_numbers(result, columns, monkeypatch):
    wide = " ".join(terminal.lines(result)).split()
    monkeypatch.setenv("COLUMNS", str(columns))
    lines = list(terminal.lines(result))
    assert max(map(len, lines)) <= columns
    numbers = [word for word in wide if any(sign.isdigit() for sign in word)]
    told = " ".join(lines)
    assert len(numbers) > 60 and all(number.strip("(),;") in told for number in numbers)


def test_the_picture_shows_curve_ramp_and_residual(result, reading):
    axes = picture.draw(result).axes
    assert [ax.get_ylabel() for ax in axes] == ["differential inductance [µH]", "current [A]", "residual [mA]"]
    labels = axes[0].get_legend_handles_labels()[1]
    assert {"soft form, 95 % band", "fe-si-al-60", "slopes of the ramp", "LCR reading"} <= set(labels)
    assert axes[1].lines[0].get_xdata().size == result.data.ramp.time.size
    assert len(picture.draw(identify(RingTest.from_file(reading))).axes) == 1
