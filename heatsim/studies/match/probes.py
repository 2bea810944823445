# SPDX-License-Identifier: GPL-3.0-or-later
"""What probes and oscilloscopes do to lines: the ordinary spread of good ones, and the ways they are wrong.

A probe is a transfer function, applied line by line: c_n -> R(n f) c_n. Cutting off is done on the wave.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from heatsim.measures.lines import BANDS, Complex, band_powers, wave_of
from heatsim.studies.match.faults import Parameter
from heatsim.studies.match.nuisance import GAIN
from heatsim.studies.match.solver import COUNT
from heatsim.waves import Array

OFFSET = 0.004
"""Standard deviation of a good channel's zero error, as a share of the signal's peak; common practice, no source."""

FACTORS = (0.01, 0.1, 0.5, 2.0, 10.0, 100.0)
"""By which a probe's setting is off at times; common practice, no source."""

POINTS = 1024
"""Points of a period when a wave is cut off."""

Seen = Callable[[float, Complex, Array, tuple[float, ...]], tuple[Complex, Array]]
"""Lines and bands after the probe, from frequency [Hz], lines and bands before it and the kind's parameters."""


@dataclass(frozen=True)
class ProbeKind:
    """Something wrong with a probe. name: in words; parameters; seen; weight: share of the probe's kinds beforehand."""

    name: str
    parameters: tuple[Parameter, ...]
    seen: Seen
    weight: float = 1.0


def good(gain: float = 0.0, offset: float = 0.0, delay: float = 0.0) -> Seen:
    """A good probe's gain (natural logarithm), zero error (share of the peak) and delay against the others [s]."""
    orders = np.arange(COUNT + 1)

    def seen(frequency: float, lines: Complex, bands: Array, _: tuple[float, ...]) -> tuple[Complex, Array]:
        out = lines * (math.exp(gain) * np.exp(-2j * math.pi * orders * frequency * delay))
        out[0] += offset * peak_of(lines)
        return out, bands * math.exp(gain)

    return seen


DELAY = 5e-9
"""Standard deviation of a channel's delay [s]: a pole at 30 MHz, or a metre of cable; common practice, no source."""

GOOD = {"gain": GAIN, "offset": OFFSET, "delay": DELAY}
"""Standard deviations of a good probe."""


def peak_of(lines: Complex) -> float:
    """About the peak of a wave: its mean's size and fundamental."""
    return float(abs(lines[0]) + abs(lines[1]))


def _filtered(response: Callable[[Array, tuple[float, ...]], Complex]) -> Seen:
    """A linear probe: in the bands by its mean power gain."""
    orders = np.arange(BANDS[-1])

    def seen(frequency: float, lines: Complex, bands: Array, v: tuple[float, ...]) -> tuple[Complex, Array]:
        gain = response(np.asarray(orders * frequency, dtype=np.float64), v)
        power = np.array([float(np.mean(np.abs(gain[a:b]) ** 2)) for a, b in pairwise(BANDS)])
        return lines * gain[: COUNT + 1], bands * np.sqrt(power[: bands.size])

    return seen


def _compensation(f: Array, v: tuple[float, ...]) -> Complex:
    gain, zero = v
    return np.asarray((1 + 1j * f / zero) / (1 + 1j * f / (zero * gain)))


def _ringing(f: Array, v: tuple[float, ...]) -> Complex:
    own, quality = v
    return np.asarray(1 / (1 + 1j * f / (own * quality) - (f / own) ** 2))


def _slow(f: Array, v: tuple[float, ...]) -> Complex:
    return np.asarray(1 / (1 + 1j * f / v[0]))


def _offset(frequency: float, lines: Complex, bands: Array, v: tuple[float, ...]) -> tuple[Complex, Array]:
    out = lines.copy()
    out[0] += v[0] * peak_of(lines)
    return out, bands


