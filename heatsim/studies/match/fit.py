# SPDX-License-Identifier: GPL-3.0-or-later
"""How well a hypothesis explains records: best parameters, what is left, evidence.

A hypothesis is a kind of fault in the heater with good probes, or a sound heater with something wrong in a probe. Its own
parameters u (0 to 1 each) are fitted; the tolerances of parts and good probes, t, normal beforehand with covariance P, are
integrated out, the lines d being straight in them (slopes J):

    d | u  ~  N(m(u), S),   S = C + J P J^T + B B^T,   C: noise and model, B: model, in all data alike (`Model.common`),
    log evidence = -1/2 r^T S^-1 r - 1/2 log|2 pi S| + log p(u) + k/2 log 2 pi - 1/2 log|A|,   r = d - m(u),

at the best u, with A the curvature in u (Laplace's method: R. E. Kass, A. E. Raftery, J. Am. Stat. Assoc. 90, 1995, p. 773;
memory). p(u) is normal about the middle of the range with a deviation of 0.35 of it. The tolerances there are P J^T S^-1 r. All
records of one heater are fitted together: they share u and the parts' tolerances.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np

from heatsim.measures.lines import BANDS, Complex
from heatsim.studies.match.data import SWAY_FLOOR, Observation, floor_of, folded, lines_of_view, widened
from heatsim.studies.match.faults import Parameter
from heatsim.studies.match.probes import GOOD, Chain, ProbeKind, good, through
from heatsim.studies.match.response_library import Atlas, Sheet, View
from heatsim.waves import Array

MIDDLE, WIDTH = 0.5, 0.35
"""Of p(u)."""

STEP = 1e-3
"""For slopes in u."""

MOST_DOUBT = 0.2
"""Share of a kind's effect by which even a coarse model may be off: beyond, any wave would be any kind."""

ROUNDS = 25
"""Steps of Gauss and Newton in u, at most."""


@dataclass(frozen=True)
class Site:
    """One record and the atlas of its operating condition."""

    atlas: Atlas
    seen: Observation


@dataclass(frozen=True)
class Hypothesis:
    """cause and name; sheets: of the kind in every site's atlas; probe: what is wrong with a channel, and which; replaces:
    tolerances that the kind stands for; doubt: see `Kind`; prior: log of its share of the cause beforehand."""

    cause: str
    name: str
    sheets: tuple[Sheet, ...] = field(repr=False)
    probe: ProbeKind | None
    channel: str
    replaces: tuple[str, ...]
    doubt: float
    prior: float = 0.0

    @property
    def parameters(self) -> tuple[Parameter, ...]:
        """Of the kind and of the probe."""
        return (*self.widest.kind.parameters, *(self.probe.parameters if self.probe else ()))

    @property
    def own(self) -> int:
        """How many of them are the heater's."""
        return len(self.widest.kind.parameters)

    @property
    def widest(self) -> Sheet:
        """A sheet with all of the kind's parameters: where the kind does not apply (no workpiece) a sound sheet stands in."""
        return max(self.sheets, key=lambda sheet: len(sheet.places))


@dataclass(frozen=True)
class Fit:
    """A hypothesis at its best. u, shape (k,), and its covariance; tolerances: parts first, then probes, shape (t,), in units of
    their standard deviations, and covariance of all of these with u, (k+t, k+t); evidence: natural logarithm; chi2 of what noise
    and model do not explain, and the number of data; corrections: by site, what the simulator said beside the estimate."""

    hypothesis: Hypothesis = field(repr=False)
    u: Array
    tolerances: Array
    covariance: Array
    evidence: float
    chi2: float
    count: int
    corrections: tuple[Array, ...] = field(repr=False)
    simulated: bool = False

    @property
    def misfit(self) -> float:
        """Rms of what is left over what noise and model allow."""
        return math.sqrt(self.chi2 / self.count)

    @property
    def plain(self) -> tuple[str, dict[str, Any]]:
        """The name of its hypothesis and all the rest, for another process, where `Fit(hypothesis, **rest)` is the fit again."""
        return self.hypothesis.name, {f.name: getattr(self, f.name) for f in fields(self) if f.name != "hypothesis"}


STEPS = (2.0, 1.0)
"""What the simulator's steps falsify, as a multiple of what finer steps change (`finer_of`), and its standard deviation. Measured
against the independent integration over 12 heaters (sound ones, saturating or unequal chokes, loose connections, tired capacitors):
1.4 to 2.3, 2.0 on the average; 0.1 to 0.3e-4 of the fundamental are left in each line."""


