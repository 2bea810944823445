# SPDX-License-Identifier: GPL-3.0-or-later
"""What `match` finds: records as they were measured, causes ranked by evidence, traces to lay over each other, the cure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import heatsim
from heatsim.physics.numeric import FloatArray
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CheckResult
from heatsim.studies.match.fault_model import NOTHING
from heatsim.studies.match.meter_reading import ReadingBeside
from heatsim.verdict import Finding

SCHEMA = "heatsim.match/1"
"""Name and version of the results schema; keys are added, never renamed."""

NONE_OF_THESE = "none of these"
"""The verdict when no cause explains the capture."""

TEMPERED = 0.57
"""Share of a difference in log evidence that counts. What a model has wrong is alike in many lines, so that together they say less
than each by itself; so the likelihood is raised to a power (J. W. Miller, D. B. Dunson, J. Am. Stat. Assoc. 114, 2019, p. 1113;
memory). Learned on captures of the foreign families that may be looked at (tests/support/foreign): of 51 faults found with tank
and a drain those with full odds of 50 to 1000 were wrong once in nine, those beyond in none of 42; now the former count as 10 to
50."""

DECIDED = 50.0
"""Odds of the first cause to the second from which it counts as decided: where odds are what they say, one such answer in fifty is
wrong, and with some 70 % of known faults decided that is the 1.5 % of them that a workshop may be misled by at most (choice)."""

CLEARLY = 1.5
"""Odds from which a heater is called sound."""

TOLD, PARTLY_TOLD = 0.7, 0.3
"""Shrinkage of the prior uncertainty from which a number counts as told by the capture, and as told in part."""

EXPLAINS = 1.5
"""Misfit up to which a fit explains its record: the largest of sound heaters of the foreign families that may be looked at is 1.34
(tests/support/foreign)."""

DECIDES = 1.0
"""Misfit up to which an answer may count as decided: of the right ones among captures of the foreign families that may be looked at
(tests/support/foreign) 74 of 77 left less, of the wrong ones, all of causes that heatsim did not know, half left more."""


def decides(cause: str, misfit: float, ahead: bool) -> bool:
    """Whether an answer counts as decided: a fault that is ahead of the next by `DECIDED`, and that fits as `DECIDES` asks. That
    nothing is wrong is never decided: a fault may be one that these channels do not show."""
    return ahead and cause != NOTHING and (cause == NONE_OF_THESE or misfit <= DECIDES)


def told(shrinkage: float) -> str:
    """Whether what was measured tells a quantity, by its shrinkage: yes, partly, no."""
    return "yes" if shrinkage >= TOLD else "partly" if shrinkage >= PARTLY_TOLD else "no"


@dataclass(frozen=True)
class Measure:
    """A measured number with the standard error that noise and quantisation leave it; error None where it was not found."""

    value: float
    error: float | None


@dataclass(frozen=True)
class NotRanked:
    """A channel that is measured but not used for the ranking.

    channel, signal, unit: of the file, what it is, V or A
    captured, fitted: mean (none where AC coupled), rms and peak [unit] of whole periods, of the record and of the best fit; None
        where that has no such signal
    differs: those of them that are further apart than a probe's gain explains
    """

    channel: str
    signal: str
    unit: str
    captured: Mapping[str, float]
    fitted: Mapping[str, float] | None
    differs: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        fitted = dict(self.fitted) if self.fitted is not None else None
        plain = {"channel": self.channel, "signal": self.signal, "unit": self.unit, "captured": dict(self.captured)}
        return {**plain, "fitted": fitted, "differs": list(self.differs)}


@dataclass(frozen=True)
class Record:
    """One capture as it was read.

    label: its file
    case, supply_voltage: of the scenario, and [V] stated for it
    signals: channel of the file -> signal
    frequency: of the tank [Hz]
    periods: it holds
    noise: signal -> rms of a sample [V or A]
    ripple: peak to peak of the tank's amplitude along the record as a share of it, and its frequency [Hz]; None for a steady one
    measures: by key as in results.json
    notes: assumed or done
    faults: what harms the measurement
    not_ranked: channels that are measured but not used for the ranking
    """

    label: str
    case: str
    supply_voltage: float
    signals: Mapping[str, str]
    frequency: Measure
    periods: float
    noise: Mapping[str, float]
    ripple: tuple[float, float] | None
    measures: Mapping[str, Measure]
    notes: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    not_ranked: tuple[NotRanked, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        return {
            "file": self.label,
            "case": self.case,
            "supply_voltage_v": self.supply_voltage,
            "signals": dict(self.signals),
            "frequency_hz": self.frequency.value,
            "frequency_standard_error_hz": self.frequency.error,
            "periods": self.periods,
            "noise": dict(self.noise),
            "ripple_ratio": self.ripple[0] if self.ripple else None,
            "ripple_frequency_hz": self.ripple[1] if self.ripple else None,
            "measures": {key: {"value": each.value, "standard_error": each.error} for key, each in self.measures.items()},
            "notes": list(self.notes),
            "faults": list(self.faults),
            "not_used_for_ranking": [each.as_dict() for each in self.not_ranked],
        }


@dataclass(frozen=True)
class FittedQuantity:
    """A fitted quantity.

    key, label: such as `choke.right.inductance_h`, and in words
    value, low, high: posterior mode and 95 % interval [unit]
    expected: what the scenario says, None without
    shrinkage: share of the prior standard deviation that the capture took away, 0 to 1; below 0.3 the number is the scenario's
        word and not the capture's
    """

    key: str
    label: str
    value: float
    low: float
    high: float
    unit: str
    expected: float | None
    shrinkage: float

    @property
    def told(self) -> str:
        """Whether the capture tells it: yes, partly, no."""
        return told(self.shrinkage)

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        interval = {"low_95": self.low, "high_95": self.high}
        return {"value": self.value, **interval, "unit": self.unit, "expected": self.expected, "told": self.shrinkage}


@dataclass(frozen=True)
class CorrelatedPair:
    """Two quantities of which the capture tells only a combination; keys: theirs."""

    keys: tuple[str, ...]
    correlation: float


@dataclass(frozen=True)
class CauseCandidate:
    """A cause with its best fault model, `kind`.

    probability: among all causes, whose prior odds are those of `search.PRIORS`
    log_evidence: natural, `TEMPERED`, less the best's
    misfit: rms residual over what noise and model allow: near 1 is a full explanation, nan for none of these
    simulated: fitted on the simulator, or left where a first look already ruled it out
    estimates, tied: of this fault model's fit
    feature: what in the capture speaks for it
    settle: the one further measurement, in words
    remedy: in words
    """

    cause: str
    kind: str
    probability: float
    log_evidence: float
    misfit: float
    simulated: bool
    estimates: tuple[FittedQuantity, ...] = ()
    tied: tuple[CorrelatedPair, ...] = ()
    feature: str = ""
    settle: str = ""
    remedy: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        return vars(self) | {
            "misfit": self.misfit if math.isfinite(self.misfit) else None,
            "estimates": {each.key: each.as_dict() for each in self.estimates},
            "tied": [{"keys": list(each.keys), "correlation": each.correlation} for each in self.tied],
        }


def explains(candidates: Sequence[CauseCandidate]) -> bool:
    """Whether the first cause among candidates explains the capture, by its misfit; not where that is not known."""
    nearest = next((each for each in candidates if each.cause != NONE_OF_THESE), None)
    return nearest is not None and nearest.misfit <= EXPLAINS


@dataclass(frozen=True)
class Trace:
    """One signal of one record folded into a period that begins where the tank rises through zero.

    record: its number from 0
    time: [s], shape (n,), as all the following
    measured, error: mean of the samples near each instant, and its standard error [unit]
    best: the best candidate's simulation through the fitted probe
    sound: the scenario as it was written, nothing wrong
    noise: rms of one sample
    residual: rms of measured less best over all samples
    """

    record: int
    signal: str
    unit: str
    time: FloatArray
    measured: FloatArray
    error: FloatArray
    best: FloatArray
    sound: FloatArray
    noise: float
    residual: float


def not_held(checked: CheckResult | None) -> tuple[tuple[str, Finding], ...]:
    """Case and finding of every limit that a checked heater does not hold, worst first; none where it was not checked."""
    return tuple(row for row in checked.findings if row[1].grade != "holds") if checked else ()


def verdict_as_dict(checked: CheckResult | None, prefix: str = "") -> dict[str, Any]:
    """Verdict on a heater and the findings it does not hold as plain data; prefix: of their keys."""
    findings = [{"case": case, **finding.as_dict()} for case, finding in not_held(checked)]
    return {f"{prefix}verdict": checked.verdict if checked else None, f"{prefix}findings": findings}


@dataclass(frozen=True)
class Cure:
    """The fitted heater with the cause put right.

    words: the remedy
    fields: what to change in the fitted scenario
    before, after: measures by key as in results.json of the fitted and of the cured heater, both simulated
    clean: distortion within the scenario's limit
    checked: the cured heater judged by every limit in every case, at the scenario's supply voltage; None where it cannot be
    """

    words: str
    fields: Mapping[str, str | int]
    before: Mapping[str, float]
    after: Mapping[str, float]
    clean: bool
    checked: CheckResult | None = None

    @property
    def short(self) -> tuple[tuple[str, Finding], ...]:
        """Case and finding of every limit that the cured heater does not hold, worst first."""
        return not_held(self.checked)

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        plain = {"words": self.words, "fields": dict(self.fields), "before": dict(self.before), "after": dict(self.after)}
        return {**plain, "clean": self.clean, **verdict_as_dict(self.checked)}


@dataclass(frozen=True)
class Spread:
    """How far the captured heater is from its scenario when it is taken for a sound one.

    distance: rms of the fitted departures of its parts over what their ordinary spread leads to expect: about 1 if it is sound
    furthest: departures that stand out, in standard deviations of the ordinary spread, by name as in `nuisance_parameters`
    """

    distance: float
    furthest: tuple[tuple[str, float], ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {"distance": self.distance, "furthest": dict(self.furthest)}


@dataclass(frozen=True)
class MatchResult:
    """What a match found.

    candidates: best first, `none of these` among them
    fitted: text of the fitted scenario file
    cure: None where there is nothing to put right in the heater
    simulations, spared: made, and found in the cache of earlier runs
    wall_s: wall clock [s]
    odd: what of the capture the nearest cause leaves most of, in words, where it is outside what heatsim knows
    spread: None where the sound heater could not be simulated
    checked: the fitted scenario judged by every limit in every case; None where the capture is outside what heatsim knows, or the
        fitted heater cannot be built in every case or has damage that a file cannot hold
    readings: of meters beside the captures, and what each cause makes of them
    """

    scenario: Scenario
    records: tuple[Record, ...]
    candidates: tuple[CauseCandidate, ...]
    traces: tuple[Trace, ...]
    fitted: str
    cure: Cure | None
    simulator_version: str
    simulations: int
    spared: int
    wall_s: float
    odd: tuple[str, ...] = ()
    spread: Spread | None = None
    checked: CheckResult | None = None
    readings: tuple[ReadingBeside, ...] = ()

    @property
    def nearest(self) -> CauseCandidate:
        """The first candidate that is a cause."""
        return next(each for each in self.candidates if each.cause != NONE_OF_THESE)

    @property
    def outside(self) -> bool:
        """Whether even the nearest cause does not explain the capture: outside what heatsim knows, and nothing is decided."""
        return not explains(self.candidates)

    @property
    def best(self) -> CauseCandidate:
        """The first candidate."""
        return self.candidates[0]

    @property
    def decided(self) -> bool:
        """Whether the answer counts as a decided one, see `decides`."""
        return decides(self.best.cause, self.best.misfit, self._ahead(DECIDED))

    @property
    def alike(self) -> tuple[str, ...]:
        """Causes that these captures cannot tell apart (odds below `DECIDED` to the first), the first one included."""
        return tuple(each.cause for each in self.candidates if each.log_evidence > -math.log(DECIDED))

    @property
    def clearly_first(self) -> bool:
        """Whether the first candidate is ahead of the next by `CLEARLY`: enough to call a heater sound."""
        return self._ahead(CLEARLY)

    def _ahead(self, odds: float) -> bool:
        return not self.outside and (len(self.candidates) < 2 or self.candidates[1].log_evidence < -math.log(odds))

    @property
    def exit_code(self) -> int:
        """0 when nothing is wrong, 1 when something is or it is undecided, 3 when no cause could be simulated."""
        if not any(candidate.simulated for candidate in self.candidates):
            return 3
        return 0 if self.best.cause == NOTHING and self.clearly_first else 1

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI, the schema `heatsim.match/1`."""
        return {
            "schema": SCHEMA,
            "heatsim_version": heatsim.__version__,
            "simulator_version": self.simulator_version,
            "scenario": self.scenario.identity,
            "cause": self.best.cause,
            "kind": self.best.kind,
            "decided": self.decided,
            "outside": self.outside,
            "odd": list(self.odd),
            "spread": self.spread.as_dict() if self.spread else None,
            "alike": list(self.alike),
            "records": [record.as_dict() for record in self.records],
            "readings": [reading.as_dict() for reading in self.readings],
            "candidates": [candidate.as_dict() for candidate in self.candidates],
            "residuals": [{key: getattr(each, key) for key in ("record", "signal", "noise", "residual")} for each in self.traces],
            "cure": self.cure.as_dict() if self.cure else None,
            **verdict_as_dict(self.checked, "fitted_"),
            "simulations": self.simulations,
            "simulations_spared": self.spared,
            "wall_s": self.wall_s,
        }
