# SPDX-License-Identifier: GPL-3.0-or-later
"""Every public function of the physics room says in its docstring the unit of each parameter and of what it returns.

The form: `name: words [unit]` or `name [unit]` for a parameter, several on a line parted by semicolons; the first paragraph
holds the unit of the result, unless that is a class of the room, which then says the units of its fields.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
import typing
from collections.abc import Callable, Iterator

import pytest

import heatsim.physics

UNITS = frozenset(
    "1 any m m2 m3 mm s Hz K °C W V A S ohm F H C T Wb K/W W/K m/s m/s2 m2/s A/m A/V2 V/s 1/V 1/K 1/m 1/m2 1/m3 J/K J/kg J/m3 "
    "W/m W/m2 W/m3 W/(m*K) W/(m2*K) J/(kg*K) ohm*m kg kg/m3 Pa Pa*s m3/s".split()
)
"""What may stand in the brackets; dimensionless is 1, a quantity of the caller's choice `any`."""

UNIT = re.compile(r"\[([^\[\]\n]+)\]")


def functions() -> Iterator[Callable[..., object]]:
    """Public functions of the room, each in its own module."""
    for found in pkgutil.iter_modules(heatsim.physics.__path__):
        module = importlib.import_module(f"heatsim.physics.{found.name}")
        for name, each in inspect.getmembers(module, inspect.isfunction):
            if each.__module__ == module.__name__ and not name.startswith("_"):
                yield each


def units(text: str) -> list[str]:
    """Units in brackets, without what may follow one: `V, rms`, `J/m3 and cycle`."""
    return [unit for found in UNIT.findall(text) if (unit := re.split(r",| and ", found)[0]) in UNITS]


def unstated(function: Callable[..., object], doc: str) -> list[str]:
    """Parameters, and `return`, whose unit a docstring does not state."""
    pieces = [piece for line in doc.splitlines() for piece in line.split(";")]
    missing = [
        name
        for name, each in inspect.signature(function).parameters.items()
        if each.kind is not inspect.Parameter.VAR_KEYWORD
        and not any(units(piece[found.end() :]) for piece in pieces for found in re.finditer(rf"(?<!\w){name}\b", piece))
    ]
    result = typing.get_type_hints(function).get("return")
    own = inspect.isclass(result) and result.__module__.startswith("heatsim.physics") and result.__doc__ or ""
    if result is not type(None) and not units(doc.split("\n\n")[0]) and not units(own):
        missing.append("return")
    return missing


@pytest.mark.parametrize("function", list(functions()), ids=lambda each: f"{each.__module__.rsplit('.', 1)[-1]}.{each.__name__}")
def test_units_are_stated(function: Callable[..., object]) -> None:
    assert not unstated(function, inspect.getdoc(function) or "")


def test_a_missing_unit_is_seen() -> None:
    def power(voltage: float, resistance: float) -> float:
        return voltage**2 / resistance

    assert unstated(power, "Power [W].\n\nvoltage: [V]; resistance: [ohm]") == []
    assert unstated(power, "Power.\n\nvoltage: [V]; resistance: across it [ohm]") == ["return"]
    assert unstated(power, "Power [W].\n\nvoltage: across it; resistance: [ohm]") == ["voltage"]
    assert unstated(power, "Power [watts].\n\nvoltage: [volt]\nresistance, whose voltage is known [ohm]") == ["return"]
