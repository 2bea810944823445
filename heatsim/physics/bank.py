# SPDX-License-Identifier: GPL-3.0-or-later
"""Capacitors side by side along two rails: the current of each, and the resonances inside the bank.

Kirchhoff's laws for sinusoidal currents. Branch k of n lies between the rails at place k, a segment between neighbours. Let S_k be
the current of the branches 1 to k together, A_k what has entered the left rail up to the segment behind place k and B_k what has
left the right one. The left rail then carries A_k - S_k onwards and the right one S_k - B_k, and round the mesh of the branches k
and k+1

    Z_k (S_k - S_(k-1)) - Z_(k+1) (S_(k+1) - S_k) = (z_k/2) (A_k + B_k - 2 S_k),

z_k being the loop impedance of the segment, both rails in series as go and return. Only the difference of the rails' currents makes
a voltage round a mesh, so that nothing else of their inductances is needed. Left out: flux of one mesh in another and of the coil's
leads in the meshes; the bank must be long beside the distance of its rails.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray, require_not_negative, require_positive

ComplexArray = npt.NDArray[np.complex128]

Feeds = Sequence[tuple[float, complex]]
"""Place on a rail, counted in branches from 1, whole or half [1], and the current there [A]."""

SYMMETRY = 1e-6
"""Share of the largest current by which what enters one rail and leaves the other may differ."""


class BankFlow(NamedTuple):
    """Currents in a bank. branches: shape (n,) [A]; left, right: of the rails away from the first branch, in each half of each
    segment, shape (n-1, 2) [A].
    """

    branches: ComplexArray
    left: ComplexArray
    right: ComplexArray

    def rail_squares(self) -> FloatArray:
        """Mean square of the current in each rail, both rails added, shape (n-1,) [A2]: times half of a segment's loop resistance
        it is its loss.
        """
        return np.asarray((np.abs(self.left) ** 2 + np.abs(self.right) ** 2).mean(axis=1))


def bank_flow(branch: npt.ArrayLike, segment: npt.ArrayLike, left: Feeds, right: Feeds) -> BankFlow:
    """Currents [A] of branches between two rails, and of the rails.

    branch: impedances, shape (n,) [ohm]; segment: loop impedances from one branch to the next, shape (n-1,) or one for all [ohm]
    left: what enters the left rail, places [1] and currents [A]; right: what leaves the right rail likewise, places [1] and
    currents [A]

    Source: Kirchhoff's laws as written above; a feed in the middle of a segment parts it in halves. Raises InputError when as much
    does not leave as enters.
    """
    z = np.atleast_1d(np.asarray(branch, dtype=complex))
    count, total = z.size, complex(sum(current for _, current in left))
    away = complex(sum(current for _, current in right))
    if abs(total - away) > SYMMETRY * max(abs(current) for _, current in (*left, *right)):
        raise InputError.single("bank_flow", "more enters one rail than leaves the other", f"{total}, {away}", "equal sums")
    rail = np.broadcast_to(np.asarray(segment, dtype=complex), (count - 1,))
    entered, gone = _passed(count, left), _passed(count, right)
    sums = _sums(z, rail, (entered + gone).mean(axis=1), total)
    branches = np.diff(np.concatenate(([0.0], sums, [total])))
    return BankFlow(branches, entered - sums[:, None], sums[:, None] - gone)


def _passed(count: int, feeds: Feeds) -> ComplexArray:
    """Sum of the feeds before the middle of each half of each segment, shape (n-1, 2) [A]."""
    at = np.arange(1, count)[:, None] + np.array([0.25, 0.75])
    passed = np.zeros(at.shape, dtype=complex)
    for place, current in feeds:
        passed += np.where(at > place, current, 0.0)
    return passed


def _sums(z: ComplexArray, rail: ComplexArray, drive: ComplexArray, total: complex) -> ComplexArray:
    """S_1 to S_(n-1) [A]: a tridiagonal, complex symmetric system."""
    from scipy.linalg import solve_banded

    if z.size == 1:
        return np.zeros(0, dtype=complex)
    bands = np.zeros((3, z.size - 1), dtype=complex)
    bands[0, 1:] = bands[2, :-1] = -z[1:-1]
    bands[1] = z[:-1] + z[1:] + rail
    right: ComplexArray = rail / 2.0 * drive
    right[-1] += z[-1] * total
    found: Any = solve_banded((1, 1), bands, right)
    return np.asarray(found)


def inner_resonances(count: int, capacitance: float, own: float, segment: float) -> FloatArray:
    """Frequencies [Hz] at which equal capacitors along equal rails exchange charge among themselves, rising, shape (n-1,).

    count: capacitors [1]; capacitance: of each [F]; own: inductance of each [H]; segment: loop inductance of a segment [H]

    w_m^2 = q_m/(C (Lc q_m + Ls)), q_m = 4 sin^2(m pi/(2 n)), m = 1 to n-1: the meshes' equations without source or loss, whose
    difference operator has the eigenvalues q_m (chain with fixed ends). Feeds open; the coil's inductance, which is large beside
    the rails', raises those that the feed excites. They are the poles of the bank's impedance.
    """
    require_positive("inner_resonances", count=count, capacitance=capacitance, inductance=own + segment)
    require_not_negative("inner_resonances", own=own, segment=segment)
    q = 4.0 * np.sin(np.arange(1, count) * np.pi / (2.0 * count)) ** 2
    return np.asarray(np.sqrt(q / (capacitance * (own * q + segment))) / (2.0 * np.pi))


def string_share(in_series: int, tolerance: float) -> float:
    """Largest share [1] of a string's voltage that one of its capacitors may bear: one at the lower edge, the others at the upper.

    in_series: capacitors [1]; tolerance: of their capacitance [1]

    Equal charge, so that voltage goes with 1/C: (1+t)/[(1+t) + (m-1)(1-t)]. At direct current leakage decides instead.
    """
    require_not_negative("string_share", tolerance=tolerance)
    return (1.0 + tolerance) / ((1.0 + tolerance) + (in_series - 1) * (1.0 - tolerance))
