# SPDX-License-Identifier: GPL-3.0-or-later
"""How well a hypothesis explains records: best parameters, residuals, evidence.

The fault's own parameters u (0 to 1 each) are fitted. The nuisance parameters of parts and good probes, t, are normal a priori
and integrated out, the data d being linear in them (sensitivities J, in standard deviations):

    d | u  ~  N(m(u), S),   S = C + J J^T + B B^T,   C: noise and model, B: model, in all data alike (`Model.common`),
    log evidence = -1/2 r^T S^-1 r - 1/2 log|2 pi S| + log p(u) + k/2 log 2 pi - 1/2 log|A|,   r = d - m(u),

at the best u, with A the curvature in u (Laplace's method: R. E. Kass, A. E. Raftery, J. Am. Stat. Assoc. 90, 1995, p. 773;
memory). p(u) is normal about the middle of the range with a deviation of 0.35 of it. The nuisance parameters there are J^T S^-1 r.
All records of one heater are fitted together: they share u and the parts' nuisance parameters.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np

from heatsim.measures.lines import BANDS
from heatsim.studies.match.data import MODULATION_FLOOR, Observation, kind_of
from heatsim.studies.match.discrepancy import OWN_FLOORS, floors_of
from heatsim.studies.match.hypothesis import Correction, Dataset, Hypothesis, Model
from heatsim.studies.match.probes import GOOD
from heatsim.studies.match.response_library import lines_of
from heatsim.waves import Array

MIDDLE, WIDTH = 0.5, 0.35
"""Mean and standard deviation of p(u)."""

STEP = 1e-3
"""Step in u for derivatives."""

APART = 0.4
"""Distance in u of a second starting point."""

CLOSE = 1e-4
"""Relative change of the sum of squares, and of u, at which the least squares end: a thousandth of a standard error."""


@dataclass(frozen=True)
class HypothesisFit:
    """A hypothesis at its best.

    u: its parameters, shape (k,)
    nuisance: nuisance parameters of the parts, then of the probes, in standard deviations, shape (t,)
    covariance: of u and the nuisance parameters in use, shape (k+t', k+t')
    evidence: natural logarithm
    chi2: of what noise and model do not explain
    count: of data
    corrections: what the simulator said beside the library's estimate at each dataset
    simulated: whether they come from the simulator
    shortfall: how much less log evidence the simulator has shown than the estimate promises
    rough: whether the estimate was far off on the way, so that the best may have been missed
    """

    hypothesis: Hypothesis = field(repr=False)
    u: Array
    nuisance: Array
    covariance: Array
    evidence: float
    chi2: float
    count: int
    corrections: tuple[Correction, ...] = field(repr=False)
    simulated: bool = False
    shortfall: float = 0.0
    rough: bool = False

    @property
    def misfit(self) -> float:
        """Rms residual over what noise and model allow."""
        return math.sqrt(self.chi2 / self.count)

    @property
    def plain(self) -> tuple[str, dict[str, Any]]:
        """The hypothesis's name and all the rest. In another process `HypothesisFit(hypothesis, **rest)` restores the fit."""
        return self.hypothesis.name, {f.name: getattr(self, f.name) for f in fields(self) if f.name != "hypothesis"}


def fit(
    datasets: Sequence[Dataset],
    hypothesis: Hypothesis,
    corrections: Sequence[Correction] | None = None,
    start: Array | None = None,
    discrepancy_factor: float = 1.0,
    own_factor: float = 1.0,
) -> HypothesisFit:
    """The best fit of a hypothesis by the response library, corrected by what the simulator said.

    start: u to begin with, by default the best point of the grid
    discrepancy_factor, own_factor: on the model discrepancy, and on the fault's own share of it (`Model`)
    """
    model = Model(datasets, hypothesis, corrections, discrepancy_factor, own_factor)
    u = starts(datasets, hypothesis)[0] if start is None else start
    for _ in range(2):
        u = _least_squares(model, _Statistics(model, u), u)
    return _finished(model, _Statistics(model, u), u)


class _Errors:
    """J, B and C's diagonal at a u, and the data to hold against `Model.means`."""

    def __init__(self, model: Model, u: Array) -> None:
        effect = model.effect(u)
        self.sensitivities, self.common = model.sensitivities(u), model.common(u, effect)
        self.variance, self.data = model.variance(effect), model.shifted_data(self.sensitivities)


