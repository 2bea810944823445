# SPDX-License-Identifier: GPL-3.0-or-later
"""A first scenario from answers: what they mean, what stands in the file, and that its defaults hold."""

from __future__ import annotations

import math
import resource
import tomllib

import pytest

import heatsim as hs
from heatsim.errors import InputError
from heatsim.scenario import Scenario
from heatsim.scenario.written import with_fields
from heatsim.studies.new import ASKED, QUESTIONS, Draft, heater_name
from heatsim.studies.new.estimates import suggested


def test_at_most_ten_questions_each_with_one_line() -> None:
    assert len(QUESTIONS) <= 10 and set(ASKED["bench"]) < set(ASKED["parts"])
    assert all(each.line and "\n" not in each.line and len(each.line) <= 120 for each in QUESTIONS)


@pytest.mark.parametrize(("source", "most"), [("parts", 60), ("bench", 25)])
def test_length_of_the_file(source, most) -> None:
    lines = hs.new(source).text.splitlines()
    assert len(lines) <= most and max(map(len, lines)) <= 132


def test_every_value_that_was_not_answered_is_marked() -> None:
    draft = Draft().completed()
    rows = [line for line in draft.text.splitlines() if " = " in line]
    answered = {"name", "voltage", "current_rating", "turns", "ring", "stack", "diameter", "strands", "count", "capacitance"}
    answered |= {"voltage_rating", "tube_diameter", "material", "length"}
    marked = [row.split(" = ")[0] for row in rows if "# estimate: " in row]
    plain = [row.split(" = ")[0] for row in rows if "# estimate: " not in row]
    assert set(plain) == answered and len(marked) == len(draft.estimates)
    assert {"rise_time", "device", "pull_up", "dissipation_factor", "tube_wall", "junction_to_case"} < set(marked)


def test_what_is_answered_is_not_marked() -> None:
    said = {"device": "generic 200 V 40 mohm", "chokes": "powder-39.9x24.1x14.5, fe-si-al-75", "cooling": "none"}
    text = hs.new(**said).text
    assert 'device = "generic 200 V 40 mohm"\n' in text and 'material = "fe-si-al-75"\n' in text and "cooling" not in text
    sparse = hs.new(coil="1.75 uH", chokes="65 uH, 30 A")
    assert (
        sparse.text.count("# estimate: a quality of 60") == 1 and sparse.text.count("# estimate: a few metres of thick wire") == 1
    )


@pytest.mark.parametrize(("volts", "wanted"), [
    (5, 60), (12, 60), (14, 100), (24, 150), (42, 200), (48, 250), (100, 600), (136, 600),
])  # fmt: skip
def test_the_suggested_class_stands_the_drains(volts, wanted) -> None:
    rating = suggested(volts).figures["voltage_rating"]
    assert rating == wanted and rating >= 1.4 * math.pi * volts


def test_the_pull_up_follows_gates_and_frequency() -> None:
    one, four = (hs.new(count=count).tables.gate.pull_up for count in ("1", "4"))
    assert one == 100.0 and four == 27.0
    assert hs.new(capacitors="20 x 330 nF").tables.gate.pull_up > one


def test_a_default_bar_follows_the_coil() -> None:
    piece = hs.new(coil="10 x 80 mm x 8 mm").tables.case["loaded"].workpiece
    assert piece is not None and (piece.diameter, piece.length) == (0.02, pytest.approx(0.17))


@pytest.mark.parametrize(("ring", "wire"), [
    ("powder-12.7x7.6x4.8", 0.5e-3), ("powder-39.9x24.1x14.5", 1.6e-3), ("2 x powder-77.8x49.2x12.7", 2e-3),
])  # fmt: skip
def test_a_default_wire_goes_through_the_ring(ring, wire) -> None:
    found = hs.new(chokes=ring).tables.choke["left"].wire
    assert found is not None and found.diameter == pytest.approx(wire) and found.strands == 2


def test_without_a_workpiece_the_shortest_file_has_the_empty_coil() -> None:
    assert hs.new("bench", workpiece="none").cases == ("idle",) == hs.new("bench", coil="2.5 uH, 20 mohm").cases


@pytest.mark.parametrize(("text", "material", "diameter"), [
    ("steel 12 mm x 100 mm", "steel", 0.012),
    ("steel C45 12mm x 100 mm", "steel C45", 0.012),
    ("stainless 304   15 mm × 90 mm", "stainless 304", 0.015),
    ("brass 3/8 in x 4 in", "brass", 0.009525),
])  # fmt: skip
def test_bars(text, material, diameter) -> None:
    piece = hs.new(workpiece=text).tables.case["loaded"].workpiece
    assert piece is not None and (piece.material, piece.diameter) == (material, pytest.approx(diameter, rel=1e-9))


