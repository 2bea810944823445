# SPDX-License-Identifier: GPL-3.0-or-later
"""Spoiled scenarios, catalogues, models and ring tests: read, or refused with place, fault and what is allowed; never a crash."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from pydantic import BaseModel

from heatsim.errors import InputError
from heatsim.parts.mosfet_curves import curve_points
from heatsim.parts.mosfet_model import vdmos_parameters
from heatsim.quantity import exact_quantity
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.models import read_user_model
from heatsim.scenario.ringtest import RingTest
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.schema import ChokeTable, ScenarioTables, SwitchTable, WorkpieceTable
from heatsim.scenario.schema.fields import Unit
from heatsim.studies.check import case_deck
from tests.scenario.test_catalogue import OWN
from tests.scenario.test_models import GOOD
from tests.support.layers import quick_of
from tests.support.mutations import assert_readable, mutated

GEOMETRY = """
[heater]
name = "All by geometry"
topology = "one-choke"
catalogue = "own.toml"
air_speed = "2 m/s"
[supply]
voltage = "60 V"
ripple = "1 V"
[choke]
turns = 18
short_resistance = "40 ohm"
short_inductance = "200 uH"
[choke.core]
material = "fe-si-al-60"
ring = "powder-39.9x24.1x14.5"
stack = 2
[choke.core.hysteresis]
saturation = "716.5 kA/m"
shape = "6567 A/m"
pinning = "1040 A/m"
coupling = 0.01055
reversible = "96.3 %"
[choke.wire]
gauge = "AWG 15"
strands = 2
lay = "twisted"
looseness = "0.2 mm"
[switch]
voltage_rating = "300 V"
on_resistance = "30 mohm"
threshold = "3.6 V"
transconductance = "70 S"
transconductance_current = "40 A"
input_capacitance = "4.2 nF"
output_capacitance = "420 pF"
reverse_capacitance = "60 pF"
gate_drain_charge = "24 nC"
model_file = "maker.lib"
model = "mypart"
[gate]
supply_voltage = "14 V"
pull_up = "68 ohm"
clamp_voltage = "16 V"
resistor = "4.7 ohm"
[capacitors]
capacitance = "330 nF"
count = 6
dissipation_factor = "0.06 %"
[coil]
turns = 7
diameter = "60 mm"
length = "70 mm"
tube_diameter = "6 mm"
tube_wall = "1 mm"
half_coupling = "40 %"
lead_length = "150 mm"
lead_spacing = "20 mm"
[simulate]
longest = "20 ms"
[case.idle]
[case.bar]
set = {"supply.voltage" = "50 V"}
[case.bar.workpiece]
diameter = "30 mm"
length = "80 mm"
resistivity = "0.2 uohm*m"
permeability = 20
share = "50 %"
[case.steel.workpiece]
diameter = "30 mm"
length = "80 mm"
material = "steel"
"""
BENCH = GEOMETRY.replace('catalogue = "own.toml"\n', "").replace("one-choke", "two-choke")
BENCH = BENCH[: BENCH.index("[choke]")] + """[choke.left.measured]
inductance = "60 uH"
resistance = "11 mohm"
saturation_current = "30 A"
[choke.right.measured]
resistance = "11 mohm"
table = [["0 A", "60 uH"], ["10 A", "50 uH"], ["30 A", "20 uH"]]
""" + BENCH[BENCH.index("[switch]") : BENCH.index("model_file")] + BENCH[BENCH.index("[gate]") :]  # fmt: skip

FEW = BENCH[: BENCH.index("[switch]")] + """[switch]
device = "generic 200 V 40 mohm"
threshold_current = "1 mA"
plateau_voltage = "5 V"
gate_charge = "80 nC"
curves.capacitance = [["5 V", "5 nF", "1 nF", "400 pF"], ["80 V", "4.2 nF", "250 pF", "50 pF"]]
curves.transfer = [["5 V", "20 A"], ["6 V", "60 A"]]
""" + BENCH[BENCH.index("[gate]") :]  # fmt: skip
FEW_FIGURES = FEW.replace(
    'device = "generic 200 V 40 mohm"', BENCH[BENCH.index("voltage_rating") : BENCH.index("transconductance")]
)
FEW_FIGURES = FEW_FIGURES.replace("[gate]", 'input_capacitance = "4.2 nF"\n[gate]')

RING_TEST = """[ring]
name = "x"
outer_diameter = "27 mm"
inner_diameter = "15 mm"
height = "11 mm"
stack = 2
path_length = "65 mm"
[winding]
turns = 26
wire_diameter = "1.2 mm"
[lcr]
inductance = "60 uH"
frequency = "10 kHz"
[bias]
readings = [["0 A", "60 uH"], ["1 A", "59 uH"], ["2 A", "58 uH"]]
[ramp]
file = "ramp.csv"
voltage = "12 V"
bits = 8
full_scale = "64 A"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the files that a scenario names stand."""
    (tmp_path / "own.toml").write_text(OWN)
    (tmp_path / "maker.lib").write_text(GOOD)
    (tmp_path / "ramp.csv").write_text("time [s],current [A]\n" + "".join(f"{k}e-6,{0.5 * k}\n" for k in range(40)))
    return tmp_path


def outcomes(read: Callable[[str], object], spoiled: Callable[[np.random.Generator], str], count: int) -> tuple[int, int]:
    """How many of `count` spoiled texts were read, and how many refused; anything else fails, naming the text."""
    generator, taken = np.random.default_rng(20_311), 0
    for number in range(count):
        text = spoiled(generator)
        try:
            read(text)
            taken += 1
        except InputError as error:
            assert_readable(error)
        except BaseException as error:
            pytest.fail(f"number {number}, {type(error).__name__}: {error}\n{text}")
    return taken, count - taken


def build(folder: Path) -> Callable[[str], object]:
    """Reads a scenario and writes the netlists of all its cases."""

    def built(text: str) -> object:
        scenario = Scenario.from_text(text, "heater.toml", folder)
        return [case_deck(scenario, case).text for case in scenario.cases]

    return built


def document(text: str) -> dict[str, Any]:
    return tomllib.loads(text)


@pytest.mark.parametrize("count", quick_of([60, 400], 60))
@pytest.mark.parametrize("name", ["bench-heater", "bench-heater-small-rings", "geometry", "bench", "device", "few figures"])
def test_spoiled_scenarios(checkout: Path, folder: Path, name: str, count: int) -> None:
    own = {"geometry": GEOMETRY, "bench": BENCH, "device": FEW, "few figures": FEW_FIGURES}
    text = own[name] if name in own else (checkout / "scenarios" / f"{name}.toml").read_text(encoding="utf-8")
    base = document(text)
    assert build(folder)(text)
    taken, refused = outcomes(build(folder), lambda generator: mutated(base, generator), count)
    assert taken > count / 20 and refused > count / 2


def test_spoiled_catalogues(folder: Path) -> None:
    def read(text: str) -> object:
        (folder / "own.toml").write_text(text, encoding="utf-8")
        return catalogue_with("own.toml", folder, "heater.toml:3: heater.catalogue")

    base = document(OWN)
    taken, refused = outcomes(read, lambda generator: mutated(base, generator), 400)
    assert taken > 40 and refused > 200


def test_spoiled_ring_tests(folder: Path) -> None:
    def read(text: str) -> object:
        (folder / "test.toml").write_text(text, encoding="utf-8")
        test = RingTest.from_file(folder / "test.toml")
        return test.ring(), test.winding

    base = document(RING_TEST)
    taken, refused = outcomes(read, lambda generator: mutated(base, generator), 400)
    assert taken > 40 and refused > 200


WORDS = (
    *"shell touch x|.include /etc/passwd|r1 a b 1|x1 a b whole|.subckt a b c d|.model mypart d(is=1)|.param x".split("|"),
    *("\n", " " * 500, "\x1b[2J", "9" * 600, *"{ } ' ( ) = + .ends é * ; // .end".split()),
)


def test_spoiled_models(folder: Path) -> None:
    def spoiled(generator: np.random.Generator) -> str:
        text = GOOD
        for _ in range(int(generator.integers(1, 4))):
            at, word = int(generator.integers(len(text) + 1)), WORDS[int(generator.integers(len(WORDS)))]
            end = at + int(generator.integers(0, 30)) * int(generator.integers(0, 2))
            text = text[:at] + word * int(generator.integers(0, 2)) + text[end:]
        return text

    def read(text: str) -> object:
        (folder / "maker.lib").write_text(text, encoding="utf-8")
        return read_user_model(folder / "maker.lib", "whole")

    taken, refused = outcomes(read, spoiled, 600)
    assert taken > 60 and refused > 200


def ends(model: type[BaseModel], *path: str) -> Iterator[tuple[str, str]]:
    """Every field of a table with a unit, and both ends of its range."""
    for name, info in model.model_fields.items():
        marks = [mark for part in (info.annotation, *get_args(info.annotation)) for mark in getattr(part, "__metadata__", ())]
        inner = [
            part for part in (info.annotation, *get_args(info.annotation)) if isinstance(part, type) and issubclass(part, BaseModel)
        ]
        for mark in (*info.metadata, *marks):
            if isinstance(mark, Unit):
                yield from ((".".join((*path, name)), exact_quantity(end, mark.unit)) for end in (mark.low, mark.high))
        for part in inner:
            yield from ends(part, *path, name)


def every_end() -> list[tuple[str, str]]:
    """Every field of a scenario with a unit, those of a choke and of the workpiece included, and both ends of its range."""
    whole = [end for end in ends(ScenarioTables) if not end[0].startswith("wind")]
    return [*whole, *ends(ChokeTable, "choke"), *ends(WorkpieceTable, "case", "bar", "workpiece")]


@pytest.mark.slow
def test_each_field_at_the_ends_of_its_range_makes_parts_or_is_refused(folder: Path) -> None:
    scenario, taken = Scenario.from_text(GEOMETRY, "heater.toml", folder), 0
    for field, value in every_end():
        try:
            changed = scenario.change({field: value})
            texts = [case_deck(changed, case).text for case in changed.cases]
            assert not any(re.search(r"(?<![a-z_])(nan|inf)(?![a-z_])", text) for text in texts), (field, value)
            taken += 1
        except InputError as error:
            assert_readable(error)
    assert len(every_end()) > 150 and taken > 100


@pytest.mark.parametrize("text", [FEW, FEW_FIGURES], ids=["device", "few figures"])
def test_each_figure_of_a_switch_at_the_ends_of_its_range_makes_a_model_or_is_refused(folder: Path, text: str) -> None:
    scenario, taken = Scenario.from_text(text, "heater.toml", folder), 0
    for field, value in ends(SwitchTable, "switch"):
        try:
            heater = scenario.change({field: value}).heater("idle")
            assert all(math.isfinite(each) for each in vdmos_parameters(heater.switch).values()), (field, value)
            assert all(math.isfinite(each.model) for each in curve_points(heater.switch)), (field, value)
            taken += 1
        except InputError as error:
            assert_readable(error)
    assert taken > 30


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('on_resistance = "30 mohm"', 'on_resistance = "10 ohm"', ()),
        ('voltage = "60 V"', 'voltage = "1e9999999 V"', ("supply.voltage", "not finite")),
        ('catalogue = "own.toml"', 'catalogue = "a\\u0000b"', ("heater.toml:5: heater.catalogue", "allowed: a catalogue file")),
        ('catalogue = "own.toml"', 'catalogue = "none.toml"', ("heater.toml:5: heater.catalogue", "none.toml cannot be read")),
        ('catalogue = "own.toml"', f'catalogue = "{"x" * 390}"', ("heater.toml:5: heater.catalogue", "cannot be read")),
        ('model_file = "maker.lib"', 'model_file = "/dev/zero"', ("switch.model_file", "/dev/zero is a device")),
        ('model = "mypart"', 'model = "other"', ("switch.model_file", "has no such model", "mypart, whole, body, inner")),
        ("turns = 18", f"turns = {'1' * 5000}", ("heater.toml:11", "too many digits")),
        ("turns = 18", f"turns = {'[' * 900}{']' * 900}", ("heater.toml:11", "too many brackets")),
    ],
)  # fmt: skip
def test_what_once_was_a_traceback(folder: Path, old: str, new: str, words: tuple[str, ...]) -> None:
    assert old in GEOMETRY
    told = ""
    try:
        build(folder)(GEOMETRY.replace(old, new, 1))
    except InputError as error:
        told = str(error)
    assert all(word in told for word in words) and bool(told) == bool(words)
