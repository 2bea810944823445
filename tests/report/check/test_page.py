# SPDX-License-Identifier: GPL-3.0-or-later
"""The page: verdict first, every finding, every number, nothing from outside, hostile texts as texts."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from heatsim.report.base.page import Shown, inline
from heatsim.report.check import page, words
from heatsim.studies.check import CheckWarning
from tests.support.results import checks as made

PICTURE = Shown("Tank", "A clean sine.", '<svg viewBox="0 0 1 1"><path d="M0 0"/></svg>')
VOID = {"meta", "br", "link", "img", "hr", "input"}


class Tree(HTMLParser):
    """Rows of every table but for what is folded up in them, texts by tag, attributes; complains about tags that do not match."""

    def __init__(self, text):
        super().__init__()
        self.open, self.tags, self.rows, self.texts, self.attributes = [], [], [], [], []
        self.feed(text)
        assert not self.open, f"left open: {self.open}"

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag == "tr":
            self.rows.append((dict(attrs), []))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" in self.open or not data.strip():
            return
        self.texts.append(data.strip())
        folded = "details" in self.open and "summary" not in self.open
        if "tr" in self.open and not folded:
            self.rows[-1][1].append(data.strip())

    @property
    def text(self):
        return " ".join(" ".join(self.texts).split())


def rendered(result=None, pictures=None):
    result = result or made.result()
    return page.render_page(result, {case.name: [PICTURE] for case in result.cases} if pictures is None else pictures)


@pytest.fixture(scope="module")
def tree():
    return Tree(rendered())


def test_the_verdict_comes_first(tree):
    assert tree.texts[:4] == ["Bench heater: fails", "Bench heater", "fails", tree.texts[3]]
    assert tree.texts[3].startswith("2 of 12 limits fail; the worst: right choke")
    assert "2 fail, 1 unknown, 1 marginal, 8 hold." in tree.text


def test_every_finding_is_there_with_its_numbers(tree):
    rows = [(attrs["data-part"], cells) for attrs, cells in tree.rows if "data-part" in attrs]
    for case in made.result().cases:
        for finding in case.findings:
            found = [
                cells for parts, cells in rows if finding.part in parts.split() and finding.limit in cells and case.name in cells
            ]
            assert len(found) == 1 and finding.grade in found[0] and finding.basis in found[0]
    assert sum(len(parts.split()) for parts, _ in rows) == 12
    assert ["fails", "loaded", "chokes, both", "inductance left at the peak", "30.5 %", "≥ 50 %", "−39 %", "memory"] in [
        cells for _, cells in rows
    ]


def test_cause_and_remedy_of_what_does_not_hold_are_there(tree):
    for text in (
        "Its current swings too far, right.",
        "Put 3 of these rings under the same turns, right.",
        "The load draws much.",
        "Keep the supply at or below 39.5 V.",
        "Give the capacitor's voltage rating.",
    ):
        assert text in tree.texts


def test_every_number_is_there_with_its_unit(tree):
    cells = [cells for _, cells in tree.rows]
    assert ["peak current", "15.8 A", "15.9 A"] in cells and ["frequency", "80 kHz"] in cells
    assert ["flux swing, peak to peak", "289 µWb"] in cells and ["switch", "9 W", "10 W"] in cells
    assert ["temperature", "71 °C", "72.5 °C"] in cells and ["crest factor", "1.414"] in cells
    assert any(row[0] == "harmonics, orders 1 to 10" and "1.64 %" in row[1] for row in cells if row)


def test_no_measure_is_lost():
    groups = page.number_groups(made.MEASURES)
    shown = [text for group in groups for texts in group.rows.values() for text in texts.values()]
    assert len(shown) == sum(not key.endswith(page.CURVES) for key in made.MEASURES)
    gates = next(group for group in groups if group.title == "Gates")
    assert gates.sides == ("left",) and gates.rows == {"ringing frequency": {"left": "–"}}
    assert [group.title for group in page.number_groups({"odd.thing_v": 1.0})] == ["odd"]


def test_an_error_is_told_where_it_matters():
    measures = {
        "gate.left.ringing_decay_s": 1.2e-7,
        "gate.left.ringing_decay_standard_error_s": 1e-8,
        "gate.left.ringing_state": "rings",
        "supply.mean_current_a": 20.0,
        "tank.even_harmonic_ratio": 1e-4,
    }
    rows = {label: texts for group in page.number_groups(measures) for label, texts in group.rows.items()}
    assert rows["ringing decay"] == {"left": "120 ns ± 31 ns"} and rows["ringing"] == {"left": "rings"}
    assert rows["mean current"] == {"": "20 A"}
    assert rows["even harmonics together"][""].startswith("below 0.0")
    assert not any("standard error" in label for label in rows)


def test_provenance_is_told(tree):
    result = made.result()
    for text in (
        result.scenario.hash,
        "bench-heater.toml",
        "ngspice-39",
        "fe-si-al-60",
        "recalled, not looked up",
        "measured on the bench",
        "method=gear",
        "made for a test",
    ):
        assert text in tree.text


def test_assumptions_and_cautions_are_all_there(tree):
    assert "The workpiece is a coupled branch" in tree.text and "Tolerances of parts are not varied here." in tree.text
    named = tree.text[tree.text.index("Before switching anything on") :].lower()
    assert "a simulation is no proof" in named
    for word in ("mains", "charge", "red-hot", "implants", "steam", "fumes", "fire", "codes of the place", "licensed"):
        assert word in named


def test_changes_to_the_scenario_are_told():
    result = made.result()
    assert "supply.voltage = 38 V" in rendered(replace(result, scenario=result.scenario.change({"supply.voltage": "38 V"})))


def test_it_needs_nothing_from_outside_and_no_script(tree):
    assert not {"script", "link", "img", "iframe", "object", "embed"} & set(tree.tags)
    assert all(value.startswith("#") for name, value in tree.attributes if name in ("href", "src", "xlink:href"))
    assert not re.search(r"@import|url\(", rendered())


def test_links_lead_somewhere(tree):
    targets = {value for name, value in tree.attributes if name == "id"}
    assert {value[1:] for name, value in tree.attributes if name == "href"} <= targets


def test_hostile_texts_stay_texts():
    finding = replace(made.FINDINGS[0], cause=made.HOSTILE, remedy=made.HOSTILE, part="<b>", limit="</td><script>")
    case = replace(made.failed("loaded", "unsolved"), outcome_detail=made.HOSTILE, findings=(finding,))
    text = rendered(replace(made.result(case, name=made.HOSTILE), simulator_version=made.HOSTILE), {})
    tree = Tree(text)
    assert "script" not in tree.tags and "b" not in tree.tags
    assert "<script>alert(1)</script>" in tree.texts[1] and "{{ 7*7 }}" in tree.texts[1] and "49" not in tree.texts[1]
    assert "\x1b" not in tree.texts[1] and "\n" not in tree.texts[1]


def test_the_class_of_a_start_stands_beside_its_outcome():
    case = made.failed("loaded", "latched")
    tree = Tree(rendered(made.result(replace(case, measures=case.measures | {"startup.class": "over-volts at switch-on"})), {}))
    assert ["start", "over-volts at switch-on"] in [cells for _, cells in tree.rows]


@pytest.mark.parametrize("outcome", ["dead", "latched", "stalled", "unsolved"])
def test_a_case_that_came_to_nothing_is_told_with_every_attempt(outcome):
    tree = Tree(rendered(made.result(made.failed("loaded", outcome)), {}))
    assert "The time step fell below 1 as." in tree.text and "The run left no waveforms to draw." in tree.text
    assert "Attempts at case loaded" in tree.texts
    assert ["as given", outcome, "timestep too small <here>", "1.1 ms", "400 ms"] in [cells for _, cells in tree.rows]
    assert ["outcome", outcome] in [cells for _, cells in tree.rows] and "Work coil" not in tree.texts
    assert "Power balance" not in tree.texts and "None" not in tree.texts and "nan" not in tree.texts


def test_one_attempt_is_not_worth_a_table(tree):
    assert "Attempts at case" not in tree.text


@pytest.mark.parametrize(("imbalance", "flagged"), [(9e-5, False), (0.0099, False), (0.011, True), (-0.02, True), (None, True)])
def test_an_energy_balance_that_misses_is_flagged(imbalance, flagged):
    case = made.case(measures=made.MEASURES | {"energy.imbalance_ratio": imbalance})
    assert ("powers of this run do not add up" in rendered(made.result(case))) is flagged
    found, missed = page.power_balance(case)
    assert missed is flagged and list(found.values())[:3] == ["1.11 kW", "930 W", "182 W"]


def test_headroom_bars_point_the_right_way():
    text = rendered(made.result(made.case()))
    pattern = r'data-name="headroom">([^<]+)</td><td>.*?left:([\d.]+)%;right:([\d.]+)%'
    bars = {headroom: ends for headroom, *ends in re.findall(pattern, text)}
    assert bars["−39 %"] == ["30.5", "50.0"] and bars["+43 %"] == ["50.0", "28.4"]
    judged = [line for line in words.merged(made.result(made.case()).findings) if line.finding.headroom is not None]
    assert text.count('class="bar"') == len(judged)


def test_inlined_pictures_follow_the_page():
    svg = (
        '<?xml version="1.0"?>\n<!DOCTYPE svg>\n<svg width="460pt" height="252pt" viewBox="0 0 460 252">'
        '<metadata>x</metadata><g style="fill: #31363f; stroke: #ffffff" width="3"/></svg>'
    )
    assert inline(svg) == '<svg viewBox="0 0 460 252"><g style="fill: var(--ink); stroke: var(--card)" width="3"/></svg>'


def test_warnings_stand_under_the_verdict():
    warned = replace(made.result(), warnings=(CheckWarning(("loaded",), f"It repeats {made.HOSTILE}."),))
    text = page.render_page(warned, {})
    assert "Warning: Case loaded: It repeats" in Tree(text).text and made.HOSTILE not in text
    assert text.index("It repeats") < text.index("Cases side by side</h2>")
    assert "Warning:" not in page.render_page(made.result(), {})


def test_a_curve_is_drawn_and_not_written_out_in_a_cell_of_a_table():
    measures = {"choke.left.temperature_c": 90.0, "choke.left.warm_up_c": [25.0, 60.0, 90.0]}
    (group,) = page.number_groups(measures)
    assert [row["left"] for row in group.rows.values()] == ["90 °C"]


def test_every_limit_can_be_opened_to_read_what_it_is(tree):
    rows = [attrs for attrs, _ in tree.rows if "data-part" in attrs]
    assert tree.tags.count("summary") == tree.tags.count("details") >= len(rows)
    assert ("open", None) not in tree.attributes
    assert "How much of its inductance a choke still has at the peak of its current" in tree.text
    assert "choke.core.stack : more rings raise the inductance at the same DC bias" in tree.text


def test_a_limit_without_a_topic_is_a_plain_name(monkeypatch):
    monkeypatch.setattr(page, "topic_of_limit", lambda part, limit: None)
    text = rendered()
    assert "<details" not in text and "inductance left at the peak" in text


def test_the_circuit_of_the_worst_case_is_seen_at_once():
    circuits = [Shown(case.name, "Parts.", f"<svg><title>{case.name}</title></svg>") for case in made.result().cases]
    text = page.render_page(made.result(), {case.name: [] for case in made.result().cases}, None, (), circuits)
    shown = text[text.index('id="circuit"') : text.index('id="side-by-side"')]
    first, *others = re.findall(r"<title>(\w+)</title>", shown)
    assert first == made.result().findings[0][0] and others == ["idle"]
    assert shown.count("<figure") == 2 and shown.index("<figure") < shown.index("<details>") < shown.index("<summary>Case idle")
    assert 'id="circuit"' not in rendered()
