# SPDX-License-Identifier: GPL-3.0-or-later
"""Captures of foreign heaters, many at once: equal arguments give equal captures, whatever else is in the batch but for
rounding."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from tests.support.foreign import faults, scope
from tests.support.foreign.circuit import AT, Circuit
from tests.support.foreign.nominal import Nominal
from tests.support.foreign.orbit import LEFT, NotPeriodic, settle
from tests.support.foreign.parts import FAMILIES, Heater, measured, sound

Array = np.ndarray
CHANNELS = ("tank.voltage", "drain.left.voltage")
MORE = ("gate.left.voltage", "choke.left.current")
"""Recorded beside these, with noise and probes of their own, so that what is drawn for the others stays as it is."""

FAR = 1.5
"""Tank's peak over the supply below which a heater does not oscillate as it should."""


@dataclass(frozen=True)
class Task:
    """A cause, the place of a family in `FAMILIES`, a kind of oscilloscope, and the seed of all that is drawn."""

    cause: str
    family: int
    chain: str
    seed: int


@dataclass(frozen=True)
class Made:
    """time [s]; channels [V, A]; kind: of the cause; truth: values that were set [SI]; probes and converter that recorded it;
    attempt: how many draws before it did not oscillate."""

    task: Task
    time: Array
    channels: dict[str, Array]
    kind: str
    truth: dict[str, float]
    probes: tuple[scope.Probe, ...]
    attempt: int


@dataclass(frozen=True)
class Wave:
    """A settled period [s] of each channel, `scope.POINTS` values from the coil current's zero on."""

    period: float
    values: tuple[Array, ...]


def waves(heaters: Sequence[Heater], steps: int = 500) -> list[Wave | None]:
    """Settled periods of heaters, None of those that have none. Where a batch fails, its halves are tried."""
    try:
        found = settle(Circuit(heaters), steps)
    except (NotPeriodic, np.linalg.LinAlgError):
        if len(heaters) == 1:
            return [None]
        half = len(heaters) // 2
        return waves(heaters[:half], steps) + waves(heaters[half:], steps)
    out: list[Wave | None] = []
    for b, heater in enumerate(heaters):
        signals = _signals({name: found.table[:, b, place] for name, place in AT.items()}, heater)
        runs = found.misfit[b] < 5 * LEFT and signals[0].max() > FAR * heater.supply
        period = float(found.period[b])
        values = [_even(found.phases, each) for each in signals]
        stray = heater.winding[0] * np.gradient(values.pop()) * scope.POINTS / period
        values[-1] = values[-1] + stray
        out.append(Wave(period, tuple(values)) if runs else None)
    return out


def _signals(x: dict[str, Array], heater: Heater) -> list[Array]:
    """Signals of `CHANNELS` and `MORE` from the circuit's unknowns, then the voltage across the left choke [V]. The gate is probed
    at the package: behind the resistor and the loop, before the chip's own resistance. A clamp round the choke's lead sees the
    copper's current; what its winding's capacitance takes comes on top."""
    gate = x["g_l"] + heater.gate_inner / heater.count[0] * x["ig_l"]
    choke = (x["bus"] - x["m_l"]) / heater.copper[0]
    return [x["t"] - x["d_r"], x["d_l"], gate, choke, x["bus"] - x["d_l"]]


def _even(phases: Array, values: Array) -> Array:
    """A period on even phases, by a periodic cubic spline."""
    closed = np.append(values[:-1], values[0])
    return CubicSpline(phases, closed, bc_type="periodic")(np.arange(scope.POINTS) / scope.POINTS)


def draw(task: Task, nominal: Nominal, attempt: int) -> tuple[faults.Draw, np.random.Generator]:
    """What a task is about, and the generator that goes on with its record."""
    g = np.random.default_rng([task.seed, tuple(faults.DRAWS).index(task.cause), task.family, attempt])
    heater = sound(nominal, FAMILIES[task.family], g)
    return faults.DRAWS[task.cause](heater, nominal, g), g


def make(tasks: Sequence[Task], nominal: Nominal, together: int = 24, attempts: int = 6) -> list[Made]:
    """Captures of tasks, in their order. together: heaters in a batch."""
    done: dict[int, Made] = {}
    for attempt in range(attempts):
        left = [k for k in range(len(tasks)) if k not in done]
        drawn = [(k, *draw(tasks[k], nominal, attempt)) for k in left]
        heaters = [heater for _, each, _ in drawn for heater in each.states]
        settled = [wave for k in range(0, len(heaters), together) for wave in waves(heaters[k : k + together])]
        for k, each, g in drawn:
            own, settled = settled[: len(each.states)], settled[len(each.states) :]
            found = [wave for wave in own if wave is not None]
            if len(found) == len(own):
                done[k] = record(tasks[k], each, found, g, attempt)
    if len(done) < len(tasks):
        raise NotPeriodic(f"no draw oscillates: {[tasks[k] for k in range(len(tasks)) if k not in done]}")
    return [done[k] for k in range(len(tasks))]


