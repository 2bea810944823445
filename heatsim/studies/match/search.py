# SPDX-License-Identifier: GPL-3.0-or-later
"""From the library's estimates to the simulator: every hypothesis that may be the best is simulated where it fits best
(`refinement`), and all are ranked."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from heatsim.studies.match.fault_model import HEAVIER, INTERMITTENT, LOOSE_LEAD, NOTHING, PROBE, RARE, SUPPLY
from heatsim.studies.match.fit import APART, COMES_AND_GOES, RIPPLE, HypothesisFit, fit, left_over, starts
from heatsim.studies.match.hypothesis import Dataset, Hypothesis
from heatsim.studies.match.probes import probe_faults
from heatsim.studies.match.result import EXPLAINS

FIRST_LOOK = 12.0
"""A hypothesis whose estimated log evidence is this far behind the best is not simulated. The estimate is rarely off by half, but
for what changes the tank much: what the spread of other parts does is estimated at the sound heater. Heavier workpieces of the
foreign families that may be looked at (tests/support/foreign) were put up to 10 behind a loose lead, and came out before it or
beside it."""

TOGETHER = (LOOSE_LEAD, HEAVIER)
"""Where one of these fault models is simulated, so is the other, however far behind it is. Both take power from the tank, and a
first look cannot tell them apart: a heavier workpiece of the foreign families that may be looked at was put 99 behind a loose lead
where a choke's current was captured too."""

FIRST_FACTOR = 2.0
"""On the model discrepancy at the first look: between the library's points the estimate is worse than the model."""

CONTENDS, MOST_CONTENDERS = 40.0, 4
"""Log evidence behind the best within which fits are corrected thoroughly, and how many."""

UNSOLVED = 12.0
"""Log evidence that a hypothesis loses which cannot be simulated."""

MOST_OF_A_CAUSE = 4
"""Fault models of one cause that are simulated, the best ones."""

LEAST_CUT = 0.03
"""Share of a signal's swing beyond the record's range from which it counts as cut off."""

PRIORS = {NOTHING: math.log(2)} | dict.fromkeys(RARE, -math.log(2))
"""Log prior odds of causes to an ordinary one: sound heaters are more common, damaged and wrong parts less; common practice, no
source."""

DISCREPANCY_FACTORS = {1.0: math.log(0.6), 4.0: math.log(0.4)}
"""How far a bench may be from the model, as a factor on the model discrepancy, and log prior shares: a real heater has more in
it than its netlist."""

OWN_FACTORS = {1.0: math.log(0.5), 0.25: math.log(0.5)}
"""Likewise on the share of a fault's effect by which its own model may be off, which is a guess: where a model is better than that,
what is left in reserve for it would count against it. Foreign heaters without clamps came 10 to 15 behind nothing wrong for this,
with the better fit."""


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
            one = fit(datasets, hypothesis, start=start, discrepancy_factor=FIRST_FACTOR)
            if all(np.max(np.abs(one.u - other.u), initial=0.0) > APART / 2 for other in minima):
                minima.append(one)
        found += minima
    return sorted(found, key=lambda one: -one.evidence)


Refine = Callable[[list[list[HypothesisFit]], bool], Iterable[tuple[int, list[HypothesisFit | None]]]]
"""Corrects groups of fits on a simulator, thoroughly or not (`refinement`), in any order: (number of the group, what became of
each, None without a periodic state)."""


def search(datasets: Sequence[Dataset], refine: Refine) -> list[HypothesisFit]:
    """All hypotheses, those that may be the best simulated, the best first."""
    fits = library_fits(datasets)
    for thorough, choose in ((False, worth_simulating), (True, contenders)):
        groups = alike(fits, choose(fits))
        for number, found in refine([[fits[k] for k in group] for group in groups], thorough):
            for k, one in zip(groups[number], found, strict=True):
                fits[k] = one or (fits[k] if thorough else replace(fits[k], evidence=fits[k].evidence - UNSOLVED))
    return ranked(datasets, fits)


