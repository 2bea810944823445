# SPDX-License-Identifier: GPL-3.0-or-later
"""The page of a map: verdict first, every column, the own point's limits, warnings; nothing from outside."""

import re

import pytest

from heatsim.report.base.page import Shown
from heatsim.report.map import words
from heatsim.report.map.page import own_grade, render_page, sheet, tone
from tests.report.check.test_page import Tree
from tests.support.map_pools import CHOKE, SUPPLY, island, jump, mapped, two_limits

PICTURE = Shown("Operating map", "A caption.", '<svg viewBox="0 0 1 1"><path d="M0 0"/></svg>')


@pytest.fixture(scope="module")
def tree(crossing):
    return Tree(render_page(crossing, PICTURE))


def test_the_verdict_comes_first(tree, crossing):
    assert tree.texts[0].endswith(": Usable up to 43.5 V at full load")
    assert tree.texts[3:5] == ["Usable up to 43.5 V at full load", "The supply sets the limit: mean current."]
    for sentence in words.sentences(crossing):
        assert sentence in tree.text or sentence == words.headline(crossing)


def test_every_column_is_there_with_what_ends_it(tree, crossing):
    rows = [cells for _, cells in tree.rows]
    for reach in crossing.answer.reaches:
        filled = [cell for cell in words.reach_row(crossing, reach) if cell]
        assert [words.value(crossing.horizontal, reach.x), *filled] in rows


def test_the_own_point_has_its_limits_with_headroom_and_what_is_wanted(tree, crossing):
    assert ["supply: mean current", "+3 %", "10 %"] in [cells for _, cells in tree.rows]
    assert tone(crossing) == own_grade(crossing, crossing.own) == "marginal"


def test_every_simulated_point_is_there(tree, crossing):
    table = [cells for _, cells in tree.rows if len(cells) == 5 and cells[-1] in ("cold start", "periodic")]
    folded = re.findall(r"All (\d+) simulated points", render_page(crossing, PICTURE))
    assert folded == [str(len(crossing.evidence.samples))] and not table, "they are folded up"


def test_what_ends_it_is_explained_once_each(crossing):
    (ends,) = [section for section in sheet(crossing, PICTURE).sections if section.id == "ends"]
    assert [block.summary for block in ends.blocks if block.kind == "folded"] == [
        "Inductance left at the peak",
        "Mean current of the supply",
    ]


def test_grades_of_maps(scenario, crossing):
    assert tone(mapped(scenario, lambda load, volts: {SUPPLY: 1 - volts / 100})) == "holds"
    assert tone(mapped(scenario, island)) == "fails"
    assert tone(mapped(scenario, lambda load, volts: "unsolved")) == "unknown"
    assert tone(mapped(scenario, lambda load, volts: {SUPPLY: 1 - volts / 50, CHOKE: None})) == "unknown"
    assert tone(mapped(scenario.change({"supply.voltage": "50 V"}), two_limits)) == "fails"


def test_warnings_are_flags(scenario):
    flags = sheet(mapped(scenario, lambda load, volts: {SUPPLY: 1 - volts / 50, CHOKE: None}), PICTURE).flags
    assert flags[0].startswith("Could not be judged at any point")
    assert any("The points ran out" in flag for flag in sheet(mapped(scenario, jump, most_points=40), PICTURE).flags)
    assert "without a result" in sheet(mapped(scenario, lambda load, volts: "unsolved"), PICTURE).flags[0]


def test_the_page_needs_nothing_from_outside(crossing):
    text = render_page(crossing, PICTURE)
    assert all(link.startswith("#") for link in re.findall(r'(?:href|src)="([^"]*)"', text))
    assert crossing.scenario.hash in text and "Before switching anything on" in text
