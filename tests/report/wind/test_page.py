# SPDX-License-Identifier: GPL-3.0-or-later
"""The page of a winding: what to wind first, the choke's limits as simulated, the way to the card; a drawer without a winding."""

import re
from dataclasses import replace

import pytest

from heatsim.report.base.sheet import Picture
from heatsim.report.base.words import percent, value_text
from heatsim.report.wind import page
from heatsim.report.wind.terminal import card_sentence, named, what_if_row, yield_sentence
from heatsim.studies.wind import ring_or_turns
from tests.report.check.test_page import Tree

pytestmark = pytest.mark.ngspice

PICTURE = Picture("Every winding", page.CAPTION, '<svg viewBox="0 0 1 1"><path d="M0 0"/></svg>')


@pytest.fixture(scope="module")
def tree(found):
    return Tree(page.render_page(*found, (PICTURE,)))


def test_what_to_wind_comes_first(tree, found):
    result, proof, built = found
    assert tree.texts[3] == f"Wind {named(result.best.candidate)}"
    assert tree.texts[4:6] == [card_sentence(proof), yield_sentence(built)]


def test_the_limits_are_those_of_the_simulated_choke(tree, found):
    rows = [cells for _, cells in tree.rows if len(cells) == 7]
    limits = [
        (case.name, finding) for case in found[0].best.result.cases for finding in case.findings if finding.part == "choke.left"
    ]
    assert limits
    for case, finding in limits:
        numbers = [case, finding.grade, value_text(finding.value, finding.unit)]
        assert any(row[1:4] == numbers and finding.limit in row[0] and row[5] == percent(finding.headroom) for row in rows)


def test_what_the_card_says_is_on_the_page_and_a_link_leads_to_it(tree, found):
    proof = found[1]
    for text in (f"{proof.stack} × {proof.ring}", str(proof.turns), f"{value_text(proof.resistance, 'ohm')} at 20 °C"):
        assert text in tree.texts
    links = [
        link for link in re.findall(r'(?:href|src)="([^"]*)"', page.render_page(*found, (PICTURE,))) if not link.startswith("#")
    ]
    assert links == ["winding-card.html", "wound.toml"]


def test_rings_or_turns_and_what_matters_are_there(tree, found):
    result, _, built = found
    rows = [cells for _, cells in tree.rows]
    assert all(what_if_row(way) in rows for way in ring_or_turns(result.best.candidate, result.duty))
    matters = [row[0] for row in rows if row and row[0] in built.total]
    assert matters[0] == built.matters_most and len(matters) == len(built.total)


def test_a_drawer_without_a_winding_tells_the_nearest(found):
    none = replace(found[0], confirmed=())
    tree = Tree(page.render_page(none, None, None, (PICTURE,)))
    assert tree.texts[3] == "No winding found" and "Looked at" not in tree.texts[3]
    rows = [cells for _, cells in tree.rows if len(cells) == 6]
    nearest = max(none.candidates, key=lambda one: one.headroom)
    assert rows[1][:3] == [named(nearest), nearest.worst, percent(nearest.headroom)]
    assert "winding-card.html" not in tree.text and "Step test" not in tree.text