def contenders(fits: Sequence[HypothesisFit]) -> list[int]:
    """Places of the few simulated fits whose best may have been missed or was given up for another, where that decides between
    causes or whether the best explains the record; the best first."""
    order = sorted((k for k, one in enumerate(fits) if one.simulated), key=lambda k: -fits[k].evidence)
    near = [k for k in order if fits[k].evidence > fits[order[0]].evidence - CONTENDS]
    if len({fits[k].hypothesis.cause for k in near}) == 1 and not fits[order[0]].shortfall:
        return []
    return [k for k in near if fits[k].rough or fits[k].shortfall][:MOST_CONTENDERS]


def alike(fits: Sequence[HypothesisFit], chosen: Sequence[int]) -> list[list[int]]:
    """Places of fits of the same heater together, since what the simulator says of one serves the others."""
    groups: dict[str, list[int]] = {}
    for k in chosen:
        groups.setdefault(fits[k].hypothesis.widest.fault.name, []).append(k)
    return list(groups.values())


def worth_simulating(fits: Sequence[HypothesisFit]) -> list[int]:
    """Places of those of the estimated fits, best first, that may be the best, of those simulated `TOGETHER` with them, and of
    nothing wrong: no estimate rules it out."""
    counts: Counter[str] = Counter()
    found = []
    for k, one in enumerate(fits):
        counts[one.hypothesis.cause] += 1
        if one.evidence >= fits[0].evidence - FIRST_LOOK and counts[one.hypothesis.cause] <= MOST_OF_A_CAUSE:
            found.append(k)
    first = {one.hypothesis.name: k for k, one in reversed(list(enumerate(fits)))}
    names = {fits[k].hypothesis.name for k in found}
    found += [first[name] for name in TOGETHER if name in first and name not in names and names.intersection(TOGETHER)]
    sound = next((k for k, one in enumerate(fits) if one.hypothesis.cause == NOTHING), None)
    return found if sound is None or sound in found else [*found, sound]


def ranked(datasets: Sequence[Dataset], fits: Sequence[HypothesisFit]) -> list[HypothesisFit]:
    """The best fit of each hypothesis, best first, with evidence averaged over `DISCREPANCY_FACTORS` and `OWN_FACTORS`.

    Where the best explains its record, those far behind keep their evidence of the first look.
    """
    best: dict[str, HypothesisFit] = {}
    for one in sorted(fits, key=lambda one: (-one.evidence, not one.simulated)):
        best.setdefault(one.hypothesis.name, one)
    top = max(best.values(), key=lambda one: one.evidence)
    found = []
    for one in best.values():
        if one.evidence < top.evidence - 4 * UNSOLVED and top.misfit < EXPLAINS:
            chi2 = sum(float(np.sum(rest**2)) for rest in left_over(datasets, one))  # the first look's is of a wider discrepancy
            found.append(replace(one, evidence=one.evidence + DISCREPANCY_FACTORS[1.0], chi2=chi2))
            continue
        each = {
            factors: fit(datasets, one.hypothesis, one.corrections, one.u, *factors)
            for factors in itertools.product(DISCREPANCY_FACTORS, OWN_FACTORS)
        }
        weighed = {
            (factor, own): each[factor, own].evidence - one.shortfall * (factor == 1.0) + share + own_share
            for factor, share in DISCREPANCY_FACTORS.items()
            for own, own_share in OWN_FACTORS.items()
        }
        evidence = float(np.logaddexp.reduce(list(weighed.values())))
        chosen = each[max(DISCREPANCY_FACTORS, key=lambda factor: weighed[factor, 1.0]), 1.0]
        found.append(replace(chosen, evidence=evidence, simulated=one.simulated, chi2=one.chi2, shortfall=one.shortfall))
    return sorted(found, key=lambda one: -one.evidence)


def by_cause(fits: Sequence[HypothesisFit]) -> dict[str, float]:
    """Log evidence of each cause: its fault models' together."""
    found: dict[str, list[float]] = {}
    for one in fits:
        found.setdefault(one.hypothesis.cause, []).append(one.evidence)
    return {cause: float(np.logaddexp.reduce(values)) for cause, values in found.items()}
