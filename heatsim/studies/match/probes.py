# SPDX-License-Identifier: GPL-3.0-or-later
"""What probes and oscilloscopes do to lines: the ordinary spread of good ones, and the ways they are wrong.

A probe is a transfer function, applied line by line: c_n -> R(n f) c_n. Clipping is done on the wave.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from heatsim.measures.lines import BANDS, band_powers
from heatsim.measures.solving import Complex, wave_of
from heatsim.studies.match.fault_model import FaultParameter
from heatsim.studies.match.solver import COUNT, REFERENCE
from heatsim.waves import Array

GOOD = {"gain": 0.0125, "offset": 0.004, "delay": 8e-9, "bow": 2.5e-3}
"""Standard deviations of a good probe and converter: gain (natural logarithm; 2.5 % at two of them), zero error as a share of the
signal's peak, delay [s] (a pole at 20 MHz, or two metres of cable), bow of the converter's line as a share of the signal's swing
(half a code of 8 bit). Common practice, no source."""

GOOD_CLAMP = {"gain": 0.015, "offset": 0.005, "delay": 15e-9, "bow": 2.5e-3}
"""The same of a current probe that shows the mean: 3 % at two of them, its zero after degaussing, and the delay of its amplifier
against voltage probes. Common practice, no source."""


def spread_of_good(signal: str) -> dict[str, float]:
    """Standard deviations of a good probe on a signal."""
    return GOOD_CLAMP if signal.endswith("current") else GOOD


FACTORS = (0.01, 0.1, 0.5, 2.0, 10.0, 100.0)
"""By which a probe's setting is off at times; common practice, no source."""

PHASES = 2 * math.pi * np.arange(1024) / 1024
"""Points of a period when a wave is clipped or bowed [rad]."""

ProbeEffect = Callable[[float, Complex, Array, tuple[float, ...]], tuple[Complex, Array]]
"""Lines and bands after the probe, from frequency [Hz], lines and bands before it, and the fault's parameters."""


@dataclass(frozen=True)
class ProbeFault:
    """Something wrong with a probe; weight: its prior share of the probe's faults."""

    name: str
    parameters: tuple[FaultParameter, ...]
    effect: ProbeEffect
    weight: float = 1.0


def good(gain: float = 0.0, offset: float = 0.0, delay: float = 0.0, bow: float = 0.0) -> ProbeEffect:
    """A good probe's gain (natural logarithm), zero error (share of the peak), delay against the others [s], and bow of its
    converter: deviation of the middle of the signal's swing from a straight line through its ends, as a share of the swing."""
    orders = np.arange(COUNT + 1)

    def effect(frequency: float, lines: Complex, bands: Array, _: tuple[float, ...]) -> tuple[Complex, Array]:
        out = lines * (math.exp(gain) * np.exp(-2j * math.pi * orders * frequency * delay))
        out[0] += offset * peak_of(lines)
        return out + bow * bowed(lines) if bow else out, bands * math.exp(gain)

    return effect


def bowed(lines: Complex) -> Complex:
    """Lines of what a parabola from nothing at both ends of a wave's swing to the whole swing in its middle adds to the wave."""
    wave = wave_of(lines, PHASES)
    return lines_of_wave(parabola(wave, float(wave.min()), float(wave.max())), lines.size)


def parabola(wave: Array, low: float, high: float) -> Array:
    """Zero where a wave is at either end of a swing, the whole swing in its middle."""
    return np.asarray((high - low) - 4 * (wave - (low + high) / 2) ** 2 / max(high - low, 1e-12))


def lines_of_wave(wave: Array, count: int) -> Complex:
    """The first lines (orders 0 to count - 1) of a period of even samples."""
    full = np.fft.rfft(wave)[:count] / wave.size * 2
    full[0] /= 2
    return np.asarray(full)


def peak_of(lines: Complex) -> float:
    """About the peak of a wave: its mean's size and fundamental."""
    return float(abs(lines[0]) + abs(lines[1]))