def _refined(atlas: Atlas, packed: Array) -> View:
    """A simulated view without the error of the steps."""
    return View.unpacked(packed + STEPS[0] * atlas.finer, atlas.signals)


def _folded(seen: Observation, lines: Mapping[str, Complex], bands: Mapping[str, Array]) -> Array:
    return folded(seen.layout, seen.density, seen.periods, lines, bands, abs(complex(lines[seen.layout.reference][1])))


class Model:
    """Vectors of a hypothesis at all sites, and their slopes in the tolerances."""

    def __init__(
        self, sites: Sequence[Site], hypothesis: Hypothesis, corrections: Sequence[Array] | None = None, coarse: float = 1.0
    ) -> None:
        self.sites, self.hypothesis, self.coarse = tuple(sites), hypothesis, coarse
        self.corrections = tuple(corrections or (np.zeros_like(site.atlas.sound) for site in sites))
        self.names = [tolerance.name for tolerance in sites[0].atlas.tolerances]
        self.used = [k for k, name in enumerate(self.names) if name not in hypothesis.replaces]
        self.deviations = np.array([tolerance.deviation for tolerance in sites[0].atlas.tolerances])
        views = [lines_of_view(_refined(site.atlas, site.atlas.sound)) for site in self.sites]
        self.folded = [_folded(site.seen, *view[1:]) for site, view in zip(self.sites, views, strict=True)]
        self.sound = [site.seen.layout.vector(*view) for site, view in zip(self.sites, views, strict=True)]
        self.channels = [(k, name) for k, site in enumerate(sites) for name in site.seen.layout.orders]

    @property
    def doubt(self) -> float:
        """Share of what the kind does by which the model may be off; however coarse, the kind's shape must be seen."""
        return max(min(widened(self.coarse) * self.hypothesis.doubt, MOST_DOUBT), self.hypothesis.doubt)

    def packed(self, site: int, u: Array, tolerances: Array) -> Array:
        """View and slow states of a site, estimated; tolerances: of the parts, in standard deviations."""
        sheet = self.hypothesis.sheets[site]
        base = sheet.value(u[: self.hypothesis.own]) + self.corrections[site]
        return np.asarray(base + (tolerances * self.deviations) @ self.tilt(site, u))

    def tilt(self, site: int, u: Array) -> Array:
        """Slopes of a site's packed view in the tolerances."""
        return self.hypothesis.sheets[site].slopes(u, self.sites[site].atlas.slopes)

    def vector(self, site: int, packed: Array, u: Array, probes: Chain | None = None) -> Array:
        """What the record would say of a packed view."""
        seen = self.sites[site].seen
        frequency, lines, bands = lines_of_view(_refined(self.sites[site].atlas, packed))
        lines = {name: lines[name] for name in seen.layout.orders}
        if probes:
            lines, bands = through(frequency, lines, bands, probes)
        probe, channel = self.hypothesis.probe, self.hypothesis.channel
        if probe is not None and channel in lines:
            values = tuple(p.value(float(x)) for p, x in zip(probe.parameters, u[self.hypothesis.own :], strict=True))
            lines, bands = through(frequency, lines, bands, {channel: (probe.seen, values)})
        return seen.layout.vector(frequency, lines, bands)

    def effect(self, u: Array) -> list[Array]:
        """What the kind does to each site's vector; nothing where the probe is at fault."""
        if self.hypothesis.probe is not None or not u.size:
            return [np.zeros_like(sound) for sound in self.sound]
        return [there - sound for there, sound in zip(self._each(u), self.sound, strict=True)]

    def variance(self, effect: Sequence[Array]) -> Array:
        """C's diagonal: noise, what folds back, and what the model may be off by what the kind does to the lines."""
        found = []
        for site, off, back in zip(self.sites, effect, self.folded, strict=True):
            floor = floor_of(site.seen.layout, off, self.doubt, self.coarse)
            found.append(floor**2 + site.seen.noise**2 + back**2)
        return np.concatenate(found)

    def _each(self, u: Array) -> list[Array]:
        nothing = np.zeros(len(self.names))
        return [self.vector(k, self.packed(k, u, nothing), u) for k in range(len(self.sites))]

    def means(self, u: Array) -> Array:
        """m(u) of all sites, one after the other."""
        return np.concatenate(self._each(u))

    def common(self, u: Array, effect: Sequence[Array]) -> Array:
        """What the model may be off in all data together, in units of standard deviations, shape (data, k): a share of what the
        kind does, the simulator's steps, and what folds back of the edges of each channel of every record."""
        nothing = np.zeros(len(self.names))
        steps = []
        for k, site in enumerate(self.sites):
            packed = self.packed(k, u, nothing)
            moved = packed + self.coarse * STEPS[1] * site.atlas.finer
            steps.append(self.vector(k, moved, u) - self.vector(k, packed, u))
        edges = [
            np.concatenate([edge if other == k else 0.0 * back for other, back in enumerate(self.folded)])
            for k, site in enumerate(self.sites)
            for edge in site.seen.layout.edges(self.folded[k])
        ]
        return np.array([self.doubt * np.concatenate(effect), np.concatenate(steps), *edges]).T

    def slopes(self, u: Array) -> Array:
        """J in units of standard deviations, shape (data, tolerances): parts, then those of every channel of every record,
        which has its own settings."""
        nothing = np.zeros(len(self.names))
        blocks = []
        for k in range(len(self.sites)):
            packed, tilt = self.packed(k, u, nothing), self.tilt(k, u)
            base = self.vector(k, packed, u)
            columns = [(self.vector(k, packed + self.deviations[p] * tilt[p], u) - base) for p in self.used]
            for other, name in self.channels:
                for key, size in GOOD.items():
                    probes = {name: (good(**{key: size}), ())}
                    columns.append(self.vector(k, packed, u, probes) - base if other == k else np.zeros_like(base))
            blocks.append(np.array(columns).T)
        return np.vstack(blocks)


