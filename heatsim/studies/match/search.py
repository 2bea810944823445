# SPDX-License-Identifier: GPL-3.0-or-later
"""From the library's estimates to the simulator: every hypothesis that may be the best is simulated where it fits best.

The estimate is corrected by what the simulator says at the best fit, and the fit repeated, until both agree (known as space
mapping: J. W. Bandler et al., IEEE Trans. Microw. Theory Tech. 42, 1994, p. 2536; memory).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from heatsim.parts.heater import Heater
from heatsim.studies.match.fault_model import INTERMITTENT, LOOSE_LEAD, NOTHING, PROBE, RARE, SUPPLY
from heatsim.studies.match.fit import APART, COMES_AND_GOES, RIPPLE, HypothesisFit, fit, starts
from heatsim.studies.match.hypothesis import Dataset, Hypothesis, Model
from heatsim.studies.match.parameters import add_changes, with_changes
from heatsim.studies.match.probes import probe_faults
from heatsim.studies.match.response_library import ResponseLibrary, packed_of
from heatsim.studies.match.result import EXPLAINS
from heatsim.studies.match.solver import Solver

FIRST_LOOK = 12.0
"""A hypothesis whose estimated log evidence is this far behind the best is not simulated: the estimate is rarely off by half."""

MOST_OF_A_CAUSE = 4
"""Fault models of one cause that are simulated, the best ones."""

ROUNDS = 5
MOST_DEVIATIONS = 3.5
"""Nuisance parameters further out than this many standard deviations come from errors of the sensitivities: the simulation stays
within."""

AGREED = 0.3
"""Rms difference of simulator and estimate, over noise and model, at which they agree."""

LEAST_CUT = 0.03
"""Share of a signal's swing beyond the record's range from which it counts as cut off."""

PRIORS = {NOTHING: math.log(2)} | dict.fromkeys(RARE, -math.log(2))
"""Log prior odds of causes to an ordinary one: sound heaters are more common, damaged and wrong parts less; common practice, no
source."""

DISCREPANCY_FACTORS = {1.0: math.log(0.6), 4.0: math.log(0.4)}
"""How far a bench may be from the model, as a factor on the model discrepancy, and log prior shares: a real heater has more in
it than its netlist."""


def hypotheses(datasets: Sequence[Dataset]) -> list[Hypothesis]:
    """Every hypothesis the libraries hold, the prior of each cause shared out among its fault models."""
    known = {name: surface.fault for each in datasets for name, surface in each.library.surfaces.items()}
    shares = {SUPPLY: 1.0, INTERMITTENT: 1.0}  # the ripple, which needs no surface, and the contact, which has the loose lead's
    for fault in known.values():
        shares[fault.cause] = shares.get(fault.cause, 0.0) + 1 / fault.sides

    def prior_of(cause: str, alike: int = 1) -> float:
        return PRIORS.get(cause, 0.0) - math.log(shares[cause] * alike)

    found = []
    for name, fault in known.items():
        surfaces = tuple(each.library.surfaces.get(name, each.library.surfaces[NOTHING]) for each in datasets)
        found.append(Hypothesis(fault.cause, name, surfaces, None, "", prior_of(fault.cause, fault.sides)))
    sound = next(each for each in found if each.cause == NOTHING)
    found.append(replace(sound, cause=SUPPLY, name=RIPPLE, prior=prior_of(SUPPLY)))
    lead = next((each for each in found if each.name == LOOSE_LEAD), sound)
    found.append(replace(lead, cause=INTERMITTENT, name=COMES_AND_GOES, prior=prior_of(INTERMITTENT)))
    channels = list(dict.fromkeys(name for each in datasets for name in each.observation.layout.orders))
    for channel in channels:
        own = probe_faults(channel, _cut(datasets, channel))
        total = sum(probe.weight for probe in own) * len(channels)
        for probe in own:
            name, prior = f"{channel}: {probe.name}", math.log(probe.weight / total)
            found.append(replace(sound, cause=PROBE, name=name, probe=probe, channel=channel, prior=prior))
    return found


def _cut(datasets: Sequence[Dataset], channel: str) -> tuple[float | None, float | None]:
    """Where a channel is cut off: only if the sound heater's signal would go on by a fair share of its swing."""
    for each in datasets:
        low, high = each.observation.clipped.get(channel, (None, None))
        expected = each.library.start.waveforms[channel]
        margin = LEAST_CUT * float(np.ptp(expected))
        below = low is not None and float(expected.min()) < low - margin
        above = high is not None and float(expected.max()) > high + margin
        if below or above:
            return low if below else None, high if above else None
    return None, None


def library_fits(datasets: Sequence[Dataset]) -> list[HypothesisFit]:
    """Every hypothesis fitted by the libraries from each of its starting points, the best first."""
    found = []
    for hypothesis in hypotheses(datasets):
        minima: list[HypothesisFit] = []
        for start in starts(datasets, hypothesis):
            one = fit(datasets, hypothesis, start=start)
            if all(np.max(np.abs(one.u - other.u), initial=0.0) > APART / 2 for other in minima):
                minima.append(one)
        found += minima
    return sorted(found, key=lambda one: -one.evidence)


def nuisance_changes(library: ResponseLibrary, one: HypothesisFit) -> dict[str, float]:
    """Changes of the model parameters by a fit's nuisance parameters, without its fault."""
    changes: dict[str, float] = {}
    for parameter, t in zip(library.nuisance, one.nuisance, strict=False):
        add_changes(changes, parameter.changes, float(t) * parameter.deviation)
    return changes


