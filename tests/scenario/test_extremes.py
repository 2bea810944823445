# SPDX-License-Identifier: GPL-3.0-or-later
"""Fields at the ends of their ranges, and what once was a traceback: read, or refused; mutated files: tests/test_robustness.py."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel

from heatsim.errors import InputError
from heatsim.parts.mosfet_curves import curve_points
from heatsim.parts.mosfet_model import vdmos_parameters
from heatsim.quantity import exact_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.schema import ChokeTable, ScenarioTables, SwitchTable, WorkpieceTable
from heatsim.scenario.schema.fields import Unit
from heatsim.studies.check import case_deck
from tests.support.robustness.mutations import assert_readable
from tests.support.robustness.scenarios import ODD
from tests.support.robustness.sound import BENCH, FEW, FEW_FIGURES, GEOMETRY, files


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the files that a scenario names stand."""
    files(tmp_path)
    return tmp_path


def build(text: str, folder: Path) -> list[str]:
    """The netlists of all cases of a scenario."""
    scenario = Scenario.from_text(text, "heater.toml", folder)
    return [case_deck(scenario, case).text for case in scenario.cases]


@pytest.mark.parametrize("text", [GEOMETRY, BENCH, FEW, FEW_FIGURES], ids=["geometry", "bench", "device", "few figures"])
def test_files_that_are_mutated_are_sound(folder: Path, text: str) -> None:
    assert all(build(text, folder))


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
            assert not any(ODD.search(text) for text in texts), (field, value)
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
        build(GEOMETRY.replace(old, new, 1), folder)
    except InputError as error:
        told = str(error)
    assert all(word in told for word in words) and bool(told) == bool(words)