def fit(
    sites: Sequence[Site],
    hypothesis: Hypothesis,
    corrections: Sequence[Array] | None = None,
    start: Array | None = None,
    coarse: float = 1.0,
) -> Fit:
    """The best of a hypothesis by the atlas's estimate, corrected by what the simulator said. start: u to begin with, else the best
    point of its grid; coarse: factor on what the model may be off."""
    model = Model(sites, hypothesis, corrections, coarse)
    data = np.concatenate([site.seen.vector for site in sites])
    u = starts(sites, hypothesis)[0] if start is None else start
    for _ in range(2):
        statistics = _Statistics(model, data, u)
        u = _descend(model, statistics, u)
    return _finished(model, _Statistics(model, data, u), u)


class _Statistics:
    """S and its inverse where u is."""

    def __init__(self, model: Model, data: Array, u: Array) -> None:
        self.data = data
        own = self.own = model.slopes(u)
        effect = model.effect(u)
        self.variance = model.variance(effect)
        self.common = model.common(u, effect)
        total = np.diag(self.variance) + own @ own.T + self.common @ self.common.T
        self.inverse = np.linalg.inv(total)
        self.logarithm = float(np.linalg.slogdet(total)[1]) + data.size * math.log(2 * math.pi)

    def chi2(self, left: Array) -> float:
        """r^T S^-1 r."""
        return float(left @ self.inverse @ left)


def starts(sites: Sequence[Site], hypothesis: Hypothesis) -> list[Array]:
    """Places of u to begin with: the best of the grid of the kind and of places along the probe's parameters, and with two
    parameters the best of those that lie apart from it, since there may be two valleys."""
    model = Model(sites, hypothesis)
    axes = [*hypothesis.widest.places, *(np.linspace(0.05, 0.95, 5) for _ in hypothesis.parameters[hypothesis.own :])]
    if not axes:
        return [np.zeros(0)]
    data = np.concatenate([site.seen.vector for site in sites])
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(axes))
    inverse = _Statistics(model, data, np.full(len(axes), 0.3)).inverse
    left = np.array([data - model.means(u) for u in grid])
    worth = np.einsum("gi,ij,gj->g", left, inverse, left) + _penalty(grid)
    first = grid[int(np.argmin(worth))]
    if len(axes) < 2:
        return [first]
    apart = np.max(np.abs(grid - first), axis=1) > APART
    return [first, grid[apart][int(np.argmin(worth[apart]))]]


APART = 0.4
"""Distance in u of a second start."""


def _penalty(u: Array) -> Array:
    return np.asarray(np.sum(((u - MIDDLE) / WIDTH) ** 2, axis=-1))


def _slopes_in_u(model: Model, u: Array) -> Array:
    """d(means)/du, shape (data, k)."""
    columns = []
    for k in range(u.size):
        way = STEP if u[k] < 0.5 else -STEP
        moved = u.copy()
        moved[k] += way
        columns.append((model.means(moved) - model.means(u)) / way)
    return np.array(columns).T if columns else np.zeros((sum(site.seen.layout.size for site in model.sites), 0))


