# SPDX-License-Identifier: GPL-3.0-or-later
"""The circuits that are timed: five that differ in what makes a steady state hard to find, and variants by size."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from heatsim.parts.mosfet_model import vdmos_parameters
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import Point

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"

STEPS = 8
"""Steps of a path: its first point is one step from the state that it starts from, its last is the circuit itself."""

SUPPLY_STEP = 0.5
"""Step of the supply voltage [V] along a path."""

LOAD_STEP = 5.0
"""Step of the share of the workpiece [%] along a path."""


@dataclass(frozen=True)
class Circuit:
    """A circuit at its operating point: 42 V, and so much of the workpiece in the coil as `share` says [%].

    told: what is special about it, in words.
    """

    name: str
    told: str
    scenario: Scenario
    share: float = 100.0

    def point(self, volts: float = 42.0, share: float | None = None) -> Point:
        """A point of it; by default its own. The workpiece is varied in one case, so that idle is 0 % of it."""
        load = self.share if share is None else share
        return Point((("supply.voltage", f"{volts:g} V"), ("case.loaded.workpiece.share", f"{load:g} %")), "loaded")

    def over_supply(self) -> tuple[Point, tuple[Point, ...]]:
        """A point to start from and the path from there to the circuit's own point, over the supply voltage."""
        volts = [42.0 - SUPPLY_STEP * k for k in range(STEPS + 1, -1, -1)]
        start, *path = (self.point(each) for each in volts)
        return start, tuple(path)

    def over_load(self) -> tuple[Point, tuple[Point, ...]]:
        """The same over the share of the workpiece: upwards to a loaded point, downwards to the empty coil."""
        side = -1.0 if self.share > LOAD_STEP * (STEPS + 1) else 1.0
        shares = [self.share + side * LOAD_STEP * k for k in range(STEPS + 1, -1, -1)]
        start, *path = (self.point(share=each) for each in shares)
        return start, tuple(path)


def circuits() -> tuple[Circuit, ...]:
    """The five, the quickest runs first two."""
    bench = Scenario.from_file(SCENARIOS / "bench-heater.toml")
    small = Scenario.from_file(SCENARIOS / "bench-heater-small-rings.toml")
    unequal = bench.change({"choke.right.turns": 17})
    ringing = bench.change({"coil.measured.resistance": "6 mohm", "coil.lead_resistance": "0.3 mohm"})
    return (
        Circuit("bench heater, loaded", "as in the demo scenario", bench),
        Circuit("small rings, loaded", "chokes far into saturation", small),
        Circuit("bench heater, idle", "empty coil", bench, 0.0),
        Circuit("unequal chokes, loaded", "20 turns on the left, 17 on the right", unequal),
        Circuit("high Q, idle", "empty coil with less than half of the resistance", ringing, 0.0),
    )


def quality(circuit: Circuit) -> float:
    """Q of the tank at the circuit's own point [1]."""
    point = circuit.point()
    return circuit.scenario.change(dict(point.fields)).heater(point.case).quality


HYSTERESIS: dict[str, Any] = {
    "saturation": "716.5 kA/m",
    "shape": "6567 A/m",
    "pinning": "1040 A/m",
    "coupling": 0.01055,
    "reversible": "96.3 %",
}
"""A powder core of 60 times the vacuum's permeability as Jiles and Atherton describe it (memory)."""


def by_size(folder: Path, banks: tuple[int, ...]) -> tuple[Circuit, ...]:
    """The loaded bench heater in circuits of different size, which draw nearly the same waveforms.

    banks: numbers of separate devices in each bank, of a user's own model; its file is written to `folder`.
    """
    bench = Scenario.from_file(SCENARIOS / "bench-heater.toml")
    own = [_banked(bench, count, folder) for count in banks]
    core = {f"choke.core.hysteresis.{name}": value for name, value in HYSTERESIS.items()}
    return (
        Circuit("one choke", "", bench.change({"heater.topology": "one-choke"})),
        Circuit("two chokes", "", bench),
        Circuit("two hysteretic chokes", "", bench.change(core)),
        *(Circuit(f"banks of {count}, user's model", "", each) for count, each in zip(banks, own, strict=True)),
    )


def _banked(bench: Scenario, count: int, folder: Path) -> Scenario:
    """Each bank made of `count` separate devices that together are the bench heater's bank."""
    part = 2 / count
    switch = bench.heater("loaded").switch
    extensive = ("kp", "cgs", "cgdmin", "cgdmax", "cjo", "is", "ibv")
    resistive = ("rd", "rs", "rg", "rb")
    values = {
        name: value * (part if name in extensive else 1 / part if name in resistive else 1.0)
        for name, value in vdmos_parameters(switch).items()
    }
    path = folder / f"bank-of-{count}.lib"
    text = " ".join(f"{name}={value:.6g}" for name, value in values.items())
    path.write_text(f"* invented device\n.model own vdmos({text})\n", encoding="utf-8")
    return bench.change(
        {
            "switch.count": count,
            "switch.model_file": str(path),
            "switch.model": "own",
            "gate.resistor": f"{4.7 / part:g} ohm",
            "gate.inductance": f"{15 / part:g} nH",
        }
    )


__all__ = ["Circuit", "by_size", "circuits", "quality"]
