# SPDX-License-Identifier: GPL-3.0-or-later
"""Random heaters that may fail in any of the usual ways; the same ones on every run."""

from __future__ import annotations

from pathlib import Path
from random import Random
from typing import Any

from heatsim.scenario.scenario import Scenario

FOLDER = Path(__file__).resolve().parents[2] / "scenarios"
FILES = ("bench-heater", "bench-heater-small-rings")


def failing(number: int) -> Scenario:
    """The heater of a number: rings, turns, wire, supply, load, ratings and gate values drawn round the demo heaters."""
    dice = Random(f"failing heater {number}")
    file = dice.choice(FILES)
    fields: dict[str, Any] = {
        "supply.voltage": f"{dice.uniform(34, 58):.3g} V",
        "supply.rise_time": "0.5 ms",
        "supply.current_rating": f"{dice.uniform(25, 45):.3g} A",
        "case.loaded.workpiece.share": f"{dice.uniform(50, 115):.3g} %",
        "choke.turns": dice.randint(12, 22),
        "choke.core.stack": dice.randint(1, 2),
        "choke.wire.diameter": f"{dice.choice([1.0, 1.25, 1.6])} mm",
        "choke.wire.strands": dice.randint(1, 2) if file == FILES[0] else 1,
        "switch.count": dice.randint(1, 2),
        "switch.current_rating": f"{dice.uniform(30, 70):.3g} A",
        "capacitors.count": dice.randint(4, 8),
        "capacitors.current_rating": f"{dice.uniform(14, 26):.3g} A",
        "gate.pull_up": f"{dice.choice([47, 68, 100])} ohm",
        "limits.choke_temperature": f"{dice.choice([100, 120])} °C",
    }
    return Scenario.from_file(FOLDER / f"{file}.toml").change(fields)
