# SPDX-License-Identifier: GPL-3.0-or-later
"""A hypothesis's fit by the library, corrected on the simulator.

The fit is simulated where it is best, the estimate corrected by what the simulator says there, and the fit repeated until it gets
no better (known as space mapping: J. W. Bandler et al., IEEE Trans. Microw. Theory Tech. 42, 1994, p. 2536; memory). Each
simulation also corrects the estimate's slopes along the way it was reached (C. G. Broyden, Math. Comp. 19, 1965, p. 577; memory).
The first fits are made with a wider model discrepancy: where the estimate is still off by more than the model is, narrow ones
draw the nuisance parameters far from where parts are. What counts is the best that was simulated, not what an estimate promises.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from heatsim.parts.heater import Heater
from heatsim.studies.match.fault_model import FaultModel
from heatsim.studies.match.fit import MIDDLE, WIDTH, HypothesisFit, cost, fit
from heatsim.studies.match.hypothesis import Correction, Dataset, Model
from heatsim.studies.match.parameters import add_changes, with_changes
from heatsim.studies.match.response_library import ResponseLibrary, packed_of, sensitivities_of
from heatsim.studies.match.solver import NoSolution, Solver
from heatsim.waves import Array

EASED = (8.0, 4.0, 2.0)
"""Factors on the model discrepancy in the first rounds."""

ROUNDS = 14
"""Rounds at most."""

MOST_IDLE = 3
"""Rounds in a row without a better point, after which it is given up."""

MOST_DEVIATIONS = 6.0
"""Nuisance parameters are simulated this many standard deviations from the scenario at most: no sound part is further out."""

AGREED = 0.3
"""Rms difference of simulator and estimate, over noise and model, at which the first fits need no easing."""

ROUGH = 0.6
"""The same, above which the library's slopes may miss the best."""

CLOSE = 3.0
"""Difference in cost, twice a log likelihood, that a further round is not worth."""

BEHIND = 6.0
"""Log evidence behind the best from which a hypothesis is corrected no further."""

FAR_BEHIND = 18.0
"""The same where slopes are simulated: what decides there is not to rest on an estimate's promise."""

STEP = 0.05
"""Step in a fault's own parameters for slopes that are simulated."""


def nuisance_changes(library: ResponseLibrary, one: HypothesisFit) -> dict[str, float]:
    """Changes of the model parameters by a fit's nuisance parameters, without its fault."""
    changes: dict[str, float] = {}
    for parameter, t in zip(library.nuisance, one.nuisance, strict=False):
        add_changes(changes, parameter.changes, float(t) * parameter.deviation)
    return changes


def _changes(library: ResponseLibrary, one: HypothesisFit, fault: FaultModel) -> dict[str, float]:
    """By both."""
    changes = nuisance_changes(library, one)
    add_changes(changes, fault.changes(tuple(p.value(float(x)) for p, x in zip(fault.parameters, one.u, strict=False))))
    return changes


def fitted_heater(datasets: Sequence[Dataset], one: HypothesisFit, k: int) -> Heater:
    """The heater of a fit at one dataset."""
    library, fault = datasets[k].library, one.hypothesis.surfaces[k].fault
    return with_changes(library.heater, _changes(library, one, fault))


def refined(
    solvers: Sequence[Solver], datasets: Sequence[Dataset], one: HypothesisFit, behind: float = -math.inf, thorough: bool = False
) -> HypothesisFit:
    """A fit corrected on the simulator until it gets no better there, or its evidence falls below `behind`.

    solvers: one a dataset
    thorough: with slopes simulated where it is
    Raises NoSolution where not even the first is found.
    """
    state = _Refinement(solvers, datasets, one)
    state.simulate(one)
    worst, eased, factors, idle = state.off, not thorough and state.off > AGREED, iter(EASED), 0
    with contextlib.suppress(NoSolution, ValueError):
        if thorough:
            state.simulate_slopes()
        for _ in range(ROUNDS):
            factor = next(factors, 1.0) if eased else 1.0
            one, promised = state.fitted(factor)
            if factor == 1.0 and (promised < CLOSE or one.evidence < behind or idle == MOST_IDLE):
                break
            before = state.cost
            state.simulate(one)
            worst, eased = max(worst, state.off), factor > 1.0 and state.off > AGREED
            idle = 0 if factor > 1.0 or state.cost < before - CLOSE else idle + 1
    return replace(_held(*state.fitted()), rough=worst > ROUGH)


def refined_together(
    solvers: Sequence[Solver], datasets: Sequence[Dataset], fits: Sequence[HypothesisFit], best: float, thorough: bool
) -> list[HypothesisFit | None]:
    """Fits of the same heater corrected one after the other, each beginning with the corrections of the one before.

    None stands where there is no periodic state.
    best: log evidence of the best so far; thorough: see `refined`
    """
    found: list[HypothesisFit | None] = []
    known: HypothesisFit | None = None
    for one in fits:
        if known is not None:
            one = fit(datasets, one.hypothesis, known.corrections, one.u, EASED[-1])
        try:
            known = refined(solvers, datasets, one, best - (FAR_BEHIND if thorough else BEHIND), thorough and known is None)
        except (NoSolution, ValueError):
            found.append(None)
            continue
        best = max(best, known.evidence)
        found.append(known)
    return found


