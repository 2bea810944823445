# SPDX-License-Identifier: GPL-3.0-or-later
"""All measures of a record in one flat table, keyed as in results.json, SI units, unit in the key.

A key is always there when its part belongs to the circuit; its value is None when the record lacks the signal, or when
the measure does not apply (no oscillation, no ringing, threshold not given). Nothing is guessed in its place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from heatsim.measures import basics, harmonics
from heatsim.measures.energy import Balance, balance, needed
from heatsim.measures.periods import SECTION, Frequency, Window, drift_ratio, period_two_ratio, ripple, steady_frequency, window_of
from heatsim.measures.ringing import TwoLevels, gate_ring
from heatsim.measures.startup import envelope, overshoot_ratio, settling_time
from heatsim.measures.switching import crossings_an_edge, gate_delay, turn_on_voltage
from heatsim.waves import Array, Ledger, Waveforms
from heatsim.waves.periods import per_period

Measures = dict[str, float | str | list[float] | None]
"""Key -> number, outcome or list of harmonic ratios."""

Inductance = Callable[[Array], Array]
"""Differential inductance [H] at currents [A], as a part's model gives it."""

SIDES = ("left", "right")

SECTIONS = (SECTION, "capacitor.voltage", "coil.current", "drain.left.voltage", "drain.right.voltage")
"""Signals that can mark the periods, best first; of the drains, which never go negative, the mean is the level."""


STANDARD = "_standard_error_"
"""Stands in the key of a measure's standard error, before its unit."""

RINGING = (("frequency", "hz"), ("decay", "s"), ("damping", "ratio"), ("amplitude", "v"))
"""What is told of a gate's ring, and in which unit."""


@dataclass(frozen=True)
class MeasureContext:
    """What a record does not say about itself.

    devices: MOSFETs in each bank
    gate_threshold: [V]
    inductance_zero: choke side -> inductance at zero current [H]
    inductance: choke side -> its model
    ledger: energy bookkeeping
    periods: number of whole periods at the record's end over which the steady measures are taken
    quiet: tank amplitude at or below which nothing oscillates [V]
    from_rest: the record begins with the supply being switched on, so that start-up can be measured
    outcome: what the run came to; of one that settled, the time it took can be told
    """

    devices: int = 1
    gate_threshold: float | None = None
    inductance_zero: Mapping[str, float] = field(default_factory=dict)
    inductance: Mapping[str, Inductance] = field(default_factory=dict)
    ledger: Ledger | None = None
    periods: int = 20
    quiet: float = 0.0
    from_rest: bool = True
    outcome: str | None = None


def measure(waveforms: Waveforms, context: MeasureContext | None = None) -> Measures:
    """Every measure the record allows. See the module's docstring for None, `MeasureContext` for the rest."""
    context = context or MeasureContext()
    waves = _with_tank(waveforms)
    section = next((name for name in SECTIONS if name in waves), None)
    level = None if section is not None and section.startswith("drain") else 0.0
    frequency = steady_frequency(waves, section, context.periods, level, context.quiet) if section else None
    window = window_of(waves, frequency) if frequency else None
    steady = waves.between(window.start, window.stop) if window else None
    found = _period(waves, section, frequency, window)
    found |= _tank(steady, window)
    for side in SIDES:
        gate = f"gate.{side}.voltage"
        levels = TwoLevels.of(steady.time, steady[gate]) if steady and gate in steady else None
        found |= _switch(steady, side, context) | _gate(steady, side, levels) | _gate_edges(steady, side, context, levels)
        found |= _gate_network(waves, steady, side)
    for side in choke_sides(waves):
        found |= _choke(steady, window, side, context)
    return found | _power(steady, window, context) | _startup(waves, section, window, context)


def measured_window(measures: Mapping[str, object]) -> Window | None:
    """The window that `measure` took the steady measures over, None where it found none."""
    start, stop, periods = measures.get("window.start_s"), measures.get("window.stop_s"), measures.get("window.periods")
    if isinstance(start, float) and isinstance(stop, float) and isinstance(periods, int):
        return Window(start, stop, periods)
    return None


