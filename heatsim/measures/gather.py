# SPDX-License-Identifier: GPL-3.0-or-later
"""All measures of a record in one flat table, keyed as in results.json, SI units, unit in the key.

A key is always there when its part belongs to the circuit; its value is None when the record lacks the signal, or when
the measure does not apply (no oscillation, no ringing, threshold not given). Nothing is guessed in its place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from heatsim.measures import basics, harmonics
from heatsim.measures.choke import Inductance, least_inductance, least_trajectory_inductance
from heatsim.measures.energy import Balance, balance, needed
from heatsim.measures.periods import SECTION, Window, period_two_ratio, steady_frequency, steady_window
from heatsim.measures.ringing import gate_ring
from heatsim.measures.startup import envelope, largest_drift, outcome, overshoot_ratio, settling_time
from heatsim.measures.switching import device_current, turn_on_voltage
from heatsim.waves import Array, Ledger, Waveforms
from heatsim.waves.periods import per_period

Measures = dict[str, float | str | list[float] | None]
"""Key -> number, outcome or list of harmonic ratios."""

SIDES = ("left", "right")

SECTIONS = (SECTION, "capacitor.voltage", "coil.current", "drain.left.voltage", "drain.right.voltage")
"""Signals that can mark the periods, best first; of the drains, which never go negative, the mean is the level."""


@dataclass(frozen=True)
class MeasureContext:
    """What a record does not say about itself.

    devices: MOSFETs in each bank; gate_threshold [V]; inductance_zero: choke side -> inductance at zero current [H];
    inductance: choke side -> its model's differential inductance [H] at currents [A]; ledger: energy bookkeeping;
    periods: how many whole periods at the record's end the steady measures are taken over; tolerance: drift [1]
    between the halves of these that still counts as settled; quiet: tank amplitude [V] at or below which nothing
    oscillates; from_rest: the record begins with the supply being switched on, so that start-up can be measured.
    """

    devices: int = 1
    gate_threshold: float | None = None
    inductance_zero: Mapping[str, float] = field(default_factory=dict)
    inductance: Mapping[str, Inductance] = field(default_factory=dict)
    ledger: Ledger | None = None
    periods: int = 20
    tolerance: float = 2e-3
    quiet: float = 0.0
    from_rest: bool = True


def measure(waveforms: Waveforms, context: MeasureContext | None = None) -> Measures:
    """Every measure the record allows. See the module's docstring for None, `MeasureContext` for the rest."""
    context = context or MeasureContext()
    waves = _with_tank(waveforms)
    section = next((name for name in SECTIONS if name in waves), None)
    level = None if section is not None and section.startswith("drain") else 0.0
    window = steady_window(waves, section, context.periods, level, context.quiet) if section else None
    steady = waves.between(window.start, window.stop) if window else None
    found = _period(waves, section, level, window, context)
    found |= _tank(steady, window)
    for side in SIDES:
        found |= _switch(steady, side, context) | _gate(steady, side)
    for side in choke_sides(waves):
        found |= _choke(steady, side, context)
    return found | _power(steady, context) | _startup(waves, section, window, context)


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


def _peak(_: Array, samples: Array) -> float:
    return basics.peak(samples)


def _swing(_: Array, samples: Array) -> float:
    return basics.peak_to_peak(samples)


def _highest(_: Array, samples: Array) -> float:
    return float(samples.max())


def _lowest(_: Array, samples: Array) -> float:
    return float(samples.min())


def _period(waves: Waveforms, section: str | None, level: float | None, window: Window | None, context: MeasureContext) -> Measures:
    """Frequency, where the window lies, and whether what is in it repeats."""
    keys = (
        "tank.frequency_hz",
        "tank.frequency_standard_error_hz",
        "tank.drift_ratio",
        "tank.period_two_ratio",
        "window.start_s",
        "window.stop_s",
        "window.periods",
    )
    if section is None or window is None:
        return dict.fromkeys(keys)
    frequency = steady_frequency(waves, section, context.periods, level, context.quiet)
    two = period_two_ratio(per_period(waves.time, waves[section], window.edges))
    error = frequency.standard_error if frequency else None
    drift = largest_drift(waves, window, (section,))
    values = (1.0 / window.period, error, drift, two, window.start, window.stop, window.periods)
    return dict(zip(keys, values, strict=True))


def _tank(steady: Waveforms | None, window: Window | None) -> Measures:
    """Tank, coil and capacitors."""
    found: Measures = {
        "tank.peak_voltage_v": _of(steady, SECTION, _peak),
        "tank.rms_voltage_v": _of(steady, SECTION, basics.rms),
        "tank.crest_ratio": _of(steady, SECTION, basics.crest_factor),
        "tank.form_ratio": _of(steady, SECTION, basics.form_factor),
        "coil.rms_current_a": _of(steady, "coil.current", basics.rms),
        "coil.peak_current_a": _of(steady, "coil.current", _peak),
        "capacitor.rms_current_a": _of(steady, "capacitor.current", basics.rms),
        "capacitor.peak_voltage_v": _of(steady, "capacitor.voltage", _peak),
    }
    return found | _distortion(steady, window)


