# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture: what fails is marked by frame, sign and word; nothing is written over anything; files and page agree."""

import re
from dataclasses import replace
from functools import cache
from itertools import combinations
from xml.etree import ElementTree

import pytest
from matplotlib.font_manager import FontProperties, findfont
from PIL import ImageFont

from heatsim.report.circuit import circuit_picture
from heatsim.report.circuit.drawing import as_svg
from heatsim.report.circuit.marks import WHOLE, marked, symbols_of
from heatsim.report.circuit.picture import circuit_drawing
from tests.support.circuits import FILES, FOLDER, QUICK, cases, finding, result
from tests.support.once import checked

SVG = "{http://www.w3.org/2000/svg}"

FAILURES = {
    "capacitor-current": ("capacitors", "current of one capacitor, rms", {"capacitors"}),
    "choke-saturates": ("choke.left", "inductance left at the peak", {"choke.left"}),
    "contactor-bounce": ("switch.left", "drain voltage at switch-on", {"drain.left", "switch.left"}),
    "drain-over-voltage": ("switch.right", "drain voltage", {"drain.right", "switch.right"}),
    "foldback-stalls": ("oscillator", "starts and settles", set()),
    "gate-clamp-too-high": ("gate.right", "highest gate voltage", {"gate.right"}),
    "hiccup": ("oscillator", "starts and settles", set()),
    "latch": ("switch", "pulse current until the fuse has cleared", {"switch.left", "switch.right"}),
    "late-gate-supply": ("switch.right", "drain voltage at switch-on", {"drain.right", "switch.right"}),
    "load-too-heavy": ("supply", "mean current", {"supply"}),
    "small-reservoir": ("switch.left", "drain voltage", {"drain.left", "switch.left"}),
    "supply-too-weak": ("oscillator", "starts and settles", set()),
    "weak-pull-up": ("gate.left", "gate drive reached", {"gate.left"}),
}
"""File -> part and limit that fail there, and the symbols that must be framed for it."""


def the(stem, case="loaded"):
    return cases(next(path for path in FILES if path.stem == stem))[case]


def drawn(heater, deck, *findings, **more):
    """The SVG as a tree, and its texts."""
    svg = as_svg(circuit_drawing(heater, deck.text, "Circuit", result(heater, deck, *findings, **more)))
    tree = ElementTree.fromstring(svg)
    return tree, [each.text for each in tree.iter(f"{SVG}text")]


def points(element):
    return [tuple(map(float, pair.split(","))) for pair in element.get("points").split()]


def frames(tree, dashed=False):
    """Frames of the marks: closed lines outside of the symbols' groups."""
    found = [e for e in tree.findall(f"{SVG}polyline") if len(points(e)) == 5 and points(e)[0] == points(e)[4]]
    return [points(e) for e in found if ("dasharray" in e.get("style")) == dashed]


def boxes(tree, name):
    (group,) = (g for g in tree.iter(f"{SVG}g") if g.get("data-part") == name)
    x, y = zip(*(p for line in group for p in (points(line) if line.tag.endswith("polyline") else [])), strict=True)
    return min(x), min(y), max(x), max(y)


def inside(box, frame):
    x, y = zip(*frame, strict=True)
    return min(x) < box[0] and min(y) < box[1] and max(x) > box[2] and max(y) > box[3]


def test_every_failure_is_listed():
    assert sorted(path.stem for path in FOLDER.glob("failures/*.toml")) == sorted(FAILURES)


@pytest.mark.parametrize("stem", FAILURES)
def test_what_fails_is_marked(stem):
    part, limit, symbols = FAILURES[stem]
    heater, deck = the(stem)
    tree, texts = drawn(heater, deck, finding(part, limit), finding("choke.left", "temperature", "holds"))
    framed = {
        g.get("data-part") for g in tree.iter(f"{SVG}g") if any(inside(boxes(tree, g.get("data-part")), f) for f in frames(tree))
    }
    assert framed == symbols and len(frames(tree)) == len(symbols) and not frames(tree, dashed=True)
    assert f"✕ FAILS: {limit} 123 A, limit 100 A" in " ".join(texts)
    assert texts.count("✕") == len(symbols)


def test_what_only_just_holds_is_marked_more_mildly():
    heater, deck = the("bench-heater")
    tree, texts = drawn(heater, deck, finding("choke.right", "temperature", "marginal"))
    (frame,) = frames(tree, dashed=True)
    assert not frames(tree) and inside(boxes(tree, "choke.right"), frame)
    assert "◆" in texts and any(text.startswith("◆ marginal: temperature") for text in texts)
    assert "FAILS" not in " ".join(texts)


def test_the_worst_mark_of_a_part_frames_it_and_more_than_two_are_counted():
    heater, deck = the("bench-heater")
    limits = [finding("choke.left", f"limit {k}", grade) for k, grade in enumerate(("marginal", "fails", "fails", "marginal"))]
    tree, texts = drawn(heater, deck, *limits)
    assert len(frames(tree)) == 1 and not frames(tree, dashed=True)
    assert "and 2 more" in texts