class _Statistics(_Errors):
    """S, its inverse and its logarithm besides."""

    def __init__(self, model: Model, u: Array) -> None:
        super().__init__(model, u)
        total = np.diag(self.variance) + self.sensitivities @ self.sensitivities.T + self.common @ self.common.T
        self.inverse = np.linalg.inv(total)
        self.logarithm = float(np.linalg.slogdet(total)[1]) + model.data.size * math.log(2 * math.pi)


def starts(datasets: Sequence[Dataset], hypothesis: Hypothesis) -> list[Array]:
    """Starting points in u: the best of a grid; with two parameters the best of those apart from it too, for a second minimum."""
    model = Model(datasets, hypothesis)
    axes = [*hypothesis.widest.axes, *(np.linspace(0.05, 0.95, 5) for _ in hypothesis.parameters[hypothesis.own :])]
    if not axes:
        return [np.zeros(0)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(axes))
    inverse = _Statistics(model, np.full(len(axes), 0.3)).inverse
    residuals = np.array([model.data - model.means(u) for u in grid])
    cost = np.einsum("gi,ij,gj->g", residuals, inverse, residuals) + _penalty(grid)
    first = grid[int(np.argmin(cost))]
    if len(axes) < 2:
        return [first]
    apart = np.max(np.abs(grid - first), axis=1) > APART
    return [first, grid[apart][int(np.argmin(cost[apart]))]]


def _penalty(u: Array) -> Array:
    return np.asarray(np.sum(((u - MIDDLE) / WIDTH) ** 2, axis=-1))


def _jacobian(model: Model, u: Array) -> Array:
    """d(means)/du, shape (data, k), with steps into the range."""
    means, columns = model.means(u), []
    for k, step in enumerate(np.where(u < MIDDLE, STEP, -STEP)):
        moved = u.copy()
        moved[k] += step
        columns.append((model.means(moved) - means) / step)
    return np.array(columns).reshape(u.size, means.size).T


def _least_squares(model: Model, statistics: _Statistics, u: Array) -> Array:
    """The u from 0 to 1 with the least r^T S^-1 r and penalty, near a start."""
    if not u.size:
        return u
    from scipy.optimize import least_squares

    whitening, prior = np.linalg.cholesky(statistics.inverse).T, np.eye(u.size) / WIDTH

    def residuals(u: Array) -> Array:
        return np.concatenate([whitening @ (model.means(u) - statistics.data), prior @ (u - MIDDLE)])

    def jacobian(u: Array) -> Array:
        return np.vstack([whitening @ _jacobian(model, u), prior])

    found = least_squares(residuals, u, jacobian, bounds=(0, 1), method="dogbox", ftol=CLOSE, xtol=CLOSE, gtol=None)
    return np.asarray(found.x, dtype=np.float64)


def _finished(model: Model, statistics: _Statistics, u: Array) -> HypothesisFit:
    residual, slopes = statistics.data - model.means(u), _jacobian(model, u)
    nuisance, unexplained = _divided(statistics, residual)
    curvature = slopes.T @ statistics.inverse @ slopes + np.eye(u.size) / WIDTH**2
    evidence = -0.5 * float(residual @ statistics.inverse @ residual) - 0.5 * statistics.logarithm + model.hypothesis.prior
    evidence += sum(modulation_evidence(model.hypothesis, each.observation) for each in model.datasets)
    evidence += -0.5 * float(_penalty(u)) - u.size * math.log(WIDTH) - 0.5 * float(np.linalg.slogdet(curvature)[1])
    own, common = statistics.sensitivities, statistics.common
    chi2 = float(np.sum(unexplained**2))
    every = np.hstack([slopes, own, common])
    prior = np.concatenate([np.full(u.size, 1 / WIDTH**2), np.ones(every.shape[1] - u.size)])
    wanted = u.size + own.shape[1]
    precision: Array = (every.T / statistics.variance) @ every + np.diag(prior)
    covariance: Array = np.asarray(np.linalg.inv(precision)[:wanted, :wanted], dtype=np.float64)
    full = np.zeros(len(model.names) + len(GOOD) * len(model.channels))
    full[[*model.used, *range(len(model.names), full.size)]] = nuisance
    return HypothesisFit(model.hypothesis, u, full, covariance, evidence, chi2, model.data.size, model.corrections)


def _divided(statistics: _Statistics, residual: Array) -> tuple[Array, Array]:
    """What a residual says of the nuisance parameters, shape (t,), and what of it neither these nor the model's common errors
    explain, over what noise and model allow, shape (data,)."""
    own, common = statistics.sensitivities, statistics.common
    nuisance = own.T @ statistics.inverse @ residual
    rest = residual - own @ nuisance - common @ (common.T @ statistics.inverse @ residual)
    return nuisance, rest / np.sqrt(statistics.variance)


