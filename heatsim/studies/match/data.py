# SPDX-License-Identifier: GPL-3.0-or-later
"""What a record says, as one vector with its covariance, and what a simulated response says in the same coordinates.

The vector of a record: log frequency; log of the reference signal's fundamental; then for each signal its mean and harmonics as
shares of that fundamental, real and imaginary parts, and its rms in bands above them; then the logs of what meters read beside it.
The reference is the tank voltage, else a drain, a choke's current, a gate: a share of a current under a voltage is in siemens. Its
own fundamental says nothing more and is left out. An amplitude modulation (supply ripple) is kept beside the vector.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from heatsim.measures.lines import BANDS, AmplitudeModulation, Lines, record_bands
from heatsim.measures.short import Shift
from heatsim.measures.solving import Complex
from heatsim.studies.match.solver import COUNT
from heatsim.waves import Array

HIGHEST = 25
"""Highest order that is compared: above it strays and probes speak, not the stage."""

HIGHEST_OF_CURRENT = 8
"""The same of a choke's current, whose lines fall with the square of their order: above it a current probe and pick-up speak."""

SAMPLES_PER_LINE = 3.0
"""Samples of a period for its highest line: at least."""

WITHOUT_BANDS = ("gate", "choke")
"""Kinds of signals whose rms above the lines is not compared: it is the probes' and the strays'."""

TINY = 1e-14
"""Mean square of a band below which there is nothing, as a share."""

MODULATION_FLOOR = 1e-3
"""Amplitude modulation of a record that needs no ripple to explain it, as a share."""


ORDER = ("tank", "drain", "choke", "gate")
"""Kinds of signals by their fitness as a reference."""


def kind_of(signal: str) -> str:
    """One of `ORDER`."""
    return signal.split(".")[0]


def ranked(signal: str) -> tuple[int, str]:
    """Sorts signals by their fitness as a reference."""
    return ORDER.index(kind_of(signal)), signal


@dataclass(frozen=True)
class Layout:
    """Which lines of which signals the vector holds.

    orders: signal -> its orders, reference first
    quiet: signal -> mean square of the record's noise in each band compared, over the reference's fundamental squared
    meters: places among `metered_keys` of what meters read beside the record
    sizes: signal -> its mean and its fundamental in the record, over the reference's [1, of a current S]
    """

    orders: Mapping[str, Array]
    quiet: Mapping[str, Array]
    sizes: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    meters: tuple[int, ...] = ()

    @property
    def reference(self) -> str:
        """The signal the others are measured by."""
        return next(iter(self.orders))

    @property
    def size(self) -> int:
        """Length of the vector."""
        return 2 + sum(2 * orders.size + self.quiet[name].size for name, orders in self.orders.items()) + len(self.meters)

    def vector(
        self,
        frequency: Array | float,
        lines: Mapping[str, Complex],
        bands: Mapping[str, Array],
        meters: Array | Sequence[float] = (),
    ) -> Array:
        """The vector of lines [V or A] in any common phase and rms in bands, without noise [V or A]. A band stands as half the log
        of its mean square together with the record's noise, as shares: what drowns in noise says nothing. meters: logs of what
        `meters` stand for. All may have axes in front, for vectors of several responses."""
        first = np.asarray(lines[self.reference])[..., 1:2]
        size, turn = np.abs(first), np.angle(first)
        parts = [np.log(np.asarray(frequency))[..., np.newaxis], np.log(np.maximum(size, 1e-12))]
        for name, orders in self.orders.items():
            shares = lines[name][..., orders] * np.exp(-1j * orders * turn) / size
            quiet = self.quiet[name]
            parts += [shares.real, shares.imag, 0.5 * np.log((bands[name][..., : quiet.size] / size) ** 2 + quiet + TINY)]
        return np.concatenate([*parts, np.asarray(meters, dtype=float)], axis=-1)

    def spread(self, each: Mapping[str, Array], level: Sequence[float], bands: Mapping[str, Array], meters: float = 0.0) -> Array:
        """A vector of standard deviations from those of each line's share, real and imaginary alike, of the bands, and of every
        meter."""
        parts = [np.array(level, dtype=float)]
        for name, orders in self.orders.items():
            parts += [each[name][orders], each[name][orders], bands[name][: self.quiet[name].size]]
        return np.concatenate([*parts, np.full(len(self.meters), meters)])

    def edges(self, sizes: Array) -> list[Array]:
        """Vectors of an impulse where the tank's voltage crosses zero, there and back, in each signal: what samples that meet an
        edge at the same places in every period make of it. sizes: of the lines, as `aliasing` gives them."""
        found = []
        for (real, imaginary), orders in zip(self.pairs(), self.orders.values(), strict=True):
            for place in (0.5 * math.pi, -0.5 * math.pi):
                edge = np.zeros_like(sizes)
                edge[real] = sizes[real] * np.cos(orders * place)
                edge[imaginary] = -sizes[imaginary] * np.sin(orders * place)
                found.append(edge)
        return found

    def pairs(self) -> list[tuple[slice, slice]]:
        """Where the real and the imaginary parts of each signal's lines stand."""
        found, at = [], 2
        for name, orders in self.orders.items():
            found.append((slice(at, at + orders.size), slice(at + orders.size, at + 2 * orders.size)))
            at += 2 * orders.size + self.quiet[name].size
        return found


