# SPDX-License-Identifier: GPL-3.0-or-later
"""Will the second build hold as well? Yield of a winding against its limits when everything is a little off.

Each influence is drawn by scrambled Sobol points (scipy.stats.qmc) and judged by the quick estimate, which is what makes
thousands of builds affordable; what it leaves out is named in `heatsim.parts.duty`. The number of samples is doubled
until the yield moves by less than `ENOUGH` twice in a row. First-order and total Sobol indices of the least headroom say which
influence matters most (Saltelli et al., Comput. Phys. Commun. 181, 2010, p. 259; scipy.stats.sobol_indices).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from heatsim.parts.choke import Choke, wound_curve
from heatsim.parts.duty import Duty, estimate
from heatsim.scenario.scenario import Scenario
from heatsim.studies.wind.study import WindingCandidate, least_headroom
from heatsim.waves import Array

ENOUGH = 0.01
"""Change of the yield between doublings that counts as converged."""

FIRST, MOST = 64, 2048
"""Fewest and most samples."""


@dataclass(frozen=True)
class Influence:
    """Something that is never exactly as planned: drawn evenly between `low` and `high`; basis: where that is from."""

    name: str
    low: float
    high: float
    basis: str


def influences(al_tolerance: float) -> tuple[Influence, ...]:
    """What is varied, with the ring's inductance tolerance from the drawer."""
    return (
        Influence("inductance of the ring (AL)", 1 - al_tolerance, 1 + al_tolerance, "the drawer's al_tolerance"),
        Influence("saturation of the material", 0.9, 1.1, "half field, for the catalogue's +-5 points; memory"),
        Influence("turns miscounted", -0.625, 0.625, "one turn in five windings is off by one; common practice, no source"),
        Influence("loose winding", 1.0, 1.08, "longer mean turn; common practice, no source"),
        Influence("copper temperature", 40.0, 100.0, "cold to hot choke [°C]"),
        Influence("supply voltage", 0.97, 1.03, "setting and line; common practice, no source"),
        Influence("load", 0.9, 1.1, "workpiece and its place in the coil; common practice, no source"),
    )


@dataclass(frozen=True)
class YieldResult:
    """share of builds that keep every choke limit, with the 95 % interval of that share (Wilson); samples used and the
    yield at each doubling; worst limit by name -> share of builds it breaks; first, total: influence -> Sobol index.
    """

    share: float
    interval: tuple[float, float]
    samples: int
    doublings: tuple[tuple[int, float], ...]
    broken_by: dict[str, float]
    first: dict[str, float]
    total: dict[str, float]

    @property
    def matters_most(self) -> str:
        """The influence with the largest total index."""
        return max(self.total, key=lambda name: self.total[name])


def build_yield(scenario: Scenario, candidate: WindingCandidate, duty: Duty, seed: int = 1) -> YieldResult:
    """Yield of a candidate on a duty, the same for the same seed."""
    from scipy.stats import qmc

    table = scenario.tables.wind
    drawn = influences(table.al_tolerance if table else 0.08)
    headrooms: list[tuple[float, str]] = []
    doublings: list[tuple[int, float]] = []
    points = qmc.Sobol(len(drawn), rng=np.random.default_rng(seed)).random
    while True:
        more = points(len(headrooms) or FIRST)
        headrooms += [_headroom(scenario, candidate.choke, duty, drawn, row) for row in more]
        doublings.append((len(headrooms), float(np.mean([least >= 0 for least, _ in headrooms]))))
        if len(headrooms) >= MOST or _converged(doublings):
            break
    first, total = _indices(scenario, candidate.choke, duty, drawn, seed)
    share = doublings[-1][1]
    broken = [name for least, name in headrooms if least < 0]
    return YieldResult(
        share,
        wilson(share, len(headrooms)),
        len(headrooms),
        tuple(doublings),
        {name: broken.count(name) / len(headrooms) for name in sorted(set(broken))},
        first,
        total,
    )


def _converged(doublings: list[tuple[int, float]]) -> bool:
    shares = [share for _, share in doublings[-3:]]
    return len(shares) == 3 and max(abs(a - b) for a, b in zip(shares[1:], shares[:-1], strict=True)) < ENOUGH


def wilson(share: float, count: int) -> tuple[float, float]:
    """95 % interval of a share seen in `count` trials; E. B. Wilson, J. Am. Stat. Assoc. 22, 1927, p. 209."""
    from scipy.stats import binomtest

    found = binomtest(round(share * count), count).proportion_ci(method="wilson")
    return float(found.low), float(found.high)


def varied(choke: Choke, duty: Duty, values: Array) -> tuple[Choke, Duty]:
    """A choke and duty with the influences at `values`, in the order of `influences`."""
    al, half, turns, loose, warm, volts, load = (float(value) for value in values)
    core = choke.core
    assert core is not None
    material = core.material
    saturation = material.saturation_flux_density_t
    changed = replace(
        core,
        material=replace(
            material,
            permeability=material.permeability * al,
            bias=material.bias.stretched(half) if material.bias else None,
            saturation_flux_density_t=None if saturation is None else saturation * half,
        ),
        winding=replace(core.winding, turns=core.winding.turns + round(turns)),
    )
    made = replace(
        choke,
        core=changed,
        curve=wound_curve(changed),
        temperature=warm,
        resistance=loose * changed.winding.resistance(changed.ring, warm),
    )
    return made, replace(duty, voltage=duty.voltage * volts, mean_current=duty.mean_current * volts * load)


def _headroom(scenario: Scenario, choke: Choke, duty: Duty, drawn: tuple[Influence, ...], row: Array) -> tuple[float, str]:
    low = np.array([each.low for each in drawn])
    high = np.array([each.high for each in drawn])
    made, carried = varied(choke, duty, low + (high - low) * row)
    return least_headroom(estimate(made, carried), scenario)


def _indices(
    scenario: Scenario, choke: Choke, duty: Duty, drawn: tuple[Influence, ...], seed: int
) -> tuple[dict[str, float], dict[str, float]]:
    """First-order and total Sobol indices of the least headroom."""
    from scipy.stats import sobol_indices, uniform

    def headrooms(x: Array) -> Array:
        return np.array([[_headroom(scenario, choke, duty, drawn, row)[0] for row in x.T]])

    found = sobol_indices(func=headrooms, n=128, dists=[uniform(0, 1)] * len(drawn), rng=np.random.default_rng(seed))
    names = [each.name for each in drawn]
    first, total = np.ravel(found.first_order), np.ravel(found.total_order)
    return dict(zip(names, map(float, first), strict=True)), dict(zip(names, map(float, total), strict=True))
