# SPDX-License-Identifier: GPL-3.0-or-later
"""The same operating points where nothing but rounding differs, and which measures that moves.

    python -m tests.support.rounding [--relative 1e-9]

prints the measures of some 14 points as JSON: continuation paths of loaded, idle, unequal and ringing heaters, and cold starts.
Run it under two kernels of linear algebra (`OPENBLAS_CORETYPE`), or with all supply voltages changed by a share that no measure
can show.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from heatsim.engine.session import Session
from heatsim.engine.simulate import simulate
from heatsim.measures.errors import STANDARD, stated_errors
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck, judge_run
from heatsim.studies.points.path import evaluate_path
from heatsim.studies.points.point import ContinuationPath, Point

Measured = dict[str, dict[str, Any]]
"""Point -> its measures."""

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
LONG_LEADS = {"gate.inductance": "150 nH", "gate.resistor": "1 ohm"}

PATHS: Mapping[str, tuple[str, Mapping[str, Any], str, tuple[float, ...]]] = {
    "loaded": ("bench-heater.toml", {}, "loaded", (24, 32, 42)),
    "idle": ("bench-heater.toml", {}, "idle", (28, 36, 42)),
    "unequal": ("bench-heater-small-rings.toml", {"choke.left.turns": 17}, "loaded", (14, 18, 22)),
    "ringing": ("bench-heater.toml", LONG_LEADS, "loaded", (24, 30, 36, 42)),
}
"""Name -> scenario, changes, case, supply voltages [V]."""

COLD = (("loaded", 42.0), ("ringing", 36.0))
"""Paths of which one point is started cold, too, over all the periods that `check` measures."""

ARBITRARY = ("window.start_s", "window.stop_s")
"""Where a search for a periodic state ends is of no consequence."""

UNSURE = ("too weak or uneven to tell", "too few samples in a cycle to tell")


def measured(relative: float) -> Measured:
    """All points. relative: change of every supply voltage [1]."""
    found: Measured = {}
    session = Session()
    for name, (file, changes, case, volts) in PATHS.items():
        scenario = Scenario.from_file(SCENARIOS / file).change(changes)
        texts = {each: f"{each * (1 + relative):.14g} V" for each in volts}
        points = tuple(Point((("supply.voltage", text),), case) for text in texts.values())
        results: dict[int, Any] = {}
        evaluate_path(session, scenario, ContinuationPath(points), results.__setitem__)
        found |= {f"{name} at {volts[place]:g} V": dict(result.measures) for place, result in sorted(results.items())}
        for each in (volts for path, volts in COLD if path == name):
            changed = scenario.change({"supply.voltage": texts[each]})
            heater = changed.heater(case)
            run = simulate(session, case_deck(changed, case, heater), 600.0)
            found[f"{name} at {each:g} V, cold start"] = dict(judge_run(changed, case, heater, run).measures)
    return found


def moved(one: Mapping[str, Any], other: Mapping[str, Any]) -> list[str]:
    """Measures of one point that differ by more than their stated errors, in words. Only of a ring that is just seen may the one
    say that it cannot be told, and the other something.
    """
    first, second = stated_errors(one), stated_errors(other)
    told = []
    for key in sorted(one.keys() | other.keys()):
        a, b = one.get(key), other.get(key)
        if isinstance(a, float) and isinstance(b, float):
            allowed = max(first.get(key, 0.0), second.get(key, 0.0))
            if a != b and not abs(a - b) <= allowed and key not in ARBITRARY and STANDARD not in key:
                told.append(f"{key}: {a:.6g} and {b:.6g}, {abs(a - b):.2g} apart, {allowed:.2g} stated")
        elif a != b and not _just_seen(one, other, key):
            told += [] if isinstance(a, list) and isinstance(b, list) else [f"{key}: {a} and {b}"]
    return told


def _just_seen(one: Mapping[str, Any], other: Mapping[str, Any], key: str) -> bool:
    """Whether a key is of a ring that in one of two runs is at the edge of what can be told."""
    part = key.partition(".ringing_")[0]
    return ".ringing_" in key and any(each.get(f"{part}.ringing_state") in UNSURE for each in (one, other))


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--relative", type=float, default=0.0)
    relative = parser.parse_args().relative
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        json.dump(measured(relative), sys.stdout)
