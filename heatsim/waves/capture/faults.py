# SPDX-License-Identifier: GPL-3.0-or-later
"""What is wrong with a channel: clipping, too few samples or periods, folded content, ringing, a lost direct part.

Nothing is put right here, and where the circuit could do the same as the probe, the fault says so.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from heatsim.waves.capture.levels import even_noise, floor_noise, local_noise, power_spectrum, refined_width
from heatsim.waves.waveforms import Array

PILED = 3.0
"""Samples at the extreme value for each in the three codes next to it, from which on they are piled up there. A crest
spends as long in its outermost code as in the next three, or less; cut off by c codes, sqrt(c)/(sqrt(c+3) - sqrt(c))
times as long: 3 at four codes."""

AT_ZERO = 0.03
"""A flat extreme within this share of the swing of zero is a switch that is on, not the edge of a screen."""

FEW = 20
"""Samples a period below which peaks are missed by more than 1 - cos(pi/20) = 1.2 %."""

BANDS = (0.2, 0.35, 0.5)
"""Half widths of the band about mid-level that a period is sought with, as shares of half the swing."""

LONGEST = 1 << 18
"""Samples that spectra are taken of, a run in the middle of the record."""

MEAN_OF = 30
"""Periods that are averaged at most to look for ringing."""

HIGH, LOUD = 8.0, 0.01
"""Ringing lies above so many times the fundamental, and has at least this share of its amplitude."""


STANDS_OUT = 1.5
"""How far its part of the spectrum rises over that at half its frequency, both times the frequency: edges alone, whose
harmonics fall with their order, give 1."""


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
        ordered = even or not np.all(np.diff(time) > 0)
        own = min(even_noise(samples), floor_noise(samples)) if ordered else local_noise(time, samples)
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
        faults += [*_ringing(name, unit, time, samples, period, noise), *_coupling(name, samples, noise)]
    return Judged(step, noise, clipped, period, contrast, tuple(faults))


def judge_together(judged: list[Judged]) -> list[str]:
    """Faults of the record as a whole: fewer than two periods of its strongest channel."""
    if not any(one.contrast > 4 for one in judged):
        return ["no channel shows anything above its noise"]
    if not any(one.period for one in judged):
        return ["fewer than two whole periods: what repeats cannot be told from what does not, and ringing is not looked for"]
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
    found = f"{name}: {100 * share:.2g} % of the samples are at its very {side} value, {level:.4g} {unit}".rstrip()
    return f"{found}: clipped, unless the signal is flat there by itself"


def _period(time: Array, samples: Array, noise: float) -> float | None:
    """Mean distance [s] of rising crossings of mid-level with hysteresis; None with fewer than three of them.

    Where ringing at the edges crosses a narrow band as well, distances vary: of `BANDS` the one with the most even ones counts.
    """
    low, high = (float(x) for x in np.quantile(samples, (0.02, 0.98)))
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    found: list[tuple[float, float]] = []
    for share in BANDS:
        band = max(share * half, 2 * noise)
        side = np.where(samples > middle + band, 1, np.where(samples < middle - band, -1, 0))
        marked = np.flatnonzero(side)
        rises = time[marked[1:][np.diff(side[marked]) == 2]]
        if rises.size >= 3 and rises[-1] > rises[0]:
            apart = np.diff(rises)
            found.append((round(float(np.std(apart) / np.mean(apart)), 2), float(np.mean(apart))))
    return min(found, key=lambda each: each[0])[1] if found else None


def _sampling(name: str, time: Array, samples: Array, period: float | None) -> list[str]:
    """Too few samples a period, and tones close to half the sampling rate."""
    step = float(time[-1] - time[0]) / (time.size - 1)
    found = []
    count = period / step if period else FEW
    if count < FEW:
        missed = 100 * (1 - np.cos(np.pi / max(count, 2.0)))
        folded = ", and a faster signal would look the same (aliasing)" if count < 5 else ""
        found.append(f"{name}: only {count:.3g} samples a period: peaks are missed by up to {missed:.2g} %{folded}")
    part = samples[max(0, (samples.size - LONGEST) // 2) :][:LONGEST]
    if part.size < 64:
        return found
    power = power_spectrum(part)
    top = power[int(0.8 * power.size) :]
    tone, floor = float(top.max()), float(np.median(top))
    if tone > 40 * floor and tone > 1e-4 * float(power[2:].max()) and power[2:].max() > 0:
        at = (int(0.8 * power.size) + int(np.argmax(top))) / power.size * 0.5 / step
        folded = "what is faster still folds back into the record (aliasing)"
        found.append(f"{name}: a tone at {at:.4g} Hz, close to half the sampling rate: {folded}")
    return found


def _ringing(name: str, unit: str, time: Array, samples: Array, period: float, noise: float) -> list[str]:
    """A tone far above the fundamental that is loud once or twice a period and dies away in between.

    Sought in the harmonics of the mean period: each times its order, those of bare edges lie level, and a ring stands
    out from those at half its frequency.
    """
    step = float(time[-1] - time[0]) / (time.size - 1)
    count, length = min(int((time[-1] - time[0]) / period), MEAN_OF), int(period / step)
    if count < 2 or length < 6 * HIGH:
        return []
    start = time[0] + period * np.arange(count)[:, None]
    grid = start + period * np.arange(length) / length
    course = np.interp(grid.ravel(), time, samples).reshape(count, length).mean(axis=0)
    harmonics = np.fft.rfft(course)
    order = np.arange(harmonics.size)
    raised = order * np.convolve(np.abs(harmonics), np.ones(5) / 5, mode="same")
    band = (order > HIGH) & (order < 0.4 * length)
    peak = int(np.argmax(np.where(band, raised, 0.0)))
    beside = float(np.median(raised[(order >= 0.35 * peak) & (order <= 0.6 * peak)]))
    if not 1.2 * HIGH < peak < 0.38 * length or raised[peak] <= STANDS_OUT * beside:
        return []
    tone = np.fft.irfft(np.where(np.abs(order / peak - 1) < 0.35, harmonics, 0.0), length)
    part = np.arange(length) * 16 // length
    amplitudes = np.sqrt(2.0 * np.bincount(part, tone**2, 16) / np.bincount(part, minlength=16))
    quiet, loud = float(amplitudes.min()), float(amplitudes.max())
    amplitude = 0.5 * float(np.ptp(course))
    if loud < max(LOUD * amplitude, 3 * noise / np.sqrt(count)) or loud < 3 * quiet:
        return []
    found = f"{name}: rings at about {peak / period:.3g} Hz after its edges, {loud:.2g} {unit}".rstrip()
    return [f"{found} at first: the circuit, or the probe and its ground lead"]


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


def contradiction_of(signal: str, name: str, samples: Array, coupling: str | None) -> str:
    """What a channel that is `signal` cannot be, or nothing: negative on average where the circuit is positive, or without a
    mean. The offset that would bring the lowest values of a drain to zero is offered as an estimate.
    """
    if signal not in ONE_SIGN:
        return ""
    low, high = (float(x) for x in np.quantile(samples, (0.01, 0.99)))
    mean, swing = float(np.mean(samples)), high - low
    if abs(mean) < 0.05 * swing or coupling == "ac":
        lift = f", about {-low:.4g} V more" if signal.startswith("drain") else ""
        return f"{name}: {signal} has no direct part: AC coupled; the true one lies higher{lift}"
    return f"{name}: {signal} is negative on average: the probe is the other way round, or the channel inverted" if mean < 0 else ""
