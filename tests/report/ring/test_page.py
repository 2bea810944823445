# SPDX-License-Identifier: GPL-3.0-or-later
"""The page of an identified ring: the answer first, every quantity and material, the bench test, nothing from outside."""

import re
from dataclasses import replace

import pytest

from heatsim.report.base.sheet import Picture
from heatsim.report.ring import page, terminal
from tests.report.check.test_page import Tree
from tests.support.once import demo_ring

PICTURE = Picture("Inductance against current", page.CAPTION, '<svg viewBox="0 0 1 1"><path d="M0 0"/></svg>')


@pytest.fixture(scope="module")
def result():
    return demo_ring()


@pytest.fixture(scope="module")
def tree(result):
    return Tree(page.render_page(result, (PICTURE,)))


def test_the_answer_comes_first(tree):
    assert tree.texts[0] == "Grey ring from the drawer: It may be fe-si-al-60"
    assert tree.texts[2] == "A ring from the bench: 26 turns, an LCR reading, a captured ramp"
    assert tree.texts[4].startswith("Relative permeability 61.39 (60.01 to 62.81).")


def test_every_quantity_and_material_is_there(tree, result):
    rows = [cells for _, cells in tree.rows]
    for cells in terminal.quantity_rows(result):
        assert [cell.strip() for cell in cells] in [[cell.strip() for cell in row] for row in rows]
    names = [row[0] for row in rows]
    assert all(match.material.name in names for match in terminal.listed_materials(result))
    assert ["fe-si-al-60", "yes", "0.28"] in [row[:3] for row in rows]


def test_the_bench_test_is_told_as_it_was_given(tree):
    for text in ("26.9 mm × 14.7 mm × 11.2 mm, 1 under the winding", "56.6 µH at 10 kHz", "1,250 samples, up to 50 A"):
        assert text in tree.texts
    assert "store of energy" in tree.text


@pytest.mark.parametrize(
    ("count", "word"),
    [
        (0, "None of the catalogue's materials fits"),
        (1, "It may be fe-si-al-60"),
        (2, "It may be fe-si-al-60 or iron-powder-55"),
        (4, "One of 4 materials, fe-si-al-60 the nearest"),
    ],
)
def test_the_headline_goes_by_how_many_fit(result, count, word):
    marked = tuple(replace(match, misfit=0.5 if k < count else 2.0) for k, match in enumerate(result.materials))
    found = replace(result, materials=marked)
    assert len(found.fitting) == count and page.headline(found) == word


def test_what_to_know_of_the_data_is_a_warning(result):
    found = page.sheet(replace(result, flags=(("clipped", "the ramp is cut off at the top"),)), (PICTURE,))
    assert found.flags == ("The ramp is cut off at the top.",)


def test_links_go_to_the_files_beside_the_page_only(result):
    text = page.render_page(result, (PICTURE,))
    links = [link for link in re.findall(r'(?:href|src)="([^"]*)"', text) if not link.startswith("#")]
    assert links == ["choke.toml", "material.toml", "results.json", "ring.png"]
