# SPDX-License-Identifier: GPL-3.0-or-later
"""[[conductor]] and [coil.cooling]: what they build, what they refuse and where, and that without them nothing else changes."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.parts.conductor import Conductor, Joint
from heatsim.parts.section import Bar, Wire
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck

FOLDER = Path(__file__).resolve().parents[2] / "scenarios"
BENCH = Scenario.from_file(FOLDER / "bench-heater.toml")
COPPER = Scenario.from_file(FOLDER / "bench-heater-copper.toml")

AWG = [  # gauge, mm, mm2: published-values.md, section 1
    (10, 2.588187, 5.261155),
    (12, 2.052525, 3.308773),
    (14, 1.627727, 2.080908),
    (16, 1.290846, 1.308696),
    (18, 1.023687, 0.8230468),
    (20, 0.811821, 0.5176192),
    (22, 0.6438033, 0.3255339),
]

STRIP = {"name": "strip", "kind": "strip", "carries": "tank", "length": "100 mm", "width": "20 mm", "thickness": "2 mm"}
CABLE = {"name": "cable", "kind": "cable", "carries": "supply", "length": "1 m", "gauge": "AWG 10"}
TRACE = {"name": "trace", "kind": "trace", "carries": "left switch", "length": "50 mm", "width": "8 mm", "copper": "2 oz"}
SOLDERED = TRACE | {"kind": "soldered trace", "wire_diameter": "1.5 mm"}
JOINT = {"name": "joint", "kind": "joint", "carries": "tank"}
WATER = {"outlet_limit": "60 °C", "flow": "1.5 l/min", "inlet": "20 °C", "bore": "4 mm", "tube_length": "1.6 m"}


def with_conductors(*tables: dict[str, str]) -> Scenario:
    """The bench heater with conductors, 90 °C allowed unless they say otherwise."""
    lines = [
        line
        for table in tables
        for line in ("[[conductor]]", *(f'{key} = "{value}"' for key, value in ({"temperature_limit": "90 °C"} | table).items()))
    ]
    return Scenario.from_text(BENCH.text + "\n".join(["", *lines, ""]).replace('count = "2"', "count = 2"))


def with_water(**fields: str) -> Scenario:
    """The bench heater with [coil.cooling]; an empty field is left out."""
    kept = {key: value for key, value in (WATER | fields).items() if value}
    lines = ["", "[coil.cooling]", *(f'{key} = "{value}"' for key, value in kept.items()), ""]
    return Scenario.from_text(BENCH.text + "\n".join(lines))


def built(*tables: dict[str, str]) -> tuple[Conductor | Joint, ...]:
    return with_conductors(*tables).heater("loaded").conductors


def test_without_the_tables_there_is_nothing() -> None:
    heater = BENCH.heater("loaded")
    assert heater.conductors == () and heater.water is None


def test_the_netlist_is_the_same_letter_by_letter() -> None:
    """But for the title with the heater's name."""
    one, other = (case_deck(each, "loaded").text.split("\n", 1)[1] for each in (BENCH, COPPER))
    assert one == other


def test_what_they_are_bears_on_the_verdict() -> None:
    assert with_conductors(STRIP).bearing("loaded") != with_conductors(STRIP | {"width": "21 mm"}).bearing("loaded")
    assert with_water().bearing("loaded") != with_water(flow="2 l/min").bearing("loaded")


def test_each_kind_is_built() -> None:
    strip, cable, trace, soldered, joint = built(STRIP, CABLE, TRACE, SOLDERED | {"name": "soldered"}, JOINT)
    assert isinstance(strip, Conductor) and strip.section == Bar(20e-3, 2e-3) and strip.signal == "coil.current"
    assert isinstance(cable, Conductor) and isinstance(cable.section, Wire) and cable.signal == "supply.current"
    assert isinstance(trace, Conductor) and trace.section == Bar(8e-3, pytest.approx(70e-6, rel=1e-3))
    assert trace.signal == "switch.left.current" and trace.air.board is not None and trace.air.emissivity == 0.9
    wire = math.pi / 4 * 1.5e-3**2
    assert isinstance(soldered, Conductor)
    assert soldered.area == pytest.approx(trace.area + wire * (1 + 0.5 * 0.13), rel=1e-9)
    assert isinstance(joint, Joint) and (joint.resistance, joint.band, joint.bars) == (20e-6, 4.0, None)


