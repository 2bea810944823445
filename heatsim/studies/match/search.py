# SPDX-License-Identifier: GPL-3.0-or-later
"""From the atlas's estimates to the simulator: every hypothesis that may be the best is simulated where it fits best.

The estimate is set right by what the simulator says at the best fit, and the fit repeated, until both agree (known as space
mapping: J. W. Bandler et al., IEEE Trans. Microw. Theory Tech. 42, 1994, p. 2536; memory).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from heatsim.parts.heater import Heater
from heatsim.studies.match.faults import NOTHING, PROBE, SUPPLY
from heatsim.studies.match.fit import APART, RIPPLE, Fit, Hypothesis, Model, Site, fit, starts
from heatsim.studies.match.parameters import add_knobs, turned
from heatsim.studies.match.probes import probe_kinds
from heatsim.studies.match.response_library import Atlas, packed_of
from heatsim.studies.match.solver import NoSolution, Solution, Solver

FIRST_LOOK = 30.0
"""A hypothesis whose estimated log evidence is this far behind the best is not simulated: the estimate is rarely off by half."""

BEHIND = 25.0
"""One that has been simulated once and is this far behind is left there: even if its estimate has been set right only once."""

EXPLAINS = 1.6
"""Misfit up to which a fit explains its record."""

MOST_OF_A_CAUSE = 4
"""Kinds of one cause that are simulated, the best ones."""

ROUNDS = 5
MOST_DEVIATIONS = 3.5
"""Tolerances further out than this many standard deviations are the slopes' error: the simulation stays within."""

AGREED = 0.3
"""Rms of what the simulator says beside the estimate, over noise and model, at which they agree."""

SOUND_PRIOR = math.log(2)
"""Log odds beforehand of a sound heater to any one cause: sound ones are more common; common practice, no source."""


def hypotheses(sites: Sequence[Site], least_cut: float = 0.03) -> list[Hypothesis]:
    """Every hypothesis the atlases hold, each cause with its prior shared out among its kinds."""
    known = {name: sheet.kind for site in sites for name, sheet in site.atlas.sheets.items()}
    kinds = dict.fromkeys((kind.cause for kind in known.values()), 0.0)
    for kind in known.values():
        kinds[kind.cause] += 1 / kind.sides
    kinds[SUPPLY] = kinds.get(SUPPLY, 0.0) + 1
    found = []
    for name, kind in known.items():
        sheets = tuple(site.atlas.sheets.get(name, site.atlas.sheets[NOTHING]) for site in sites)
        prior = -math.log(kinds[kind.cause] * kind.sides) + (SOUND_PRIOR if kind.cause == NOTHING else 0.0)
        found.append(Hypothesis(kind.cause, name, sheets, None, "", kind.replaces, kind.doubt, prior))
    sound = next(h for h in found if h.cause == NOTHING)
    found.append(replace(sound, cause=SUPPLY, name=RIPPLE, prior=-math.log(kinds[SUPPLY])))
    channels = list(dict.fromkeys(name for site in sites for name in site.seen.layout.orders))
    for channel in channels:
        own = probe_kinds(channel, _cut(sites, channel, least_cut))
        total = sum(kind.weight for kind in own) * len(channels)
        found += [
            replace(
                sound, cause=PROBE, name=f"{channel}: {kind.name}", probe=kind, channel=channel, prior=math.log(kind.weight / total)
            )
            for kind in own
        ]
    return found


def _cut(sites: Sequence[Site], channel: str, least: float) -> tuple[float | None, float | None]:
    """Where a channel is cut off: only if the sound heater's signal would go on by a fair share of its swing."""
    for site in sites:
        low, high = site.seen.clipped.get(channel, (None, None))
        expected = site.atlas.start.waveforms[channel]
        span = float(np.ptp(expected))
        below = low is not None and float(expected.min()) < low - least * span
        above = high is not None and float(expected.max()) > high + least * span
        if below or above:
            return low if below else None, high if above else None
    return None, None


def estimated(sites: Sequence[Site]) -> list[Fit]:
    """Every hypothesis fitted by the atlases from each of its starts, the best first."""
    found = []
    for hypothesis in hypotheses(sites):
        ends: list[Fit] = []
        for start in starts(sites, hypothesis):
            one = fit(sites, hypothesis, start=start)
            if all(np.max(np.abs(one.u - other.u), initial=0.0) > APART / 2 for other in ends):
                ends.append(one)
        found += ends
    return sorted(found, key=lambda one: -one.evidence)


def tolerance_knobs(atlas: Atlas, one: Fit) -> dict[str, float]:
    """Knobs of the parts' tolerances in a fit, without its fault."""
    knobs: dict[str, float] = {}
    for tolerance, t in zip(atlas.tolerances, one.tolerances, strict=False):
        add_knobs(knobs, tolerance.knobs, float(t) * tolerance.deviation)
    return knobs


def heater_of(sites: Sequence[Site], one: Fit, site: int) -> Heater:
    """The heater of a fit at one site."""
    atlas = sites[site].atlas
    knobs = tolerance_knobs(atlas, one)
    kind = one.hypothesis.sheets[site].kind
    values = tuple(p.value(float(x)) for p, x in zip(kind.parameters, one.u, strict=False))
    add_knobs(knobs, kind.knobs(values))
    return turned(atlas.heater, knobs)


