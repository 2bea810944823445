# SPDX-License-Identifier: GPL-3.0-or-later
"""Probe, front end and record of an oscilloscope: what is left of a waveform in a file.

A probe is a transfer function, applied harmonic by harmonic to one settled period; the rest is done sample by sample.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

CODES_PER_DIVISION, DIVISIONS = 25, 10
"""An 8-bit converter over ten divisions, 25 codes each, of which eight are on the screen (common practice, no source)."""


@dataclass(frozen=True)
class Probe:
    """What a probe and front end do. gain [1]; offset [V]; bandwidth [Hz], single pole; pole, zero [Hz] of a wrong compensation,
    the gain at high frequencies being pole/zero; ring: frequency [Hz] and ring_quality of a ground lead's resonance; coupling:
    corner of AC coupling [Hz], 0 for none; clip: share of the upper half of the waveform's range that is cut off, and of the
    lower; kind: what is wrong with it, for the record."""

    gain: float = 1.0
    offset: float = 0.0
    bandwidth: float = 50e6
    pole: float = 0.0
    zero: float = 0.0
    ring: float = 0.0
    ring_quality: float = 0.0
    coupling: float = 0.0
    clip: float = 0.0
    kind: str = "sound"

    def response(self, frequency: np.ndarray) -> np.ndarray:
        """Complex gain at frequencies [Hz]."""
        s = 1j * frequency
        out = self.gain / (1 + s / self.bandwidth)
        if self.pole:
            out = out * (1 + s / self.zero) / (1 + s / self.pole)
        if self.ring:
            out = out / (1 + s / (self.ring * self.ring_quality) + (s / self.ring) ** 2)
        if self.coupling:
            out = out * s / (s + self.coupling)
        return out

    def seen(self, period: np.ndarray, frequency: float) -> np.ndarray:
        """One period through the probe, last sample equal to the first, at its repetition frequency [Hz]; shape kept."""
        lines = np.fft.rfft(period[:-1])
        lines *= self.response(np.arange(lines.size) * frequency)
        out = np.fft.irfft(lines, period.size - 1) + self.offset
        return np.append(out, out[0])


@dataclass(frozen=True)
class Scope:
    """samples and periods of a record; noise: rms in codes; jitter: rms of the sampling instants [s]; trigger: phase at the
    first sample, share of a period; clock: relative error of the time base."""

    samples: int
    periods: float
    noise: float
    jitter: float
    trigger: float
    clock: float


@dataclass(frozen=True)
class Channel:
    """A digitised channel [V or A]: values, the step between two codes, the rms of the noise added, and the values without
    noise and steps."""

    values: np.ndarray
    step: float
    noise: float
    clean: np.ndarray = field(repr=False)


LENGTHS = (1_000, 2_500, 5_000, 10_000, 25_000, 50_000, 100_000)


def ordinary_scope(generator: np.random.Generator, periods: float | None = None, finest: float = 50.0) -> Scope:
    """A record of 1k to 100k points over 5 to 50 periods, at least `finest` points a period."""
    shown = float(generator.uniform(5, 50)) if periods is None else periods
    lengths = [n for n in LENGTHS if n >= finest * shown][:4] or [LENGTHS[-1]]
    return Scope(
        int(generator.choice(lengths)),
        shown,
        float(generator.uniform(0.3, 1.0)),
        float(10 ** generator.uniform(-10, -9)),
        float(generator.random()),
        float(generator.normal(0, 10e-6)),
    )


def ordinary_probe(generator: np.random.Generator) -> Probe:
    """Gain within 2 % (two standard deviations), 20 to 100 MHz."""
    gain = 1 + 0.02 * float(np.clip(generator.normal(0, 0.5), -1, 1))
    return Probe(gain, bandwidth=float(generator.uniform(20e6, 100e6)))


PROBE_KINDS = ("compensation", "ground ringing", "offset", "clipping", "slow", "wrong factor", "AC coupled")


def faulty_probe(generator: np.random.Generator, probe: Probe, peak: float, unipolar: bool) -> Probe:
    """Something wrong: compensation off by a factor of 0.65 to 0.85 or 1.2 to 1.5 above 1.5 to 60 kHz; ringing of the ground
    lead at 4 to 15 MHz, Q 3 to 8; offset of 6 to 20 % of the peak; 10 to 35 % of it cut off; a bandwidth of 100 to
    350 kHz; a factor of 0.1, 0.5, 2 or 10; AC coupling where the signal has a mean (unipolar). peak: of the signal [V]."""
    kinds = PROBE_KINDS if unipolar else PROBE_KINDS[:-1]
    kind = str(generator.choice(kinds))
    high = float(generator.choice([generator.uniform(0.65, 0.85), generator.uniform(1.2, 1.5)]))
    zero = float(10 ** generator.uniform(math.log10(1.5e3), math.log10(60e3)))
    sign = float(generator.choice([-1.0, 1.0]))
    return replace(
        probe,
        **{
            "compensation": {"zero": zero, "pole": zero * high},
            "ground ringing": {"ring": float(generator.uniform(4e6, 15e6)), "ring_quality": float(generator.uniform(3, 8))},
            "offset": {"offset": sign * float(generator.uniform(0.06, 0.2)) * peak},
            "clipping": {"clip": float(generator.uniform(0.1, 0.35))},
            "slow": {"bandwidth": float(generator.uniform(100e3, 350e3))},
            "wrong factor": {"gain": probe.gain * float(generator.choice([0.1, 0.5, 2.0, 10.0]))},
            "AC coupled": {"coupling": 10.0},
        }[kind],
        kind=kind,
    )


def volts_per_division(span: float) -> float:
    """Smallest of 1, 2, 5, 10 ... [V] with which a span [V] stays within 7.6 divisions."""
    wanted = span / 7.6
    decade = 10 ** math.floor(math.log10(wanted))
    return next(k * decade for k in (1, 2, 5, 10) if k * decade >= wanted * (1 - 1e-12))


def digitise(clean: np.ndarray, scope: Scope, probe: Probe, generator: np.random.Generator) -> Channel:
    """White noise, codes and the converter's ends. A clipping channel is set so that its ends lie inside the waveform."""
    low, high = float(clean.min()), float(clean.max())
    step = volts_per_division(max(high - low, 1e-3)) / CODES_PER_DIVISION
    centre = step * round((high + low) / 2 / step)
    reach = CODES_PER_DIVISION * DIVISIONS // 2
    if probe.clip:
        step = (high - low) * (1 - probe.clip) / (2 * reach)
        centre = step * round((high + low) / 2 / step)
    noisy = clean + generator.normal(0, scope.noise * step, clean.size)
    codes = np.clip(np.round((noisy - centre) / step), -reach, reach)
    return Channel(centre + step * codes, step, scope.noise * step, clean)
