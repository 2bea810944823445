# SPDX-License-Identifier: GPL-3.0-or-later
"""Lines of a record: the complex amplitudes of its harmonics by least squares, with what noise leaves them uncertain.

A record is x_k = sum over n of c_n exp(i n phi(t_k)) + noise, n = -count..count, c_-n = conj(c_n). The samples need not be
even nor the periods whole: the normal equations have the matrix G_mn = sum over k of exp(i (n - m) phi_k), which is
Toeplitz, and their solution has the covariance sigma^2 G^-1 for white noise of variance sigma^2 (ordinary least squares).

The phase phi is 2 pi f t. The frequency f is refined until the fundamental's phase, taken in blocks along the record,
neither rises nor falls. The amplitude modulation of a record (supply ripple) is followed, and so is a frequency that jumps
(`wander.py`): amplitude and phase along time
come from the same blocks, and the lines are those of the wave at its mean amplitude. In a record of less than `SHORT` periods
frequency and lines are found together (`short.py`), and their errors are tied.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from heatsim.measures.short import FINAL_SAMPLES, REACH, SHORT, Shift, shifts_of, short_fit, thinned
from heatsim.measures.solving import Complex, solved_lines, wave_of
from heatsim.measures.wander import FrequencyWander, frequency_wander
from heatsim.waves import Array

MOST_BLOCKS = 400
"""Blocks along a record are a period long, in longer records more."""

MODULATED = 25.0
"""Gain in chi-square by a sinusoid along the blocks' amplitudes from which a record counts as modulated: by chance (three
parameters, some 200 frequencies tried) it is passed once in some 1e3 records."""

LEAST_MODULATION = 2e-3
"""Smallest amplitude of a modulation that counts, as a share: half of peak to peak."""


@dataclass(frozen=True)
class AmplitudeModulation:
    """How the fundamental's amplitude varies along a record.

    amplitude: half of peak to peak, as a share of the mean [1]; error: its standard error [1]
    frequency: [Hz]
    gain: in chi-square over a constant amplitude [1]
    """

    amplitude: float
    error: float
    frequency: float
    gain: float


@dataclass(frozen=True)
class Lines:
    """Harmonics of a record.

    frequency: [Hz]; frequency_error: its standard error [Hz]
    lines: signal -> complex peak amplitudes of the orders 0 (mean, real) to count, x(t) = c_0 + Re sum c_n exp(i n phi),
    phi = 0 where the reference signal's fundamental has its crest
    noise: signal -> rms of what does not repeat (in less than two periods: of the residual)
    variance: of the real and of the imaginary part of each line for noise of unit rms, shape (count + 1,)
    modulation: None for a steady record
    wander: of the frequency, None where it is steady
    phase: phi at each sample [rad]; scale: amplitude at each sample over the mean one [1]
    together: errors that frequency and lines share in a short record, beside those of the noise at a known frequency; empty for
        longer ones
    """

    frequency: float
    frequency_error: float
    lines: Mapping[str, Complex]
    noise: Mapping[str, float]
    variance: Array
    modulation: AmplitudeModulation | None
    phase: Array
    scale: Array
    together: tuple[Shift, ...] = ()
    wander: FrequencyWander | None = None

    def error(self, signal: str) -> Array:
        """Standard error of the real or imaginary part of each line at a known frequency [unit], shape (count + 1,)."""
        return np.asarray(self.noise[signal] * np.sqrt(self.variance))

    def errors(self, signal: str) -> Complex:
        """Standard errors of the real and, as imaginary part, of the imaginary part of each line with all of `together`."""
        own = self.error(signal)
        real, imaginary = (np.array([own, *(part(each.lines[signal]) for each in self.together)]) for part in (np.real, np.imag))
        return np.asarray(np.sqrt(np.sum(real**2, axis=0)) + 1j * np.sqrt(np.sum(imaginary**2, axis=0)))


def record_lines(
    time: Array, signals: Mapping[str, Array], frequency: float, count: int, reference: str, together: bool = False
) -> Lines:
    """Lines of every signal on one time axis.

    time: [s], shape (n,)
    frequency: within half a period over the whole record, within a quarter of it in a short one [Hz]
    count: highest order
    reference: the signal that phase and modulation are taken from
    together: find frequency and lines together in a longer record as well, where it is not sure what repeats
    Raises ValueError for a record that is constant or too short: it needs a period and three samples for every line.
    """
    if (time[-1] - time[0]) * frequency < 1.0 - REACH or time.size < 3 * (2 * count + 1):
        raise ValueError("the record is too short for its lines")
    if not np.ptp(signals[reference]):
        raise ValueError("the record does not alternate")
    centred = time - 0.5 * (time[0] + time[-1])
    if together or (time[-1] - time[0]) * frequency < SHORT:
        return _short(centred, signals, frequency, count, reference)
    frequency, blocks = _refined(centred, signals[reference], frequency)
    modulation = _modulation(blocks, frequency)
    phase, scale = 2 * math.pi * frequency * centred, np.ones_like(time)
    wander = _wander(blocks, frequency, modulation)
    if wander is not None:
        modulation = None  # what jumps is no ripple
        phase = phase + np.interp(centred, blocks.middle, blocks.phase)
        scale = np.interp(centred, blocks.middle, blocks.amplitude)
        scale = scale / float(np.mean(scale))
    elif modulation is not None:
        phase = phase + _smooth(blocks, centred, modulation, blocks.phase)
        scale = _smooth(blocks, centred, modulation, blocks.amplitude)
        scale = scale / float(np.mean(scale))
    solved, left, variance = solved_lines(phase, scale, signals, count)
    noise = {name: _noise(phase, rest, count) for name, rest in left.items()}
    turn = float(np.angle(solved[reference][1]))
    phase = phase + turn
    orders = np.arange(count + 1)
    lines = {name: c * np.exp(-1j * orders * turn) for name, c in solved.items()}
    error = _frequency_error(centred, float(np.abs(lines[reference][1])), noise[reference])
    return Lines(frequency, error, lines, noise, variance, modulation, phase, scale, wander=wander)


def _short(centred: Array, signals: Mapping[str, Array], frequency: float, count: int, reference: str) -> Lines:
    """Lines of a short record; no amplitude modulation is told in it."""
    few, means, group = thinned(centred, signals, FINAL_SAMPLES)
    found = short_fit(few, means, frequency, count)
    turn = float(np.angle(found.lines[reference][1]))
    turned = np.exp(-1j * np.arange(count + 1) * turn)
    together = tuple(
        Shift(each.frequency, {name: c[: count + 1] for name, c in each.lines.items()})
        for each in shifts_of(found, few, means, reference)
    )
    error = math.sqrt(sum(each.frequency**2 for each in together))
    lines = {name: c[: count + 1] * turned for name, c in found.lines.items()}
    noise = {name: math.sqrt(group) * each for name, each in found.noise.items()}
    phase = 2 * math.pi * found.frequency * centred + turn
    return Lines(
        found.frequency, error, lines, noise, found.variance[: count + 1] / group, None, phase, np.ones_like(phase), together
    )


def _frequency_error(centred: Array, amplitude: float, noise: float) -> float:
    """Cramer-Rao bound of a sinusoid's frequency [Hz] in white noise: var(w) = 2 sigma^2/(A^2 sum t^2) (D. C. Rife, R. R.
    Boorstyn, IEEE Trans. Inf. Theory 20, 1974, p. 591; memory)."""
    return float(noise / amplitude * math.sqrt(2 / np.dot(centred, centred)) / (2 * math.pi))


@dataclass(frozen=True)
class _Blocks:
    """Blocks along a record: middle [s], amplitude, phase [rad] less the steady one, and their errors in amplitude."""

    middle: Array
    amplitude: Array
    phase: Array
    error: Array


def _blocks(centred: Array, samples: Array, frequency: float) -> _Blocks:
    """Amplitude and phase of the fundamental block by block; mean, second and third harmonic are fitted beside it."""
    span = centred[-1] - centred[0]
    number = int(np.clip(round(span * frequency), 1, MOST_BLOCKS))
    edges = np.linspace(centred[0], centred[-1], number + 1)
    cuts = np.searchsorted(centred, edges)
    cuts[-1] = centred.size
    turning = np.exp(2j * math.pi * frequency * centred)
    middle, found, error = np.empty(number), np.empty(number, complex), np.empty(number)
    for k in range(number):
        piece = slice(cuts[k], cuts[k + 1])
        z = turning[piece]
        design = np.column_stack([np.ones(z.size), *(part for n in (1, 2, 3) for part in ((z**n).real, (z**n).imag))])
        solution, _, rank, _ = np.linalg.lstsq(design, samples[piece], rcond=None)
        left = samples[piece] - design @ solution
        middle[k] = float(np.mean(centred[piece]))
        found[k] = complex(solution[1], -solution[2])
        error[k] = math.sqrt(2 * float(left @ left) / max(left.size - int(rank), 1) / left.size)
    return _Blocks(middle, np.abs(found), np.unwrap(np.angle(found)), np.full(number, float(np.median(error))))


def _refined(centred: Array, samples: Array, frequency: float) -> tuple[float, _Blocks]:
    """Frequency at which the blocks' phase neither rises nor falls, and the blocks there."""
    blocks = _blocks(centred, samples, frequency)
    for _ in range(4):
        slope = float(np.polyfit(blocks.middle, blocks.phase, 1)[0]) / (2 * math.pi)
        frequency += slope
        if abs(slope) < 1e-9 * frequency:
            break
        blocks = _blocks(centred, samples, frequency)
    return frequency, blocks


