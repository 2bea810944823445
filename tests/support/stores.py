# SPDX-License-Identifier: GPL-3.0-or-later
"""Made-up points and results for tests of the store, the same ones for the same number in every process."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from heatsim.studies.points import Point, PointResult, failed
from heatsim.studies.store import Store
from heatsim.verdict.finding import Finding
from heatsim.waves import Waveforms

PLAN = {
    "scenario": {"name": "made up"},
    "groups": [
        [{"field": "supply.voltage", "kind": "quantity", "unit": "V"}],
        [{"field": "choke.turns", "kind": "count", "unit": ""}],
    ],
}


def key(number: int) -> str:
    return f"{number:032x}"


def point(number: int) -> Point:
    return Point((("supply.voltage", f"{20 + number / 100:g} V"), ("choke.turns", 10 + number % 7)), "loaded")


def keyed(*numbers: int) -> list[tuple[str, Point]]:
    return [(key(number), point(number)) for number in numbers]


def waves(number: int) -> Waveforms:
    """One period, unevenly sampled; samples are whole numbers, which float32 holds exactly."""
    time = np.linspace(0, 1e-5, 101) ** 1.01
    return Waveforms(
        time,
        {
            "tank.voltage": np.round(110 * np.sin(2 * math.pi * time / time[-1])) + number,
            "coil.current": np.full(101, float(number)),
        },
        {"tank.voltage": "V", "coil.current": "A"},
        "made up",
    )


def result(number: int) -> PointResult:
    """Every fifth has failed; the others have a number for each measure, a list, a text and a measure without value."""
    if number % 5 == 4:
        return failed("stalled" if number % 2 else "unsolved", f'process of point {number} died: µ\n"quoted"', 0.25)
    headroom = (number % 40 - 10) / 31
    finding = Finding(
        "choke.left",
        "peak current",
        12.0 + number,
        20.0,
        "A",
        headroom,
        "fails" if headroom < 0 else "holds",
        "rating",
        f"because of {number}" if headroom < 0 else "",
        "",
    )
    blank = Finding("choke.left", "temperature", None, None, "°C", None, "unknown", "not measured")
    measures = {
        "tank.frequency_hz": 86481.30529381866 + number / 3,
        "tank.harmonic_ratios": [1.0, 1 / 3, number / 7],
        "startup.outcome": "settled",
        "gate.left.ringing_decay_s": None,
        "window.periods": 20,
    }
    return PointResult(
        "settled",
        "",
        finding.grade,
        headroom,
        "choke.left: peak current",
        measures,
        (finding, blank),
        "periodic",
        0.03 + number * 1e-6,
        waves(number),
        None,
        ("a note",) if number % 3 == 0 else (),
    )


def filled(store: Store, count: int, keep: int = 4) -> int:
    """A sweep with that many points, all done, the waveforms of every `keep`th kept."""
    sweep = store.begin(PLAN, keyed(*range(count)))
    for number in range(count):
        assert store.put(key(number), result(number), number % keep == 0)
    return sweep


def without_waves(told: PointResult) -> PointResult:
    return replace(told, waveforms=None)


def same_waves(found: Waveforms | None, wanted: Waveforms | None) -> bool:
    return (
        found is not None
        and wanted is not None
        and np.array_equal(found.time, wanted.time)
        and all(np.array_equal(found[name], wanted[name]) for name in wanted.names)
        and found.units == wanted.units
    )
