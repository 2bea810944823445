# SPDX-License-Identifier: GPL-3.0-or-later
"""Currents of a bank along two rails against nodal equations of the whole network, closed forms and limits.

The nodal solution is written from Kirchhoff's laws without the module's sums: every half of a rail's segment is a branch with a
partial impedance of its own and a mutual one to the half opposite, which the module says do not matter but for their difference.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.physics.bank import bank_flow, inner_resonances, string_share
from tests.support.book import CLOSED, INDEPENDENT, known


def nodal(branch, loop, left, right, mutual):
    """Branch currents; nodes at every half of a segment, 2n-1 a rail, the last one of the right rail at zero."""
    count = len(branch)
    nodes = 2 * count - 1
    y = np.zeros((2 * nodes, 2 * nodes), dtype=complex)

    def join(admittance, one, other, third=None, fourth=None):
        """Current `admittance` times the voltage from third to fourth flows from one to other."""
        third, fourth = (one, other) if third is None else (third, fourth)
        y[one, third] += admittance
        y[one, fourth] -= admittance
        y[other, third] -= admittance
        y[other, fourth] += admittance

    for k, z in enumerate(branch):
        join(1 / z, 2 * k, nodes + 2 * k)
    for k in range(nodes - 1):
        own = loop[k // 2] / 4 / (1 - mutual)
        block = np.linalg.inv(np.array([[own, mutual * own], [mutual * own, own]]))
        rails = [(k, k + 1), (nodes + k, nodes + k + 1)]
        for row in (0, 1):
            for column in (0, 1):
                join(block[row, column], *rails[row], *rails[column])
    source = np.zeros(2 * nodes, dtype=complex)
    for place, current in left:
        source[round(2 * (place - 1))] += current
    for place, current in right:
        source[nodes + round(2 * (place - 1))] -= current
    voltage = np.zeros(2 * nodes, dtype=complex)
    voltage[:-1] = np.linalg.solve(y[:-1, :-1], source[:-1])
    return np.array([(voltage[2 * k] - voltage[nodes + 2 * k]) / z for k, z in enumerate(branch)])


PARTS = st.floats(-1, 1)


@given(st.integers(2, 9), st.data())
def test_currents_agree_with_nodal_equations(count: int, data) -> None:
    def draw(size, low):
        return np.array([data.draw(st.floats(low, 3)) + 1j * data.draw(PARTS) for _ in range(size)])

    branch, loop = draw(count, 1), draw(count - 1, 0.05)
    halves = st.integers(2, 2 * count).map(lambda half: half / 2)
    currents = [1.0, 0.3 - 0.4j]
    left, right = ([(data.draw(halves), current) for current in currents] for _ in range(2))
    flow = bank_flow(branch, loop, left, right)
    expected = nodal(branch, loop, left, right, data.draw(st.floats(0, 0.8)))
    assert flow.branches == pytest.approx(expected, rel=1e-7, abs=1e-9)
    assert flow.branches.sum() == pytest.approx(sum(currents))


def lossy(count, frequency=84e3):
    """Impedances of a plausible bank: 1 uF with 25 nH and 2 mohm, 40 nH and 1.5 mohm a segment."""
    w = 2 * np.pi * frequency
    return np.full(count, 2e-3 + 1j * (w * 25e-9 - 1 / (w * 1e-6))), 1.5e-3 + 1j * w * 40e-9


@pytest.mark.parametrize("count", [2, 3, 10, 41])
def test_at_the_same_end_the_shares_follow_a_hyperbolic_cosine(count: int) -> None:
    """i_k = I 2 sinh(g/2) cosh((n-k+1/2) g)/sinh(n g), 2 cosh g - 2 = z/Z: the ladder's difference equation, solved by hand."""
    branch, z = lossy(count)
    g, k = np.arccosh(1 + z / branch[0] / 2), np.arange(1, count + 1)
    expected = 2 * np.sinh(g / 2) * np.cosh((count - k + 0.5) * g) / np.sinh(count * g)
    told = "ladder's difference equation by hand"
    assert bank_flow(branch, z, [(1, 1.0)], [(1, 1.0)]).branches == known(
        expected, f"shares of {count} capacitors, coil at one end", told, INDEPENDENT, rel=1e-9
    )


