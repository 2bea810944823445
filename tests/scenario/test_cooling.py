# SPDX-License-Identifier: GPL-3.0-or-later
"""[switch.cooling]: what it becomes, and what it is told where its fields contradict one another."""

from __future__ import annotations

import math
import re

import pytest

from heatsim.errors import InputError
from heatsim.netlist.generate import make_deck
from heatsim.parts.sink import PlateSink, RatedSink
from heatsim.scenario.scenario import Scenario

RIGHT = {"junction_to_case": "0.5 K/W", "interface": "0.8 K/W", "sink_resistance": "2 K/W"}
PLATE = {"plate_width": "150 mm", "plate_height": "100 mm", "plate_thickness": "3 mm"}


@pytest.fixture(scope="module")
def text(checkout):
    return (checkout / "scenarios" / "bench-heater.toml").read_text(encoding="utf-8")


def scenario(text, **fields):
    table = "\n".join(f"{name} = {value if isinstance(value, list | float) else repr(value)}" for name, value in fields.items())
    return Scenario.from_text(text.replace("[gate]", f"[switch.cooling]\n{table}\n\n[gate]"), "heater.toml")


def path(text, **fields):
    return scenario(text, **(RIGHT | fields)).heater("loaded").silicon


def test_a_scenario_without_the_table_has_no_path(text):
    assert Scenario.from_text(text).heater("loaded").silicon is None


def test_the_netlist_is_the_same_with_and_without_the_table(text):
    plain, cooled = Scenario.from_text(text).heater("loaded"), scenario(text, **RIGHT).heater("loaded")
    assert make_deck(plain, "x").text == make_deck(cooled, "x").text


def test_what_is_given_is_taken_and_what_is_not_is_the_stated_estimate(text):
    found = path(text)
    assert (found.junction_to_case, found.interface, found.junction_limit, found.resistance_c) == (0.5, 0.8, 150.0, 25.0)
    assert found.sink == RatedSink(2.0, None, None, 0.0, None) and found.shared == "all" and found.ambient == 25.0
    low, high = found.warm_exponent_band
    assert (423.15 / 298.15) ** low == pytest.approx(2.0) and (423.15 / 298.15) ** high == pytest.approx(2.5)
    own = path(text, on_resistance_ratio=2.0, sink_mass="200 g", on_resistance_temperature="80 °C")
    assert own.warm_exponent_band == (own.warm_exponent, own.warm_exponent) and own.sink.capacity == pytest.approx(0.2 * 897)
    assert own.warm_exponent == pytest.approx(math.log(2) / math.log(423.15 / 298.15)) and own.resistance_c == 80.0


def test_a_layer_by_name_or_by_its_figures(text):
    wanted = {name: value for name, value in RIGHT.items() if name != "interface"}
    named = scenario(text, **wanted, pad="silicone pad", pad_area="2 cm2").heater("loaded").silicon
    own = scenario(text, **wanted, pad_thickness="0.2 mm", pad_conductivity="1.6 W/mK", pad_area="200 mm2").heater("loaded").silicon
    assert named.interface == pytest.approx(2 * own.interface) == pytest.approx(1.25)
    assert named.interface_band == 1.5 and own.interface_band == 1.3


def test_a_plate_in_place_of_a_rated_sink(text):
    wanted = {name: value for name, value in RIGHT.items() if name != "sink_resistance"}
    found = scenario(text, **wanted, **PLATE, air_speed="2 m/s").heater("loaded").silicon
    assert found.sink == PlateSink(0.15, 0.1, 3e-3, 0.1, 2.0)


def test_foster_rows_are_the_junction_to_case_or_a_part_of_it(text):
    rows = [["0.1 K/W", "1 ms"], ["0.3 K/W", "20 ms"]]
    assert path(text, chain=rows).chain == ((pytest.approx(0.1), 0.0), (0.1, 1e-3), (0.3, 0.02))
    alone = {name: value for name, value in RIGHT.items() if name != "junction_to_case"}
    assert scenario(text, **alone, chain=rows).heater("loaded").silicon.junction_to_case == pytest.approx(0.4)


MISTAKES = [
    ({"junction_to_case": None}, ["has no junction_to_case", "datasheet"]),
    ({"chain": [["0.9 K/W", "1 ms"]]}, ["chain", "is more than junction_to_case", "0.9 K/W", "up to 0.5 K/W"]),
    ({"interface": None}, ["interface", "must be given in one way"]),
    ({"pad": "paste", "pad_area": "2 cm2"}, ["interface", "must be given in one way"]),
    ({"interface": None, "pad": "paste"}, ["pad_area", "is missing"]),
    ({"interface": None, "pad": "butter", "pad_area": "2 cm2"}, ["pad", "'butter'", "is not one of the choices"]),
    ({"interface": None, "pad_thickness": "0.2 mm", "pad_area": "2 cm2"}, ["pad_thickness", "pad_conductivity"]),
    ({"sink_resistance": None}, ["sink_resistance", "must be given in one way", "plate_width"]),
    ({**PLATE}, ["sink_resistance", "must be given in one way"]),
    ({"sink_resistance": None, "plate_width": "150 mm"}, ["plate_height", "is missing"]),
    ({"fan_speed": "3 m/s"}, ["fan_speed", "goes together with sink_resistance_fan"]),
    ({"air_speed": "3 m/s"}, ["air_speed", "needs sink_resistance_fan and fan_speed"]),
    ({"sink_resistance_fan": "3 K/W", "fan_speed": "3 m/s"}, ["sink_resistance_fan", "more than in still air", "up to 2 K/W"]),
    ({"sink_mass": "200"}, ["sink_mass", "has no unit", "kg"]),
    ({"avalanche_energy": "5 kJ"}, ["avalanche_energy", "out of range"]),
]


@pytest.mark.parametrize(("fields", "words"), MISTAKES, ids=[str(words[:2]) for _, words in MISTAKES])
def test_a_mistake_is_named_with_file_line_field_and_what_is_allowed(text, fields, words):
    given = {name: value for name, value in (RIGHT | fields).items() if value is not None}
    with pytest.raises(InputError) as caught:
        scenario(text, **given).heater("loaded")
    message = str(caught.value)
    assert all(word in message for word in words), message
    assert re.search(r"^heater\.toml:\d+: switch\.cooling", message, re.MULTILINE)
