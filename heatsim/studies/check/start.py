# SPDX-License-Identifier: GPL-3.0-or-later
"""Why a heater latches or stays dead, from its waveforms, and which one part lets it start, from cold starts with it.

Tried are, each alone: a smaller pull-up, a smaller gate resistor, a supply that rises faster, a gate supply that comes sooner;
where a current limit holds the supply down, a higher one. A value cures when the cold start settles at full voltage and no limit
of gates and switches is short of the wanted headroom. Between a value that cures and the scenario's own the nearest one that does
is found by bisection over standard values.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatsim.constants import E12
from heatsim.parts.gate import IntegratedDriver
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.limits.oscillator import BROKEN_DOWN, LATE
from heatsim.studies.check.limits.start import HICCUPS, STALLS
from heatsim.studies.check.result import CaseResult
from heatsim.waves import Waveforms

NOT_STARTED, HELD_DOWN = ("latched", "dead"), (STALLS, HICCUPS)
"""Outcomes and classes of a start that are looked into."""

DECADE = len(E12)
"""Steps from the own value to the first one tried, a tenth of it; the last one of the series is tried beside it."""

Runner = Callable[[Sequence[Scenario]], list[CaseResult]]
"""Cold starts of one case of several scenarios."""


@dataclass(frozen=True)
class Knob:
    """One part that may keep a heater from starting. words: its name; field, unit; bound: last value tried [SI]; own: how a
    heater's is read, 0 where it has none; up: whether it is raised instead of lowered."""

    words: str
    field: str
    unit: str
    bound: Callable[[Heater], float]
    own: Callable[[Heater], float]
    up: bool = False

    def values(self, heater: Heater) -> list[float]:
        """Standard values from the scenario's own, which stands first whatever it is, to its bound or two decades away."""
        own, bound = self.own(heater), self.bound(heater)
        last = min(bound, own * 100) if self.up else max(bound, own / 100)
        low, high = sorted((own, last))
        if low <= 0:
            return [own]
        decades = range(math.floor(math.log10(low)), math.floor(math.log10(high)) + 1)
        grid = sorted((float(f"{step * 10.0**decade:.6g}") for decade in decades for step in E12), reverse=not self.up)
        beyond = own * (1.001 if self.up else 0.999)
        kept = [v for v in grid if low * 0.999 <= v <= high * 1.001 and (v > beyond if self.up else v < beyond)]
        return [own, *kept] if (last > own) == self.up else [own]

    def text(self, value: float) -> str:
        """The value for a person."""
        return format_quantity(value, self.unit)

    def written(self, value: float) -> str:
        """The value as a scenario has it."""
        return f"{value:.6g} {self.unit}"

    def set(self, scenario: Scenario, value: float) -> Scenario:
        """The scenario with this value."""
        return scenario.change({self.field: self.written(value)})


KNOBS = (
    Knob("pull-up", "gate.pull_up", "ohm", lambda heater: 10.0, lambda heater: heater.gate.pull_up),
    Knob("gate resistor", "gate.resistor", "ohm", lambda heater: 1.0, lambda heater: heater.gate.resistor),
    Knob("rise time of the supply", "supply.rise_time", "s", lambda heater: 1e-5, lambda heater: heater.supply.rise_time),
    Knob("delay of the gate supply", "gate.supply_delay", "s", lambda heater: 1e-5, lambda heater: heater.gate.supply_delay),
)
"""What is tried; the first that cures is told."""


def _limit_of(heater: Heater) -> float:
    limit = heater.supply.limit
    return limit.current if limit else 0.0


def _folded(heater: Heater) -> float:
    limit = heater.supply.limit
    return limit.short_circuit if limit and limit.form == "foldback" else 0.0


RAISED = (
    Knob("current limit", "supply.source.current_limit", "A", lambda heater: 1000.0, _limit_of, up=True),
    Knob("short-circuit current", "supply.source.short_circuit_current", "A", _limit_of, _folded, up=True),
)
"""What is tried before these where a current limit holds the supply down."""