def simulated(solvers: Sequence[Solver], sites: Sequence[Site], one: Fit) -> tuple[Fit, list[Solution], float]:
    """A fit repeated with the simulator's word at its best: the new fit, the solutions there, and by how much simulator and
    estimate differed, over noise and model. solvers: one a site. Raises NoSolution."""
    model = Model(sites, one.hypothesis, one.corrections)
    one = replace(one, tolerances=np.clip(one.tolerances, -MOST_DEVIATIONS, MOST_DEVIATIONS))
    parts = one.tolerances[: len(model.names)]
    corrections, solutions, off = [], [], []
    for k, solver in enumerate(solvers):
        packed = model.packed(k, one.u, parts)
        near = one.hypothesis.sheets[k].nearest(one.u[: one.hypothesis.own])
        solution = solver.solve(heater_of(sites, one, k), near, packed[-near.point.size :])
        there = packed_of(solution)
        corrections.append(one.corrections[k] + there - packed)
        off.append(model.vector(k, there, one.u) - model.vector(k, packed, one.u))
        solutions.append(solution)
    again = replace(fit(sites, one.hypothesis, corrections, one.u), simulated=True)
    scale = np.sqrt(model.variance(model.effect(one.u)))
    return again, solutions, float(np.sqrt(np.mean((np.concatenate(off) / scale) ** 2)))


def settled(solvers: Sequence[Solver], sites: Sequence[Site], one: Fit, behind: float = -math.inf) -> tuple[Fit, list[Solution]]:
    """`simulated` until simulator and estimate agree, or the evidence falls below `behind`. Raises NoSolution."""
    tried: list[tuple[float, Fit, list[Solution]]] = []
    for _ in range(ROUNDS):
        one, solutions, off = simulated(solvers, sites, one)
        tried.append((off, one, solutions))
        if off < AGREED or one.evidence < behind:
            break
    return min(tried[-2:], key=lambda each: each[0])[1:]


def worth_simulating(waiting: Sequence[Fit]) -> list[int]:
    """Places of those of the estimated fits, best first, that may be the best."""
    counts: Counter[str] = Counter()
    found = []
    for k, one in enumerate(waiting):
        counts[one.hypothesis.cause] += 1
        if one.evidence >= waiting[0].evidence - FIRST_LOOK and counts[one.hypothesis.cause] <= MOST_OF_A_CAUSE:
            found.append(k)
    return found


Settle = Callable[[list[Fit]], Iterable[tuple[int, Fit | None]]]
"""Sets fits right on a simulator: (number of the fit, what became of it, None without a periodic state), in any order."""


def search(sites: Sequence[Site], settle: Settle) -> list[Fit]:
    """All hypotheses, those that may be the best simulated, the best first."""
    done = estimated(sites)
    chosen = worth_simulating(done)
    for number, found in settle([done[k] for k in chosen]):
        k = chosen[number]
        done[k] = found or not_simulated(done[k])
    return ranked(sites, done)


def settled_here(solvers: Sequence[Solver], sites: Sequence[Site]) -> Settle:
    """On solvers of this process, one after the other; what falls far behind the best so far is left there."""

    def settle(fits: list[Fit]) -> Iterator[tuple[int, Fit | None]]:
        best = -math.inf
        for number, one in enumerate(fits):
            try:
                found, _ = settled(solvers, sites, one, best - BEHIND)
            except NoSolution:
                yield number, None
                continue
            best = max(best, found.evidence)
            yield number, found

    return settle


def not_simulated(one: Fit) -> Fit:
    """A fit whose simulation failed: ruled out."""
    return replace(one, evidence=one.evidence - FIRST_LOOK)


COARSE = {1.0: math.log(0.5), 4.0: math.log(0.2), 16.0: math.log(0.2), 64.0: math.log(0.1)}
"""How far a bench may be from the model, as a factor on what the model may be off, and log shares beforehand: a real
heater has more in it than its netlist."""


def ranked(sites: Sequence[Site], fits: Sequence[Fit]) -> list[Fit]:
    """The best fit of each hypothesis, best first, with evidence for a model as good as it is against another integration, or
    coarser. Where the best explains its record, those far behind keep their evidence of the first look."""
    best: dict[str, Fit] = {}
    for one in sorted(fits, key=lambda one: (-one.evidence, not one.simulated)):
        best.setdefault(one.hypothesis.name, one)
    top = max(best.values(), key=lambda one: one.evidence)
    found = []
    for one in best.values():
        if one.evidence < top.evidence - 4 * FIRST_LOOK and top.misfit < EXPLAINS:
            found.append(replace(one, evidence=one.evidence + COARSE[1.0]))
            continue
        each = {coarse: fit(sites, one.hypothesis, one.corrections, one.u, coarse) for coarse in COARSE}
        evidence = np.logaddexp.reduce([each[coarse].evidence + share for coarse, share in COARSE.items()])
        chosen = each[max(COARSE, key=lambda coarse: each[coarse].evidence + COARSE[coarse])]
        found.append(replace(chosen, evidence=float(evidence), simulated=one.simulated, chi2=one.chi2))
    return sorted(found, key=lambda one: -one.evidence)


def by_cause(fits: Sequence[Fit]) -> dict[str, float]:
    """Log evidence of each cause: its kinds' together."""
    found: dict[str, list[float]] = {}
    for one in fits:
        found.setdefault(one.hypothesis.cause, []).append(one.evidence)
    return {cause: float(np.logaddexp.reduce(values)) for cause, values in found.items()}