def _uncoupled(frequency: float, lines: Complex, bands: Array, v: tuple[float, ...]) -> tuple[Complex, Array]:
    out = lines.copy()
    out[0] = 0
    return out, bands


def _factor(by: float) -> Seen:
    return lambda frequency, lines, bands, v: (lines * by, bands * by)


def clipping(low: float | None, high: float | None) -> Seen:
    """Cut off at values [V or A] as the record shows them."""
    phase = 2 * math.pi * np.arange(POINTS) / POINTS

    def seen(frequency: float, lines: Complex, bands: Array, v: tuple[float, ...]) -> tuple[Complex, Array]:
        cut = np.clip(wave_of(lines, phase), low, high)
        out = np.fft.rfft(cut)[: COUNT + 1] / POINTS
        out[1:] *= 2
        full = np.fft.rfft(cut)[: BANDS[-1] + 1] / POINTS * 2
        return out, np.hypot(bands, np.sqrt(band_powers(full))[: bands.size])

    return seen


def probe_kinds(signal: str, clipped: tuple[float | None, float | None]) -> tuple[ProbeKind, ...]:
    """The ways a channel may be wrong. Compensation: gain at high frequencies 0.55 to 1.8 above 1 to 120 kHz; ringing of the
    ground lead: 2.5 to 25 MHz, quality 2 to 10; zero 3 to 30 % of the peak off, either way; bandwidth 60 to 700 kHz; factor off by
    2, 10 or 100; AC coupling of a signal that has a mean; cut off where the record shows it. Common practice, no source."""
    weak, strong = (
        Parameter("probe.high_frequency_gain_ratio", "gain at high frequencies", "ratio", *ends)
        for ends in ((0.93, 0.5), (1.08, 2.0))
    )
    zero = Parameter("probe.corner_hz", "corner of the probe's compensation", "Hz", 1e3, 120e3)
    found = [
        ProbeKind("compensated too weakly", (weak, zero), _filtered(_compensation), 0.5),
        ProbeKind("compensated too strongly", (strong, zero), _filtered(_compensation), 0.5),
        ProbeKind(
            "rings with its ground lead",
            (
                Parameter("probe.ringing_frequency_hz", "ringing of the ground lead", "Hz", 25e6, 2.5e6),
                Parameter("probe.ringing_quality_ratio", "its quality", "ratio", 2.0, 10.0),
            ),
            _filtered(_ringing),
        ),
        *(
            ProbeKind(
                f"zero too {'high' if sign > 0 else 'low'}",
                (Parameter("probe.offset_ratio", "zero error, over the signal's peak", "ratio", sign * 0.03, sign * 0.3),),
                _offset,
                0.5,
            )
            for sign in (1, -1)
        ),
        ProbeKind("too slow", (Parameter("probe.bandwidth_hz", "bandwidth", "Hz", 900e3, 60e3),), _filtered(_slow)),
        *(
            ProbeKind(f"factor set {max(by, 1 / by):g} times too {'high' if by > 1 else 'low'}", (), _factor(by), 1 / len(FACTORS))
            for by in FACTORS
        ),
    ]
    if signal.startswith("drain"):
        found.append(ProbeKind("AC coupled", (), _uncoupled))
    if clipped != (None, None):
        found.append(ProbeKind("cut off", (), clipping(*clipped)))
    return tuple(found)


Chain = Mapping[str, tuple[Seen, tuple[float, ...]]]
"""Signal -> what its probe does, and the parameters of that."""


def through(
    frequency: float, lines: Mapping[str, Complex], bands: Mapping[str, Array], probes: Chain
) -> tuple[dict[str, Complex], dict[str, Array]]:
    """Lines and bands of all signals through the probes of some."""
    seen = {
        name: probes[name][0](frequency, lines[name], bands[name], probes[name][1])
        if name in probes
        else (lines[name], bands[name])
        for name in lines
    }
    return {name: pair[0] for name, pair in seen.items()}, {name: pair[1] for name, pair in seen.items()}
