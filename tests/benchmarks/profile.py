# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the time of a followed point goes, from its fields to the store."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from heatsim.engine import poincare, session, shooting
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import study as check
from heatsim.studies.points import path as continuation
from heatsim.studies.points.path import evaluate_path
from heatsim.studies.points.point import ContinuationPath, Point, PointResult
from heatsim.studies.store import Store
from heatsim.tasks.stream import receive, send
from heatsim.waves import Waveforms
from tests.benchmarks.clock import Spans, Spread, Took, now
from tests.benchmarks.methods import Bench

SEARCH, MEASURE = "search around the periods", "measuring, the rest"

FUNCTIONS = {
    "scenario changed and validated": [(Scenario, "change"), (Scenario, "case")],
    "parts built": [(Scenario, "heater")],
    "netlist written": [(continuation, "case_deck")],
    "netlist loaded": [(session.Session, "load")],
    "periods simulated": [(session.Session, "advance")],
    "pushes set": [(session.Session, "alter")],
    "vectors read": [(session.Session, "view"), (session.Session, "_vector")],
    "state read": [(session.Session, "state")],
    "waveforms copied": [(poincare.PoincareMap, "waveforms"), (Waveforms, "repeated")],
    SEARCH: [(shooting, "find_periodic_state")],
    "measures": [(check, "measure")],
    "choke losses and temperature": [(check, "heat_measures")],
    "limits judged": [(check, "judge"), (check, "case_limits")],
    MEASURE: [(continuation, "judge_run")],
}
"""Part of a point's time -> the functions whose own time it is. One that is called under several names has them all."""

REST = "path and result"

MESSAGE, STORED, SHELVED = "message packed and unpacked", "row stored", "row stored with waveforms"


@dataclass(frozen=True)
class Part:
    """share of a point's time: processor time and wall clock [s] a point."""

    name: str
    took: Took


def profile(benches: Sequence[Bench], turns: int) -> list[Part]:
    """Mean over the points of paths over the supply voltage; then what it costs to send and store them."""
    total: dict[str, Took] = {}
    found: list[PointResult] = []
    for _ in range(turns):
        for bench in benches:
            guess, path = bench.over_supply
            first: list[PointResult] = []
            evaluate_path(
                bench.session,
                bench.circuit.scenario,
                ContinuationPath(path[:1], guess, False),
                lambda place, result, first=first: first.append(result),
            )
            spans = Spans(FUNCTIONS, REST)
            with spans:
                evaluate_path(
                    bench.session,
                    bench.circuit.scenario,
                    ContinuationPath(path[1:], first[0].state, False),
                    lambda place, result: found.append(result),
                )
            for name, took in spans.own.items():
                total[name] = total.get(name, Took()) + took
    parts = [Part(name, total[name].per(len(found))) for name in (*FUNCTIONS, REST) if name in total]
    return parts + afterwards(found)


def floor(bench: Bench) -> float:
    """Least processor time [s] of a point by any way on this simulator: its netlist loaded, a period in which the state is taken
    up, and one that is measured. Medians along the supply voltage.
    """
    guess, path = bench.over_supply
    spans = Spans({"load": [(session.Session, "load")], "period": [(poincare.PoincareMap, "iterate")]})
    with spans:
        evaluate_path(bench.session, bench.circuit.scenario, ContinuationPath(path, guess, False), lambda place, result: None)
    load, period = (Spread.of([took.cpu for took in spans.whole[label]]).median for label in ("load", "period"))
    return load + 2 * period


def afterwards(found: Sequence[PointResult]) -> list[Part]:
    """Message and store, of results; what is stored is on disk before the clock stops."""
    begun = now()
    for place, result in enumerate(found):
        pipe = io.BytesIO()
        send(pipe, ("result", place, result))
        pipe.seek(0)
        receive(pipe)
    message = (now() - begun).per(len(found))
    return [Part(MESSAGE, message), Part(STORED, _stored(found, False)), Part(SHELVED, _stored(found, True))]


def _stored(found: Sequence[PointResult], waveforms: bool) -> Took:
    """Median of storing one."""
    with tempfile.TemporaryDirectory(prefix="heatsim-") as folder, Store.open(Path(folder) / "points.db") as store:
        points = [Point((("supply.voltage", f"{k} V"),), "loaded") for k in range(len(found))]
        keys = [point.key("none") for point in points]
        store.begin({"benchmark": True}, zip(keys, points, strict=True))
        taken = []
        for key, result in zip(keys, found, strict=True):
            begun = now()
            store.put(key, result, waveforms)
            taken.append(now() - begun)
    return Took(Spread.of([took.wall for took in taken]).median, Spread.of([took.cpu for took in taken]).median)


def sum_of(parts: Sequence[Part], *names: str) -> Took:
    """Parts together."""
    return sum((part.took for part in parts if part.name in names), Took())


def evaluation(parts: Sequence[Part]) -> Took:
    """Everything a worker does for a point but the message."""
    return sum_of(parts, *FUNCTIONS, REST)


__all__ = ["Part", "evaluation", "floor", "profile", "sum_of"]
