# SPDX-License-Identifier: GPL-3.0-or-later
"""Bundles and turn capacitance against geometry, quadrature and the published limit."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from heatsim.errors import InputError
from heatsim.physics import winding as w
from tests.support.book import CLOSED, INDEPENDENT, PUBLISHED, known


@pytest.mark.parametrize(
    ("strands", "factor"),  # circles in a circle, closed forms of plane geometry
    [
        (1, 1.0),
        (2, 2.0),
        (3, 1 + 2 / math.sqrt(3)),
        (4, 1 + math.sqrt(2)),
        (5, 1 + 1 / math.sin(math.pi / 5)),
        (6, 3.0),
        (7, 3.0),
        (8, 1 + 1 / math.sin(math.pi / 7)),
        (9, 1 + 1 / math.sin(math.pi / 8)),
        (19, 3 + 1.863703),
    ],
)
def test_bundle_of_touching_strands(strands: int, factor: float) -> None:
    assert w.bundle_factor(strands) == known(
        factor, f"bundle of {strands} strands: diameter over that of a strand", "circles in a circle", CLOSED, rel=1e-5
    )


def test_a_bundle_never_shrinks_and_never_fills_more_than_the_plane() -> None:
    factors = [w.bundle_factor(n) for n in range(1, 60)]
    assert all(b >= a for a, b in zip(factors, factors[1:], strict=False))
    assert all(n / f**2 < math.pi / math.sqrt(12) for n, f in enumerate(factors[1:], start=2))
    with pytest.raises(InputError):
        w.bundle_factor(0)


def test_lay_of_a_helix() -> None:
    assert w.lay_factor(1, 10.0) == 1.0
    # seven strands, bundle 3 d: mean helix 4/3 d, one twist in 30 d; Pythagoras on the unrolled helix
    assert w.lay_factor(7, 10.0) == pytest.approx(math.sqrt(1 + (math.pi * 4 / 3 / 30) ** 2), rel=1e-12)


MASSARINI = "quadrature; Massarini & Kazimierczuk 1997"


@pytest.mark.parametrize(("bare", "overall"), [(1.6e-3, 1.706e-3), (0.5e-3, 0.566e-3), (1e-3, 1.062e-3)])
def test_turn_capacitance_is_the_integral_of_its_flux_tubes(bare: float, overall: float) -> None:
    """Massarini & Kazimierczuk 1997: coats of both wires in series with the air between, over 30 degrees to each side."""
    a = 1 + math.log(overall / bare) / 3.5
    integral = quad(lambda angle: 0.5 / (a - math.cos(angle)), -math.pi / 6, math.pi / 6)[0]
    assert w.turn_capacitance(bare, overall, 0.08, 3.5) == known(
        8.8541878128e-12 * 0.08 * integral,
        f"turn-to-turn capacitance of {1e3 * bare:g} mm wire",
        MASSARINI,
        INDEPENDENT,
        unit="F",
        rel=1e-9,
    )


@pytest.mark.parametrize("turns", [10, 11, 30, 31])
def test_layer_on_a_core_tends_to_the_published_limit(turns: int) -> None:
    """1.366 times the turn-to-turn capacitance for ten turns and more; the same paper."""
    what = f"capacitance of a layer of {turns} turns on a core, over that between turns"
    assert w.layer_capacitance(turns, 1.0) == known(1.366, what, "Massarini & Kazimierczuk 1997", PUBLISHED, abs=5e-4)


@pytest.mark.parametrize(("turns", "expected"), [(1, 0.0), (2, 2.0), (3, 1.5), (4, 1.4)])
def test_few_turns_by_hand(turns: int, expected: float) -> None:
    """Ladder reduced by hand: 2 turns C + C, 3 turns C/2 + C, 4 turns 1/(2 + 1/2) + 1."""
    what = f"capacitance of a layer of {turns} turns on a core, over that between turns"
    assert w.layer_capacitance(turns, 1.0) == known(expected, what, "ladder by hand", INDEPENDENT)


def test_without_a_core_turns_are_in_series() -> None:
    assert w.layer_capacitance(11, 1.0, on_core=False) == pytest.approx(0.1)