def _distortion(steady: Waveforms | None, window: Window | None) -> Measures:
    keys = (
        "tank.thd_ratio",
        "tank.total_distortion_ratio",
        "tank.even_harmonic_ratio",
        "tank.odd_harmonic_ratio",
        "tank.half_wave_asymmetry_ratio",
        "tank.harmonic_ratios",
    )
    if steady is None or window is None or SECTION not in steady or steady.time.size <= 2 * window.periods:
        return dict.fromkeys(keys)
    table = harmonics.harmonics(steady.time, steady[SECTION], window.periods)
    ratios = [float(x) for x in table.ratios] if table.has_fundamental else None
    values = (
        harmonics.thd_fundamental(table),
        harmonics.total_distortion(table),
        harmonics.even_ratio(table),
        harmonics.odd_ratio(table),
        harmonics.half_wave_asymmetry(steady.time, steady[SECTION], window.periods),
        ratios,
    )
    return dict(zip(keys, values, strict=True))


def _switch(steady: Waveforms | None, side: str, context: MeasureContext) -> Measures:
    """Drain voltage, and current of each device."""
    drain, gate, bank = f"drain.{side}.voltage", f"gate.{side}.voltage", f"switch.{side}.current"
    device = device_current(steady.time, steady[bank], context.devices) if steady and bank in steady else None
    turn_on = None
    if steady and drain in steady and gate in steady and context.gate_threshold is not None:
        turn_on = turn_on_voltage(steady.time, steady[gate], steady[drain], context.gate_threshold)
    return {
        f"drain.{side}.peak_voltage_v": _of(steady, drain, _peak),
        f"switch.{side}.peak_current_a": device.peak if device else None,
        f"switch.{side}.rms_current_a": device.rms if device else None,
        f"switch.{side}.turn_on_voltage_v": turn_on,
    }


def _gate(steady: Waveforms | None, side: str) -> Measures:
    """Gate extremes and the stronger of its rings."""
    name, part = f"gate.{side}.voltage", f"gate.{side}"
    ring = gate_ring(steady.time, steady[name]) if steady and name in steady else None
    return {
        f"{part}.max_voltage_v": _of(steady, name, _highest),
        f"{part}.min_voltage_v": _of(steady, name, _lowest),
        f"{part}.ringing_frequency_hz": ring.frequency if ring else None,
        f"{part}.ringing_decay_s": ring.decay if ring else None,
        f"{part}.ringing_damping_ratio": ring.damping if ring else None,
        f"{part}.ringing_amplitude_v": ring.amplitude if ring else None,
    }


def _choke(steady: Waveforms | None, side: str, context: MeasureContext) -> Measures:
    """Current, flux swing and remaining inductance of a choke.

    The inductance is that of the magnetising current where the record has it; the terminal current differs from it by
    what the core loss takes.
    """
    part = f"choke.{side}"
    model = context.inductance.get(side)
    zero = context.inductance_zero.get(side)
    if zero is None and model is not None:
        zero = float(model(np.zeros(1))[0])
    least = _least_inductance(steady, part, model)
    return {
        f"{part}.mean_current_a": _of(steady, f"{part}.current", basics.mean),
        f"{part}.rms_current_a": _of(steady, f"{part}.current", basics.rms),
        f"{part}.peak_current_a": _of(steady, f"{part}.current", _peak),
        f"{part}.ripple_current_a": _of(steady, f"{part}.current", _swing),
        f"{part}.flux_swing_wb": _of(steady, f"{part}.flux", _swing),
        f"{part}.inductance_zero_h": zero,
        f"{part}.inductance_min_h": least,
        f"{part}.inductance_remaining_ratio": least / zero if least is not None and zero else None,
    }


def _least_inductance(steady: Waveforms | None, part: str, model: Inductance | None) -> float | None:
    if steady is None:
        return None
    own = f"{part}.magnetising_current"
    current = own if own in steady else f"{part}.current"
    if current not in steady:
        return None
    if model is not None:
        return least_inductance(steady[current], model)
    flux = f"{part}.flux"
    return least_trajectory_inductance(steady[current], steady[flux]) if flux in steady else None


def _power(steady: Waveforms | None, context: MeasureContext) -> Measures:
    """Supply and gate supply, losses by part, balance."""
    books: Balance | None = None
    if steady is not None and context.ledger is not None and all(name in steady for name in needed(context.ledger)):
        books = balance(steady, context.ledger)
    found: Measures = {
        "supply.mean_current_a": _of(steady, "supply.current", basics.mean),
        "supply.ripple_current_a": _of(steady, "supply.current", _swing),
        "supply.power_w": _mean_power(steady, "supply"),
        "gate_supply.power_w": _mean_power(steady, "gate_supply"),
        "workpiece.power_w": books.losses.get("workpiece", 0.0) if books else None,
        "energy.imbalance_ratio": books.imbalance_ratio if books else None,
        "energy.stored_change_w": books.stored if books else None,
    }
    parts = dict.fromkeys(entry.part for entry in context.ledger.losses) if context.ledger else {}
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
    """Outcome always; the course of the start only for a record that begins at rest and ends settled."""
    found: Measures = dict.fromkeys(
        ("startup.outcome", "startup.time_s", "startup.overshoot_ratio", "startup.peak_supply_current_a")
    )
    if section is None:
        return found
    found["startup.outcome"] = outcome(
        waves, window, section, tolerance=context.tolerance, quiet=context.quiet, gate_threshold=context.gate_threshold
    )
    if context.from_rest and "supply.current" in waves:
        found["startup.peak_supply_current_a"] = float(waves["supply.current"].max())
    settled = context.from_rest and found["startup.outcome"] == "settled"
    if settled and window is not None and not section.startswith("drain"):
        course = envelope(waves.time, waves[section])
        found["startup.time_s"] = settling_time(course, float(waves.time[0]), 2 * window.periods)
        found["startup.overshoot_ratio"] = overshoot_ratio(course, 2 * window.periods)
    return found