def _modulation(blocks: _Blocks, frequency: float) -> AmplitudeModulation | None:
    """The sinusoid along the blocks' amplitudes that explains most, if it explains enough."""
    number = blocks.middle.size
    if number < 5:
        return None
    share = blocks.amplitude / float(np.mean(blocks.amplitude)) - 1
    sigma = np.maximum(blocks.error / float(np.mean(blocks.amplitude)), 1e-7)
    length = (blocks.middle[-1] - blocks.middle[0]) * number / (number - 1)
    base = float(np.sum(((share - np.mean(share)) / sigma) ** 2))
    error = float(np.mean(sigma)) * math.sqrt(2 / number)
    found = AmplitudeModulation(0.0, error, 0.0, -math.inf)
    for cycles in np.arange(0.5, max(min(0.4 * number, 60.0), 0.6), 0.1):
        w = 2 * math.pi * cycles / length
        design = np.column_stack([np.ones(number), np.cos(w * blocks.middle), np.sin(w * blocks.middle)])
        solution = np.linalg.lstsq(design, share, rcond=None)[0]
        gain = base - float(np.sum(((share - design @ solution) / sigma) ** 2))
        if gain > found.gain:
            size = min(float(np.hypot(solution[1], solution[2])), 1.5 * float(np.ptp(share)))
            found = AmplitudeModulation(size, error, float(w / (2 * math.pi)), gain)
    return found if found.gain > MODULATED and found.amplitude > LEAST_MODULATION else None