@dataclass(frozen=True)
class Observation:
    """One record.

    layout: of the vector
    vector, noise: its values and standard deviations, shape (n,) each
    modulation: of the amplitude along the record, None for a steady one
    clipped: signal -> lowest and highest value [V or A] the record can show, None where it is not cut off
    density: samples a period
    lines: as found
    together: of a short record, what frequency and lines share of their errors at one standard deviation each, shape (k, n); no
        rows for longer ones
    """

    layout: Layout
    vector: Array
    noise: Array
    modulation: AmplitudeModulation | None
    clipped: Mapping[str, tuple[float | None, float | None]]
    density: float
    lines: Lines = field(repr=False)
    together: Array = field(default_factory=lambda: np.zeros((0, 0)))

    @property
    def error(self) -> Array:
        """Standard deviation of each number, what they share included, shape (n,)."""
        return np.sqrt(self.noise**2 + np.sum(self.together**2, axis=0)) if self.together.size else self.noise

    @property
    def frequency(self) -> float:
        """Of the tank [Hz]."""
        return self.lines.frequency

    @property
    def periods(self) -> float:
        """Of the record."""
        return float(np.ptp(self.lines.phase) / (2 * math.pi))

    @property
    def duration(self) -> float:
        """Of the record [s]."""
        return self.periods / self.frequency


def order_limit(samples_per_period: float) -> int:
    """Highest order that a record can show."""
    return int(np.clip(samples_per_period / SAMPLES_PER_LINE, 3, HIGHEST))


