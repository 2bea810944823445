# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder and its page: every answer, every limit, nothing from outside, hostile texts as texts."""

import csv
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from heatsim.report.base.page import Shown
from heatsim.report.heat import origins, words, write_folder
from heatsim.report.heat.page import render_page
from tests.report.heat import example
from tests.support.browser import opened, without_scripts

PICTURE = Shown("Course", "It rises.", '<svg viewBox="0 0 1 1"><path d="M0 0"/></svg>')
VOID = {"meta", "br", "link", "img", "hr", "input"}


class Tree(HTMLParser):
    """Texts and rows of a page; complains about tags that do not match."""

    def __init__(self, text):
        super().__init__()
        self.open, self.texts, self.rows = [], [], []
        self.feed(text)
        assert not self.open, f"left open: {self.open}"

    def handle_starttag(self, tag, attrs):
        if tag == "tr":
            self.rows.append((dict(attrs), []))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" in self.open or not data.strip():
            return
        self.texts.append(" ".join(data.split()))
        if "tr" in self.open:
            self.rows[-1][1].append(self.texts[-1])


def page(result):
    return render_page(result, PICTURE, PICTURE, PICTURE)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    out = tmp_path_factory.mktemp("heat")
    return out, write_folder(example.broken(), out)


def test_the_folder_is_whole_and_the_page_comes_first(written):
    out, files = written
    pictures = [f"{stem}.{ending}" for stem in ("heat", "piece", "parts") for ending in ("png", "svg")]
    assert [path.name for path in files] == ["report.html", "results.json", "heat.csv", *pictures]
    assert all(path.stat().st_size > 200 for path in files)
    page = files[0].read_text(encoding="utf-8")
    assert page.count("The upright line is where the piece is") == page.count("The dot is where the piece is") == 1


def test_the_table_holds_every_series(written):
    rows = list(csv.DictReader((written[0] / "heat.csv").read_text().splitlines()))
    series = example.broken().series
    assert list(rows[0]) == list(series) and len(rows) == len(series["time_s"])
    assert np.allclose([float(row["core_c"]) for row in rows], series["core_c"], rtol=1e-6)
    assert json.loads((written[0] / "results.json").read_text())["wanted"]["celsius"] == 850.0


def test_the_page_needs_nothing_from_outside(written):
    text = without_scripts((written[0] / "report.html").read_text(encoding="utf-8"))
    links = re.findall(r'(?:href|src)="([^"]*)"', text)
    assert all(link.startswith(("#", "data:image/png;base64")) for link in links), links
    assert text.count("<svg") == 3 and "<script" not in text and "@import" not in text


@pytest.mark.slow
@pytest.mark.parametrize("dark", [False, True])
def test_the_page_in_a_browser(written, dark):
    with opened(written[0] / "report.html", 400, dark) as shown:
        told = example.broken().series
        per = 60.0 if told["time_s"][-1] > 240.0 else 1.0
        place = told["time_s"].size // 3
        read = shown.point(told["time_s"][place] / per)
        assert read["surface"] == f"{told['surface_c'][place]:.4g} °C"
        shown.assert_sound(figures=1)


def test_the_verdict_and_the_answers_come_first():
    tree = Tree(page(example.broken()))
    assert tree.texts[0] == "Bench heater: gets there, but breaks a limit" and tree.texts[3] == "gets there, but breaks a limit"
    rows = [cells for _, cells in tree.rows]
    for what, text in words.answers(example.broken()):
        assert [what, text] in rows
    for when, text in words.happenings(example.broken()):
        assert [when, text] in rows


def test_every_limit_is_on_the_page_with_its_worst_instant():
    rows = [(attrs["data-part"].split(), cells) for attrs, cells in Tree(page(example.broken())).rows if "data-part" in attrs]
    assert sum(len(parts) for parts, _ in rows) == len(example.broken().limits)
    choke = next(cells for parts, cells in rows if parts == ["choke.left"] and "temperature" in cells)
    assert choke == [
        "fails",
        "left choke",
        "temperature",
        "142 °C",
        "≤ 105 °C",
        "−35 %",
        "18 min 20 s",
        "from 5 min 00 s on",
        "estimated",
    ]


def test_every_state_and_cold_start_is_on_the_page():
    rows = [cells for _, cells in Tree(page(example.example())).rows]
    assert ["past the Curie point", "47 s", "settles", "−0.10 %", "−0.05 %", "0.00 %", "+0.05 %", "+0.10 %"] in rows
    states = [cells for cells in rows if len(cells) == 9 and cells[6] in ("periodic", "cold start")]
    assert len(states) == len(example.example().points) and states[0][-2:] == ["–", "–"] and states[1][-2] == "−0.17 %"


def test_where_the_material_comes_from_is_told():
    rows = dict(origins.material_rows(example.example()))
    assert "20 %" in rows["steel: resistivity over temperature"] and "EN 1993-1-2" in rows["steel: thermal conductivity"]
    assert not any("bright" in what for what in rows) and any("oxidised" in what for what in rows)
    text = page(example.example())
    assert all(what in text for what in rows)


def test_the_curie_point_counts_where_the_piece_passes_it():
    assert origins.curie(example.example()) == pytest.approx(770, abs=10)
    hot = replace(example.example(), series=example.example().series | {"surface_c": np.full_like(example.TIME, 900.0)})
    assert origins.curie(hot) is None
    measured = replace(example.example(), scenario=example.scenario().unchanged)
    assert origins.curie(measured) is None and origins.material_rows(measured) == []


def test_no_advice_no_heading_of_it():
    kept = replace(example.sound(), limits=tuple(each for each in example.sound().limits if each.grade == "holds"), confirmed=())
    assert "What to change" not in page(kept) and "What to change" in page(example.broken())
    assert "was not checked" in page(kept)


def test_hostile_texts_are_texts():
    hostile = replace(
        example.example(),
        piece=example.HOSTILE,
        case=example.HOSTILE,
        cautions=(example.HOSTILE,),
        simulator_version=example.HOSTILE,
    )
    text = page(hostile)
    assert "<script>" not in text and "{{ 7*7 }}" in text and "\x1b" not in text
    Tree(text)