def fitted_heater(datasets: Sequence[Dataset], one: HypothesisFit, k: int) -> Heater:
    """The heater of a fit at one dataset."""
    library, fault = datasets[k].library, one.hypothesis.surfaces[k].fault
    changes = nuisance_changes(library, one)
    add_changes(changes, fault.changes(tuple(p.value(float(x)) for p, x in zip(fault.parameters, one.u, strict=False))))
    return with_changes(library.heater, changes)


def _refined_once(solvers: Sequence[Solver], datasets: Sequence[Dataset], one: HypothesisFit) -> tuple[HypothesisFit, float]:
    """A fit repeated with the simulator's correction at its best, and the rms difference of simulator and estimate over noise and
    model. Raises NoSolution."""
    model = Model(datasets, one.hypothesis, one.corrections)
    one = replace(one, nuisance=np.clip(one.nuisance, -MOST_DEVIATIONS, MOST_DEVIATIONS))
    corrections, off = [], []
    for k, solver in enumerate(solvers):
        packed = model.packed(k, one.u, one.nuisance[: len(model.names)])
        near = one.hypothesis.surfaces[k].nearest(one.u[: one.hypothesis.own])
        there = packed_of(solver.solve(fitted_heater(datasets, one, k), near, packed[-near.point.size :]))
        corrections.append(one.corrections[k] + there - packed)
        off.append(model.vector(k, there, one.u) - model.vector(k, packed, one.u))
    again = replace(fit(datasets, one.hypothesis, corrections, one.u), simulated=True)
    variance = model.variance(model.effect(one.u))
    return again, float(np.sqrt(np.mean(np.concatenate(off) ** 2 / variance)))


def refined(solvers: Sequence[Solver], datasets: Sequence[Dataset], one: HypothesisFit, behind: float = -math.inf) -> HypothesisFit:
    """A fit corrected on the simulator until that and the estimate agree, or the evidence falls below `behind`.

    solvers: one a dataset
    Raises NoSolution.
    """
    tried: list[tuple[float, HypothesisFit]] = []
    for _ in range(ROUNDS):
        one, off = _refined_once(solvers, datasets, one)
        tried.append((off, one))
        if off < AGREED or one.evidence < behind:
            break
    return min(tried[-2:], key=lambda each: each[0])[1]


Refine = Callable[[list[HypothesisFit]], Iterable[tuple[int, HypothesisFit | None]]]
"""Corrects fits on a simulator: (number of the fit, what became of it, None without a periodic state), in any order."""


def search(datasets: Sequence[Dataset], refine: Refine) -> list[HypothesisFit]:
    """All hypotheses, those that may be the best simulated, the best first."""
    fits = library_fits(datasets)
    chosen = worth_simulating(fits)
    for number, found in refine([fits[k] for k in chosen]):
        k = chosen[number]
        fits[k] = found or replace(fits[k], evidence=fits[k].evidence - FIRST_LOOK)  # not to be simulated: ruled out
    return ranked(datasets, fits)


def worth_simulating(fits: Sequence[HypothesisFit]) -> list[int]:
    """Places of those of the estimated fits, best first, that may be the best, and of nothing wrong: no estimate rules it out."""
    counts: Counter[str] = Counter()
    found = []
    for k, one in enumerate(fits):
        counts[one.hypothesis.cause] += 1
        if one.evidence >= fits[0].evidence - FIRST_LOOK and counts[one.hypothesis.cause] <= MOST_OF_A_CAUSE:
            found.append(k)
    sound = next((k for k, one in enumerate(fits) if one.hypothesis.cause == NOTHING), None)
    return found if sound is None or sound in found else [*found, sound]


def ranked(datasets: Sequence[Dataset], fits: Sequence[HypothesisFit]) -> list[HypothesisFit]:
    """The best fit of each hypothesis, best first, with evidence averaged over `DISCREPANCY_FACTORS`.

    Where the best explains its record, those far behind keep their evidence of the first look.
    """
    best: dict[str, HypothesisFit] = {}
    for one in sorted(fits, key=lambda one: (-one.evidence, not one.simulated)):
        best.setdefault(one.hypothesis.name, one)
    top = max(best.values(), key=lambda one: one.evidence)
    found = []
    for one in best.values():
        if one.evidence < top.evidence - 4 * FIRST_LOOK and top.misfit < EXPLAINS:
            found.append(replace(one, evidence=one.evidence + DISCREPANCY_FACTORS[1.0]))
            continue
        each = {factor: fit(datasets, one.hypothesis, one.corrections, one.u, factor) for factor in DISCREPANCY_FACTORS}
        weighed = {factor: each[factor].evidence + share for factor, share in DISCREPANCY_FACTORS.items()}
        evidence = float(np.logaddexp.reduce(list(weighed.values())))
        chosen = each[max(weighed, key=lambda factor: weighed[factor])]
        found.append(replace(chosen, evidence=evidence, simulated=one.simulated, chi2=one.chi2))
    return sorted(found, key=lambda one: -one.evidence)


def by_cause(fits: Sequence[HypothesisFit]) -> dict[str, float]:
    """Log evidence of each cause: its fault models' together."""
    found: dict[str, list[float]] = {}
    for one in fits:
        found.setdefault(one.hypothesis.cause, []).append(one.evidence)
    return {cause: float(np.logaddexp.reduce(values)) for cause, values in found.items()}
