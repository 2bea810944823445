# SPDX-License-Identifier: GPL-3.0-or-later
"""What is right: a long cold start with half the step; and from when on a cold start with the usual step agrees with it.

None of this is timed; the runs are made on all cores before the timing starts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from heatsim.engine import run_decks
from heatsim.engine.outcome import Run
from heatsim.measures.gather import measure
from heatsim.netlist.deck import Deck
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck, measure_context
from heatsim.waves import Waveforms
from tests.benchmarks.circuits import Circuit

LEAST_REFERENCE, LONGEST_REFERENCE = 12e-3, 40e-3
"""Earliest end of a reference, three times as long as the chokes remember a difference (some 330 periods), and the end
of one that will not settle [s]."""

STRICTER = 0.1
"""A reference is settled when it moves by less than this share of what a settled run may still move."""

TAIL = 5.3
"""Periods at its end over which a short cold start is measured, four or five whole ones: more of them lie further back."""

FINE = 2
"""Periods between two instants at which a cold start could have been ended."""

COARSE = 16
"""Periods between two instants at the first look."""

RISES = ("500 us", "100 us")
"""Rise times of the supply tried beside the scenario's own: who wants the steady state alone may choose."""

MINUTES = 300.0
"""Wall clock for one untimed run [s]."""


@dataclass(frozen=True)
class Column:
    """A measured quantity: its keys (`left` standing for both sides and the centre), what may differ, and whether that
    is relative to the reference or in the quantity's own unit."""

    name: str
    key: str
    allowed: float
    relative: bool = True

    def error(self, found: Mapping[str, Any], right: Mapping[str, Any]) -> float | None:
        """Largest difference over the sides [1], signed; None when a value is missing."""
        keys = [self.key.replace("left", side) for side in ("left", "right", "centre")] if "left" in self.key else [self.key]
        pairs = [(found.get(key), right[key]) for key in keys if isinstance(right.get(key), float)]
        if not pairs or any(not isinstance(value, float) for value, _ in pairs):
            return None
        errors = [(a - b) / abs(b) if self.relative else a - b for a, b in pairs]
        return max(errors, key=abs)


COLUMNS = (
    Column("frequency", "tank.frequency_hz", 1e-3),
    Column("tank peak", "tank.peak_voltage_v", 5e-3),
    Column("drain peak", "drain.left.peak_voltage_v", 5e-3),
    Column("choke peak", "choke.left.peak_current_a", 1e-2),
    Column("supply current", "supply.mean_current_a", 5e-3),
    Column("THD", "tank.thd_ratio", 1e-3, relative=False),
)
"""What accuracy is judged by, and how much each may be off."""


def errors(found: Mapping[str, Any], right: Mapping[str, Any]) -> tuple[float | None, ...]:
    """One number a column."""
    return tuple(column.error(found, right) for column in COLUMNS)


def worst(off: Sequence[float | None]) -> float:
    """Largest error in units of what is allowed; infinite when one is missing."""
    shares = [float("inf") if error is None else abs(error) / column.allowed for error, column in zip(off, COLUMNS, strict=True)]
    return max(shares)


@dataclass(frozen=True)
class Short:
    """A cold start ended early. rise: of the supply, as a scenario says it; stop [s]; off: its errors."""

    rise: str
    stop: float
    off: tuple[float | None, ...]


@dataclass(frozen=True)
class Truth:
    """Of one circuit. measures: of the reference; settled: whether it came to rest; reached: its end [s]; check_stop: end
    of a cold start that is settled [s]; own, free: the shortest cold starts that have settled sufficiently, with the
    scenario's rise time and with any; None when none has within that time.
    """

    circuit: Circuit
    measures: Mapping[str, Any]
    settled: bool
    reached: float
    check_stop: float
    own: Short | None
    free: Short | None


def ended_at(deck: Deck, stop: float) -> Deck:
    """The same deck, looked at once at its end and no sooner."""
    return replace(deck, settle=replace(deck.settle, first=stop, limit=stop))


