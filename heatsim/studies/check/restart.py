# SPDX-License-Identifier: GPL-3.0-or-later
"""Starts that overshoot, simulated again with next to nothing changed: how high the drains go then is a matter of chance.

While both gates stand at their threshold the smallest difference between the sides decides when the tank begins to swing, and with
it what the chokes have stored by then. Six starts of one heavily loaded heater whose supply differed by 0.05 % and less reached
120 to 188 V where it then works at 57 V. So one start says little; the worst of a few is judged, and told as that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from heatsim.engine import MEASURABLE, Run
from heatsim.measures.gather import SIDES, standard_error_key
from heatsim.measures.starting import drain_peaks
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.studies.check.limits.start import OVER_VOLTS, SWITCH_ON, peak_key, switch_on_voltage, too_high
from heatsim.studies.check.result import CaseResult
from heatsim.verdict import judge

CHANGED = (1.0001, 0.9999)
"""Factors on the tank's capacitance with which a start is simulated again."""

OVERSHOOT = 1.1
"""Of the steady state's peak: a start at which a drain voltage or a choke current exceeds it may be a matter of chance. The bench
heaters stay within 3 %."""


def overshoots(case: CaseResult) -> bool:
    """Whether a run from rest went well beyond its steady state on its way there, and its drains are not too high anyway."""
    waves, found = case.waveforms, case.measures
    if case.outcome not in MEASURABLE or waves is None or found.get("startup.class") == OVER_VOLTS:
        return False
    pairs = [(found.get(peak_key(side)), found.get(f"drain.{side}.peak_voltage_v")) for side in SIDES]
    for choke in case.heater.chokes:
        part = f"choke.{choke.side}"
        pairs.append((float(np.abs(waves[f"{part}.current"]).max()), found.get(f"{part}.peak_current_a")))
    return any(isinstance(at, float) and isinstance(later, float) and at > OVERSHOOT * later for at, later in pairs)


def again(case: CaseResult) -> list[Heater]:
    """Heaters whose starts to simulate again; none where that would tell nothing."""
    bank = case.heater.capacitors
    changed = (replace(bank, unit=factor * bank.unit) for factor in CHANGED)
    return [replace(case.heater, capacitors=each) for each in changed] if overshoots(case) else []


def at_worst_start(case: CaseResult, scenario: Scenario, runs: Sequence[Run]) -> CaseResult:
    """The case with its drains' voltage at switch-on judged by the worst of its own start and these; as it is without any."""
    further = [drain_peaks(run.waveforms) for run in runs if run.waveforms is not None]
    if not further:
        return case
    starts = [{side: float(case.measures[peak_key(side)]) for side in SIDES}, *further]  # type: ignore[arg-type]
    measures: dict[str, Any] = dict(case.measures)
    for side in SIDES:
        peaks = [each[side] for each in starts]
        measures[peak_key(side)] = max(peaks)
        measures[standard_error_key(peak_key(side))] = float(np.std(peaks, ddof=1))
    if too_high(case.heater, measures):
        measures["startup.class"] = OVER_VOLTS
    judging, told = JudgedCase(scenario.case(case.name), case.heater, measures), _told(starts)
    limits = [found for side in SIDES if (found := switch_on_voltage(judging, side)) is not None]
    judged = judge(measures, limits, case.wanted_headroom)
    anew = {each.part: replace(each, cause=f"{each.cause} {told}".strip()) for each in judged}
    findings = tuple(anew[each.part] if each.limit == SWITCH_ON else each for each in case.findings)
    return replace(case, measures=measures, findings=findings)


def _told(starts: Sequence[Mapping[str, float]]) -> str:
    peaks = [peak for each in starts for peak in each.values()]
    low, high = (format_quantity(each, "V") for each in (min(peaks), max(peaks)))
    return (
        f"The peak is partly down to chance: {len(starts)} starts that differ by 0.01 % in one part reached {low} to {high}. "
        "The worst is given here; another start may be worse."
    )
