# SPDX-License-Identifier: GPL-3.0-or-later
"""How far heatsim's model is from heaters of other families, learned: `python -m tests.support.foreign_discrepancy N` matches N
sound heaters of the families marked "learn" (`tests.support.foreign`) with "nothing wrong" and prints what `SHARE_FLOOR` and
`BAND_FLOOR` of `heatsim.studies.match.data` are most likely to be.

What is left of a capture's vector is normal about zero,

    r ~ N(0, C + D + J J^T),   C: noise and aliasing, J: nuisance parameters, the simulator's steps and edges,

with D diagonal, one standard deviation for each group of lines of each signal and each band: the most likely ones of all captures
together, a log-normal prior of a factor of 2 about `BEFORE` (maximum a posteriori). What departures of families have in common is
in J. The second table says how well floors learned from the other families, times a factor, foretell each family left out.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize

from heatsim.studies.match.fault_model import NOTHING
from heatsim.studies.match.hypothesis import Model
from heatsim.studies.match.refinement import refined
from heatsim.studies.match.search import library_fits
from heatsim.studies.match.solver import NoSolution
from tests.support.foreign import faults, nominal, scope
from tests.support.foreign.capture import CHANNELS, Made, Task, make
from tests.support.foreign.parts import FAMILIES
from tests.support.matching import SCENARIO, bench, dataset_of

Array = np.ndarray
FIRST_SEED, AT_ONCE = 20_000, 24
GROUPS = (0, 1, 2, 3, 4, 6, 10, 16)
"""First orders of groups of lines."""

LEVEL, LINE, BAND = 5e-4, 5e-4, 0.3
BEFORE = 0.7
"""Standard deviation of the log of a floor a priori, about the values above: of log frequency and fundamental, a line, a band."""

FACTORS = (1.0, 1.5, 2.0, 3.0, 5.0)


@dataclass(frozen=True)
class Residual:
    """What a sound heater's fit leaves: family; left, shape (n,); variance of noise; columns of J, shape (n, k); group: index among
    `labels`, shape (n,)."""

    family: str
    left: Array
    variance: Array
    columns: Array
    group: Array


def labels() -> list[str]:
    """Of the floors."""
    lines = [f"{name} from order {first}" for name in CHANNELS for first in GROUPS]
    return ["log frequency", "log fundamental", *lines, *(f"{name} band {k}" for name in CHANNELS for k in range(5))]


def tasks(count: int) -> list[Task]:
    """Sound heaters, families and oscilloscopes in turn."""
    learn = [k for k, family in enumerate(FAMILIES) if family.learn]
    some = [(learn[k % len(learn)], scope.CHAINS[(k + k // len(learn)) % len(scope.CHAINS)]) for k in range(count)]
    return [Task(faults.NOTHING, family, chain, FIRST_SEED + k) for k, (family, chain) in enumerate(some)]


def residual(made: Made) -> Residual | None:
    """Of one capture; None where the simulator finds no state."""
    solver, _ = bench()
    dataset = dataset_of(made.time, {name: made.channels[name] for name in CHANNELS})
    sound = next(one for one in library_fits([dataset]) if one.hypothesis.cause == NOTHING)
    try:
        one = refined([solver], [dataset], sound)
    except NoSolution:
        return None
    model, observation = Model([dataset], one.hypothesis, one.corrections), dataset.observation
    sensitivities = model.sensitivities(one.u)
    columns = np.hstack([sensitivities, model.common(one.u, model.effect(one.u))])
    group = [0, 1]
    for place, (name, orders) in enumerate(observation.layout.orders.items()):
        lines = 2 + place * len(GROUPS) + np.searchsorted(GROUPS, orders, side="right") - 1
        group += [*lines, *lines, *(2 + 2 * len(GROUPS) + 5 * place + np.arange(observation.layout.quiet[name].size))]
    variance = observation.noise**2 + model.aliases[0] ** 2
    return Residual(
        FAMILIES[made.task.family].name, model.shifted_data(sensitivities) - model.means(one.u), variance, columns, np.array(group)
    )


def cost(logs: Array, some: Sequence[Residual]) -> tuple[float, Array]:
    """Negative log likelihood and its slopes; logs: of the floors."""
    total, slopes, squares = 0.0, np.zeros_like(logs), np.exp(2 * logs)
    for each in some:
        covariance = np.diag(each.variance + squares[each.group]) + each.columns @ each.columns.T
        factor = cho_factor(covariance)
        solved = cho_solve(factor, each.left)
        total += 0.5 * float(each.left @ solved) + float(np.sum(np.log(np.diag(factor[0]))))
        own = np.diag(cho_solve(factor, np.eye(each.left.size))) - solved**2
        np.add.at(slopes, each.group, own * squares[each.group])
    return total, slopes


def learned(some: Sequence[Residual]) -> Array:
    """The most likely floors."""
    start = np.log([LEVEL] * 2 + [LINE] * 2 * len(GROUPS) + [BAND] * 10)

    def with_prior(logs: Array) -> tuple[float, Array]:
        total, slopes = cost(logs, some)
        away = (logs - start) / BEFORE
        return total + 0.5 * float(away @ away), slopes + away / BEFORE

    return np.exp(minimize(with_prior, start, jac=True, method="L-BFGS-B").x)


def main(count: int) -> None:
    """Print what is learned."""
    every = tasks(count)
    made = [one for k in range(0, count, AT_ONCE) for one in make(every[k : k + AT_ONCE], nominal.read(SCENARIO))]
    found = [one for each in made if (one := residual(each)) is not None]
    for label, floor in zip(labels(), learned(found), strict=True):
        sys.stdout.write(f"{label:32} {floor:.2g}\n")
    sys.stdout.write(f"{'left out':10}" + "".join(f"{f'x {factor:g}':>8}" for factor in FACTORS) + "  log likelihood a capture\n")
    for family in sorted({one.family for one in found}):
        own = [one for one in found if one.family == family]
        floors = learned([one for one in found if one.family != family])
        told = [-cost(np.log(factor * floors), own)[0] / len(own) for factor in FACTORS]
        sys.stdout.write(f"{family:10}" + "".join(f"{value:8.1f}" for value in told) + f"  ({len(own)} captures)\n")


if __name__ == "__main__":
    main(int(sys.argv[1]))