def _filtered(response: Callable[[Array, tuple[float, ...]], Any]) -> ProbeEffect:
    """A linear probe: in the bands by its mean power gain."""
    orders = np.arange(BANDS[-1])

    def effect(frequency: float, lines: Complex, bands: Array, v: tuple[float, ...]) -> tuple[Complex, Array]:
        gain = np.asarray(response(np.asarray(orders * frequency, dtype=np.float64), v))
        power = np.array([float(np.mean(np.abs(gain[a:b]) ** 2)) for a, b in pairwise(BANDS)])
        return lines * gain[: COUNT + 1], bands * np.sqrt(power[: bands.size])

    return effect


def _offset(frequency: float, lines: Complex, bands: Array, v: tuple[float, ...]) -> tuple[Complex, Array]:
    out = lines.copy()
    out[0] += v[0] * peak_of(lines)
    return out, bands


def _uncoupled(frequency: float, lines: Complex, bands: Array, v: tuple[float, ...]) -> tuple[Complex, Array]:
    out = lines.copy()
    out[0] = 0
    return out, bands


def _factor(by: float) -> ProbeEffect:
    return lambda frequency, lines, bands, v: (lines * by, bands * by)


def clipping(low: float | None, high: float | None) -> ProbeEffect:
    """Clipped at values [V or A] as the record shows them."""

    def effect(frequency: float, lines: Complex, bands: Array, v: tuple[float, ...]) -> tuple[Complex, Array]:
        full = lines_of_wave(np.clip(wave_of(lines, PHASES), low, high), BANDS[-1] + 1)
        return full[: COUNT + 1], np.hypot(bands, np.sqrt(band_powers(full))[: bands.size])

    return effect


def probe_faults(signal: str, clipped: tuple[float | None, float | None]) -> tuple[ProbeFault, ...]:
    """The ways in which a channel may be wrong.

    clipped: where the record cuts it off [V or A]. Compensation: gain at high frequencies 0.5 to 2.0 above 1 to 120 kHz. Ringing of
    a voltage probe's ground lead: 2.5 to 25 MHz, quality 2 to 10. Zero 3 to 30 % of the peak off, either way. Bandwidth 60 to 900
    kHz. Factor off by 2, 10 or 100. AC coupling of a signal that has a mean. Common practice, no source.
    """

    def ratio(key: str, label: str, mild: float, bad: float) -> FaultParameter:
        return FaultParameter(f"probe.{key}_ratio", label, "ratio", mild, bad)

    gain, zero_error = ("high_frequency_gain", "gain at high frequencies"), ("offset", "zero error, over the signal's peak")
    corner = FaultParameter("probe.corner_hz", "corner of the probe's compensation", "Hz", 1e3, 120e3)
    ringing = (
        FaultParameter("probe.ringing_frequency_hz", "ringing of the ground lead", "Hz", 25e6, 2.5e6),
        ratio("ringing_quality", "its quality", 2.0, 10.0),
    )
    resonance = _filtered(lambda f, v: 1 / (1 + 1j * f / (v[0] * v[1]) - (f / v[0]) ** 2))
    slow = FaultParameter("probe.bandwidth_hz", "bandwidth", "Hz", 900e3, 60e3)
    compensation = _filtered(lambda f, v: (1 + 1j * f / v[1]) / (1 + 1j * f / (v[1] * v[0])))
    found = [
        ProbeFault("compensated too weakly", (ratio(*gain, 0.93, 0.5), corner), compensation, 0.5),
        ProbeFault("compensated too strongly", (ratio(*gain, 1.08, 2.0), corner), compensation, 0.5),
        ProbeFault("zero too high", (ratio(*zero_error, 0.03, 0.3),), _offset, 0.5),
        ProbeFault("zero too low", (ratio(*zero_error, -0.03, -0.3),), _offset, 0.5),
        ProbeFault("too slow", (slow,), _filtered(lambda f, v: 1 / (1 + 1j * f / v[0]))),
    ]
    if not signal.endswith("current"):
        found.insert(2, ProbeFault("rings with its ground lead", ringing, resonance))
    for by in FACTORS:
        name = f"factor set {max(by, 1 / by):g} times too {'high' if by > 1 else 'low'}"
        found.append(ProbeFault(name, (), _factor(by), 1 / len(FACTORS)))
    if signal != REFERENCE:
        found.append(ProbeFault("AC coupled", (), _uncoupled))
    if clipped != (None, None):
        found.append(ProbeFault("cut off", (), clipping(*clipped)))
    return tuple(found)
