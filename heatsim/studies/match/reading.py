# SPDX-License-Identifier: GPL-3.0-or-later
"""One capture: its file read, its channels told apart, measured and turned into lines."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from heatsim.errors import InputError
from heatsim.measures.lines import BANDS, record_lines
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.data import SAMPLES_PER_LINE, Observation, observed, order_limit
from heatsim.studies.match.measure import measured
from heatsim.studies.match.result import Measure, Record
from heatsim.studies.match.signals import assign, looks
from heatsim.studies.match.solver import REFERENCE
from heatsim.waves import Array
from heatsim.waves.capture import Probe, read_capture

NEEDED = "a channel with the tank or drain voltage, such as: time [s],CH1 [V]"
COMPARED = ("tank.voltage", "drain.left.voltage", "drain.right.voltage")
"""Signals that are compared; others are measured only."""


@dataclass(frozen=True)
class CaptureRequest:
    """A capture's file and how it was taken.

    case: of the scenario
    supply_voltage: [V], None for the scenario's
    signals: channel -> signal, empty to be recognised by shape
    probes: channel -> how it was taken, for those stated
    """

    path: Path
    case: str
    supply_voltage: float | None = None
    signals: Mapping[str, str] = field(default_factory=dict)
    probes: Mapping[str, Probe] = field(default_factory=dict)


@dataclass(frozen=True)
class ReadCapture:
    """A capture as it was read: for people, for the fit, and its samples by signal."""

    record: Record
    observation: Observation
    samples: dict[str, Array]

    @property
    def condition(self) -> tuple[str, float]:
        """Case and supply voltage [V]."""
        return self.record.case, self.record.supply_voltage


def read(scenario: Scenario, request: CaptureRequest, numbers: bool = True) -> ReadCapture:
    """Read one capture; numbers: whether the measures are wanted. Raises InputError for one that cannot be matched."""
    label, case = str(request.path), request.case
    supply = request.supply_voltage or scenario.case(case).tables.supply.voltage
    capture = read_capture(request.path, stated=request.probes, expected=NEEDED)
    signals, guessed = assign(capture, scenario, case, request.signals)
    waves = capture.waveforms(signals)
    usable = [name for name, signal in signals.items() if signal in COMPARED]
    if not usable:
        raise InputError.single(label, "has no channel to be matched", ", ".join(signals.values()), ", ".join(COMPARED))
    if capture.periods is None or capture.periods < 1.0:
        found = capture.periods or "none found"
        raise InputError.single(label, "does not hold a whole period of an oscillation", found, "a record of a running heater")
    frequency, rate = capture.periods / waves.duration, (waves.time.size - 1) / waves.duration
    samples = {signals[name]: waves[signals[name]] for name in usable}
    reference = REFERENCE if REFERENCE in samples else next(iter(samples))
    order = min(order_limit(rate / frequency), int((waves.time.size / 3 - 1) / 2))
    try:
        lines = record_lines(waves.time, samples, frequency, order, reference)
    except ValueError:
        given = f"{waves.time.size} samples, {capture.periods:.2g} periods"
        allowed = "a period or more, ten samples a period or more"
        raise InputError.single(label, "has too few samples or periods to be matched", given, allowed) from None
    channels = [each for each in capture.channels if each.name in signals]
    clipped = {signals[each.name]: _limits(each.samples, each.clipped) for each in channels if each.name in usable}
    highest = min(rate / lines.frequency / SAMPLES_PER_LINE, float(BANDS[-1]))
    noise = {signals[each.name]: each.noise for each in channels}
    steps = {signals[each.name]: each.step for each in channels}
    record = Record(
        capture.label,
        case,
        supply,
        signals,
        Measure(lines.frequency, lines.frequency_error),
        capture.periods,
        noise,
        (2 * lines.modulation.amplitude, lines.modulation.frequency) if lines.modulation else None,
        measured(waves, noise, lines.frequency, steps) if numbers else {},
        (*capture.notes, *guessed),
        (*capture.faults, *looks(capture, signals, scenario, case, supply)),
    )
    return ReadCapture(record, observed(lines, samples, highest, clipped), samples)


def _limits(samples: Array, flags: tuple[bool, bool]) -> tuple[float | None, float | None]:
    """Where a channel is cut off. A drain rests near its lowest by itself, so the upper end decides."""
    return (float(np.min(samples)), float(np.max(samples))) if flags[1] else (None, None)
