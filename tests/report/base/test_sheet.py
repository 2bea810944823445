# SPDX-License-Identifier: GPL-3.0-or-later
"""Pages in parts: what is escaped, what can be reached by keyboard, and that nothing is lost on the way."""

import re

import pytest

from heatsim.report.base.page import Shown
from heatsim.report.base.sheet import (
    HEATER_CAUTIONS,
    NO_PROOF,
    Folded,
    Grade,
    Heading,
    Items,
    Links,
    Pairs,
    Picture,
    Prose,
    Section,
    Sheet,
    Told,
    explained,
    how_computed,
    render,
    table,
)
from tests.report.check.test_page import Tree

HOSTILE = '</td><script>alert("1")</script>{{ 7*7 }} \x1b[31m &'
SVG = '<svg viewBox="0 0 1 1"><path d="M0 0"/></svg>'


def page(*blocks, **more):
    told = {
        "name": "Heater",
        "what": "what it is",
        "tone": "holds",
        "word": "it holds",
        "lead": ("Because of this.", "And that."),
        "flags": ("mind this.",),
        "tally": "12 hold.",
    }
    return render(
        Sheet(**(told | more), sections=(Section("one", "First", blocks, "1st"),), cautions=HEATER_CAUTIONS, caution=NO_PROOF)
    )


@pytest.fixture(scope="module")
def text():
    return page(
        Prose("Some prose.", "soft"),
        Heading("Part"),
        Items(("bullet",)),
        Pairs((("term", "meaning"),)),
        Links((("a b.html", "beside"),)),
        Picture.of(Shown("Tank", "A sine.", SVG), "A line that goes up"),
        table(
            "Numbers", ("name", "gone", "value", "words", "grade"), [("x", "", "5 V", "some", Grade("fails"))], ("words", "grade")
        ),
        Folded("More", (Prose("Hidden."), Prose("Below."))),
    )


def test_the_verdict_comes_first_then_the_warnings(text):
    found = Tree(text).texts
    assert found[:4] == ["Heater: it holds", "Heater", "what it is", "It holds"]
    assert found[4:8] == ["Because of this.", "And that.", "Warning: mind this.", "12 hold."]


def test_every_part_is_on_the_page(text):
    tree = Tree(text)
    for each in ("Some prose.", "bullet", "term", "meaning", "beside", "A sine.", "Hidden.", "Below.", NO_PROOF):
        assert each in tree.texts
    assert ["x", "5 V", "some", "fails"] in [cells for _, cells in tree.rows], "the empty column is left out"
    assert 'href="a%20b.html"' in text and '<a href="#one">1st</a>' in text


def test_headings_are_in_order(text):
    levels = [int(level) for level in re.findall(r"<h(\d)", text)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after - before <= 1 for before, after in zip(levels, levels[1:], strict=False))


def test_what_scrolls_is_reached_by_keyboard_and_has_a_name(text):
    scrolling = re.findall(r'<div class="scroll[^>]*>', text)
    assert len(scrolling) == 2
    assert all('tabindex="0"' in each and 'role="region"' in each and 'aria-label="' in each for each in scrolling)
    assert 'role="img" aria-label="Tank. A line that goes up"' in text


def test_every_column_and_row_has_its_heading(text):
    head, body = re.search(r"<thead>(.*?)</thead>.*?<tbody>(.*?)</tbody>", text, re.DOTALL).groups()
    assert re.findall(r'<th scope="col"[^>]*>([^<]*)</th>', head) == ["name", "value", "words", "grade"]
    assert len(re.findall(r'<th scope="row">', body)) == 1


def test_a_limit_opens_to_what_it_is():
    text = page(
        table("Limits", ("limit", "headroom"), [(Told.limit("choke.left: temperature", True), "+5 %"), (Told("odd", None), "")])
    )
    folded = re.search(r"<details class=\"about\"><summary>chokes: temperature</summary>(.*?)</details>", text, re.DOTALL)
    assert "What moves it:" in folded[1] and "<code>" in folded[1]
    assert text.count("<details") == 1


def test_alike_limits_are_explained_once():
    found = explained(["choke.left: temperature", "choke.right: temperature", "nothing: of the kind", "supply: mean current"])
    assert len(found) == 2 and found[1].summary == "Mean current of the supply"


def test_hostile_texts_are_texts():
    blocks = (Prose(HOSTILE), Items((HOSTILE,)), Pairs(((HOSTILE, HOSTILE),)), Links(((HOSTILE, HOSTILE),)), Heading(HOSTILE))
    more = (table(HOSTILE, (HOSTILE, "x"), [(HOSTILE, Told(HOSTILE, None))]), Folded(HOSTILE, (Prose(HOSTILE),)))
    text = page(
        *blocks, *more, Picture(HOSTILE, HOSTILE, SVG, HOSTILE), name=HOSTILE, word=HOSTILE, lead=(HOSTILE,), flags=(HOSTILE,)
    )
    assert "<script>" not in text and "{{ 7*7 }}" in text and "\x1b" not in text
    Tree(text)


def test_how_it_was_computed_leaves_out_what_there_is_not():
    identity = {"file": "/deep/er/heater.toml", "name": "x", "sha256": "ab" * 32, "changes": {}}
    rows = dict(how_computed(identity, "heatsim 1", "files").rows)
    assert rows["scenario"] == f"heater.toml, SHA-256 of its content {'ab' * 32}" and "changed for this run" not in rows
    changed = dict(how_computed(identity | {"changes": {"supply.voltage": "38 V"}}, "", "").rows)
    assert changed["changed for this run"] == "supply.voltage = 38 V" and len(changed) == 2