def looked_into(case: CaseResult, scenario: Scenario, run: Runner) -> CaseResult:
    """A case that did not start with what its waveforms show and what was simulated to start it; any other as it is."""
    held, dark = case.measures.get("startup.class") in HELD_DOWN, case.outcome in NOT_STARTED
    if not (held or dark) or case.waveforms is None or _broken_down(case):
        return case
    first, *others = case.findings
    remedy, starts_with = cure(case, scenario, run, (*(RAISED if held else ()), *(KNOBS if dark else ())))
    told = replace(first, cause=" ".join([first.cause, *(seen(case) if dark else ())]), remedy=remedy or first.remedy)
    return replace(case, findings=(told, *others), starts_with=starts_with)


def _broken_down(case: CaseResult) -> bool:
    """Whether drains stand at the switches' rating, so that no part of the gates' can be at fault."""
    waves, rating = case.waveforms, case.heater.switch.voltage_rating
    return waves is not None and any(
        float(waves[f"drain.{side}.voltage"][_late(waves)].max()) >= BROKEN_DOWN * rating for side in ("left", "right")
    )


def _late(waves: Waveforms) -> NDArray[np.bool_]:
    """The part of a record over which the state it stays in is taken."""
    return np.asarray(waves.time >= waves.time[-1] - LATE * waves.duration)


def seen(case: CaseResult) -> Iterator[str]:
    """Which gates stay up and which stay down, and how the pull-up's charging time compares with the half cycle.

    Charging from nought to the threshold: t = R C ln(V/(V - Vth)), R of the pull-up, C the input capacitance of the bank; the
    capacitance between drain and gate is left out, so that it takes longer.
    """
    waves, heater = case.waveforms, case.heater
    assert waves is not None
    late = _late(waves)
    threshold, gate = heater.switch.threshold, heater.gate
    low, high = ({side: float(end(waves[f"gate.{side}.voltage"][late])) for side in ("left", "right")} for end in (np.min, np.max))
    for side in ("left", "right"):
        if low[side] > threshold:
            yield f"The {side} gate does not fall: it stays at {format_quantity(low[side], 'V')} or more, above its threshold."
        elif high[side] < threshold:
            yield f"The {side} gate does not rise: it stays at {format_quantity(high[side], 'V')} or less, below its threshold."
    if isinstance(gate.driver, IntegratedDriver):
        yield from _held(gate.driver, {side: waves[f"gate_drive.{side}.driver_input_voltage"][late] for side in low})
    supply = heater.gate_supply_voltage
    if supply > threshold and gate.driver is None and heater.switch.input_capacitance:  # a user's own model does not tell it
        charge = gate.pull_up * heater.switch.count * heater.switch.input_capacitance
        rise = charge * math.log(supply / (supply - threshold))
        yield (
            f"The pull-up charges a gate to its threshold in {format_quantity(rise, 's')} or more; a half cycle lasts "
            f"{format_quantity(0.5 / heater.frequency, 's')}."
        )


def _held(driver: IntegratedDriver, inputs: Mapping[str, NDArray[np.float64]]) -> Iterator[str]:
    """Which drivers' inputs [V] are never pulled low."""
    for side, samples in inputs.items():
        if (least := float(np.min(samples))) > driver.low:
            yield (
                f"The {side} driver's input is not pulled low: it stays at {format_quantity(least, 'V')} or more, the coupling "
                f"diode's drop above the other drain, and the driver lets go below {format_quantity(driver.low, 'V')} "
                "(gate.driver.input_low)."
            )