def standard_error_key(key: str) -> str:
    """Where a measure's standard error stands: `supply.ripple_current_a` -> `supply.ripple_current_standard_error_a`."""
    stem, _, unit = key.rpartition("_")
    return f"{stem}{STANDARD}{unit}"


def choke_sides(waves: Waveforms) -> tuple[str, ...]:
    """`centre` for the one-choke circuit, else `left` and `right`."""
    return ("centre",) if "choke.centre.current" in waves else SIDES


def _with_tank(waves: Waveforms) -> Waveforms:
    """The record with `tank.voltage` as the difference of the drains, if it has these and lacks that."""
    left, right = (f"drain.{side}.voltage" for side in SIDES)
    if SECTION in waves or left not in waves or right not in waves:
        return waves
    signals = {**waves.signals, SECTION: waves[left] - waves[right]}
    return Waveforms(waves.time, signals, {**waves.units, SECTION: "V"}, waves.origin)


def _of(steady: Waveforms | None, name: str, measured: Callable[[Array, Array], float | None]) -> float | None:
    """`measured(time, samples)` of a signal, or None without it."""
    return measured(steady.time, steady[name]) if steady is not None and name in steady else None


def _ripple(steady: Waveforms | None, window: Window | None, name: str) -> tuple[float | None, float | None]:
    """`ripple` of a signal and its standard error, None without the signal."""
    return ripple(steady.time, steady[name], window.edges) if steady and window and name in steady else (None, None)


def _size(steady: Waveforms | None, name: str, measured: Callable[[Array], float]) -> float | None:
    """`measured(samples)` of a signal, or None without it."""
    return float(measured(steady[name])) if steady is not None and name in steady else None


def _period(waves: Waveforms, section: str | None, frequency: Frequency | None, window: Window | None) -> Measures:
    """Frequency, where the window lies, and whether what is in it repeats."""
    table = per_period(waves.time, waves[section], window.edges) if section is not None and window is not None else None
    return {
        "tank.frequency_hz": 1.0 / window.period if window else None,
        "tank.frequency_standard_error_hz": frequency.standard_error if frequency else None,
        "tank.drift_ratio": drift_ratio(table) if table else None,
        "tank.period_two_ratio": period_two_ratio(table) if table else None,
        "window.start_s": window.start if window else None,
        "window.stop_s": window.stop if window else None,
        "window.periods": window.periods if window else None,
    }


def _tank(steady: Waveforms | None, window: Window | None) -> Measures:
    """Tank, coil and capacitors."""
    found: Measures = {
        "tank.peak_voltage_v": _size(steady, SECTION, basics.peak),
        "tank.rms_voltage_v": _of(steady, SECTION, basics.rms),
        "tank.crest_ratio": _of(steady, SECTION, basics.crest_factor),
        "tank.form_ratio": _of(steady, SECTION, basics.form_factor),
        "coil.rms_current_a": _of(steady, "coil.current", basics.rms),
        "coil.peak_current_a": _size(steady, "coil.current", basics.peak),
        "capacitor.rms_current_a": _of(steady, "capacitor.current", basics.rms),
        "capacitor.peak_voltage_v": _size(steady, "capacitor.voltage", basics.peak),
    }
    return found | _distortion(steady, window)


def _distortion(steady: Waveforms | None, window: Window | None) -> Measures:
    table, asymmetry = None, None
    if steady is not None and window is not None and SECTION in steady and steady.time.size > 2 * window.periods:
        table = harmonics.harmonics(steady.time, steady[SECTION], window.periods)
        asymmetry = harmonics.half_wave_asymmetry(steady.time, steady[SECTION], window.periods)
    return {
        "tank.thd_ratio": harmonics.thd_fundamental(table) if table else None,
        "tank.total_distortion_ratio": harmonics.total_distortion(table) if table else None,
        "tank.even_harmonic_ratio": harmonics.even_ratio(table) if table else None,
        "tank.odd_harmonic_ratio": harmonics.odd_ratio(table) if table else None,
        "tank.half_wave_asymmetry_ratio": asymmetry,
        "tank.harmonic_ratios": table.ratios.tolist() if table and table.has_fundamental else None,
    }