def observed(
    lines: Lines,
    samples: Mapping[str, Array],
    highest: float,
    clipped: Mapping[str, tuple[float | None, float | None]] | None = None,
) -> Observation:
    """The observation of a record's lines and samples [V or A]; highest: order up to which its samples say anything.

    In a short record the bands are not compared: over less than two periods they are not told from noise. Nor are those of gates
    and currents, which are the probes' and the strays'.
    """
    names = sorted(lines.lines, key=ranked)
    most = min(next(iter(lines.lines.values())).size - 1, HIGHEST)
    last_order = {name: min(most, HIGHEST_OF_CURRENT) if name.endswith("current") else most for name in names}
    orders = {name: np.array([n for n in range(last_order[name] + 1) if k > 0 or n != 1]) for k, name in enumerate(names)}
    size = abs(complex(lines.lines[names[0]][1]))
    last = {name: 0.0 if lines.together or kind_of(name) in WITHOUT_BANDS else highest for name in names}
    bands = {name: record_bands(lines, name, samples[name], last[name]) for name in names}
    sizes = {name: (float(abs(lines.lines[name][0])) / size, float(abs(lines.lines[name][1])) / size) for name in names}
    layout = Layout(orders, {name: noise / size**2 for name, (_, noise) in bands.items()}, sizes)
    unsteady = 0.02 * lines.modulation.amplitude if lines.modulation else 0.0
    shares = {name: np.hypot(lines.error(name) / size, unsteady * np.abs(lines.lines[name]) / size) for name in names}
    amplitude = float(np.hypot(lines.error(names[0])[1] / size, 5 * unsteady))
    counts = np.diff(np.array(BANDS))
    # a band's mean square is a sum of exponential variables: the log of its root deviates by 1/2 over the root of their number
    noise = layout.spread(
        shares,
        (0.0 if lines.together else math.hypot(lines.frequency_error / lines.frequency, 0.2 * unsteady), amplitude),
        {name: 0.5 / np.sqrt(counts) for name in names},
    )
    plain = {name: np.sqrt(np.maximum(power - own, 0.0)) for name, (power, own) in bands.items()}
    vector = layout.vector(lines.frequency, lines.lines, plain)
    together = np.array([_moved(layout, lines, each, plain) for each in lines.together]).reshape(-1, vector.size)
    return Observation(layout, vector, noise, lines.modulation, dict(clipped or {}), SAMPLES_PER_LINE * highest, lines, together)


def with_meters(observation: Observation, places: Sequence[int], logs: Sequence[float], errors: Sequence[float]) -> Observation:
    """An observation with what meters read beside it: places among `metered_keys`, logs of the readings [SI] and their standard
    deviations."""
    old = observation
    together = np.hstack([old.together, np.zeros((len(old.together), len(places)))]) if old.together.size else old.together
    return replace(
        old,
        layout=replace(old.layout, meters=tuple(places)),
        vector=np.concatenate([old.vector, logs]),
        noise=np.concatenate([old.noise, errors]),
        together=together,
    )


def _moved(layout: Layout, lines: Lines, shift: Shift, bands: Mapping[str, Array]) -> Array:
    """By how much a shift of frequency and lines moves the vector: half of what lies between it there and back, shape (n,)."""
    there, back = (
        layout.vector(
            lines.frequency + way * shift.frequency, {name: c + way * shift.lines[name] for name, c in lines.lines.items()}, bands
        )
        for way in (1, -1)
    )
    return (there - back) / 2


ALIASES = ((0, 1), *((k, sign) for k in (1, 2, 3, 4) for sign in (-1, 1)))
"""Multiples of the sampling rate about which lines are seen, and to which side."""


def aliasing(observation: Observation, lines: Mapping[str, Complex], bands: Mapping[str, Array]) -> Array:
    """Standard deviations of the vector for what lies above the lines and is aliased onto them.

    An order m looks like the order n of a record of `density` samples a period if m is near |k density +- n|, k whole. Off that by
    d, it is seen as by a rectangular window of `periods`, |sin(pi d periods)/(pi d periods)|, of which this is the envelope, as
    phases are not known. lines, bands: simulated [V or A].
    """
    layout = observation.layout
    size = abs(complex(lines[layout.reference][1]))
    rates = np.array([k * observation.density + sign * np.arange(COUNT + 1) for k, sign in ALIASES])[..., np.newaxis]
    found = {}
    for name, orders in layout.orders.items():
        square = np.zeros(BANDS[-1])
        square[: lines[name].size] = np.abs(lines[name]) ** 2 / 2
        for (a, b), rms in zip(pairwise(BANDS), bands[name], strict=True):
            square[max(a, lines[name].size) : b] = rms**2 / (b - a)
        above = np.arange(int(orders.max()) + 1, BANDS[-1])
        seen = np.minimum(1.0, 1 / (math.pi * observation.periods * np.maximum(np.abs(rates - above), 1e-9))) ** 2
        found[name] = np.sqrt(np.sum(seen, axis=0) @ square[above]) / size
    return layout.spread(found, (0.0, 0.0), dict.fromkeys(layout.orders, np.zeros(len(BANDS) - 1)))