def test_inches_and_gauges() -> None:
    scenario = hs.new(coil='8 x 1 3/4" x 1/4"', winding="16 x AWG 14, 2 strands")
    assert scenario.tables.coil.diameter == pytest.approx(0.04445) and scenario.tables.coil.tube_diameter == pytest.approx(0.00635)
    wire = scenario.tables.choke["left"].wire
    assert wire is not None and wire.diameter == pytest.approx(1.628e-3, rel=1e-3)
    assert max(map(len, scenario.text.splitlines())) <= 132


@pytest.mark.parametrize(("key", "text", "told"), [
    ("count", "0", "count: is no number of devices; given '0'; allowed: a whole number from 1 to 200"),
    ("count", "9" * 5000, "is no number of devices"),
    ("supply_current", "many", "supply_current: is not a number with a unit"),
    ("capacitors", "330 nF", "is not a count and the value of one"),
    ("capacitors", "6 x 330 nF, 9 A, 8 A", "says a rating twice"),
    ("capacitors", "6 x 330 nF, 12 W", "has the unit 'W'"),
    ("coil", "8 x 46 mm", "is not turns, diameter and tube"),
    ("coil", "many x 46 mm x 6 mm", "is no number of turns; given 'many'; allowed: a number above 0.5, up to 100"),
    ("coil", "a good one", "is neither a size nor a reading"),
    ("workpiece", "unobtainium 9 mm x 90 mm", "workpiece: is no material of the catalogue; given 'unobtainium'; allowed: "),
    ("workpiece", "steel 60 mm x 90 mm", "workpiece: does not fit the coil"),
    ("workpiece", "1.6 uH", "lacks the resistance"),
    ("chokes", "powder-39", "is neither a ring of the catalogue nor a reading; given 'powder-39'; allowed: powder-"),
    ("chokes", "a doughnut", "allowed: one that heatsim parts --kind ring lists; or such as 65 uH, 30 A"),
    ("chokes", "9 x powder-39.9x24.1x14.5", "is no number of rings"),
    ("chokes", "powder-39.9x24.1x14.5, mnzn-power-ferrite", "needs an air gap"),
    ("chokes", "65 uH", "is not inductance, saturation current"),
    ("winding", "16 turns", "is not turns and wire"),
    ("winding", "16 x 1.6 mm, some strands", "is not turns and wire"),
    ("winding", "300 x 2 mm", "winding: the winding does not fit the bore"),
    ("cooling", "", "is none of the choices"),
    ("colour", "red", "colour: is no question; allowed: "),
    ("source", "memory", "source: is not known; given 'memory'; allowed: parts or bench"),
])  # fmt: skip
def test_answers_that_cannot_be_used(key, text, told) -> None:
    with pytest.raises(InputError) as error:
        hs.new(**{key: text})
    assert told in str(error.value) and "\n" not in str(error.value)


def test_the_shortest_file_gives_errors_a_place_and_takes_overrides() -> None:
    scenario = hs.new("bench")
    assert scenario.change(supply__voltage="30 V").heater("loaded").supply.voltage == 30.0
    with pytest.raises(InputError, match=r"FILE:4: supply\.voltage: is out of range"):
        type(scenario).from_text(scenario.text.replace('"24 V"', '"24 kV"'), "FILE")


@pytest.mark.parametrize(
    ("stem", "name"), [("my-first_heater", "My first heater"), ("é…", "First heater"), ("a" * 99, "A" + "a" * 59)]
)
def test_names(stem, name) -> None:
    assert heater_name(stem) == name
    assert tomllib.loads(hs.new(name=name).text)["heater"]["name"] == name


@pytest.mark.parametrize("source", ["parts", "bench"])
def test_other_commands_can_change_the_file(source) -> None:
    fields = {"gate.pull_up": "82 ohm", "switch.count": 2, "choke.core": {"material": "fe-si-75", "ring": "iron-39.9x24.1x14.5"}}
    tables = Scenario.from_text(with_fields(hs.new(source), fields, "changed")).tables
    core = tables.choke["right"].core
    assert (tables.gate.pull_up, tables.switch.count) == (82.0, 2) and core is not None and core.material == "fe-si-75"


@pytest.mark.slow
def test_the_defaults_hold() -> None:
    begun = processor_seconds()
    result = hs.check(hs.new(), jobs=1)
    assert result.verdict == "holds" and result.exit_code == 0
    assert {finding.grade for case in result.cases for finding in case.findings} == {"holds"}
    assert processor_seconds() - begun < 15.0


def processor_seconds() -> float:
    """Of this process and of those it has started and ended."""
    used = map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(each.ru_utime + each.ru_stime for each in used)