def test_a_measured_joint_has_no_band() -> None:
    (joint,) = built(JOINT | {"resistance": "35 uohm", "width": "30 mm", "thickness": "3 mm"})
    assert isinstance(joint, Joint) and (joint.resistance, joint.band, joint.bars) == (35e-6, 1.0, Bar(30e-3, 3e-3))


@pytest.mark.parametrize(("gauge", "diameter", "area"), AWG)
def test_cables_by_gauge(gauge: int, diameter: float, area: float) -> None:
    (cable,) = built(CABLE | {"gauge": f"AWG {gauge}"})
    assert isinstance(cable, Conductor) and isinstance(cable.section, Wire)
    assert cable.section.area == pytest.approx(area * 1e-6, rel=1e-5)
    assert 2 * cable.section.radius == pytest.approx(diameter * 1e-3, rel=1e-5)


def test_names_become_keys() -> None:
    assert [each.key for each in built(STRIP | {"name": "Bus bar 1, left"}, CABLE)] == ["bus_bar_1_left", "cable"]


@pytest.mark.parametrize(
    ("table", "parts"),
    [
        (STRIP | {"kind": "rope"}, ["conductor.0.kind", "'strip'", "'cable'"]),
        (STRIP | {"carries": "anode"}, ["conductor.0.carries", "'left choke'"]),
        (STRIP | {"width": "20"}, ["conductor.0.width", "has no unit"]),
        (STRIP | {"breadth": "20 mm"}, ["conductor.0.breadth", "not a known key"]),
        (STRIP | {"temperature_limit": "900 °C"}, ["temperature_limit", "out of range", "250"]),
        (STRIP | {"copper": "2 oz"}, ["conductor.0.copper", "does not belong to a strip", "return_gap"]),
        (STRIP | {"gauge": "AWG 3"}, ["conductor.0.gauge", "does not belong to a strip"]),
        (STRIP | {"return_gap": "30 mm"}, ["conductor.0.return_gap", "must not be above width"]),
        (STRIP | {"carries": "centre choke"}, ["conductor.0.carries", "has not", "'left choke', 'right choke'"]),
        ({key: value for key, value in STRIP.items() if key != "thickness"}, ["thickness", "is missing", "a strip needs it"]),
        (CABLE | {"section": "5 mm2"}, ["conductor.0.section", "exactly one"]),
        ({key: value for key, value in CABLE.items() if key != "gauge"}, ["conductor.0.section", "exactly one"]),
        (CABLE | {"gauge": "SWG 10"}, ["conductor.0.gauge", "AWG 14"]),
        (TRACE | {"copper": "2 lb"}, ["conductor.0.copper", "oz"]),
        (TRACE | {"copper": "20 oz", "name": "x"}, []),
        (TRACE | {"copper": "60 oz"}, ["conductor.0.copper", "out of range"]),
        (SOLDERED | {"wire_diameter": "9 mm"}, ["conductor.0.wire_diameter", "must not be above width", "8 mm"]),
        (JOINT | {"length": "10 mm"}, ["conductor.0.length", "does not belong to a joint"]),
        (JOINT | {"width": "10 mm"}, ["conductor.0.width", "goes together with thickness"]),
    ],
)
def test_what_does_not_fit_is_refused_at_its_field(table: dict[str, str], parts: list[str]) -> None:
    if not parts:
        assert built(table)
        return
    with pytest.raises(InputError) as caught:
        built(table)
    assert all(part in str(caught.value) for part in parts), str(caught.value)


