# SPDX-License-Identifier: GPL-3.0-or-later
"""Captures of a heater with one thing wrong: `make_capture(scenario, case, cause, seed)`.

No netlist of heatsim takes part: the parts' values come from the scenario, the waveforms from SciPy. Equal arguments give
equal captures, whatever was made before.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.interpolate import CubicSpline

from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from tests.support.captures.causes import DRAWS, PROBE, Draw, Ripple, choke_truth, tolerances
from tests.support.captures.circuit import NAMES, Faulty, signals
from tests.support.captures.orbit import Flow, Settled, settle, waveforms
from tests.support.captures.scope import Channel, Probe, Scope, digitise, faulty_probe, ordinary_probe, ordinary_scope
from tests.support.independent.solve import NotPeriodic

TANK = ("tank.voltage",)
DRAINS = ("drain.left.voltage", "drain.right.voltage")


@dataclass(frozen=True)
class Made:
    """A capture. time [s]; channels by heatsim's names [V, A]; truth: values of the heater that was integrated and of what is
    wrong with it [SI]; cause and kind; faulty: the heater itself; details: steps, noise and clean values of the channels;
    probes, scope: what recorded them; period: one settled period of every signal before the probes, from coil current zero,
    without the supply's ripple."""

    time: np.ndarray
    channels: dict[str, np.ndarray]
    truth: dict[str, float]
    cause: str
    kind: str
    case: str
    faulty: Faulty = field(repr=False)
    details: dict[str, Channel] = field(repr=False)
    probes: dict[str, Probe] = field(repr=False)
    scope: Scope = field(repr=False)
    period: dict[str, np.ndarray] = field(repr=False)


SLOW = 1e3
"""Below this frequency [Hz] a ripple is slow: the stage is settled at every instant of it."""

KNOWN: dict[tuple[str, str], Settled] = {}
"""Settled state of the sound heater by scenario hash and case: a start for the search, made when first needed."""


def known(scenario: Scenario, case: str) -> Settled:
    """Settled state of the scenario's own heater."""
    key = (scenario.hash, case)
    if key not in KNOWN:
        KNOWN[key] = settle(Flow(Faulty(scenario.heater(case))))
    return KNOWN[key]


def make_capture(scenario: Scenario, case: str, cause: str, seed: int, channels: Sequence[str] = TANK) -> Made:
    """One capture of `channels`; seed: of everything that is drawn."""
    return make_captures(scenario, (case,), cause, seed, channels)[0]


def make_captures(scenario: Scenario, cases: Sequence[str], cause: str, seed: int, channels: Sequence[str] = TANK) -> list[Made]:
    """Captures of the same faulty heater in several cases, `("idle", "loaded")` say, with the same probes.

    A heater that does not oscillate is drawn anew, up to ten times; the last reason is raised then.
    """
    reason: Exception | None = None
    for attempt in range(10):
        generator = np.random.default_rng([seed, list(DRAWS).index(cause), attempt])
        try:
            return _attempt(scenario, cases, cause, generator, channels)
        except (NotPeriodic, ValueError, ArithmeticError) as problem:
            reason = problem
    raise NotPeriodic(f"{cause}, seed {seed}: no draw oscillates; the last: {reason}")


def seed_of(scenario: Scenario, cause: str, kind: str, first: int = 0) -> int:
    """The first seed from `first` on with which `make_capture` draws a kind of a cause,
    should that heater oscillate."""
    for seed in range(first, first + 200):
        generator = np.random.default_rng([seed, list(DRAWS).index(cause), 0])
        tolerances(generator)
        if DRAWS[cause](generator, heaviest_of(scenario)).kind == kind:
            return seed
    raise ValueError(f"{cause} has no kind {kind}")


def heaviest_of(scenario: Scenario) -> Heater:
    """The case with most resistance in the tank: what is wrong is drawn for it, whichever case is captured."""
    return max((scenario.heater(case) for case in scenario.cases), key=lambda h: h.loaded_resistance)


def _attempt(
    scenario: Scenario, cases: Sequence[str], cause: str, generator: np.random.Generator, channels: Sequence[str]
) -> list[Made]:
    within, draw = tolerances(generator), DRAWS[cause](generator, heaviest_of(scenario))
    wrong = str(generator.choice([name for name in channels if name.endswith("voltage")])) if cause == PROBE else ""
    probes: dict[str, Probe] = {}
    return [
        _record(scenario, case, cause, draw.apply(within(scenario.heater(case))), draw, generator, channels, wrong, probes)
        for case in cases
    ]


def _record(
    scenario: Scenario,
    case: str,
    cause: str,
    faulty: Faulty,
    draw: Draw,
    generator: np.random.Generator,
    channels: Sequence[str],
    wrong: str,
    probes: dict[str, Probe],
) -> Made:
    flow = Flow(faulty)
    settled = settle(flow, known(scenario, case))
    period = waveforms(flow, settled)
    for name in channels:
        if name not in probes:
            probes[name] = _probe(generator, period[name], name, name == wrong)
    scope = _scope(generator, draw, probes, settled.period)
    time = np.arange(scope.samples) * (scope.periods * settled.period / scope.samples)
    instants = time * (1 + scope.clock) + generator.normal(0, scope.jitter, time.size)
    if draw.ripple:
        clean = rippling(flow, settled, draw.ripple, instants + scope.trigger * settled.period, channels, probes)
    else:
        clean = {
            name: repeated(probes[name].seen(period[name], 1 / settled.period), instants / settled.period + scope.trigger)
            for name in channels
        }
    details = {name: digitise(values, scope, probes[name], generator) for name, values in clean.items()}
    kind = next((probe.kind for probe in probes.values() if probe.kind != "sound"), draw.kind)
    truth = {**values_of(flow.faulty, settled), **draw.truth, **probe_truth(probes)}
    return Made(
        time,
        {name: channel.values for name, channel in details.items()},
        truth,
        cause,
        kind,
        case,
        flow.faulty,
        details,
        dict(probes),
        scope,
        period,
    )