def _wander(blocks: _Blocks, frequency: float, modulation: AmplitudeModulation | None) -> FrequencyWander | None:
    error = blocks.error / float(np.mean(blocks.amplitude))
    return frequency_wander(blocks.middle, blocks.phase, error, frequency, modulation.amplitude if modulation else 0.0)


def _smooth(blocks: _Blocks, at: Array, modulation: AmplitudeModulation, values: Array) -> Array:
    """The blocks' values along the record: constant, slope and two harmonics of the modulation through them."""
    w = 2 * math.pi * modulation.frequency

    def design(t: Array) -> Array:
        parts = [f(k * w * t) for k in (1, 2) for f in (np.cos, np.sin)]
        return np.column_stack([np.ones(t.size), *parts])

    solution = np.linalg.lstsq(design(blocks.middle), values, rcond=1e-6)[0]
    return np.asarray(design(at) @ solution)


def _noise(phase: Array, left: Array, count: int) -> float:
    """Rms of white noise in a residual that may hold content above the lines, too: half the mean square of the differences
    between samples next to each other in phase, which come from different periods, so that what repeats drops out."""
    whole = float(np.sqrt(np.dot(left, left) / max(left.size - 2 * count - 2, 1)))
    if phase[-1] - phase[0] < 4 * math.pi:
        return whole
    differences = np.diff(left[np.argsort(phase % (2 * math.pi))])
    return min(whole, float(np.sqrt(np.mean(differences**2) / 2)))


def lines_of_period(time: Array, samples: Array, count: int, turn: float = 0.0) -> Complex:
    """Lines of one period given from section to section, by straight lines between its samples on a fine even grid.

    time [s], shape (n,): one period, its last instant the first of the next; turn [rad]: taken off the phase.
    """
    grid = np.linspace(time[0], time[-1], GRID + 1)[:-1]
    found = np.fft.rfft(np.interp(grid, time, samples))[: count + 1] / GRID
    found[1:] *= 2
    return np.asarray(found * np.exp(-1j * np.arange(count + 1) * turn))


BANDS = (26, 50, 75, 100, 150, 200)
"""Orders between which the content above the lines is summed: edges and their ringing, of which only the size is compared."""


def band_powers(lines: Complex) -> Array:
    """Mean square of a wave's content in each of `BANDS`, from lines up to the last of them, shape (len(BANDS) - 1,)."""
    power = 0.5 * np.abs(lines) ** 2
    return np.array([float(np.sum(power[a:b])) for a, b in pairwise(BANDS)])


def record_bands(found: Lines, signal: str, samples: Array, highest: float) -> tuple[Array, Array]:
    """Mean square of a record's content in each of `BANDS` that ends at or below order `highest`, and the share of it to be
    expected of white noise alone, shape (bands,) each, in the signal's unit squared.

    From what the lines leave, folded into one period where samples are many; noise is what is left beside these orders, too.
    """
    used = [edges for edges in pairwise(BANDS) if edges[1] <= highest]
    if not used:
        return np.zeros(0), np.zeros(0)
    left = samples / found.scale - wave_of(found.lines[signal], found.phase)
    count, angle = left.size, found.phase
    sums = left
    if count > 3 * GRID:
        place = np.floor((angle / (2 * math.pi)) % 1.0 * GRID).astype(int)
        sums, angle = np.bincount(place, left, GRID).astype(np.float64), 2 * math.pi * (np.arange(GRID) + 0.5) / GRID
    z = np.exp(-1j * angle)
    power, sizes = z ** used[0][0], np.zeros(used[-1][1])
    for n in range(used[0][0], used[-1][1]):
        sizes[n] = 2 * abs(complex(power @ sums) / count) ** 2
        power = power * z
    total = float(np.sum(sizes))
    orders = used[-1][1] - used[0][0]
    white = max((float(left @ left) / count - total) / max(1 - 2 * orders / count, 0.2), 0.0)
    return (np.array([float(np.sum(sizes[a:b])) for a, b in used]), np.array([(b - a) * 2 * white / count for a, b in used]))


GRID = 4096
"""Points of a period on an even grid: straight lines between simulated steps, which crowd where edges are."""