def cure(case: CaseResult, scenario: Scenario, run: Runner, knobs: Sequence[Knob] = KNOBS) -> tuple[str, tuple[str, str] | None]:
    """The standard value of one part nearest to its own that lets it start, in words with what was simulated, or that none does;
    and field and value.
    """
    series = [(knob, values) for knob in knobs if len(values := _series(knob, case, scenario)) > 1]
    firsts = [(values[min(DECADE, len(values) - 1)], values[-1]) for _, values in series]
    trials = [knob.set(scenario, value) for (knob, _), pair in zip(series, firsts, strict=True) for value in pair]
    results = iter(run(trials))
    outcomes = [[cures(next(results)) for _ in pair] for pair in firsts]
    for (knob, values), pair, good in zip(series, firsts, outcomes, strict=True):
        if any(good):
            cured = values.index(pair[good.index(True)])
            failed = [at for value, fine in zip(pair, good, strict=True) if not fine and (at := values.index(value)) < cured]
            found, works, fails = _nearest(knob, values, max(failed, default=0), cured, scenario, run)
            return _told(case, knob, found, works, fails), (knob.field, knob.written(found))
    tried = "; ".join(
        f"{knob.words} {' and '.join(dict.fromkeys(map(knob.text, pair)))}" for (knob, _), pair in zip(series, firsts, strict=True)
    )
    return f"{case.findings[0].remedy} None of these alone, simulated, lets it start with sound gates: {tried}.", None


def _series(knob: Knob, case: CaseResult, scenario: Scenario) -> list[float]:
    """Values of a part from the heater's own onwards; its own alone where the case sets it by itself."""
    values = knob.values(case.heater)
    if len(values) < 2:
        return values
    reached = knob.own(knob.set(scenario, values[-1]).heater(case.name))
    return values if math.isclose(reached, values[-1], rel_tol=1e-6) else values[:1]


def _nearest(
    knob: Knob, values: Sequence[float], bad: int, good: int, scenario: Scenario, run: Runner
) -> tuple[float, list[float], list[float]]:
    """Bisection between the places of a value that does not cure and of one that does, two values at a time.

    Returns the nearest value that cures, all simulated ones that do, and those that do not.
    """
    works, fails = {good}, {0, bad}
    while good - bad > 1:
        third = max((good - bad) // 3, 1)
        places = sorted({bad + third, good - third})
        for at, result in zip(places, run([knob.set(scenario, values[at]) for at in places]), strict=True):
            (works if cures(result) else fails).add(at)
        good = min(works)
        bad = max(at for at in fails if at < good)
    return values[good], [values[at] for at in sorted(works)], [values[at] for at in sorted(fails)]


def _told(case: CaseResult, knob: Knob, found: float, works: Sequence[float], fails: Sequence[float]) -> str:
    """A value that cures, what was simulated, and what comes with it."""
    supply, switch = case.heater.gate_supply_voltage, case.heater.switch
    listed = [", ".join(map(knob.text, some)) for some in (works, fails)]
    verb, nearest = ("Raise", "smallest") if knob.up else ("Lower", "largest")
    words = (
        f"{verb} the {knob.words} from {knob.text(knob.own(case.heater))} to {knob.text(found)}: the {nearest} standard value with "
        f"which it starts, settles and keeps the limits of gates and switches in this case (simulated from a cold start: "
        f"{listed[0]} work; {listed[1]} do not, or ring so hard that the run was given up)."
    )
    if knob.field == "gate.pull_up":
        burnt = 0.5 * supply**2 / found
        words += f" Each pull-up then dissipates some {format_quantity(burnt, 'W', 2)}, being held low half of the time."
    if knob.field == "gate.supply_delay":
        words += " Better still, bring the gate supply up before the main supply is switched on."
    if _weak(case):
        volts, needed = (format_quantity(each, "V") for each in (supply, switch.on_gate_voltage))
        words += (
            f" The gate supply of {volts} still cannot reach the {needed} that the on-resistance is specified for: raise it too."
        )
    return words


def _weak(case: CaseResult) -> bool:
    """Whether the gate supply itself is too low for the wanted drive."""
    return case.heater.gate_supply_voltage < case.heater.switch.on_gate_voltage * (1 + case.wanted_headroom)


def cures(case: CaseResult) -> bool:
    """Whether it settles with sound gates and switches. A drive that the gate supply cannot reach is no fault of the part tried."""
    watched = [
        finding
        for finding in case.findings
        if finding.part.split(".")[0] in ("gate", "switch") and not (_weak(case) and finding.limit == "gate drive reached")
    ]
    started = case.outcome == "settled" and case.measures.get("startup.class") not in HELD_DOWN
    return started and all(finding.grade == "holds" for finding in watched if finding.allowed is not None)


__all__ = ["NOT_STARTED", "cure", "cures", "looked_into", "seen"]
