# SPDX-License-Identifier: GPL-3.0-or-later
"""The worst instant: where the supply swings slowly, a run is measured and judged at several instants of the swing.

A ripple that is slow beside the tank's period, or a resonance of the supply that has not died away, moves every number of the
heater up and down. Each limit is judged where it comes out worst; the measures are those at the crest, where the tank's voltage
is highest, and some of them are given for crest and valley side by side, as `crest.KEY` and `valley.KEY`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from heatsim.engine import Run
from heatsim.measures.periods import period_marks
from heatsim.netlist.deck import FAST_RIPPLE, SettleRule
from heatsim.studies.check.result import Measured
from heatsim.verdict import SEVERITY, Finding, Limit
from heatsim.waves import Array
from heatsim.waves.periods import per_period

ALWAYS = ("tank.frequency_hz", "tank.peak_voltage_v", "supply.mean_current_a", "supply.power_w", "workpiece.power_w")
"""Keys given at crest and valley besides those that are judged."""

WINDOWS = 10
"""Windows in one period of a swing, at the least; each has FEWEST periods of the tank, at the least."""

FEWEST = 4

WHOLE = 10
"""Tank periods below which two periods of a ripple lie in the stretch that is measured anyway."""


@dataclass(frozen=True)
class Instant:
    """A stretch of a run to be measured: its end [s], its number of tank periods, and what it is called."""

    stop: float
    periods: int
    name: str


def swing_of(rule: SettleRule, swings: bool) -> float:
    """Period of the slow swing that a run shows at its end [s], 0 for none; swings: see `heatsim.engine.Run`."""
    return rule.ripple_period or (rule.swing_period if swings else 0.0)


def instants(run: Run, periods: int) -> tuple[Instant, ...]:
    """The stretches of a run to be measured, the crest first; none where nothing swings slowly.

    periods: most tank periods in a stretch

    Crest and valley are where the tank swings most and least; besides, wherever the mean or the swing of a watched signal
    is largest or least, averaged over a stretch, in the latest period of the supply's swing.
    """
    waves, rule = run.waveforms, run.deck.settle
    swing = swing_of(rule, run.swings)
    if waves is None or not swing:
        return ()
    marks = period_marks(waves.time, waves[rule.section])
    marks = marks[marks > waves.time[-1] - 1.2 * swing]
    if marks.size < 1.2 * (WHOLE if rule.ripple_period else FAST_RIPPLE):
        return ()
    count = int(np.clip(swing / WINDOWS / np.diff(marks).mean(), FEWEST, periods))
    ends, found = marks[count:], []
    for signal in dict.fromkeys((rule.section, *rule.watched)):
        each = per_period(waves.time, waves[signal], marks)
        for values in (each.swing, each.mean):
            smooth = np.convolve(values, np.full(count, 1 / count), "valid")
            found += [int(smooth.argmax()), int(smooth.argmin())]
    return tuple(_named(ends, found, count))


def _named(ends: Array, found: Sequence[int], count: int) -> Iterable[Instant]:
    """Crest and valley, then the others that are not next to one before."""
    kept: list[int] = []
    for place, at in enumerate(found):
        if place < 2 or min(abs(at - other) for other in kept) > count:
            kept.append(at)
            yield Instant(float(ends[at]), count, ("crest", "valley")[place] if place < 2 else f"between, {place}")


def at_instant(run: Run, instant: Instant, period: float) -> Run:
    """The run cut to end with a stretch; the crest keeps its beginning, for the start's sake."""
    waves = run.waveforms
    assert waves is not None
    begin = float(waves.time[0])
    if instant.name != "crest":
        begin = max(begin, instant.stop - (instant.periods + 3) * period)
    return replace(run, waveforms=waves.between(begin, min(instant.stop + 0.2 * period, float(waves.time[-1]))))


def worst_findings(judged: Mapping[str, Sequence[Finding]]) -> tuple[Finding, ...]:
    """Each limit's finding where it comes out worst.

    judged: name of the instant -> its findings, the crest first; every instant has findings of the same limits
    """
    found = []
    for each in zip(*judged.values(), strict=True):
        named = zip(judged, each, strict=True)
        name, finding = max(named, key=lambda pair: _badness(pair[1]))
        told = finding.grade != "holds" and finding.cause and name != "crest"
        where = "This is in the valley" if name.startswith("valley") else "This is between crest and valley"
        found.append(replace(finding, cause=f"{finding.cause} {where} of the supply's swing.") if told else finding)
    return tuple(found)


def _badness(finding: Finding) -> tuple[int, float]:
    return SEVERITY[finding.grade], -np.inf if finding.headroom is None else -finding.headroom


def side_by_side(measured: Mapping[str, Mapping[str, Measured]], limits: Iterable[Limit]) -> dict[str, Measured]:
    """The crest's measures, and those of crest and valley side by side."""
    keys = dict.fromkeys((*ALWAYS, *(limit.key for limit in limits if not limit.key.startswith("startup."))))
    both = {f"{name}.{key}": measured[name].get(key) for name in ("crest", "valley") if name in measured for key in keys}
    return {**measured["crest"], **both}