def tail(waves: Waveforms, stop: float, period: float) -> Waveforms:
    """The last few periods before `stop`."""
    return waves.between(max(stop - TAIL * period, float(waves.time[0])), stop)


def at_point(circuit: Circuit, **more: Any) -> tuple[Scenario, str]:
    """The circuit's own point as scenario and case."""
    point = circuit.point()
    return circuit.scenario.change(dict(point.fields) | {name.replace("__", "."): x for name, x in more.items()}), point.case


def find_truth(chosen: Sequence[Circuit], workers: int | None, tell: Callable[[str], None]) -> list[Truth]:
    """References and shortest cold starts of the circuits."""
    tell("long cold starts with half the step, until they rest")
    references = run_decks([_reference_deck(circuit) for circuit in chosen], workers, MINUTES)
    tell("cold starts until they are settled")
    usual = run_decks([case_deck(*at_point(circuit)) for circuit in chosen], workers, MINUTES)
    stops = [run.deck.transient.stop for run in usual]
    tell("cold starts with a supply that rises faster")
    tried = [(circuit, stop, rise) for circuit, stop in zip(chosen, stops, strict=True) for rise in RISES]
    decks = [ended_at(case_deck(*at_point(circuit, supply__rise_time=rise)), stop) for circuit, stop, rise in tried]
    faster = run_decks(decks, workers, MINUTES)
    tell("looking for the instants from which they are settled")
    found = []
    for k, circuit in enumerate(chosen):
        right = _measured(circuit, references[k], None)
        own = str(circuit.scenario.tables.supply.rise_time) + " s"
        runs = [(own, usual[k]), *zip(RISES, faster[k * len(RISES) : (k + 1) * len(RISES)], strict=True)]
        shorts = [_shortest(circuit, rise, run, right) for rise, run in runs]
        free = min((short for short in shorts if short is not None), key=lambda short: short.stop, default=None)
        found.append(
            Truth(circuit, right, references[k].outcome == "settled", references[k].deck.transient.stop, stops[k], shorts[0], free)
        )
    return found


def _reference_deck(circuit: Circuit) -> Deck:
    scenario, case = at_point(circuit)
    steps = 2 * scenario.tables.simulate.steps_per_period
    deck = case_deck(scenario.change({"simulate.steps_per_period": steps}), case)
    rule = deck.settle
    return replace(deck, settle=replace(rule, tolerance=STRICTER * rule.tolerance, first=LEAST_REFERENCE, limit=LONGEST_REFERENCE))


def _measured(circuit: Circuit, run: Run, stop: float | None) -> Mapping[str, Any]:
    """Measures of a run: as of any cold start, or over the last few periods before `stop`."""
    assert run.waveforms is not None
    heater = _heater(circuit)
    if stop is None:
        return measure(run.waveforms, measure_context(heater, run.deck))
    few = replace(measure_context(heater, run.deck, from_rest=False), ledger=None)
    return measure(tail(run.waveforms, stop, run.deck.period), few)


def _heater(circuit: Circuit) -> Heater:
    scenario, case = at_point(circuit)
    return scenario.heater(case)


def _shortest(circuit: Circuit, rise: str, run: Run, right: Mapping[str, Any]) -> Short | None:
    """The earliest end from which on the run agrees with the reference, found from its end backwards."""
    if run.waveforms is None or run.outcome not in ("settled", "drifting"):
        return None
    period, last = run.deck.period, float(run.waveforms.time[-1])

    def off(stop: float) -> tuple[float | None, ...]:
        return errors(_measured(circuit, run, stop), right)

    if worst(off(last)) > 1:
        return None
    stop = last
    for stride in (COARSE, FINE):
        while stop - stride * period > TAIL * period and worst(off(stop - stride * period)) <= 1:
            stop -= stride * period
    return Short(rise, stop, off(stop))


__all__ = ["COLUMNS", "Column", "Short", "Truth", "at_point", "ended_at", "errors", "find_truth", "tail", "worst"]
