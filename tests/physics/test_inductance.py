# SPDX-License-Identifier: GPL-3.0-or-later
"""Air-core inductance against computed and tabulated values (tests/support/references.py) and against a sum of
loops."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics import inductance as ind
from tests.support import references as ref
from tests.support.book import CLOSED, INDEPENDENT, known, listed

SHAPES = st.floats(1e-5, 1e5)


@pytest.mark.parametrize("row", ref.NAGAOKA)  # Rosa & Grover 1912 Table 21; printed: memory
def test_nagaoka(row: tuple) -> None:
    ours = ind.nagaoka_coefficient(row[0])
    assert ours == listed("NAGAOKA", "exact", row)
    if row[2] is not None:
        assert ours == listed("NAGAOKA", "printed", row)


@pytest.mark.parametrize("row", ref.SOLENOID_SHEET)
def test_sheet_and_its_approximations(row: tuple) -> None:
    coil = row[:3]
    exact = ind.solenoid_sheet_inductance(*coil)
    assert exact == listed("SOLENOID_SHEET", "sheet", row)
    assert ind.lundin_inductance(*coil) / exact - 1.0 == listed("SOLENOID_SHEET", "lundin", row)
    assert ind.wheeler_1982_inductance(*coil) / exact - 1.0 == listed("SOLENOID_SHEET", "wheeler82", row)
    assert ind.wheeler_1928_inductance(*coil) / exact - 1.0 == listed("SOLENOID_SHEET", "wheeler28", row)


@pytest.mark.parametrize("row", ref.ROSA_B)  # Rosa 1906, from the defining sum
def test_rosa_turns_term(row: tuple) -> None:
    assert ind.rosa_turns_term(row[0]) == listed("ROSA_B", "term", row)


def test_rosa_turns_term_of_an_endless_coil() -> None:
    """Limit ln(2 pi) - 3/2, approached as ln(N)/(6N) (Rosa & Grover 1912)."""
    assert ind.rosa_turns_term(100_000) == known(
        np.log(2 * np.pi) - 1.5, "Rosa's term B of an endless coil", "Rosa & Grover 1912", CLOSED, abs=1e-4
    )


def test_rosa_turns_term_between_whole_turns() -> None:
    assert ind.rosa_turns_term(2.5) == pytest.approx((0.11370564 + 0.16626125) / 2, abs=1e-7)


@pytest.mark.parametrize("row", ref.SOLENOID_WIRE)
def test_solenoid(row: tuple) -> None:
    assert ind.solenoid_inductance(*row[:4]) == listed("SOLENOID_WIRE", "value", row)


@pytest.mark.parametrize("turns, pitch, wire", [(4, 0.010, 0.006), (10, 0.006, 0.004), (25, 0.004, 0.002)])
def test_solenoid_is_the_sum_of_its_turns(turns: int, pitch: float, wire: float) -> None:
    """Independent route: N rings in a row, self-inductance (Grover 1946) plus every mutual one (Maxwell
    1873).

    Both Rosa's terms and the ring's formula leave out curvature, of second order in pitch/diameter.
    """
    place = np.arange(turns) * pitch
    gap = place[:, None] - place[None, :]
    apart = ~np.eye(turns, dtype=bool)
    mutual = np.sum(ind.loop_mutual_inductance(0.03, 0.03, gap[apart]))
    total = mutual + turns * ind.loop_self_inductance(0.03, wire / 2)
    summed = "sum of rings: Grover 1946, Maxwell 1873"
    assert ind.solenoid_inductance(0.06, turns * pitch, turns, wire) == known(
        total, f"coil of {turns} turns, pitch {pitch} m", summed, INDEPENDENT, unit="H", rel=0.2 * (pitch / 0.06) ** 2
    )


@pytest.mark.parametrize("row", ref.LOOP_MUTUAL)  # Maxwell 1873 art. 701
def test_loop_mutual(row: tuple) -> None:
    assert ind.loop_mutual_inductance(*row[:3]) == listed("LOOP_MUTUAL", "value", row)


@pytest.mark.parametrize("row", ref.LOOP_SELF)  # Grover 1946
def test_loop_self(row: tuple) -> None:
    assert ind.loop_self_inductance(*row[:3]) == listed("LOOP_SELF", "value", row)


def test_far_loops_are_dipoles() -> None:
    """M -> mu0 pi a^2 b^2/(2 z^3) (dipole field through a small loop)."""
    dipole = MU_0 * np.pi * 0.01**2 * 0.02**2 / (2 * 2.0**3)
    assert ind.loop_mutual_inductance(0.01, 0.02, 2.0) == known(
        dipole, "mutual inductance of two far loops", "dipole field through a small loop", CLOSED, unit="H", rel=1e-3
    )


@pytest.mark.parametrize("border", [1e-3, 1e3])
def test_nagaoka_does_not_jump_where_the_series_take_over(border: float) -> None:
    """Closed form and series on both sides of the border, to the digits that the closed form keeps there."""
    below, above = ind.nagaoka_coefficient(np.array([1 - 1e-10, 1 + 1e-10]) * border)
    assert above == pytest.approx(below, rel=5e-9)


@given(SHAPES, st.floats(1.001, 10.0))
def test_nagaoka_falls_with_diameter(ratio: float, step: float) -> None:
    assert 0.0 < ind.nagaoka_coefficient(ratio * step) < ind.nagaoka_coefficient(ratio) < 1.0


@given(st.floats(0.05, 20.0))
def test_lundin_holds_its_promise(ratio: float) -> None:
    """3e-6 over the whole range of shapes: R. Lundin, Proc. IEEE 73, 1985."""
    coil = (ratio, 1.0, 10.0)
    assert ind.lundin_inductance(*coil) == pytest.approx(ind.solenoid_sheet_inductance(*coil), rel=3e-6)


@given(st.floats(0.01, 10.0), st.floats(0.1, 10.0), st.integers(1, 60))
def test_inductance_scales_with_size(scale: float, shape: float, turns: int) -> None:
    wire = 0.6 * shape / turns
    unit = ind.solenoid_inductance(1.0, shape, turns, wire)
    assert ind.solenoid_inductance(scale, scale * shape, turns, scale * wire) == pytest.approx(scale * unit)


@given(st.floats(1e-3, 1.0), st.floats(1e-3, 1.0), st.floats(0.0, 1.0))
def test_mutual_inductance_is_mutual(first: float, second: float, gap: float) -> None:
    near = 1e-4 + gap
    forth = ind.loop_mutual_inductance(first, second, near)
    assert forth == pytest.approx(ind.loop_mutual_inductance(second, first, -near))
    assert forth > 0.0


def test_axis_field_of_a_long_coil_and_its_turns() -> None:
    """n I inside a long coil; turns times area times mean field is the long coil's inductance; half at its
    mouth."""
    assert ind.solenoid_axis_field(0.01, 10.0, 1000.0, 0.0) == pytest.approx(100.0, rel=1e-5)
    assert ind.solenoid_axis_field(0.01, 10.0, 1000.0, 5.0) == pytest.approx(50.0, rel=1e-5)
    middle, aside = ind.solenoid_axis_field(0.05, 0.05, 10.0, np.array([0.0, 0.02]))
    assert middle == pytest.approx(10.0 / np.hypot(0.05, 0.05))
    assert aside < middle


@pytest.mark.parametrize(
    "call",
    [
        lambda: ind.nagaoka_coefficient(0.0),
        lambda: ind.solenoid_inductance(0.05, 0.05, 10, 0.0051),
        lambda: ind.solenoid_inductance(-0.05, 0.05, 10, 0.001),
        lambda: ind.loop_mutual_inductance(0.0, 0.1, 0.1),
        lambda: ind.rosa_turns_term(-2),
    ],
)
def test_impossible_input_is_named(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