def _descend(model: Model, statistics: _Statistics, u: Array) -> Array:
    """Gauss and Newton in u within 0 and 1, steps halved until they help."""
    if not u.size:
        return u
    left = statistics.data - model.means(u)
    worth = statistics.chi2(left) + float(_penalty(u))
    for _ in range(ROUNDS):
        slopes = _slopes_in_u(model, u)
        curve = slopes.T @ statistics.inverse @ slopes + np.eye(u.size) / WIDTH**2
        move = np.linalg.solve(curve, slopes.T @ statistics.inverse @ left - (u - MIDDLE) / WIDTH**2)
        for share in (1.0, 0.5, 0.25, 0.1):
            tried = np.clip(u + share * move, 0, 1)
            left_there = statistics.data - model.means(tried)
            there = statistics.chi2(left_there) + float(_penalty(tried))
            if there < worth:
                break
        else:
            break
        gain, worth, u, left = worth - there, there, tried, left_there
        if gain < 1e-3:
            break
    return u


def _finished(model: Model, statistics: _Statistics, u: Array) -> Fit:
    left = statistics.data - model.means(u)
    slopes = _slopes_in_u(model, u)
    curve = slopes.T @ statistics.inverse @ slopes + np.eye(u.size) / WIDTH**2
    evidence = -0.5 * statistics.chi2(left) - 0.5 * statistics.logarithm + model.hypothesis.prior
    evidence += sum(sway_evidence(model.hypothesis, site.seen) for site in model.sites)
    evidence += -0.5 * float(_penalty(u)) - u.size * math.log(WIDTH) - 0.5 * float(np.linalg.slogdet(curve)[1])
    tolerances = statistics.own.T @ statistics.inverse @ left
    unexplained = left - statistics.own @ tolerances - statistics.common @ (statistics.common.T @ statistics.inverse @ left)
    chi2 = float(np.sum(unexplained**2 / statistics.variance))
    both = np.hstack([slopes, statistics.own, statistics.common])
    wanted = u.size + statistics.own.shape[1]
    prior = np.concatenate([np.full(u.size, 1 / WIDTH**2), np.ones(both.shape[1] - u.size)])
    told = (both.T / statistics.variance) @ both + np.diag(prior)
    covariance: Array = np.asarray(np.linalg.inv(told)[:wanted, :wanted], dtype=np.float64)
    full = np.zeros(len(model.names) + len(GOOD) * len(model.channels))
    places = [*model.used, *range(len(model.names), full.size)]
    full[places] = tolerances
    return Fit(model.hypothesis, u, full, covariance, evidence, chi2, statistics.data.size, model.corrections)


RIPPLE = "supply voltage ripples"
"""Name of the hypothesis that sways."""

STEADY_PRIOR = -3.0
"""Log share of rippling supplies whose ripple a steady record would not show."""

SWAY_COST = -8.0
"""Log density of a ripple's size, frequency and phase beforehand against what the record leaves them: an estimate, since any sway
that is seen at all outweighs it by far."""


def sway_evidence(hypothesis: Hypothesis, seen: Observation) -> float:
    """Log likelihood of a record's sway, or of its steadiness, over that of a steady one."""
    if hypothesis.name == RIPPLE:
        return STEADY_PRIOR if seen.sway is None else SWAY_COST
    return 0.0 if seen.sway is None else -0.5 * min(seen.sway.gain, (seen.sway.amplitude / SWAY_FLOOR) ** 2)


NONE_LEVEL, NONE_SHARE = (0.15, 0.3), 0.02
"""How far a heater that none of the causes explains may be from the scenario: standard deviations of log frequency and log
fundamental, and of a line as a share of the fundamental; those above the third fall with their order."""


def none_of_these(sites: Sequence[Site]) -> float:
    """Log evidence of a heater that may be anything: lines spread widely about the scenario's."""
    evidence = 0.0
    for site in sites:
        layout = site.seen.layout
        left = site.seen.vector - layout.vector(*lines_of_view(View.unpacked(site.atlas.sound, site.atlas.signals)))
        orders = np.arange(0, 1 + max(int(o.max()) for o in layout.orders.values()))
        share, ones = NONE_SHARE / np.maximum(orders / 3, 1), np.ones(len(BANDS))
        spread = layout.spread(dict.fromkeys(layout.orders, share), NONE_LEVEL, dict.fromkeys(layout.orders, ones))
        wide = np.hypot(spread, site.seen.noise)
        evidence -= 0.5 * float(np.sum((left / wide) ** 2)) + float(np.sum(np.log(wide))) + 0.5 * left.size * math.log(2 * math.pi)
    return evidence
