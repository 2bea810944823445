# SPDX-License-Identifier: GPL-3.0-or-later
"""Current sheets of a piece in its coil against magnetic charges on end faces, Biot-Savart's law, and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import j1

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.eddy import cylinder_power, mean_permeability
from heatsim.physics.inductance import solenoid_axis_field
from heatsim.physics.sheets import sheet_coupling, sheet_fields, sheet_reflection
from tests.support.book import CLOSED, INDEPENDENT, MEMORY, known

COIL = (0.06, 0.08, 8.0)


def charged_faces(radius: float, edges: np.ndarray) -> np.ndarray:
    """Demagnetising factors between slices of even magnetisation, from the charges on their end faces.

    Potential of an even disc by Hankel transform: a/l times the integral of J1(q)^2/q^2 exp(-q |z - z'|/a), summed over the faces
    with their signs (R. I. Joseph, J. Appl. Phys. 37, 1966, p. 4639, memory).
    """
    q = np.concatenate([np.linspace(1e-6, 60.0, 60001), np.geomspace(60.0, 3e4, 200001)[1:]])
    weight = np.square(j1(q) / q)
    apart = np.abs(edges[:, None] - edges[None, :]) / radius
    pairs = np.array([[np.trapezoid(weight * np.exp(-q * gap), q) for gap in row] for row in apart])
    both = pairs[1:, 1:] + pairs[:-1, :-1] - pairs[1:, :-1] - pairs[:-1, 1:]
    return np.asarray(radius / np.diff(edges)[:, None] * both)


def test_factors_against_charged_faces() -> None:
    edges = np.array([-0.02, -0.016, -0.005, 0.005, 0.03])
    found = sheet_coupling(COIL, 0.012, tuple(edges)).demagnetising
    wanted = charged_faces(0.012, edges)
    assert found == known(wanted, "demagnetising factors of slices", "charged faces", INDEPENDENT, abs=2e-4)


def test_factor_of_a_whole_cylinder() -> None:
    """As long as thick, 0.3116 (Chen, Brug & Goldfarb 1991, no susceptibility; memory); a disc,
    1 - (2 l/(pi d))(ln(4 d/l) - 1/2)."""
    as_long, disc = (sheet_coupling(COIL, 0.01, (0.0, 0.02 * share)).demagnetising[0, 0] for share in (1.0, 1e-3))
    thin = 2e-3 / np.pi * (np.log(4e3) - 0.5)
    assert as_long == known(0.3116, "demagnetising factor, as long as thick", "Chen, Brug & Goldfarb 1991", MEMORY, abs=1e-4)
    assert 1 - disc == known(thin, "one less the demagnetising factor of a disc", "thin disc", CLOSED, rel=1e-3)


def test_slices_make_up_the_whole() -> None:
    """Evenly magnetised slices: the mean over the whole of their factors is that of the piece in one; equal both ways."""
    edges = np.array([-0.03, -0.024, -0.01, 0.002, 0.03])
    many, one = sheet_coupling(COIL, 0.015, tuple(edges)), sheet_coupling(COIL, 0.015, (-0.03, 0.03))
    by_volume = many.widths[:, None] * many.demagnetising
    assert by_volume.sum() / 0.06 == pytest.approx(one.demagnetising[0, 0], rel=1e-9)
    assert by_volume == pytest.approx(by_volume.T, rel=1e-9)
    assert many.widths @ many.field / 0.06 == pytest.approx(one.field[0], rel=1e-4)


def test_field_of_the_coil_over_a_thin_piece_is_that_on_the_axis() -> None:
    edges = np.linspace(-0.06, 0.05, 9)
    axis = [np.mean(np.asarray(solenoid_axis_field(*COIL, np.linspace(a, b, 501)))) for a, b in zip(edges, edges[1:], strict=False)]
    assert sheet_coupling(COIL, 1e-4, tuple(edges)).field == pytest.approx(axis, rel=1e-4)


@pytest.mark.parametrize("mu_r", [1.0, 50.0])
def test_a_long_bar_in_a_long_coil_is_the_cylinder(mu_r: float) -> None:
    """100 turns a metre: power and flux of Davies & Simpson 1979's cylinder, but for the ends."""
    coil, frequency, edges = (0.04, 8.0, 800.0), 5e4, tuple(np.linspace(-4.0, 4.0, 41))
    coupling = sheet_coupling(coil, 0.01, edges)
    mean = np.full(40, mean_permeability(0.01, 2e-7, mu_r, frequency))
    fields = sheet_fields(coupling, mean, 1.0)
    found = sheet_reflection(coupling, mean, fields, 1.0, frequency)
    what, limit = f"long bar of mu_r {mu_r} in a long coil", "limit: Davies & Simpson's cylinder"
    assert np.abs(fields[15:25]) == known(100.0, f"{what}: field", limit, CLOSED, unit="A/m", rel=1e-3)
    power = cylinder_power(0.01, 8.0, 2e-7, mu_r, frequency, 100.0)
    assert found.resistance == known(power, f"{what}: resistance", limit, CLOSED, unit="ohm", rel=6e-3)
    flux = MU_0 * np.pi * 1e-4 * 8.0 * 1e4 * (mean[0] - 1).real
    assert found.inductance_change == known(flux, f"{what}: change of inductance", limit, CLOSED, unit="H", rel=8e-3)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 1000), st.floats(0.01, 1e3), st.floats(1e2, 1e6))
def test_what_the_coil_loses_is_what_the_slices_take(seed: int, current: float, frequency: float) -> None:
    """2 P/I^2, P = w mu0 mu'' H^2/2 a volume; whatever the slices are made of."""
    random = np.random.default_rng(seed)
    edges = np.cumsum(random.uniform(2e-3, 2e-2, 8))
    coupling = sheet_coupling(COIL, 0.018, tuple(edges))
    mean = 10 ** random.uniform(-1.5, 1.5, 7) * np.exp(-1j * random.uniform(0.01, 1.5, 7))
    fields = sheet_fields(coupling, mean, current)
    power = np.pi * frequency * MU_0 * np.pi * 0.018**2 * np.sum(np.diff(edges) * -mean.imag * np.abs(fields) ** 2)
    found = sheet_reflection(coupling, mean, fields, current, frequency)
    assert found.resistance == pytest.approx(2 * power / current**2, rel=1e-9)


def test_what_is_like_air_is_not_seen() -> None:
    coupling = sheet_coupling(COIL, 0.01, (-0.01, 0.0, 0.02))
    air = np.ones(2, dtype=complex)
    fields = sheet_fields(coupling, air, 3.0)
    assert fields == pytest.approx(3.0 * coupling.field)
    assert sheet_reflection(coupling, air, fields, 3.0, 1e4) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"radius": 0.03}, "as thick as the coil.*below the coil's radius, 0.03 m"),
        ({"radius": 0.0}, "radius"),
        ({"edges": (0.0, 0.01, 0.01)}, "widths"),
        ({"coil": (0.06, 0.0, 8.0)}, "length"),
        ({"coil": (0.06, 0.08, -1.0)}, "turns"),
    ],
)
def test_impossible_input_is_named(changed: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        sheet_coupling(**({"coil": COIL, "radius": 0.01, "edges": (0.0, 0.01)} | changed))  # type: ignore[arg-type]
