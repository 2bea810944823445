# SPDX-License-Identifier: GPL-3.0-or-later
"""One heater that has every table a scenario may have, so that its check has nearly every measure and limit.

Put together from the demo scenarios; that it makes sense as a heater is not asked for.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import tomlkit

import heatsim as hs
from heatsim.engine import run_decks
from heatsim.studies.check import CaseResult
from heatsim.studies.check.study import case_deck, judge_run

FOLDER = Path(__file__).resolve().parents[2] / "scenarios"

EXTRA: dict[str, Any] = {
    "heater": {"run": "10 min"},
    "supply": {"rise_time": "300 us", "source": {"kind": "switch mode", "limit": "hiccup", "current_limit": "300 A"}},
    "choke": {"short_resistance": "10 ohm", "short_inductance": "1 uH"},
    "switch": {"curves": {"transfer": [["5 V", "40 A"], ["6 V", "110 A"]]}},
    "coil": {"current_density_rating": "30 A/mm2"},
    "limits": {"core_life": "2000 h"},
    "simulate": {"longest": "1.2 ms"},
}
"""What no demo scenario has, and a quick start."""


def scenario_text() -> str:
    """The scenario file."""
    demo = {
        name: tomllib.loads((FOLDER / f"bench-heater-{name}.toml").read_text(encoding="utf-8"))
        for name in ("forging", "copper", "push-pull", "long-bank")
    }
    tables = _joined(demo["forging"], EXTRA)
    tables["conductor"] = demo["copper"]["conductor"]
    tables["gate"] = {**tables["gate"], **demo["push-pull"]["gate"]}
    tables["capacitors"] = {**tables["capacitors"], "rails": demo["long-bank"]["capacitors"]["rails"]}
    del tables["capacitors"]["current_rating"], tables["heat"]
    tables["case"] = {"loaded": {"workpiece": {"material": "stainless 304", "diameter": "16 mm", "length": "60 mm"}}}
    return tomlkit.dumps(tables)


def _joined(own: dict[str, Any], more: dict[str, Any]) -> dict[str, Any]:
    both = {key: _joined(own.get(key, {}), value) if isinstance(value, dict) else value for key, value in more.items()}
    return {**own, **both}


def judged(folder: Path) -> CaseResult:
    """Its only case, simulated and judged. folder: for the file."""
    path = folder / "everything.toml"
    path.write_text(scenario_text(), encoding="utf-8")
    scenario = hs.load(path)
    heater = scenario.heater("loaded")
    (run,) = run_decks([case_deck(scenario, "loaded", heater)], 1, 120.0)
    return judge_run(scenario, "loaded", heater, run)
