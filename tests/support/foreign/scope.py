# SPDX-License-Identifier: GPL-3.0-or-later
"""Oscilloscopes of four kinds and their probes: from a settled period to a record's values.

A probe acts on one period, harmonic by harmonic; the converter on samples. Figures are common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

Array = np.ndarray

EIGHT_BIT, CURVED, INTERLEAVED, AVERAGED = "8 bit", "bent converter", "interleaved converters", "slow probe, averaged"
CHAINS = (EIGHT_BIT, CURVED, INTERLEAVED, AVERAGED)
POINTS = 4096
"""Of a period, before it is sampled."""


@dataclass(frozen=True)
class Probe:
    """gain [1]; offset [V]; bandwidth [Hz], one pole; slew [V/s], 0 without limit; pole, zero [Hz] of a wrong compensation; ring
    [Hz] with ring_quality: of the ground lead; coupling [Hz]: corner of AC coupling; cut: share of the span beyond the
    converter's ends; kind: what is wrong with it; delay [s]: against the other channels. Of a current probe in amperes."""

    gain: float = 1.0
    offset: float = 0.0
    bandwidth: float = 50e6
    slew: float = 0.0
    pole: float = 0.0
    zero: float = 0.0
    ring: float = 0.0
    ring_quality: float = 1.0
    coupling: float = 0.0
    cut: float = 0.0
    kind: str = "sound"
    delay: float = 0.0

    def seen(self, wave: Array, frequency: float) -> Array:
        """A period of `POINTS` values through the probe, at its repetition frequency [Hz]."""
        if self.slew:
            wave = limited(wave, self.slew / frequency / wave.size)
        s = 1j * np.arange(wave.size // 2 + 1) * frequency
        answer = self.gain / (1 + s / self.bandwidth)
        if self.pole:
            answer = answer * (1 + s / self.zero) / (1 + s / self.pole)
        if self.ring:
            answer = answer / (1 + s / (self.ring * self.ring_quality) + (s / self.ring) ** 2)
        if self.coupling:
            answer = answer * s / (s + self.coupling)
        if self.delay:
            answer = answer * np.exp(-2 * math.pi * s * self.delay)
        return np.fft.irfft(np.fft.rfft(wave) * answer, wave.size) + self.offset


def limited(wave: Array, largest: float) -> Array:
    """A period whose change from value to value is bounded, as it repeats."""
    out, last = np.empty(2 * wave.size), float(wave[0])
    for k, value in enumerate(np.tile(wave, 2).tolist()):
        last += min(max(value - last, -largest), largest)
        out[k] = last
    return out[wave.size :]


def ordinary(chain: str, g: np.random.Generator) -> Probe:
    """Gain within 2 % (two standard deviations); 20 to 100 MHz, or 8 to 20 MHz and 300 to 2000 V/us of a slow one."""
    gain = 1 + 0.02 * float(np.clip(g.normal(0, 0.5), -1, 1))
    if chain == AVERAGED:
        return Probe(gain, bandwidth=float(g.uniform(8e6, 20e6)), slew=float(g.uniform(3e8, 2e9)))
    return Probe(gain, bandwidth=float(g.uniform(20e6, 100e6)))


def clamped(g: np.random.Generator, peak: float) -> Probe:
    """A current probe that shows the mean too: gain within 3 % (two standard deviations), zero within 1 % of the peak [A], 2 to
    50 MHz, 5 to 25 ns late where nobody has set the skew right."""
    gain, zero = (share * float(np.clip(g.normal(0, 0.5), -1, 1)) for share in (0.03, 0.01))
    bandwidth = float(np.exp(g.uniform(math.log(2e6), math.log(50e6))))
    return Probe(1 + gain, offset=zero * peak, bandwidth=bandwidth, delay=float(g.uniform(5e-9, 25e-9)))


KINDS = ("compensation", "ground ringing", "offset", "clipping", "slow", "wrong factor", "AC coupled")


def wrong(g: np.random.Generator, probe: Probe, peak: float, unipolar: bool) -> Probe:
    """A probe with one thing wrong, by as much as would be noticed; AC coupling where the signal has a mean. peak [V]."""
    kind = str(g.choice(KINDS if unipolar else KINDS[:-1]))
    zero, high = float(np.exp(g.uniform(math.log(1.5e3), math.log(60e3)))), float(g.choice([0.75, 1.35]) * g.uniform(0.88, 1.12))
    change: dict[str, float] = {
        "compensation": {"zero": zero, "pole": zero * high},
        "ground ringing": {"ring": float(g.uniform(4e6, 15e6)), "ring_quality": float(g.uniform(3, 8))},
        "offset": {"offset": float(g.choice([-1, 1]) * g.uniform(0.06, 0.2)) * peak},
        "clipping": {"cut": float(g.uniform(0.1, 0.35))},
        "slow": {"bandwidth": float(g.uniform(100e3, 350e3))},
        "wrong factor": {"gain": probe.gain * float(g.choice([0.1, 0.5, 2.0, 10.0]))},
        "AC coupled": {"coupling": 10.0},
    }[kind]
    return replace(probe, **change, kind=kind)


@dataclass(frozen=True)
class Converter:
    """chain: its kind; bits; noise: rms in codes; bow: deviation from a straight line in the middle, share of the span; tooth:
    that of a saw of sixteen teeth; gains, offsets: of each second sample against the others, in shares and codes; averages:
    records that are averaged."""

    chain: str
    bits: int
    noise: float
    bow: float = 0.0
    tooth: float = 0.0
    gains: float = 0.0
    offsets: float = 0.0
    averages: int = 1

    def codes(self, values: Array, cut: float, g: np.random.Generator) -> Array:
        """Values [V] as the file has them; 76 % of the span is in use, or less of the wave is on the screen if some is cut off."""
        low, high = float(values.min()), float(values.max())
        centre, span = (low + high) / 2, max(high - low, 1e-3) * ((1 - cut) if cut else 1 / 0.76)
        levels = 2**self.bits
        total = np.zeros(values.size)
        for _ in range(self.averages):
            x = (values - centre) / span
            x = x + self.bow * (1 - 4 * x**2) + self.tooth * ((16 * x) % 1.0 - 0.5)
            x[1::2] = x[1::2] * (1 + self.gains) + self.offsets / levels
            codes = np.round(x * levels + g.normal(0, self.noise, x.size))
            total += np.clip(codes, -levels // 2, levels // 2 - 1)
        return centre + span * total / self.averages / levels


def converter(chain: str, g: np.random.Generator) -> Converter:
    """8 bit with 0.3 to 1 code of noise; INL of 0.4 to 1 code of bow and 0.5 of saw; two converters 0.2 to 0.8 % and 0.3 to 1.5
    codes apart; 16 averages of 8 bit."""
    noise = float(g.uniform(0.3, 1.0))
    if chain == CURVED:
        bow, tooth = float(g.choice([-1, 1]) * g.uniform(0.4, 1.0)) / 256, float(g.uniform(0.2, 0.5)) / 256
        return Converter(chain, 8, noise, bow=bow, tooth=tooth)
    if chain == INTERLEAVED:
        return Converter(chain, 8, noise, gains=float(g.uniform(2e-3, 8e-3)), offsets=float(g.uniform(0.3, 1.5)))
    return Converter(chain, 8, noise, averages=16 if chain == AVERAGED else 1)


@dataclass(frozen=True)
class Clock:
    """samples over a number of periods; trigger: phase of the first; error: of the time base [1]; jitter [s]."""

    samples: int
    periods: float
    trigger: float
    error: float
    jitter: float


def clock(g: np.random.Generator, fastest: float, length: float = 0.0) -> Clock:
    """1k to 100k samples over 5 to 50 periods, 50 a period at least and six to a cycle of the fastest thing to be seen, given in
    its cycles a period; length: in periods, where something slow asks for it."""
    periods = length or float(g.uniform(5, 20 if fastest else 50))
    finest = max(50.0, 6 * fastest)
    fit = [n for n in (1_000, 2_500, 5_000, 10_000, 25_000, 50_000, 100_000) if n >= finest * periods][:4] or [100_000]
    return Clock(int(g.choice(fit)), periods, float(g.random()), float(g.normal(0, 10e-6)), float(10 ** g.uniform(-10, -9)))