def _switch(steady: Waveforms | None, side: str, context: MeasureContext) -> Measures:
    """Drain voltage, and current of each device. Equal sharing is assumed: leave a margin for devices with a lower threshold
    or closer to the busbar.
    """
    drain, gate, bank = f"drain.{side}.voltage", f"gate.{side}.voltage", f"switch.{side}.current"
    turn_on = None
    if steady and drain in steady and gate in steady and context.gate_threshold is not None:
        turn_on = turn_on_voltage(steady.time, steady[gate], steady[drain], context.gate_threshold)
    return {
        f"drain.{side}.peak_voltage_v": _size(steady, drain, basics.peak),
        f"switch.{side}.peak_current_a": _size(steady, bank, lambda x: basics.peak(x) / context.devices),
        f"switch.{side}.rms_current_a": _of(steady, bank, lambda t, x: basics.rms(t, x) / context.devices),
        f"switch.{side}.turn_on_voltage_v": turn_on,
    }


def _gate(steady: Waveforms | None, side: str, levels: TwoLevels | None) -> Measures:
    """Gate extremes and the stronger of its rings."""
    name, part = f"gate.{side}.voltage", f"gate.{side}"
    seen = steady is not None and name in steady
    ring, state = (None, "does not ring" if seen else None)
    if steady and levels:
        ring, state = gate_ring(steady.time, steady[name], levels=levels)
    keys = [f"{part}.ringing_{what}_{unit}" for what, unit in RINGING]
    values = (ring.frequency, ring.decay, ring.damping, ring.amplitude) if ring else (None,) * 4
    return {
        f"{part}.max_voltage_v": _size(steady, name, np.max),
        f"{part}.min_voltage_v": _size(steady, name, np.min),
        f"{part}.ringing_state": state,
        **dict(zip(keys, values, strict=True)),
        **dict(zip(map(standard_error_key, keys), ring.errors if ring else (None,) * 4, strict=True)),
    }


def _gate_edges(steady: Waveforms | None, side: str, context: MeasureContext, levels: TwoLevels | None) -> Measures:
    """How far a gate lags behind the opposite drain, and how often an edge of it passes the threshold."""
    gate, drain = f"gate.{side}.voltage", f"drain.{'right' if side == 'left' else 'left'}.voltage"
    names = "rise_delay_s", "fall_delay_s", "rise_crossings", "fall_crossings"
    found: Measures = dict.fromkeys(f"gate.{side}.{name}" for name in names)
    if steady and levels and context.gate_threshold is not None:
        counts = crossings_an_edge(steady.time, steady[gate], context.gate_threshold, levels)
        found |= {f"gate.{side}.{name}": count for name, count in zip(names[2:], counts or (None, None), strict=True)}
    if steady and gate in steady and drain in steady and context.gate_threshold is not None:
        for name, rising in (("rise", True), ("fall", False)):
            delay = gate_delay(steady.time, steady[gate], steady[drain], context.gate_threshold, rising)
            found[f"gate.{side}.{name}_delay_s"] = delay
    return found


def _gate_network(waves: Waveforms, steady: Waveforms | None, side: str) -> Measures:
    """What the diode from a gate, or its driver, to the other drain blocks, the current that flows backwards while it recovers
    and charges, and what a driver's supply comes to; only of a record that has them.
    """
    part = f"gate_drive.{side}"
    measured: dict[str, tuple[str, Callable[[Array], float]]] = {
        f"gate.{side}.diode_reverse_voltage_v": (f"{part}.diode_voltage", _backwards),
        f"gate.{side}.diode_reverse_current_a": (f"{part}.diode_current", _backwards),
        f"gate.{side}.driver_supply_voltage_v": (f"{part}.driver_supply_voltage", np.max),
    }
    return {key: _size(steady, name, how) for key, (name, how) in measured.items() if name in waves}