def _probe(generator: np.random.Generator, signal: np.ndarray, name: str, wrong: bool) -> Probe:
    probe = ordinary_probe(generator)
    return faulty_probe(generator, probe, float(np.abs(signal).max()), not name.startswith("tank")) if wrong else probe


def _scope(generator: np.random.Generator, draw: Draw, probes: dict[str, Probe], period: float) -> Scope:
    """A slow ripple is given a record of 0.6 to 1.5 of its cycles; ringing six samples to a cycle of its own."""
    fastest = max(draw.fastest, *(probe.ring for probe in probes.values()))
    if draw.ripple is None:
        shown = float(generator.uniform(5, 20)) if fastest else None
        return ordinary_scope(generator, shown, max(50.0, 6 * fastest * period))
    cycles = float(generator.uniform(0.6, 1.5)) / draw.ripple.frequency / period
    return ordinary_scope(generator, cycles if draw.ripple.frequency < SLOW else float(np.clip(cycles, 8, 40)))


def values_of(faulty: Faulty, settled: Settled) -> dict[str, float]:
    """The values [SI] a fit may be held against."""
    h = faulty.heater
    return {
        "frequency": 1 / settled.period,
        "quality": h.quality,
        "supply.voltage": h.supply.voltage,
        "capacitors.capacitance": h.capacitors.capacitance,
        "capacitors.resistance": h.capacitors.resistance,
        "coil.inductance": h.coil.inductance,
        "coil.resistance": h.coil.resistance + h.coil.lead_resistance,
        "loaded.inductance": h.loaded_inductance,
        "loaded.resistance": h.loaded_resistance,
        "gate.pull_up": h.gate.pull_up,
        "gate.supply_voltage": h.gate.supply_voltage,
        "gate.resistor": h.gate.resistor,
        "gate.inductance": h.gate.inductance,
        "switch.threshold": h.switch.threshold,
        "supply.sag": float(settled.state[NAMES.index("sag")]),
        **choke_truth(h),
    }


def probe_truth(probes: dict[str, Probe]) -> dict[str, float]:
    """Values of the probes that differ from a perfect one's."""
    return {
        f"probe.{name}.{key}": value
        for name, probe in probes.items()
        for key, value in vars(probe).items()
        if key != "kind" and value != getattr(Probe(), key)
    }


def repeated(period: np.ndarray, phase: np.ndarray) -> np.ndarray:
    """A period's value at phases [1], by straight lines between its points."""
    return np.interp(phase % 1.0, np.linspace(0, 1, period.size), period)


def rippling(
    flow: Flow, settled: Settled, ripple: Ripple, instants: np.ndarray, channels: Sequence[str], probes: dict[str, Probe]
) -> dict[str, np.ndarray]:
    """Channels under a rippling supply at instants [s]: a slow ripple by settled periods, a fast one by integration."""
    how = slow_ripple if ripple.frequency < SLOW else fast_ripple
    return how(flow, settled, ripple, instants, channels, probes)


def slow_ripple(
    flow: Flow, settled: Settled, ripple: Ripple, instants: np.ndarray, channels: Sequence[str], probes: dict[str, Probe]
) -> dict[str, np.ndarray]:
    """Settled periods at the lowest, middle and highest voltage; wave and frequency in between by the parabola through them.

    The tank and the reservoir forget within some 0.1 ms. (The chokes share their current out more slowly than that, but both
    see the same supply.)
    """
    middle, periods, speeds = flow.faulty, [], []
    for position in (-1.0, 0.0, 1.0):
        supply = replace(middle.heater.supply, voltage=middle.heater.supply.voltage + position * ripple.size / 2)
        here = Flow(replace(middle, heater=replace(middle.heater, supply=supply)))
        found = settle(here, settled) if position else settled
        wave = waveforms(here, found)
        periods.append({name: probes[name].seen(wave[name], 1 / found.period) for name in channels})
        speeds.append(1 / found.period)
    x = np.sin(2 * math.pi * ripple.frequency * instants + ripple.phase)
    weights = np.array([x * (x - 1) / 2, 1 - x**2, x * (x + 1) / 2])
    speed = np.array(speeds) @ weights
    phase = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(instants))])
    return {
        name: sum(weight * repeated(wave[name], phase) for weight, wave in zip(weights, periods, strict=True)) for name in channels
    }


def fast_ripple(
    flow: Flow, settled: Settled, ripple: Ripple, instants: np.ndarray, channels: Sequence[str], probes: dict[str, Probe]
) -> dict[str, np.ndarray]:
    """Integration from the settled state on: twenty periods to get used to a ripple that grows, then the record; probes by
    their gain. (The stage follows its supply within some five periods.)"""
    early, points = 20 * settled.period, 256

    def voltage(t: float) -> float:
        grown = 0.5 * ripple.size * min(1.0, 2 * t / early)
        return grown * math.sin(2 * math.pi * ripple.frequency * (t - early) + ripple.phase)

    moving = Flow(replace(flow.faulty, ripple=voltage))
    duration = early + float(instants.max()) + settled.period
    table = moving(settled.state, duration, math.ceil(duration / settled.period * points) + 1)
    time = np.linspace(0, duration, table.shape[0])
    seen = signals(moving.faulty, moving.equations.laws, {name: table[:, k] for k, name in enumerate(NAMES)})
    return {name: probes[name].gain * CubicSpline(time, seen[name])(instants + early) for name in channels}