def test_every_limit_of_a_check_has_a_symbol():
    heater, deck = the("bench-heater-copper")
    names = {e.get("data-part") for e in drawn(heater, deck)[0].iter(f"{SVG}g")}
    parts = [f"gate.left/{name}, heat" for name in ("pull-up", "clamp", "pull-down", "gate resistor of a device", "coupling diode")]
    parts += ["capacitors/peak voltage", "coil/current density", "water/outlet", "workpiece/field", "supply/mean current"]
    parts += [f"conductor.{each.key}/temperature" for each in heater.conductors]
    for part, limit in (text.split("/") for text in parts):
        assert set(symbols_of(finding(part, limit), heater)) <= names, part
    assert symbols_of(finding("run", "energy balance"), heater) == (WHOLE,)
    assert marked([finding("tank", "distortion of the tank voltage", "holds")], heater) == {}


def test_what_the_run_gave_stands_beside_the_parts():
    heater, deck = the("bench-heater")
    _, texts = drawn(heater, deck)
    for text in (
        "13.7 A rms, 15.9 A peak",
        "49.1 °C",
        "98.7 A rms, 139 A peak",
        "131 V peak",
        "9.65 A rms each",
        "88.8 °C junction",
    ):
        assert text in texts
    assert "88.8 °C junction" in texts
    told = " ".join(texts)
    assert "each 16.6 A rms" in told and "949 W into it" in told and "in italics: simulated, case loaded, settled" in told


def test_without_a_run_there_are_values_only():
    heater, deck = the("bench-heater")
    content, shown = circuit_picture(heater, deck.text, "loaded-circuit", "Circuit, case loaded")
    assert set(content) == {"loaded-circuit.svg", "loaded-circuit.png"} and content["loaded-circuit.png"][:4] == b"\x89PNG"
    assert "italics" not in content["loaded-circuit.svg"] and "left choke 65.6 µH" in content["loaded-circuit.svg"]
    assert "#31363f" not in shown.svg and "var(--ink)" in shown.svg


def test_it_can_be_read_aloud_and_names_the_netlists_elements():
    heater, deck = the("bench-heater")
    tree, _ = drawn(heater, deck, finding("supply", "mean current"))
    assert tree.get("role") == "img" and tree.find(f"{SVG}title").text == "Circuit"
    described = tree.find(f"{SVG}desc").text
    assert "FAILS: mean current" in described and "work coil 1.77 µH" in described
    (group,) = (g for g in tree.iter(f"{SVG}g") if g.get("data-part") == "supply.inductance")
    assert group.find(f"{SVG}title").text == "in the netlist: xsupply ls"


def test_hostile_names_are_texts():
    heater, deck = the("bench-heater")
    hostile = replace(heater, switch=replace(heater.switch, device="<b>&\x1b[31m"))
    svg = as_svg(circuit_drawing(hostile, deck.text, "<script>"))
    ElementTree.fromstring(svg)
    assert "<script>" not in svg and "\x1b" not in svg


@cache
def face(bold):
    """DejaVu Sans, a wide face, in the picture's size."""
    return ImageFont.truetype(findfont(FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")), 12)


def widths(tree):
    """Boxes of all texts: left, top, right, bottom [pixels]."""
    for each in tree.iter(f"{SVG}text"):
        style, x, y = each.get("style"), float(each.get("x")), float(each.get("y"))
        width = face("bold" in style).getlength(each.text)
        start = {"start": 0.0, "middle": -width / 2, "end": -width}[re.search(r"text-anchor:(\w+)", style)[1]]
        yield each.text, (x + start, y - 8.5, x + start + width, y + 1.5)


@pytest.mark.parametrize("path", QUICK, ids=str)
def test_nothing_is_written_over_anything_or_off_the_picture(path):
    heater, deck = list(cases(path).values())[-1]
    part, limit, _ = FAILURES.get(path.stem, ("choke.left", "inductance left at the peak", set()))
    tree, _ = drawn(heater, deck, finding(part, limit), finding("tank", "distortion of the tank voltage", "marginal"))
    left, top, width, height = map(float, tree.get("viewBox").split())
    found = list(widths(tree))
    for text, box in found:
        assert left <= box[0] and top <= box[1] and box[2] <= left + width and box[3] <= top + height, text
    for (text, a), (other, b) in combinations(found, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], f"{text!r} and {other!r}"


@pytest.mark.ngspice
def test_the_failure_that_was_simulated_is_the_one_that_is_marked():
    from heatsim.scenario.scenario import Scenario

    (case,) = checked(Scenario.from_file(FOLDER / "failures" / "capacitor-current.toml")).cases
    tree = ElementTree.fromstring(as_svg(circuit_drawing(case.heater, case.deck.text, "Circuit", case)))
    (frame,) = frames(tree)
    assert inside(boxes(tree, "capacitors"), frame)
    current = case.measures["coil.rms_current_a"]
    assert any(each.text.startswith(f"{current:.3g} A rms") for each in tree.iter(f"{SVG}text"))
