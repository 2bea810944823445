# SPDX-License-Identifier: GPL-3.0-or-later
"""Random heaters round the demo ones, each with a neighbour to be followed from; the same ones on every run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import Point

FOLDER = Path(__file__).resolve().parents[3] / "scenarios"
FILES = ("bench-heater", "bench-heater-small-rings")
CASE = "loaded"
SHARE = "case.loaded.workpiece.share"
CURVES = ("core", "core", "core", "core", "soft", "saturated", "sharp", "table")
"""As the demo's rings make it; or a choke known from the bench: one that saturates softly, the same far too small for its
current, a gapped one, one given as a table."""

UNEQUAL = 0.15
"""Largest share by which the turns or the inductance of the right choke differ from the left one's."""

AWAY = 0.04
"""Share by which the neighbour's supply or load lies elsewhere: two steps of a sweep of 50 points."""


@dataclass(frozen=True)
class Drawn:
    """One heater: a demo file, fields set in it, and the neighbour's fields where they differ."""

    number: int
    file: str
    fields: Mapping[str, Any]
    beside: Mapping[str, Any]
    told: str = field(default="")

    def scenario(self, **settings: Any) -> Scenario:
        """The demo scenario with everything set but supply voltage and load; settings: of [simulate]."""
        rest = {name: value for name, value in self.fields.items() if name not in self.varied}
        named = {f"simulate.{name}": value for name, value in settings.items()}
        return Scenario.from_file(FOLDER / f"{self.file}.toml").change(rest | named)

    @property
    def varied(self) -> tuple[str, ...]:
        """The fields of its points."""
        return ("supply.voltage", SHARE)

    def point(self, neighbour: bool = False) -> Point:
        """The heater's own operating point, or the neighbour's."""
        fields = dict(self.fields) | (dict(self.beside) if neighbour else {})
        return Point(tuple((name, fields[name]) for name in self.varied), CASE)


def drawn(number: int) -> Drawn:
    """The heater of a number: each has its own seed, so that one can be looked at alone."""
    dice = Random(f"periodic state {number}")
    volts, load = dice.uniform(24, 60), dice.choice([0.0, *[dice.uniform(0, 130) for _ in range(7)]])
    fields: dict[str, Any] = {
        "supply.voltage": f"{volts:.4g} V",
        SHARE: f"{load:.4g} %",
        "supply.rise_time": f"{dice.choice([0.5, 1.0, 2.0])} ms",
        "supply.resistance": f"{dice.uniform(8, 80):.3g} mohm",
        "supply.inductance": f"{dice.uniform(0.3, 4):.3g} uH",
        "supply.reservoir": f"{100 * 100 ** dice.random():.4g} uF",
        "supply.reservoir_resistance": f"{dice.uniform(5, 30):.3g} mohm",
        "switch.threshold_spread": f"{dice.uniform(0.02, 0.4):.3g} V",
        "gate.resistor": f"{dice.uniform(2.5, 10):.3g} ohm",
        "gate.pull_up": f"{dice.uniform(47, 90):.3g} ohm",
        "capacitors.count": dice.randint(4, 9),
    }
    one = dice.random() < 0.15
    fields |= {"heater.topology": "one-choke"} if one else {}
    curve = dice.choice(CURVES)
    apart = dice.choice([0.0, 0.0, dice.uniform(-UNEQUAL, UNEQUAL)])
    file = dice.choice(FILES)
    fields |= _chokes(dice, curve, one, apart)
    if file == FILES[1]:
        fields |= {"choke.wire.strands": 1}
    other = {"supply.voltage": f"{volts * (1 + dice.choice([-AWAY, AWAY])):.4g} V"}
    if load > 20 and dice.random() < 0.5:
        other = {SHARE: f"{load * (1 + dice.choice([-AWAY, AWAY])):.4g} %"}
    told = f"{volts:.0f} V, load {load:.0f} %, {'one choke' if one else f'chokes {100 * apart:+.0f} %'}, {curve}, {file}"
    return Drawn(number, file, fields, other, told)


def _chokes(dice: Random, curve: str, one: bool, apart: float) -> dict[str, Any]:
    """Fields of the chokes; apart: share by which the right one has more turns, or more inductance when known from the
    bench."""
    if curve == "core":
        turns = dice.randint(16, 26)
        unequal = {"choke.right.turns": max(round(turns * (1 + apart)), 1)} if not one and apart else {}
        wire = {"choke.wire.strands": dice.choice([1, 2]), "choke.wire.diameter": f"{dice.choice([0.9, 1.2, 1.6])} mm"}
        return {"choke.turns": turns} | wire | unequal
    inductance, half = dice.uniform(40, 90), dice.uniform(12, 30)
    measured: dict[str, Any] = {"inductance": f"{inductance:.4g} uH", "resistance": f"{dice.uniform(10, 60):.3g} mohm"}
    if curve == "table":
        shares = (1, 0.97, 0.85, 0.6, 0.35, 0.2)
        measured["table"] = [[f"{k * half / 2.5:.4g} A", f"{share * inductance:.4g} uH"] for k, share in enumerate(shares)]
    else:
        measured["saturation_current"] = f"{half * (0.3 if curve == 'saturated' else 1):.4g} A"
        measured["knee"] = "sharp" if curve == "sharp" else "soft"
    unequal = {"choke.right.measured.inductance": f"{inductance * (1 + apart):.4g} uH"} if not one and apart else {}
    return {"choke.measured": measured} | unequal