@pytest.mark.parametrize("count", [2, 3, 10, 41])
def test_at_opposite_ends_and_in_the_middle_the_shares_are_symmetric(count: int) -> None:
    branch, z = lossy(count)
    g, k = np.arccosh(1 + z / branch[0] / 2), np.arange(1, count + 1)
    expected = np.sinh(g / 2) * np.cosh((k - (count + 1) / 2) * g) / np.sinh(count * g / 2)
    told = "ladder's difference equation by hand"
    assert bank_flow(branch, z, [(1, 1.0)], [(count, 1.0)]).branches == known(
        expected, f"shares of {count} capacitors, coil at opposite ends", told, INDEPENDENT, rel=1e-9
    )
    middle = (count + 1) / 2
    shares = bank_flow(branch, z, [(middle, 1.0)], [(middle, 1.0)]).branches
    assert shares == pytest.approx(shares[::-1], rel=1e-9)
    if count % 2 == 0:  # each half is a bank of its own with the coil at its end
        half = bank_flow(branch[: count // 2], z, [(1, 0.5)], [(1, 0.5)]).branches
        assert shares[count // 2 :] == pytest.approx(half, rel=1e-9)


def test_a_long_bank_of_resistive_rails_starves_its_far_end() -> None:
    """Many small branches: i(x)/mean = G cosh(G(1-x))/sinh G, G^2 = n^2 z/Z, the continuous line."""
    count, big = 2000, 2.5
    shares = count * bank_flow(np.full(count, 1.0), big**2 / count**2, [(1, 1.0)], [(1, 1.0)]).branches.real
    x = (np.arange(count) + 0.5) / count
    expected = big * np.cosh(big * (1 - x)) / np.sinh(big)
    assert shares == known(expected, "shares of 2000 branches along resistive rails", "continuous line", CLOSED, rel=1e-5)


def test_capacitors_along_inductive_rails_carry_more_the_farther_they_are() -> None:
    """The voltage of a line with an open end rises towards it."""
    branch, z = lossy(10)
    assert np.all(np.diff(np.abs(bank_flow(branch, z, [(1, 1.0)], [(1, 1.0)]).branches)) > 0)


@pytest.mark.parametrize("ends", [(1, 1), (1, 7), (4, 4), (7, 7)])
def test_without_impedance_of_the_rails_all_share_evenly(ends: tuple[int, int]) -> None:
    flow = bank_flow(np.full(7, 1 - 3j), 0.0, [(ends[0], 7.0)], [(ends[1], 7.0)])
    assert flow.branches == pytest.approx(np.ones(7), rel=1e-12)


def test_one_capacitor_carries_it_all() -> None:
    flow = bank_flow(1 - 3j, 0.5, [(1, 2.0 + 1j)], [(1, 2.0 + 1j)])
    assert flow.branches.tolist() == [2 + 1j] and flow.left.size == 0 and flow.rail_squares().sum() == 0


@pytest.mark.parametrize("ends", [(1, 1), (10, 10), (5.5, 5.5)])
def test_what_enters_at_a_place_is_lost_in_capacitors_and_rails(ends: tuple[float, float]) -> None:
    """The power that a source at one place gives, from the voltage that the currents make there."""
    branch, z = lossy(10)
    flow = bank_flow(branch, z, [(ends[0], 1.0)], [(ends[1], 1.0)])
    lost = float(np.sum(branch.real * np.abs(flow.branches) ** 2) + np.sum(z.real / 2 * flow.rail_squares()))
    near = int(ends[0]) - 1
    voltage = branch[near] * flow.branches[near]
    if ends[0] % 1:  # half a segment farther on, on either rail
        voltage -= z / 4 * (flow.left[near, 0] - flow.right[near, 0])
    assert voltage.real == pytest.approx(lost, rel=1e-9)


def test_what_enters_must_leave() -> None:
    with pytest.raises(InputError, match="more enters"):
        bank_flow(np.ones(3), 0.1, [(1, 1.0)], [(1, 0.9)])


@pytest.mark.parametrize("count, own", [(2, 25e-9), (5, 0.0), (10, 25e-9)])
def test_resonances_are_the_eigenvalues_of_the_state_equations(count: int, own: float) -> None:
    """States: current of each mesh and charge voltage of each capacitor; L di/dt = v, C dv/dt = i, no source, no loss."""
    c, segment, meshes = 1e-6, 40e-9, count - 1
    incidence = np.zeros((meshes, count))
    for mesh in range(meshes):
        incidence[mesh, mesh], incidence[mesh, mesh + 1] = 1.0, -1.0
    inductance = own * incidence @ incidence.T + segment * np.eye(meshes)
    system = np.zeros((meshes + count, meshes + count))
    system[:meshes, meshes:] = np.linalg.solve(inductance, incidence)
    system[meshes:, :meshes] = -incidence.T / c
    found = np.sort(np.abs(np.linalg.eigvals(system).imag))[-2 * meshes :: 2] / (2 * np.pi)
    assert inner_resonances(count, c, own, segment) == known(
        found, f"resonances within a bank of {count}", "eigenvalues of the state equations", INDEPENDENT, unit="Hz", rel=1e-6
    )


def test_on_a_resonance_the_currents_are_large_and_change_sign() -> None:
    first = float(inner_resonances(6, 1e-6, 25e-9, 40e-9)[0])

    def far(frequency):
        w = 2 * np.pi * frequency
        return bank_flow(np.full(6, 1j * (w * 25e-9 - 1e6 / w)), 1j * w * 40e-9, [(1, 1.0)], [(1, 1.0)]).branches[-1].real

    below, above = far(first * (1 - 1e-4)), far(first * (1 + 1e-4))
    assert below > 100 and above < -100


@pytest.mark.parametrize("tolerance", [0.0, 0.05, 0.1])
def test_share_of_a_string_is_that_of_equal_charge(tolerance: float) -> None:
    capacitances = np.array([1 - tolerance, *[1 + tolerance] * 3])
    assert string_share(4, tolerance) == pytest.approx((1 / capacitances)[0] / np.sum(1 / capacitances))
    assert string_share(1, tolerance) == 1.0