def _backwards(samples: Array) -> float:
    """How far samples go below zero, in their unit."""
    return max(-float(np.min(samples)), 0.0)


def _choke(steady: Waveforms | None, window: Window | None, side: str, context: MeasureContext) -> Measures:
    """Current, flux swing and remaining inductance of a choke.

    The inductance is that of the magnetising current where the record has it; the terminal current differs from it by
    what the core loss takes.
    """
    part, model = f"choke.{side}", context.inductance.get(side)
    zero = context.inductance_zero.get(side)
    if zero is None and model is not None:
        zero = float(model(np.zeros(1))[0])
    own = f"{part}.magnetising_current"
    magnetising = own if steady is not None and own in steady else f"{part}.current"
    least = _size(steady, magnetising, partial(least_inductance, model)) if model else None
    return {
        f"{part}.mean_current_a": _of(steady, f"{part}.current", basics.mean),
        f"{part}.rms_current_a": _of(steady, f"{part}.current", basics.rms),
        f"{part}.peak_current_a": _size(steady, f"{part}.current", basics.peak),
        f"{part}.ripple_current_a": _ripple(steady, window, f"{part}.current")[0],
        f"{part}.flux_swing_wb": _ripple(steady, window, f"{part}.flux")[0],
        f"{part}.inductance_zero_h": zero,
        f"{part}.inductance_min_h": least,
        f"{part}.inductance_remaining_ratio": least / zero if least is not None and zero else None,
    }


def least_inductance(model: Inductance, current: Array) -> float:
    """Smallest differential inductance [H] of a part's model over the currents [A] passed through, shape (n,)."""
    return float(np.min(model(np.linspace(float(np.min(current)), float(np.max(current)), 257))))


def _power(steady: Waveforms | None, window: Window | None, context: MeasureContext) -> Measures:
    """Supply and gate supply, losses by part, balance."""
    books: Balance | None = None
    if steady is not None and context.ledger is not None and all(name in steady for name in needed(context.ledger)):
        books = balance(steady, context.ledger)
    swing, error = _ripple(steady, window, "supply.current")
    found: Measures = {
        "supply.mean_current_a": _of(steady, "supply.current", basics.mean),
        "supply.ripple_current_a": swing,
        standard_error_key("supply.ripple_current_a"): error,
        "supply.power_w": _mean_power(steady, "supply"),
        "gate_supply.power_w": _mean_power(steady, "gate_supply"),
        "workpiece.power_w": books.losses.get("workpiece", 0.0) if books else None,
        "energy.imbalance_ratio": books.imbalance_ratio if books else None,
        "energy.stored_change_w": books.stored if books else None,
    }
    booked = context.ledger.losses if context.ledger else ()
    found |= {entry.told: books.told[entry.told] if books else None for entry in booked if entry.told}
    parts = dict.fromkeys(entry.part for entry in booked)
    for part in parts:
        loss = books.losses[part] if books else None
        if part.startswith("choke."):
            found[f"{part}_loss_w"] = loss
        if part != "workpiece":
            found[f"loss.{part}_w"] = loss
    return found


def _mean_power(steady: Waveforms | None, source: str) -> float | None:
    names = f"{source}.voltage", f"{source}.current"
    if steady is None or any(name not in steady for name in names):
        return None
    return basics.mean_product(steady.time, steady[names[0]], steady[names[1]])


def _startup(waves: Waveforms, section: str | None, window: Window | None, context: MeasureContext) -> Measures:
    """The course of the start, only for a record that begins at rest and ends settled."""
    course = None
    if context.from_rest and context.outcome == "settled" and window is not None and section is not None:
        course = None if section.startswith("drain") else envelope(waves.time, waves[section])
    half_cycles = 2 * window.periods if window else 0
    return {
        "startup.outcome": context.outcome,
        "startup.time_s": settling_time(course, float(waves.time[0]), half_cycles) if course else None,
        "startup.overshoot_ratio": overshoot_ratio(course, half_cycles) if course else None,
        "startup.peak_supply_current_a": _size(waves, "supply.current", np.max) if context.from_rest else None,
    }
