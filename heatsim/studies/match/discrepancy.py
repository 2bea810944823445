# SPDX-License-Identifier: GPL-3.0-or-later
"""How far the model may be off in what a record shows: the model discrepancy in the coordinates of `data`.

Floors stand for what sound heaters differ by, a share of a fault's own effect for what faulty ones do.
"""

from __future__ import annotations

import math

import numpy as np

from heatsim.studies.match.data import Layout, kind_of
from heatsim.studies.match.solver import COUNT
from heatsim.waves import Array

LEVEL_FLOOR = (5e-4, 4e-4)
"""Prior standard deviation of the model error in log frequency and log fundamental: measured against the independent integration of
the same circuit (tests/studies), 1 to 4e-4."""

SHARE_FLOOR = {
    "tank": ((0, 1e-4), (1, 4e-4), (2, 3e-4), (3, 2e-4), (4, 1e-4)),
    "drain": ((0, 1e-4), (1, 4e-4), (2, 2e-4), (3, 2e-4), (4, 1e-4), (16, 1.5e-4)),
}
"""The same for a line, as a share of the fundamental, from each order on, beside the error of the simulator's steps: one and a half
to twice what is most likely of heaters of foreign families (`python -m tests.support.foreign_discrepancy`), whose MOSFETs, chokes,
workpieces, probes and converters follow other laws. What these have in common, the nuisance parameters are for."""

OWN_FLOORS = {"gate": (0.05, 0.1, 0.8, 0.0), "choke": (0.005, 0.015, 1.5, 1e-3)}
"""The same for gate voltages and choke currents: of the mean, as a share of the signal's own mean; of the fundamental, as a share
of itself; the power of the order by which that of the other lines falls; and the least it falls to. Measured on 16 sound heaters of
the four foreign families that may be looked at (tests/support/foreign), what the spread of their parts and probes leaves, rms:
gate 1.6 % of the mean, 3.1, 2.3, 1.1, 1.0, 0.7 and then 0.5 to 0.25 % of the fundamental in the orders from 1 on; choke 0.33 % of
the mean and 0.94, 0.42, 0.08, 0.07 and then 0.03 %. Errors of a gate are those of an edge, alike in all lines, so each counts three
times; a choke's are in its first lines and count half as much again."""

SMEAR = 0.03
"""Share of the rms of what a fault does to a signal's lines by which the model may be off in every line of it, as an error in an
edge does: measured 0.02 to 0.06 (weaker and saturating chokes, heavy loads, weak gate drive)."""

RIPPLE_SHARE = 0.1
"""Share of what a fault does to the ripple of a choke's current by which the model may be off: it follows the knee of the core,
whose law is one of many. With 1.2 % a saturating choke of another law was outside what heatsim knows, at a misfit of 1.6."""

BAND_FLOOR = (0.25, 0.45, 0.35, 0.35, 0.7)
"""The same for the log of the rms in the bands above the lines: learned likewise."""


def floors_of(layout: Layout) -> dict[str, Array]:
    """Standard deviation of the model error in each line of each signal, as shares of the reference's fundamental."""
    found = {}
    for name in layout.orders:
        if (kind := kind_of(name)) in OWN_FLOORS:
            (of_mean, of_first, power, least), (mean, first) = OWN_FLOORS[kind], layout.sizes[name]
            lines = first * np.maximum(of_first / np.arange(1, COUNT + 1) ** power, least)
            found[name] = np.concatenate([[of_mean * mean], lines])
        else:
            found[name] = share_floor(kind)
    return found


def share_floor(kind: str) -> Array:
    """`SHARE_FLOOR` of a kind of signal in each order, shape (COUNT + 1,)."""
    first, values = np.array(SHARE_FLOOR[kind]).T
    return np.asarray(values[np.searchsorted(first, np.arange(COUNT + 1), side="right") - 1])


def widened(discrepancy_factor: float) -> float:
    """Factor on floors that are wide in themselves, for a model whose lines are off by `discrepancy_factor`."""
    return max(1.0, discrepancy_factor / 4)


def discrepancy_of(layout: Layout, effect: Array, share: float, discrepancy_factor: float = 1.0) -> Array:
    """Standard deviations of the model discrepancy in the vector's coordinates, shape (n,).

    effect: what the fault does to the vector, shape (n,)
    share: of it, by which the model may be off
    discrepancy_factor: on the floor of the lines' shares; see `widened` for the others
    """
    wider, shares = widened(discrepancy_factor), floors_of(layout)
    level = math.hypot(LEVEL_FLOOR[1], OWN_FLOORS[kind][1] if (kind := kind_of(layout.reference)) in OWN_FLOORS else 0.0)
    floor = layout.spread(
        {name: discrepancy_factor * each for name, each in shares.items()},
        [wider * LEVEL_FLOOR[0], wider * level],
        dict.fromkeys(layout.orders, wider * np.array(BAND_FLOOR)),
    )
    moved, shares_of = np.abs(effect), np.full(effect.size, share)
    smeared = np.zeros_like(moved)
    for (real, imaginary), (name, orders) in zip(layout.pairs(), layout.orders.items(), strict=True):
        moved[real] = moved[imaginary] = np.hypot(moved[real], moved[imaginary])
        # a choke integrates an edge of the voltage across it, and its mean is none of an edge
        falls = np.where(orders > 0, 1 / np.maximum(orders, 1), 0.0) if name.endswith("current") else np.ones(orders.size)
        if name.endswith("current"):
            shares_of[real] = shares_of[imaginary] = np.where(orders > 0, max(share, RIPPLE_SHARE), share)
        smeared[real] = smeared[imaginary] = falls * math.sqrt(np.mean(moved[real][falls > 0] ** 2) / 2)
    smear = max(SMEAR, min(wider * SMEAR, share))
    total: Array = np.sqrt(floor**2 + (shares_of * moved) ** 2 + (smear * smeared) ** 2)
    return total