def test_the_place_is_that_of_the_right_conductor() -> None:
    text = with_conductors(STRIP, JOINT | {"name": "second"}).text.replace('name = "second"', 'name = "second"\nlength = "1 m"')
    with pytest.raises(InputError) as caught:
        Scenario.from_text(text, "x.toml").heater("loaded")
    line = next(number for number, each in enumerate(text.splitlines(), 1) if each == 'length = "1 m"')
    assert f"x.toml:{line}: conductor.1.length" in str(caught.value)


def test_two_of_one_name_are_refused() -> None:
    with pytest.raises(InputError, match=r"conductor\.1\.name.*differs from another"):
        built(STRIP, CABLE | {"name": "Strip"})


def test_the_water_is_built() -> None:
    water = with_water().heater("loaded").water
    assert water is not None and water.flow == pytest.approx(2.5e-5) and (water.bore, water.length) == (4e-3, 1.6)
    assert water.bend is None and water.outer is None and water.outlet_pressure == 101325.0


def test_tube_and_length_come_from_the_coil_where_it_is_given() -> None:
    shape = {"turns": 8, "diameter": "50 mm", "length": "80 mm", "tube_diameter": "6 mm", "tube_wall": "1 mm"}
    leads = {"lead_length": "200 mm", "lead_spacing": "12 mm"}
    scenario = with_water(bore="", tube_length="").change({f"coil.{key}": value for key, value in shape.items()})
    water = scenario.heater("loaded").water
    assert water is not None and water.bore == pytest.approx(4e-3) and water.bend == 50e-3 and water.outer == 6e-3
    assert water.length == pytest.approx(8 * math.hypot(math.pi * 0.05, 0.01))
    plain = Scenario.from_text(scenario.text.replace('lead_inductance = "60 nH"\n', ""))
    longer = plain.change({f"coil.{key}": value for key, value in (shape | leads).items()}).heater("loaded").water
    assert longer is not None and longer.length == pytest.approx(water.length + 0.4)


def test_a_standing_fan_leaves_the_radiator_its_own_resistance() -> None:
    radiator = {"inlet": "", "radiator": "0.03 K/W", "radiator_still": "0.15 K/W"}
    running, standing = (with_water(**radiator, fan=fan).heater("loaded").water for fan in ("running", "standing"))
    assert running is not None and standing is not None
    assert running == replace(standing, radiator=0.03) and standing.radiator == 0.15


@pytest.mark.parametrize(
    ("fields", "parts"),
    [
        ({"flow": ""}, ["coil.cooling.flow", "and pump_pressure"]),
        ({"pump_pressure": "1 bar"}, ["coil.cooling.flow", "and pump_pressure"]),
        ({"inlet": ""}, ["coil.cooling.inlet", "and radiator"]),
        ({"inlet": "", "radiator": "0.03 K/W", "fan": "standing"}, ["coil.cooling.fan", "radiator_still"]),
        ({"bore": ""}, ["coil.cooling.bore", "is missing", "coil.tube_wall"]),
        ({"tube_length": ""}, ["coil.cooling.tube_length", "is missing", "coil.turns"]),
        ({"hose_length": "2 m"}, ["coil.cooling.hose_bore", "is missing"]),
        ({"flow": "1.5 gpm"}, ["coil.cooling.flow", "'gpm'"]),
        ({"outlet_limit": ""}, ["coil.cooling.outlet_limit", "is missing"]),
        ({"outlet_pressure": "40 bar"}, ["coil.cooling.outlet_pressure", "out of range", "20 bar"]),
        ({"fan": "broken"}, ["coil.cooling.fan", "'running' or 'standing'"]),
    ],
)
def test_water_that_cannot_be_is_refused_at_its_field(fields: dict[str, str], parts: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        with_water(**fields).heater("loaded")
    assert all(part in str(caught.value) for part in parts), str(caught.value)


def test_a_bore_as_wide_as_the_tube_is_refused() -> None:
    with pytest.raises(InputError, match=r"coil\.cooling\.bore.*does not fit"):
        with_water().change({"coil.tube_diameter": "4 mm"}).heater("loaded")