def cost(datasets: Sequence[Dataset], one: HypothesisFit, corrections: Sequence[Correction]) -> float:
    """Minus twice the log of likelihood and priors of a fit's own u and nuisance parameters with these corrections, but for a
    constant: r^T (C + B B^T)^-1 r + log|C + B B^T| + |t|^2 + |u - 1/2|^2 / 0.35^2."""
    model = Model(datasets, one.hypothesis, corrections)
    errors, t = _Errors(model, one.u), one.nuisance[[*model.used, *range(len(model.names), one.nuisance.size)]]
    total = np.diag(errors.variance) + errors.common @ errors.common.T
    residual = errors.data - model.means(one.u) - errors.sensitivities @ t
    explained = float(residual @ np.linalg.solve(total, residual)) + float(np.linalg.slogdet(total)[1])
    return explained + float(t @ t) + float(_penalty(one.u))


def left_over(datasets: Sequence[Dataset], one: HypothesisFit) -> list[Array]:
    """What a fit leaves of each dataset's vector, over what noise and model allow."""
    model = Model(datasets, one.hypothesis, one.corrections)
    statistics = _Statistics(model, one.u)
    rest = _divided(statistics, statistics.data - model.means(one.u))[1]
    ends = np.cumsum([each.observation.vector.size for each in datasets])
    return np.split(rest, ends[:-1])


RIPPLE = "supply voltage ripples"
"""Name of the hypothesis that explains an amplitude modulation."""

STEADY_PRIOR = -3.0
"""Log share of rippling supplies whose ripple a steady record would not show."""

COMES_AND_GOES = "contact in the tank's leads comes and goes"
"""Name of the hypothesis that explains a frequency that jumps (`heatsim.measures.wander`); the shape is that of a loose lead on the
average."""

WANDER_FLOOR = 3e-4
"""Swing of the frequency along a record that needs no bad contact to explain it, as a share."""

MODULATION_COST = -8.0
"""Log prior density of a ripple's size, frequency and phase against what the record leaves them: an estimate, since any
modulation that is seen at all outweighs it by far."""


def modulation_evidence(hypothesis: Hypothesis, observation: Observation) -> float:
    """Log likelihood of a record's amplitude modulation and of a frequency that jumps, or of their absence, over that of a steady
    one: each hypothesis is charged with what it does not explain."""
    modulation, wander = observation.modulation, observation.lines.wander
    rippling = (modulation.gain, modulation.amplitude / MODULATION_FLOOR) if modulation else None
    jumping = (wander.gain, wander.swing / WANDER_FLOOR) if wander else None
    return _unsteady(rippling, hypothesis.name == RIPPLE) + _unsteady(jumping, hypothesis.name == COMES_AND_GOES)


def _unsteady(seen: tuple[float, float] | None, explained: bool) -> float:
    """Log likelihood of what changes along a record. seen: its gain in chi-square, and its size over what needs no explanation."""
    if explained:
        return STEADY_PRIOR if seen is None else MODULATION_COST
    return 0.0 if seen is None else -0.5 * min(seen[0], seen[1] ** 2)


NONE_LEVEL, NONE_SHARE, NONE_TIMES = (0.15, 0.3), 0.02, 40.0
"""How far a heater that none of the causes explains may be from the scenario: standard deviations of log frequency and log
fundamental, and of a line as a share of the fundamental, of gates and chokes as a multiple of its floor; those above the third fall
with their order."""


def none_of_these(datasets: Sequence[Dataset]) -> float:
    """Log evidence of a heater that may be anything: lines spread widely about the scenario's."""
    evidence = 0.0
    for each in datasets:
        layout = each.observation.layout
        sound = each.library.sound
        residual = each.observation.vector - layout.vector(*lines_of(sound, each.library.signals), each.meters(sound))
        orders = np.arange(0, 1 + max(int(o.max()) for o in layout.orders.values()))
        fall, ones = 1 / np.maximum(orders / 3, 1), np.ones(len(BANDS))
        wider = {
            name: fall * (NONE_TIMES * floor[: fall.size] if kind_of(name) in OWN_FLOORS else NONE_SHARE)
            for name, floor in floors_of(layout).items()
        }
        spread = layout.spread(wider, NONE_LEVEL, dict.fromkeys(layout.orders, ones), NONE_LEVEL[1])
        wide = np.hypot(spread, each.observation.error)
        evidence -= 0.5 * float(np.sum((residual / wide) ** 2)) + float(np.sum(np.log(wide)))
        evidence -= 0.5 * residual.size * math.log(2 * math.pi)
    return evidence