def within_reach(nuisance: Array, parts: int) -> Array:
    """Nuisance parameters to simulate: those of parts, which come first, shrunk together until none is beyond `MOST_DEVIATIONS`,
    towards the scenario, from where the simulator has its start. Those of probes are not simulated."""
    largest = float(np.max(np.abs(nuisance[:parts]), initial=0.0))
    near = nuisance.copy()
    near[:parts] *= min(1.0, MOST_DEVIATIONS / max(largest, MOST_DEVIATIONS))
    return near


def corrected(old: Correction, error: Array, u: Array, t: Array, first: bool = False) -> Correction:
    """A correction by the estimate's error at u and t: of its slopes on the way there from where it was made, which stays as it is.

    first: it was made nowhere yet, so the error is put down to the offset
    """
    du, dt = (u - old.at) / WIDTH, t - old.begin
    way = float(du @ du + dt @ dt)
    if first or way == 0.0:
        here = old.told_from(u, t)
        return replace(here, offset=here.offset + error)
    return replace(old, slopes=old.slopes + np.outer(du / WIDTH, error) / way, added=old.added + np.outer(dt, error) / way)


class _Refinement:
    """The best simulated fit of a hypothesis so far.

    solvers: one a dataset
    best: with corrections from there; cost: there; off: rms difference of the latest simulation from the estimate, over noise and
        model
    """

    def __init__(self, solvers: Sequence[Solver], datasets: Sequence[Dataset], one: HypothesisFit) -> None:
        self.solvers, self.datasets = solvers, datasets
        self.best, self.cost, self.off = one, math.inf, math.inf
        self._near = [surface.nearest(one.u[: one.hypothesis.own]) for surface in one.hypothesis.surfaces]

    def fitted(self, factor: float = 1.0) -> tuple[HypothesisFit, float]:
        """The fit by the estimate as it is corrected now, and how much less it would cost than the best simulated."""
        best = self.best
        one = replace(fit(self.datasets, best.hypothesis, best.corrections, best.u, factor), simulated=True)
        return one, self.cost - cost(self.datasets, one, one.corrections)

    def simulate(self, one: HypothesisFit) -> None:
        """Simulate a fit, correct the estimate by it, and keep it where it is the best.

        Raises NoSolution, or ValueError where there is no such heater.
        """
        model = Model(self.datasets, one.hypothesis, one.corrections)
        one = replace(one, nuisance=within_reach(one.nuisance, len(model.names)))
        t, own = one.nuisance[: len(model.names)], one.u[: one.hypothesis.own]
        corrections, off = [], []
        for k, solver in enumerate(self.solvers):
            packed, near = model.packed(k, one.u, t), self._near[k]
            self._near[k] = solver.solve(fitted_heater(self.datasets, one, k), near, packed[-near.point.size :])
            found = packed_of(self._near[k])
            corrections.append(corrected(one.corrections[k], found - packed, own, t, first=math.isinf(self.cost)))
            off.append(model.vector(k, found, one.u) - model.vector(k, packed, one.u))
        self.off = float(np.sqrt(np.mean(np.concatenate(off) ** 2 / model.variance(model.effect(one.u)))))
        there = tuple(each.told_from(own, t) for each in corrections)
        costs = cost(self.datasets, one, there)
        if costs < self.cost:
            self.best, self.cost = replace(one, corrections=there), costs
        else:
            self.best = replace(self.best, corrections=tuple(corrections))

    def simulate_slopes(self) -> None:
        """Simulate the slopes at the best anew. Raises NoSolution, or ValueError where there is no such heater."""
        one, plain = self.best, Model(self.datasets, self.best.hypothesis)
        own, t, corrections = one.u[: one.hypothesis.own], one.nuisance[: len(plain.names)], []
        for k, (solver, dataset) in enumerate(zip(self.solvers, self.datasets, strict=True)):
            fault, library = one.hypothesis.surfaces[k].fault, dataset.library
            base = solver.solve(fitted_heater(self.datasets, one, k), self._near[k])
            offset, slopes = packed_of(base) - plain.packed(k, one.u, t), np.zeros_like(one.corrections[k].slopes)
            for p in range(len(fault.parameters)):
                moved = one.u.copy()
                moved[p] += STEP if moved[p] < MIDDLE else -STEP
                there = packed_of(solver.solve(fitted_heater(self.datasets, replace(one, u=moved), k), base))
                slopes[p] = (there - plain.packed(k, moved, t) - offset) / (moved[p] - own[p])
            simulated = sensitivities_of(solver, library.heater, base, _changes(library, one, fault), fault.replaces)
            added = np.nan_to_num(simulated - library.sensitivities) * plain.deviations[:, None]
            corrections.append(Correction(offset, own, t, slopes, added))
        self.best = replace(one, corrections=tuple(corrections))


def _held(one: HypothesisFit, promised: float) -> HypothesisFit:
    """A fit that claims no more evidence than the best simulated has."""
    if promised < CLOSE:
        return one
    return replace(one, evidence=one.evidence - promised / 2, chi2=one.chi2 + promised, shortfall=promised / 2)