def record(task: Task, each: faults.Draw, own: list[Wave], g: np.random.Generator, attempt: int = 0) -> Made:
    """A capture of settled periods, one of each state of the draw."""
    probes = _probes(task, own[0], g)
    middle = own[len(own) // 2]
    fastest = max(each.fastest, *(probe.ring for probe in probes)) * middle.period
    length = float(g.uniform(0.6, 1.5)) / each.ripple[0] / middle.period if each.ripple else 0.0
    clock = scope.clock(g, fastest, length)
    time = np.arange(clock.samples) * (clock.periods * middle.period / clock.samples)
    instants = time * (1 + clock.error) + g.normal(0, clock.jitter, time.size)
    weights = _weights(each, instants, middle.period, g)
    phase = clock.trigger + _phase(weights, [wave.period for wave in own], instants)
    converter = scope.converter(task.chain, g)
    channels = {}
    more = np.random.default_rng([task.seed, tuple(faults.DRAWS).index(task.cause), task.family, attempt, 1])
    further = [_further(name, task, wave, more) for name, wave in zip(MORE, own[0].values[len(CHANNELS) :], strict=False)]
    for k, (name, probe) in enumerate(zip((*CHANNELS, *MORE), (*probes, *further), strict=False)):
        seen = [probe.seen(wave.values[k], 1 / wave.period) for wave in own]
        clean = sum(weight * _repeated(wave, phase) for weight, wave in zip(weights, seen, strict=True))
        channels[name] = converter.codes(np.asarray(clean), probe.cut, g if name in CHANNELS else more)
    kind = next((probe.kind for probe in probes if probe.kind != "sound"), each.kind)
    truth = {"frequency": 1 / middle.period, **measured(each.states[len(own) // 2], 1 / middle.period), **each.truth}
    return Made(task, time, channels, kind, truth, probes, attempt)


def _probes(task: Task, wave: Wave, g: np.random.Generator) -> tuple[scope.Probe, ...]:
    probes = [scope.ordinary(task.chain, g) for _ in CHANNELS]
    if task.cause == faults.PROBE:
        k = int(g.integers(len(CHANNELS)))
        probes[k] = scope.wrong(g, probes[k], float(np.abs(wave.values[k]).max()), CHANNELS[k] != "tank.voltage")
    return tuple(probes)


def _further(name: str, task: Task, wave: Array, g: np.random.Generator) -> scope.Probe:
    return scope.clamped(g, float(np.abs(wave).max())) if name.endswith("current") else scope.ordinary(task.chain, g)


def _weights(each: faults.Draw, instants: Array, period: float, g: np.random.Generator) -> Array:
    """How much of each state there is at instants: a parabola through three under a ripple, which the stage follows at once;
    between two a switch that toggles at random, followed with the time constant of three periods, about Q/pi; one state
    always."""
    if each.ripple:
        x = np.sin(2 * np.pi * each.ripple[0] * instants + each.ripple[1])
        return np.array([x * (x - 1) / 2, 1 - x**2, x * (x + 1) / 2])
    if len(each.states) == 1:
        return np.ones((1, instants.size))
    ends = np.sort(g.uniform(0, instants[-1], max(2, int(g.poisson(each.toggles)))))
    there = (np.searchsorted(ends, instants) % 2).astype(float)
    keep = np.exp(-(instants[-1] / instants.size) / (3 * period))
    for k in range(1, there.size):
        there[k] += keep * (there[k - 1] - there[k])
    return np.array([1 - there, there])


def _phase(weights: Array, periods: list[float], instants: Array) -> Array:
    """Periods passed at instants, by the trapezoidal rule over the frequency at each."""
    frequency = (1 / np.array(periods)) @ weights
    steps = (frequency[1:] + frequency[:-1]) / 2 * np.diff(instants)
    return frequency[0] * instants[0] + np.concatenate([[0.0], np.cumsum(steps)])


def _repeated(wave: Array, phase: Array) -> Array:
    grid = np.arange(wave.size + 1) / wave.size
    return np.interp(phase % 1.0, grid, np.append(wave, wave[0]))
