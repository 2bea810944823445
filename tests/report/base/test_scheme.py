# SPDX-License-Identifier: GPL-3.0-or-later
import pytest

from heatsim.report.base import style
from heatsim.report.base.scheme import SCHEME, themed, variables


def luminance(color):
    """Relative luminance of WCAG 2.2, written from its definition."""
    shares = [int(color[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    low, high = sorted([luminance(one), luminance(other)])
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize(("name", "day", "night"), [row for row in SCHEME.values() if row[0] != "card"])
def test_every_colour_reads_on_its_card(name, day, night):
    (card,) = [row for row in SCHEME.values() if row[0] == "card"]
    assert contrast(day, card[1]) >= 4.5 and contrast(night, card[2]) >= 4.5
    assert f"--{name}: {day};" in variables() and f"--{name}: {night};" in variables(dark=True)


def test_contrast_as_the_standard_has_it():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


def test_every_colour_of_the_pictures_has_shades():
    drawn = {style.INK, style.FAINT, style.PAPER, style.LEFT, style.RIGHT, style.CENTRE, style.TANK, style.LIMIT, style.HEAT}
    assert drawn | {style.SUPPLY, style.BUS} == set(SCHEME)


def test_pictures_take_variables_for_colours():
    assert themed('fill: #31363F; stroke: #ffffff; color: "#123456"') == 'fill: var(--ink); stroke: var(--card); color: "#123456"'
