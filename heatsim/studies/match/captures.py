# SPDX-License-Identifier: GPL-3.0-or-later
"""Captures: what a caller says of them, their channels measured and turned into lines."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import numpy as np

from heatsim.errors import InputError
from heatsim.files import shown_path
from heatsim.measures.lines import BANDS, record_lines
from heatsim.measures.short import REACH, SHORT, NoWholePeriod, guessed_frequency
from heatsim.parts.heater import Heater
from heatsim.quantity import QuantityError, parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.channels import VOLTAGES, assign, looks
from heatsim.studies.match.data import SAMPLES_PER_LINE, Observation, observed, order_limit, ranked
from heatsim.studies.match.measure import measured
from heatsim.studies.match.result import Measure, Record
from heatsim.studies.match.solver import REFERENCE
from heatsim.waves import Array
from heatsim.waves.capture import Capture, Probe, read_capture

T = TypeVar("T")

USUAL = "loaded"
"""Name of the case that a capture is taken to be of, where a scenario has it."""

NEEDED = "a channel with the tank or drain voltage, such as: time [s],CH1 [V]"
LEAST = 0.85
"""Periods by a guess below which a record cannot hold a whole one; above, its lines decide."""

AT_REST = 0.2
"""Share of its whole swing that a drain stays within where it rests, ringing included."""

SHORT_NOTE = (
    "{:.3g} periods only: frequency and harmonics are found together and their errors are larger, a rippling or drifting amplitude "
    "cannot be judged, and harmonics above the 25th are not compared"
)
"""On a short record."""


def compared(heater: Heater) -> tuple[str, ...]:
    """Signals of a heater that are compared; others are measured only."""
    return (*(f"{part}.voltage" for part in VOLTAGES), *(f"choke.{choke.side}.current" for choke in heater.chokes))


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

    def condition(self, scenario: Scenario) -> tuple[str, float]:
        """Case and supply voltage [V]."""
        return self.case, self.supply_voltage or scenario.case(self.case).tables.supply.voltage


@dataclass(frozen=True)
class ReadCapture:
    """A capture as it was read: for people, for the fit, and its samples by signal.

    samples: of what is compared; others: of what is measured only
    ac_coupled: channels said to be
    """

    record: Record
    observation: Observation
    samples: dict[str, Array]
    others: dict[str, Array] = field(default_factory=dict)
    ac_coupled: frozenset[str] = frozenset()

    @property
    def condition(self) -> tuple[str, float]:
        """Case and supply voltage [V]."""
        return self.record.case, self.record.supply_voltage


def capture_requests(
    scenario: Scenario,
    paths: Sequence[Path],
    cases: Sequence[str] = (),
    supplies: Sequence[str] = (),
    signals: Sequence[Mapping[str, str]] = (),
    probes: Sequence[Mapping[str, Probe]] = (),
) -> list[CaptureRequest]:
    """The captures with each setting given once, once a capture, or not at all.

    cases: names, by default `loaded` if there is one, else the last
    supplies: texts such as "42 V"
    signals: channel -> signal
    probes: channel -> how it was taken
    Raises InputError for a case or a file that is not there, and for settings that do not go with the captures.
    """
    count = len(paths)
    chosen = _for_each("--case", cases, count, USUAL if USUAL in scenario.cases else scenario.cases[-1])
    for name in chosen:
        scenario.case(name)
    supplied: list[float | None] = [_volts(text) for text in supplies]
    levels = _for_each("--supply", supplied, count, None)
    named, taken_with = _for_each("--signal", signals, count, {}), _for_each("--probe", probes, count, {})
    for path in paths:
        if not os.path.isfile(path):  # False as well for a name that can be none
            what = "is a folder" if os.path.isdir(path) else "is not there"
            raise InputError.single(shown_path(path), what, allowed="a capture's file")
    return [CaptureRequest(*each) for each in zip(paths, chosen, levels, named, taken_with, strict=True)]


def _for_each(where: str, values: Sequence[T], count: int, default: T) -> list[T]:
    """A value for each of `count` captures; where: the option. InputError for a number of values that fits none of the ways."""
    if len(values) not in (0, 1, count):
        captures = f"{count} capture{'s' if count > 1 else ''}"
        allowed = "once for all captures" + (f", or {count} times, once for each in order" if count > 1 else "")
        raise InputError.single(where, f"does not go with {captures}", f"{len(values)} times", allowed)
    return list(values) if len(values) == count else [values[0] if values else default] * count


def _volts(text: str) -> float:
    try:
        value = parse_quantity(text, "V")
    except QuantityError as error:
        raise InputError.single("--supply", error.what, text, error.allowed) from None
    if not value > 0:
        raise InputError.single("--supply", "must be positive", text, '"42 V"')
    return value


def read(scenario: Scenario, request: CaptureRequest, numbers: bool = True) -> ReadCapture:
    """Read one capture; numbers: whether the measures are wanted. Raises InputError for one that cannot be matched."""
    label, (case, supply) = str(request.path), request.condition(scenario)
    capture = read_capture(request.path, stated=request.probes, expected=NEEDED)
    signals, guessed = assign(capture, scenario, case, request.signals)
    waves = capture.waveforms(signals)
    known = compared(scenario.heater(case))
    usable = [name for name, signal in signals.items() if signal in known]
    if not usable:
        raise InputError.single(label, "has no channel to be matched", ", ".join(signals.values()), ", ".join(known))
    samples = {signals[name]: waves[signals[name]] for name in usable}
    reference = min(samples, key=ranked)
    periods = periods_of(capture, waves.time, samples[reference], reference)
    if periods is None or periods < LEAST:
        raise _no_whole_period(label, periods)
    frequency, rate = periods / waves.duration, (waves.time.size - 1) / waves.duration
    order = min(order_limit(rate / frequency), int((waves.time.size / 3 - 1) / 2))
    try:
        lines = record_lines(waves.time, samples, frequency, order, reference, capture.periods is None)
    except NoWholePeriod:
        raise _no_whole_period(label, periods) from None
    except ValueError:
        given = f"{waves.time.size} samples, {periods:.2g} periods"
        allowed = "a period or more, ten samples a period or more"
        raise InputError.single(label, "has too few samples or periods to be matched", given, allowed) from None
    if lines.together:
        periods = lines.frequency * waves.duration
        _refuse_rest(label, waves.time, samples, periods)
        guessed = (*guessed, SHORT_NOTE.format(periods))
    channels = {signals[each.name]: each for each in capture.channels if each.name in signals}
    noise = {signal: each.noise for signal, each in channels.items()}
    # a drain rests near its lowest by itself, so the upper end tells whether it is cut off
    clipped = {
        signal: (float(np.min(each.samples)), float(np.max(each.samples))) if each.clipped[1] else (None, None)
        for signal, each in channels.items()
    }
    steps = {signal: each.step for signal, each in channels.items()}
    record = Record(
        capture.label,
        case,
        supply,
        signals,
        Measure(lines.frequency, lines.frequency_error),
        periods,
        noise,
        (2 * lines.modulation.amplitude, lines.modulation.frequency) if lines.modulation else None,
        measured(waves, noise, lines.frequency, steps) if numbers else {},
        (*capture.notes, *guessed),
        (*capture.faults, *looks(capture, signals, supply)),
    )
    highest = min(rate / lines.frequency / SAMPLES_PER_LINE, float(BANDS[-1]))
    others = {signal: waves[signal] for signal in signals.values() if signal not in samples}
    coupled = frozenset(each.name for each in capture.channels if each.probe.coupling == "ac")
    return ReadCapture(record, observed(lines, samples, highest, clipped), samples, others, coupled)


def periods_of(capture: Capture, time: Array, samples: Array, signal: str) -> float | None:
    """How many periods a record holds, None where too little of an oscillation shows.

    From what repeats; in a record of some two periods or less from the crossings of its reference, as what repeats there may be
    the ringing of its edges.
    """
    span, swing = float(time[-1] - time[0]), float(np.std(samples))
    noise = max((each.noise for each in capture.channels if each.samples is samples), default=0.0)
    guess = guessed_frequency(time, samples, signal == REFERENCE) if swing > 4 * noise else None
    if guess is None or (capture.periods is not None and guess * span >= SHORT):
        return capture.periods
    same = capture.periods is not None and abs(capture.periods / (guess * span) - 1) < REACH
    return capture.periods if same else guess * span


def _refuse_rest(label: str, time: Array, samples: Mapping[str, Array], periods: float) -> None:
    """Refuse a record of drains alone which repeats itself only where they rest: that tells no frequency."""
    early = time < time[-1] - (time[-1] - time[0]) / periods
    late = time > time[0] + (time[-1] - time[0]) / periods
    moves = (max(np.ptp(x[early]), np.ptp(x[late])) if early.any() and late.any() else 0.0 for x in samples.values())
    still = all(move < AT_REST * np.ptp(x) for move, x in zip(moves, samples.values(), strict=True))
    if REFERENCE not in samples and still:
        what = "repeats itself only where the drain rests, which tells no frequency"
        raise InputError.single(label, what, f"about {periods:.3g} periods", "two periods or more, or the tank voltage beside it")


def _no_whole_period(label: str, periods: float | None) -> InputError:
    given = "one or less" if periods is None or periods >= 1 else f"about {periods:.2g} periods"
    what = "does not hold a whole period of an oscillation"
    return InputError.single(label, what, given, "a running heater's record of a little more than a period, better of five or more")
