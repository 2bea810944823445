# SPDX-License-Identifier: GPL-3.0-or-later
"""What is wrong with a channel: clipping, too few samples or periods, folded content, ringing, a lost direct part.

Nothing is put right here, and where the circuit could do the same as the probe, the fault says so.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from heatsim.waves.capture_levels import even_noise, local_noise, refined_width
from heatsim.waves.waveforms import Array

PILED = 3.0
"""Samples at the extreme value for each in the three codes next to it, from which on they are piled up there. A crest
spends as long in its outermost code as in the next three, or less; cut off by c codes, sqrt(c)/(sqrt(c+3) - sqrt(c))
times as long: 3 at four codes."""

AT_ZERO = 0.03
"""A flat extreme within this share of the swing of zero is a switch that is on, not the edge of a screen."""

FEW = 20
"""Samples a period below which peaks are missed by more than 1 - cos(pi/20) = 1.2 %."""

LONGEST = 1 << 18
"""Samples that spectra are taken of, a run in the middle of the record."""

HIGH, LOUD = 8.0, 0.01
"""Ringing lies above so many times the fundamental, and has at least this share of its amplitude."""


@dataclass(frozen=True)
class Judged:
    """What was found of a channel: step and noise in its unit, clipped (low, high), period [s] or None for one that does
    not repeat, contrast: alternating rms over noise; faults in words.
    """

    step: float | None
    noise: float
    clipped: tuple[bool, bool]
    period: float | None
    contrast: float
    faults: tuple[str, ...] = field(default=())


def judge(name: str, unit: str, time: Array, samples: Array, even: bool, full_scale: bool, scale: float) -> Judged:
    """Everything about one channel.

    name and unit: for the words; time [s] and samples, shape (n,); even: time has one step; full_scale: samples are
    shares of a full scale `scale` long, whose ends are the ends of the range.
    """
    span = float(np.ptp(samples))
    if span <= 1e-12 * float(np.max(np.abs(samples))) or span < 1e-25:
        return Judged(None, 0.0, (False, False), None, 0.0, (f"{name} never changes",))
    with np.errstate(all="ignore"):
        step = refined_width(samples) or None
        own = even_noise(samples) if even or not np.all(np.diff(time) > 0) else local_noise(time, samples)
    noise = max(own if np.isfinite(own) else 0.0, (step or 0.0) / np.sqrt(12.0))
    clipped = (_piled(-samples, step), _piled(samples, step))
    contrast = float(np.std(samples)) / max(noise, 1e-9 * span)
    period = _period(time, samples, noise) if contrast > 4 else None
    faults = [_clipping(name, unit, samples, high) for high, found in enumerate(clipped) if found]
    if full_scale and not any(clipped) and float(np.max(np.abs(samples))) >= 0.9999 * scale:
        faults.append(f"{name} reaches full scale: it may be clipped")
    if contrast > 4 and even:
        faults += _sampling(name, time, samples, period)
    if period and even:
        faults += _ringing(name, unit, time, samples, period, noise)
        faults += _coupling(name, samples, noise)
    return Judged(step, noise, clipped, period, contrast, tuple(faults))


def judge_together(time: Array, judged: list[Judged]) -> list[str]:
    """Faults of the record as a whole: fewer than two periods of its strongest channel."""
    alive = [one for one in judged if one.contrast > 4]
    if not alive:
        return ["no channel shows anything above its noise"]
    periods = [one.period for one in alive if one.period]
    if not periods:
        return ["fewer than two whole periods: nothing that repeats can be measured"]
    return []


def _piled(values: Array, step: float | None) -> bool:
    """Whether samples are piled up at the highest of `values`, by PILED; a state at zero does not count."""
    top, span = float(values.max()), float(np.ptp(values))
    code = step or span / 256.0
    away = top - values
    at = away < (0.5 * step if step else 1e-9 * span)
    beside = int(np.sum(~at & (away < 3.5 * code)))
    if at.sum() < max(4.0, PILED * beside) or abs(top) < AT_ZERO * span:
        return False
    runs = np.flatnonzero(np.diff(np.concatenate(([0], at.astype(np.int8), [0]))) == 1).size
    return bool(at.sum() >= 3 * runs and at.mean() < 0.98)


def _clipping(name: str, unit: str, samples: Array, high: int) -> str:
    level = float(samples.max() if high else samples.min())
    share = float(np.mean(samples == level))
    side = "highest" if high else "lowest"
    return (f"{name}: {100 * share:.2g} % of the samples are at its very {side} value, {level:.4g} {unit}".rstrip()
            + ": clipped, unless the signal is flat there by itself")  # fmt: skip


def _period(time: Array, samples: Array, noise: float) -> float | None:
    """Mean distance [s] of rising crossings of mid-level with hysteresis; None with fewer than three of them."""
    low, high = (float(x) for x in np.quantile(samples, (0.02, 0.98)))
    middle, band = 0.5 * (low + high), max(0.2 * 0.5 * (high - low), 2 * noise)
    side = np.where(samples > middle + band, 1, np.where(samples < middle - band, -1, 0))
    marked = np.flatnonzero(side)
    rises = marked[1:][np.diff(side[marked]) == 2]
    if rises.size < 3:
        return None
    return float(time[rises[-1]] - time[rises[0]]) / (rises.size - 1) or None


def _middle(samples: Array) -> Array:
    start = max(0, (samples.size - LONGEST) // 2)
    return samples[start : start + LONGEST]


def _sampling(name: str, time: Array, samples: Array, period: float | None) -> list[str]:
    """Too few samples a period, and tones close to half the sampling rate."""
    step = float(time[-1] - time[0]) / (time.size - 1)
    found = []
    if period and period / step < FEW:
        count = period / step
        missed = 100 * (1 - np.cos(np.pi / max(count, 2.0)))
        found.append(f"{name}: only {count:.3g} samples a period: peaks are missed by up to {missed:.2g} %, and a "
                     "faster signal would look the same (aliasing)" if count < 5 else
                     f"{name}: only {count:.3g} samples a period: peaks are missed by up to {missed:.2g} %")  # fmt: skip
    part = _middle(samples)
    if part.size < 64:
        return found
    power = _spectrum(part)
    top = power[int(0.8 * power.size) :]
    tone, floor = float(top.max()), float(np.median(top))
    if tone > 40 * floor and tone > 1e-4 * float(power[2:].max()) and power[2:].max() > 0:
        at = (int(0.8 * power.size) + int(np.argmax(top))) / power.size * 0.5 / step
        found.append(f"{name}: a tone at {at:.4g} Hz, close to half the sampling rate: what is faster still folds back "
                     "into the record (aliasing)")  # fmt: skip
    return found


def _spectrum(part: Array) -> Array:
    """Power by frequency up to half the sampling rate, any scale; Hann window."""
    window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(part.size) + 0.5) / part.size)
    return np.asarray(np.abs(np.fft.rfft((part - part.mean()) * window)) ** 2)


def _ringing(name: str, unit: str, time: Array, samples: Array, period: float, noise: float) -> list[str]:
    """A tone far above the fundamental that is loud once or twice a period and dies away in between."""
    step = float(time[-1] - time[0]) / (time.size - 1)
    part = _middle(samples)
    cycles = part.size * step / period
    if cycles < 2 or period / step < 6 * HIGH:
        return []
    spectrum = np.fft.rfft(part - part.mean())
    size = np.abs(spectrum)
    lines = np.arange(size.size) / cycles
    band = (lines > HIGH) & (lines < 0.4 * period / step)
    if band.sum() < 8:
        return []
    smooth = np.convolve(size, np.ones(2 * int(cycles) + 1) / (2 * int(cycles) + 1), mode="same")
    peak = int(np.argmax(np.where(band, smooth * lines**1.5, 0.0)))
    around = np.median(smooth[(lines > 0.4 * lines[peak]) & (lines < 0.6 * lines[peak])])
    if not HIGH * 1.3 < lines[peak] < 0.38 * period / step or smooth[peak] < 1.5 * around:
        return []
    tone = np.fft.irfft(np.where(np.abs(lines / lines[peak] - 1) < 0.35, spectrum, 0.0), part.size)
    quiet, loud = _envelope(tone, period / step)
    amplitude = 0.5 * (float(np.quantile(part, 0.99)) - float(np.quantile(part, 0.01)))
    if loud < max(LOUD * amplitude, 3 * noise) or loud < 3 * quiet:
        return []
    return [f"{name}: rings at about {lines[peak] / period:.3g} Hz after its edges, {loud:.2g} {unit}".rstrip()
            + " at first: the circuit, or the probe and its ground lead"]  # fmt: skip


def _envelope(tone: Array, length: float) -> tuple[float, float]:
    """Least and greatest amplitude of a tone over the 16 parts of a period `length` samples long."""
    part = (np.arange(tone.size) * (16.0 / length)).astype(np.int64) % 16
    squares = np.bincount(part, tone**2, 16) / np.maximum(np.bincount(part, minlength=16), 1)
    amplitudes = np.sqrt(2.0 * squares)
    return float(amplitudes.min()), float(amplitudes.max())


def _coupling(name: str, samples: Array, noise: float) -> list[str]:
    """A mean of zero in a signal that is not alike above and below it."""
    span = float(np.ptp(samples))
    lopsided = abs(float(samples.max()) + float(samples.min())) / span
    centred = abs(float(samples.mean())) < max(0.01 * span, noise / np.sqrt(samples.size))
    if not centred or lopsided < 0.15:
        return []
    return [f"{name}: its mean is zero though it is not alike above and below: if AC coupled, its direct part is lost"]


ONE_SIGN = ("drain.left.voltage", "drain.right.voltage", "bus.voltage", "supply.voltage", "supply.current",
            "gate_supply.voltage", "choke.left.current", "choke.right.current", "choke.centre.current")  # fmt: skip
"""Signals whose mean is positive in every working circuit."""


def doubts_of(signal: str, name: str, samples: Array, coupling: str | None) -> tuple[str, ...]:
    """What a channel that is `signal` cannot be: negative on average where the circuit is positive, or without a mean.

    The offset that would bring the lowest values of a drain to zero is offered as an estimate.
    """
    if signal not in ONE_SIGN:
        return ()
    low, high = (float(x) for x in np.quantile(samples, (0.01, 0.99)))
    mean, swing = float(np.mean(samples)), high - low
    if abs(mean) < 0.05 * swing or coupling == "ac":
        lift = f", about {-low:.4g} V more" if signal.startswith("drain") else ""
        return (f"{name}: {signal} has no direct part: AC coupled; the true one lies higher{lift}",)
    if mean < 0:
        return (f"{name}: {signal} is negative on average: the probe is the other way round, or the channel inverted",)
    return ()
