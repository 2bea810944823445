# SPDX-License-Identifier: GPL-3.0-or-later
"""A captured ramp made ready for fitting: zero, step, code width, noise, clipping, and first rough values.

Nothing here needs a form of saturation; what it does to the record it says in `flags`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray, running_integral
from heatsim.scenario.ringtest import RampCapture, RingTest
from heatsim.waves.capture import code_width, local_noise

MOST = 1500
"""Samples fitted; longer records are averaged in blocks, their noise with them."""

Flag = tuple[str, str]
"""Short key, and a sentence."""


class RoughValues(NamedTuple):
    """Starting values: step time [s], zero of the current [A], L0 [H], current of half L0 [A]."""

    step: float
    offset: float
    zero: float
    half: float


class Drive(NamedTuple):
    """A recorded voltage, its zero taken off: integral [V s] at instants [s]; level during the ramp [V]; standard errors of
    its zero [V] and of its scale [1]."""

    time: FloatArray
    volt_seconds: FloatArray
    level: float
    zero_error: float
    gain_error: float


@dataclass(frozen=True)
class Ramp:
    """Samples to fit and what is known of them.

    time [s], current [A]; block: samples averaged into each; voltage: of the step [V]; drive: the recorded voltage, None
    where it is merely stated; flat: number of samples (before averaging) ahead of the step; lsb: code width [A], 0 when
    none is seen; noise: rms [A], stated or a first estimate; dither: its part that is not quantisation [A], as neighbouring
    samples show it.
    """

    time: FloatArray
    current: FloatArray
    block: int
    voltage: float
    drive: Drive | None
    flat: int
    lsb: float
    noise: float
    noise_stated: bool
    dither: float
    rough: RoughValues
    flags: tuple[Flag, ...]


class _Record(NamedTuple):
    time: FloatArray
    current: FloatArray
    voltage: FloatArray | None

    def part(self, rows: Any) -> _Record:
        """The samples at `rows`."""
        return _Record(self.time[rows], self.current[rows], None if self.voltage is None else self.voltage[rows])


def quantisation_memory(noise: float, lsb: float) -> float:
    """Share [1] of the quantisation error that neighbouring samples of the same true value have in common.

    (6/pi2) sum over k of exp(-(2 pi k noise/lsb)^2)/k^2: one without noise, below 2 % from noise = 0.3 lsb rms on.
    Follows from the Fourier series of a quantiser's mean error under Gaussian dither (Widrow and Kollar,
    Quantization Noise, 2008; memory).
    """
    if lsb <= 0.0:
        return 0.0
    k = np.arange(1, 400)
    return float(6 / np.pi**2 * np.sum(np.exp(-((2 * np.pi * k * noise / lsb) ** 2)) / k**2))


def prepare(test: RingTest) -> Ramp:
    """Make the capture of a test ready; InputError when it holds no ramp that could be read."""
    capture, table = test.capture, test.tables.ramp
    assert capture is not None and table is not None
    flags: list[Flag] = []
    if capture.joined:
        flags.append(("joined", f"{capture.joined} samples shared a time stamp with their neighbour; averaged"))
    lsb = table.full_scale / 2**table.bits if table.full_scale and table.bits else code_width(capture.current)
    record = _without_clipping(_Record(capture.time, capture.current, capture.voltage), lsb, flags)
    record = _without_spikes(_upright(record, flags), lsb, flags)
    first, slope = _edge(record, capture)
    if record.voltage is None:
        record = _rise_only(record, lsb, flags)
    time, current, volts = record
    flat = _flat_samples(time, current, first, slope)
    if not flat:
        first = float(time[0]) - max(float(np.mean(current[:5])), 0.0) / max(slope, 1e-30)
        assumed = "the zero of the current cannot be checked and is taken as right within a code or 1 % of the record"
        flags.append(("no-flat-part", f"no flat part before the step: {assumed}"))
    seen, least = local_noise(time, current), 1e-6 * float(np.ptp(current))
    drive = None if volts is None else _drive(time, volts, flat, flags)
    level = drive.level if drive else float(table.voltage or 0.0)
    block = int(np.ceil(time.size / MOST))
    return Ramp(
        time=_averaged(time, block),
        current=_averaged(current, block),
        block=block,
        voltage=level,
        drive=drive,
        flat=flat,
        lsb=lsb,
        noise=max(seen, 0.29 * lsb, least) if table.noise is None else max(table.noise, least),
        noise_stated=table.noise is not None,
        dither=float(np.sqrt(max(seen**2 - lsb**2 / 12, 0.0))) if table.noise is None else table.noise,
        rough=_rough(record, first, flat, level, drive),
        flags=tuple(flags),
    )


def _averaged(values: FloatArray, block: int) -> FloatArray:
    whole = values.size // block * block
    return np.asarray(values[:whole].reshape(-1, block).mean(axis=1))


def _smooth(values: FloatArray, width: int) -> FloatArray:
    """Running median over an odd width."""
    from scipy.ndimage import median_filter

    return np.asarray(median_filter(values, size=width | 1, mode="nearest"), dtype=float)


def _slope(time: FloatArray, current: FloatArray) -> float:
    """Slope [A/s] of the straight line through some samples; 0 when there are too few."""
    return 0.0 if time.size < 4 else float(np.polyfit(time - time.mean(), current, 1)[0])


def _without_clipping(record: _Record, lsb: float, flags: list[Flag]) -> _Record:
    """Cut the record where the current sits at the top of the screen: many samples at exactly its greatest value, and
    rising into it as steeply as before; a current that settles bends over instead."""
    time, current, _ = record
    away = current - np.median(current[:8])
    sign = 1.0 if np.max(away) >= -np.min(away) else -1.0
    current = sign * current
    top = np.flatnonzero(current == np.max(current))
    fewest = max(6, int(0.01 * current.size))
    if top.size < fewest or lsb == 0.0 and top.size < 3 * fewest:
        return record
    start = int(top[0])
    width = max(6, start // 6)
    ends = [max(0, start - k * width) for k in (0, 1, 2)]
    slope, earlier = (_slope(time[a:b], current[a:b]) for b, a in zip(ends[:-1], ends[1:], strict=True))
    missed = slope * (time[top[-1]] - time[start])
    if missed < max(4 * lsb, 0.01 * np.ptp(current)) or slope < 0.65 * earlier:
        return record
    text = f"clipped at {sign * np.max(current):.4g} A, from {time[start]:.4g} s on; only what comes before was used"
    flags.append(("clipped", text))
    return record.part(slice(0, max(start - 2, 1)))


def _upright(record: _Record, flags: list[Flag]) -> _Record:
    """The record with current and voltage rising to positive values."""
    time, current, volts = record
    smooth = _smooth(current, max(5, current.size // 100))
    away = smooth - np.median(smooth[: max(4, current.size // 50)])
    if np.max(away) < -np.min(away):
        flags.append(("reversed", "the current falls from zero: taken as a probe the other way round"))
        current = -current
    if volts is not None and running_integral(volts, time)[-1] < 0:
        volts = -volts
    return _Record(time, current, volts)


def _without_spikes(record: _Record, lsb: float, flags: list[Flag]) -> _Record:
    """Lone samples more than 10 noise rms from the running median are dropped when they are fewer than one in 50."""
    time, current, _ = record
    away = np.abs(current - _smooth(current, 5))
    wild = away > 10 * max(local_noise(time, current), lsb, 1e-6 * float(np.ptp(current)))
    if not wild.any() or wild.sum() > 0.02 * current.size:
        return record
    flags.append(("spikes", f"{int(wild.sum())} lone samples far from their neighbours were left out"))
    return record.part(~wild)


def _edge(record: _Record, capture: RampCapture) -> tuple[float, float]:
    """Instant [s] the ramp leaves zero, the line through its first tenth drawn back to the level before it; and the slope
    [A/s] of that line."""
    time, current, _ = record
    smooth = _smooth(current, max(3, current.size // 150))
    zero = float(np.median(smooth[: max(3, current.size // 60)]))
    span = float(np.max(smooth) - zero)
    above = smooth - zero > 0.06 * span
    if span <= 0 or time.size < 20 or above.sum() < 12 or not above[-12:].any():
        wanted = "a ramp of 20 samples or more, most of them after the step and below the top of the screen"
        raise InputError.single(capture.label, "holds no rising current", f"{np.ptp(current):g} A in all", wanted)
    low = min(int(np.argmax(above)), time.size - 12)
    high = max(int(np.argmax(smooth - zero > 0.16 * span)), low + 3)
    slope, level = np.polyfit(time[low : high + 1] - time[low], current[low : high + 1], 1)
    if slope <= 0:
        return float(time[low]), 0.0
    return float(min(time[low] - (level - zero) / slope, time[low])), float(slope)


def _flat_samples(time: FloatArray, current: FloatArray, first: float, slope: float) -> int:
    """Number of samples ahead of the step; 0 unless there are eight that clearly rise less than the ramp does."""
    count = int(np.sum(time < first))
    if count < 8:
        return 0
    own = _slope(time[:count], current[:count])
    error = local_noise(time, current) / float(np.std(time[:count]) * np.sqrt(count))
    return count if own + 2 * error < 0.6 * slope else 0


def _rise_only(record: _Record, lsb: float, flags: list[Flag]) -> _Record:
    """Cut off what follows when the current falls again: the step is over then."""
    time, current, _ = record
    smooth = _smooth(current, max(5, current.size // 100))
    peak = int(np.argmax(smooth))
    drop = smooth[peak] - np.min(smooth[peak:])
    if drop < max(0.06 * np.ptp(smooth), 4 * lsb):
        return record
    flags.append(("falls", f"the current falls after {time[peak]:.4g} s; only its rise was used"))
    return record.part(slice(0, max(peak - max(2, current.size // 100), 20)))


def _drive(time: FloatArray, volts: FloatArray, flat: int, flags: list[Flag]) -> Drive:
    """The recorded voltage with its level during the ramp, and what is not known of its zero and scale."""
    width, noise = code_width(volts), local_noise(time, volts)
    memory = quantisation_memory(np.sqrt(max(noise**2 - width**2 / 12, 0.0)), width)
    common = memory * width**2 / 12
    quiet = _quiet_samples(volts) if flat else 0
    zero, zero_error = 0.0, np.sqrt(common) + 0.5 * width
    if quiet >= 6:
        zero, zero_error = float(np.mean(volts[:quiet])), float(np.sqrt(common + noise**2 / quiet))
    else:
        flags.append(("no-voltage-zero", "no quiet part in the voltage: its zero is taken as right within half a code"))
    level = float(np.median(volts[flat + 2 :])) - zero
    if level <= 0:
        what, wanted = "the recorded voltage does not rise with the current", "voltage across the choke, rising at the step"
        raise InputError.single("ramp", what, f"{level:g} V", wanted)
    gain_error = float(np.sqrt(common + noise**2 / max(time.size - flat, 1)) / level)
    return Drive(time, running_integral(volts - zero, time), level, float(zero_error), gain_error)


def _quiet_samples(volts: FloatArray) -> int:
    """Number of samples before the voltage's own edge, at a quarter of its swing, less a margin."""
    smooth = _smooth(volts, 3)
    base, top = float(np.median(smooth[:4])), float(np.quantile(smooth, 0.9))
    edge = int(np.argmax(smooth - base > 0.25 * (top - base)))
    return max(edge - max(2, edge // 20), 0)


def _rough(record: _Record, edge: float, flat: int, level: float, drive: Drive | None) -> RoughValues:
    """First values by the slope of the current over the ramp in some 24 pieces, resistance left out."""
    time, current, _ = record
    offset = float(np.median(current[: max(flat - 2, 1)])) if flat else 0.0
    ends = np.unique(np.linspace(flat, time.size - 1, 25).astype(int))
    pieces = [slice(a, b) for a, b in zip(ends[:-1], ends[1:], strict=True) if b - a >= 2]
    times = np.array([time[piece].mean() for piece in pieces])
    means = np.array([current[piece].mean() for piece in pieces]) - offset
    volt_seconds = np.interp(times, time, drive.volt_seconds) if drive else level * times
    rise = np.diff(means)
    slopes = np.where(rise > 0, np.diff(volt_seconds) / np.where(rise > 0, rise, 1.0), np.inf)
    finite = slopes[np.isfinite(slopes) & (slopes > 0)]
    if finite.size == 0:
        raise InputError.single("ramp", "the current does not rise after the step", allowed="a rising ramp")
    zero = float(np.median(slopes[:6][np.isfinite(slopes[:6])])) if np.isfinite(slopes[:6]).any() else float(finite[0])
    low = np.flatnonzero(slopes < 0.5 * zero)
    half = float(means[low[0]]) if low.size and means[low[0]] > 0 else 1.5 * float(np.max(means))
    return RoughValues(edge, offset, max(zero, 1e-12), max(half, 1e-9))
