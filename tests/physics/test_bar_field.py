# SPDX-License-Identifier: GPL-3.0-or-later
"""The field over the radius of a bar: tables of published functions, Bessel functions of SciPy, and an integration in time."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import iv, kv

from heatsim.errors import InputError
from heatsim.physics import bar_field as module
from heatsim.physics.bar_field import BarField, bar_field, magnetisation_share, radial_edges, steel_bar_field, thinnest_cell
from heatsim.physics.eddy import mean_permeability
from heatsim.physics.magnetisation import STEELS, steel_permeability
from heatsim.physics.saturable import fundamental_permeability, steel_flux_density, surface_permeability
from tests.support import references_heating as ref
from tests.support.book import CLOSED, INDEPENDENT, MEMORY, known, listed
from tests.support.steel_diffusion import grid, surface_power

MU_0 = 4e-7 * np.pi
FREQUENCY = 80e3
OMEGA_MU = 2 * np.pi * FREQUENCY * MU_0


def resistivity_of(delta: float, mu: float = 1.0) -> float:
    """Resistivity [ohm*m] with a skin depth [m]."""
    return delta**2 * OMEGA_MU * mu / 2


def even(edges: np.ndarray, delta: float, mu: complex = 1.0, field: float = 1.0, permeability: float = 1.0) -> BarField:
    """One slice of a skin depth [m] at the permeability, made of a material with complex permeability `mu`."""
    cells = np.ones(edges.size - 1)
    return bar_field(edges, resistivity_of(delta, permeability) * cells, mu * cells, FREQUENCY, np.array([field]))


def power(edges: np.ndarray, found: BarField) -> np.ndarray:
    """Power of each slice [W/m], the sum over the cells."""
    return np.asarray(found.loss @ (np.pi * np.diff(edges**2)))


def inflow(edges: np.ndarray, found: BarField) -> np.ndarray:
    """Power that enters each slice [W/m]: half of w mu0 mean pi a^2 H^2, its real part."""
    return -0.5 * OMEGA_MU * np.pi * edges[-1] ** 2 * found.mean.imag * found.field[:, -1] ** 2


@pytest.mark.parametrize("row", ref.CYL_FPQ)  # Davies & Simpson 1979's functions
@pytest.mark.parametrize("cells, band", [(8, 3e-3), (30, 2e-4)])
def test_cylinder(row: tuple, cells: int, band: float) -> None:
    ratio, _, p, _, rtol = row
    edges = np.linspace(0.0, 0.01, cells + 1)
    found = even(edges, 0.01 / ratio)
    assert -found.mean[0].imag == listed("CYL_FPQ", "p", row, rel=band + rtol)
    assert found.mean[0].real == listed("CYL_FPQ", "q", row, rel=band + rtol)
    assert power(edges, found) == pytest.approx(np.pi * OMEGA_MU * 1e-4 * p / 2, rel=band + rtol)


@pytest.mark.parametrize("row", ref.CYL_POWER)
def test_cylinder_power(row: tuple) -> None:
    radius, length, rho, mu_r, frequency, field, _, rtol = row
    edges = radial_edges(radius, 0.0, thinnest_cell(rho, mu_r, frequency), 40)
    found = bar_field(edges, np.full(40, rho), np.full(40, mu_r), frequency, np.array([field * np.sqrt(2)]))
    assert power(edges, found)[0] * length == listed("CYL_POWER", "power", row, rel=2e-4 + rtol)


@pytest.mark.parametrize("row", ref.TUBE_HEAT)
def test_tube(row: tuple) -> None:
    """In millimetres; loss and the field in the bore."""
    outer, bore, delta, mu_r, _, _, rtol = row
    edges = np.linspace(bore, outer, 21) * 1e-3
    found = even(edges, delta * 1e-3, mu_r, np.sqrt(2), mu_r)
    surface = resistivity_of(delta * 1e-3, mu_r) / (delta * 1e-3)
    given_off = power(edges, found)[0] / (2 * np.pi * edges[-1])
    assert given_off / surface == listed("TUBE_HEAT", "f", row, rel=2e-4 + rtol)
    assert found.field[0, 0] / found.field[0, -1] == listed("TUBE_HEAT", "screening", row, rel=2e-4 + rtol)


def layered(radii: tuple[float, float], resistivity: tuple[float, float], mu: tuple[complex, complex]) -> np.ndarray:
    """Power [W/m] in core and mantle, and the mean, in 1 A/m: C I0 inside, A I0 + B K0 outside; H and rho H' go on, H = 1."""
    (inner, outer), k = radii, np.sqrt(1j * OMEGA_MU * np.array(mu) / np.array(resistivity))
    kb, kc, ka = k[0] * inner, k[1] * inner, k[1] * outer
    slopes = np.array(resistivity) * k
    lines = [
        [iv(0, kb), -iv(0, kc), -kv(0, kc)],
        [slopes[0] * iv(1, kb), -slopes[1] * iv(1, kc), slopes[1] * kv(1, kc)],
        [0, iv(0, ka), kv(0, ka)],
    ]
    c, a, b = np.linalg.solve(np.array(lines), np.array([0, 0, 1]))
    core = np.pi * inner * (slopes[0] * c * iv(1, kb) * np.conj(c * iv(0, kb))).real
    flow = slopes[1] * (a * iv(1, ka) - b * kv(1, ka))
    return np.array([core, np.pi * outer * flow.real - core, 2 * flow / (1j * OMEGA_MU * outer)])


@pytest.mark.parametrize(
    ("inner", "resistivity", "mu"),
    [
        (9.5e-3, (4e-7, 1.1e-6), (50.0, 1.0)),  # steel whose skin has passed the Curie point
        (8e-3, (4e-7, 1.1e-6), (100.0, 1.0)),
        (5e-3, (1e-7, 1e-5), (1.0, 1.0)),  # a metal in a crucible of graphite
        (6e-3, (1e-6, 1e-6), (20 - 9j, 1.0)),
    ],
)
def test_two_layers(inner: float, resistivity: tuple[float, float], mu: tuple[complex, complex]) -> None:
    """30 cells each."""
    edges = np.concatenate([radial_edges(inner, 0.0, 3e-5, 30), np.linspace(inner, 0.01, 31)[1:]])
    found = bar_field(edges, np.repeat(resistivity, 30), np.repeat(mu, 30), FREQUENCY, np.array([1.0]))
    core, mantle, mean = layered((inner, 0.01), resistivity, mu)
    watts = found.loss[0] * np.pi * np.diff(edges**2)
    what, told = f"bar of two layers, mu_r {mu[0]} inside {mu[1]}, {1e3 * inner:g} mm", "Bessel functions of both layers"
    assert watts[:30].sum() == known(core.real, f"{what}: power of the core", told, INDEPENDENT, unit="W/m", rel=5e-4)
    assert watts[30:].sum() == known(mantle.real, f"{what}: power of the mantle", told, INDEPENDENT, unit="W/m", rel=5e-4)
    assert found.mean[0] == known(mean, f"{what}: mean permeability", told, INDEPENDENT, rel=5e-4)


@pytest.mark.parametrize("ratio", [0.05, 1.0, 8.0])
def test_where_the_loss_is(ratio: float) -> None:
    """Each cell against the mean of rho |J|^2/2 over it, J = k I1(kr)/I0(ka); well below a skin depth that rises with r^2."""
    edges = radial_edges(0.01, 0.0, 2e-4, 25)
    rho, k = resistivity_of(0.01 / ratio), (1 + 1j) * ratio / 0.01
    loss = even(edges, 0.01 / ratio).loss[0]

    def at(r: float) -> float:
        return float(rho / 2 * abs(k * iv(1, k * r) / iv(0, k * 0.01)) ** 2 * r)

    exact = [2 * quad(at, a, b)[0] / (b**2 - a**2) for a, b in zip(edges[:-1], edges[1:], strict=True)]
    what = f"where the loss is in a bar of {ratio} skin depths"
    assert loss[-20:] == known(exact[-20:], what, "quadrature over Bessel functions", INDEPENDENT, unit="W/m3", rel=6e-3)
    assert loss == pytest.approx(exact, abs=2e-3 * max(exact))


@pytest.mark.parametrize("bore", [0.0, 0.004])
def test_losses_add_up_to_what_enters(bore: float) -> None:
    """Many slices of many materials, lossy magnetic ones too; each slice as if alone, fields by their squares."""
    random = np.random.default_rng(5)
    edges = radial_edges(0.01, bore, 1e-4, 37)
    resistivity = 10 ** random.uniform(-7, -5, (9, 37))
    mu = 10 ** random.uniform(0, 2, (9, 37)) * np.exp(-1j * random.uniform(0, 1.5, (9, 37)))
    surface = 10 ** random.uniform(2, 5, 9) * np.exp(1j * random.uniform(0, 6, 9))
    found = bar_field(edges, resistivity, mu, FREQUENCY, surface)
    assert power(edges, found) == pytest.approx(inflow(edges, found), rel=1e-9)
    assert np.all(found.loss >= 0.0)
    alone = bar_field(edges, resistivity[4], mu[4], FREQUENCY, 2 * surface[4:5])
    assert alone.loss[0] == pytest.approx(4 * found.loss[4], rel=1e-9)
    assert alone.field[0] == pytest.approx(2 * found.field[4], rel=1e-9)


@pytest.mark.parametrize("ratio", [1.0, 5.0, 20.0])
def test_second_order_on_graded_grids(ratio: float) -> None:
    """Halving all cells of a grid graded fivefold."""
    z = (1 + 1j) * ratio
    exact = 2 * iv(1, z) / (z * iv(0, z))
    error = []
    for cells in (8, 16, 32):
        edges = 0.01 - 0.01 * np.expm1(np.log(5) * np.linspace(1, 0, cells + 1)) / 4
        error.append(abs(even(edges, 0.01 / ratio).mean[0] / exact - 1))
    assert error[0] / error[1] == pytest.approx(4, rel=0.15)
    assert error[1] / error[2] == pytest.approx(4, rel=0.15)


def test_thick_cells_are_exact_in_a_plane_wall() -> None:
    """2000 skin depths in five cells: 2/z - 1/z^2, and nothing in the depth."""
    found = even(np.linspace(0.0, 0.01, 6), 5e-6)
    z = (1 + 1j) * 2000
    wanted = 2 / z - 1 / z**2
    assert found.mean[0] == known(wanted, "mean permeability of a bar of 2000 skin depths", "plane wall", CLOSED, rel=1e-6)
    assert found.field[0, :-1] == pytest.approx(0.0, abs=1e-150)


def test_edges() -> None:
    edges = radial_edges(0.02, 0.005, 1e-5, 50)
    width = np.diff(edges)
    assert (edges[0], edges[-1], edges.size) == (pytest.approx(0.005), 0.02, 51)
    assert width[-1] == pytest.approx(1e-5, rel=1e-9)
    assert width[:-1] / width[1:] == pytest.approx(width[-2] / width[-1], rel=1e-6) and width[0] > width[-1]
    assert radial_edges(0.01, 0.0, 5e-3, 10) == pytest.approx(np.linspace(0, 0.01, 11), abs=1e-12)
    assert radial_edges(0.01, 0.004, 1e-3, 1) == pytest.approx([0.004, 0.01])


@pytest.mark.parametrize(("coarser", "loss", "reactive"), [(1.0, 0.005, 0.01), (2.5, 0.025, 0.03), (10.0, 0.12, 0.20)])
@pytest.mark.parametrize("steel", STEELS)
def test_thick_steel_is_a_half_space(steel: str, coarser: float, loss: float, reactive: float) -> None:
    """The bands that `thinnest_cell` states; a bar of 8 mm, corrected for its curvature by the closed form of the linear bar."""
    for peak in np.geomspace(300.0, 2e5, 6):
        mu = fundamental_permeability(peak, steel)
        edges = radial_edges(8e-3, 0.0, coarser * thinnest_cell(1.69e-7, mu, FREQUENCY), 60)
        found = steel_bar_field(edges, np.full(60, 1.69e-7), steel, np.ones(60), FREQUENCY, np.array([peak]))
        exact = mean_permeability(8e-3, 1.69e-7, surface_permeability(float(peak), steel), FREQUENCY)
        what, told = f"{steel} of 8 mm at {peak:.0f} A/m, cells {coarser} times as wide", "half space, integrated"
        assert found.mean[0].imag == known(exact.imag, f"{what}: loss", told, INDEPENDENT, rel=loss)
        assert found.mean[0].real == known(exact.real, f"{what}: reactive", told, INDEPENDENT, rel=reactive)
        assert power(edges, found) == pytest.approx(inflow(edges, found), rel=1e-9)


def integrated(radius: float, resistivity: float, peak: float, share: Callable[[np.ndarray], np.ndarray]) -> complex:
    """Power [W/m2] and, imaginary, reactive power [var/m2] integrated in time.

    AISI 1008 of which a share of the magnetisation is left at a radius.
    """
    density = np.linspace(0.0, 2.2, 20001)
    field = density / (MU_0 * np.asarray(steel_permeability(density, STEELS["AISI 1008"])))
    slope = np.gradient(density, field)
    mu = float(np.interp(peak, field, density)) / (MU_0 * peak)
    depth = 1.3 * np.sqrt(2 * resistivity / (OMEGA_MU * mu))
    edges = grid(radius, depth / 15, min(radius, 10 * depth), 1.06)
    left = share((edges[1:] + edges[:-1]) / 2)

    def differential(h: np.ndarray) -> np.ndarray:
        return MU_0 + left * (np.interp(np.abs(h), field, slope) - MU_0)

    return complex(*surface_power(radius, resistivity, FREQUENCY, peak, differential, depth))


@pytest.mark.parametrize(("peak", "hot"), [(2e4, 0.0), (2e4, 0.2e-3), (6e4, 0.6e-3)])
def test_power_into_steel_against_an_integration_in_time(peak: float, hot: float) -> None:
    """Cold steel, and with skins that have lost their magnetism; each takes far from what the next one takes."""
    radius, resistivity = 3e-3, 4e-7

    def share(r: np.ndarray) -> np.ndarray:
        return np.clip((radius - hot - r) / 1e-4 + 0.5, 0.0, 1.0) if hot else np.ones_like(r)

    edges = radial_edges(radius, 0.0, thinnest_cell(resistivity, fundamental_permeability(peak, "AISI 1008"), FREQUENCY), 60)
    left = share((edges[1:] + edges[:-1]) / 2)
    found = steel_bar_field(edges, np.full(60, resistivity), "AISI 1008", left, FREQUENCY, np.array([peak]))
    exact = integrated(radius, resistivity, peak, share)
    assert power(edges, found)[0] / (2 * np.pi * radius) == known(
        exact.real, f"AISI 1008 at {peak:g} A/m, {1e3 * hot:g} mm hot: power", TIME, INDEPENDENT, unit="W/m2", rel=0.05
    )
    assert OMEGA_MU * found.mean[0].real * radius / 4 * peak**2 == known(
        exact.imag, f"AISI 1008 at {peak:g} A/m, {1e3 * hot:g} mm hot: reactive", TIME, INDEPENDENT, unit="W/m2", rel=0.17
    )
    cold = steel_bar_field(edges, np.full(60, resistivity), "AISI 1008", np.ones(60), FREQUENCY, np.array([peak]))
    assert not hot or power(edges, cold)[0] > 2 * power(edges, found)[0]


TIME = "diffusion integrated in time"


def slices() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """16 slices of steel in which the Curie point is passed at different depths: edges, resistivity, share, fields."""
    edges = radial_edges(8e-3, 0.0, 15e-6, 60)
    celsius = np.linspace(20, 1000, 60) + np.linspace(0, 200, 16)[:, None]
    return edges, 1.7e-7 * (1 + celsius / 200), np.asarray(magnetisation_share(celsius, 770.0)), np.linspace(2e3, 4e4, 16)


def test_steel_is_its_own_fixed_point() -> None:
    """From anywhere to the same field, above the Curie point that of air; the given permeability brings it back."""
    edges, resistivity, share, field = slices()
    found = steel_bar_field(edges, resistivity, "AISI 1008", share, FREQUENCY, field)
    again = bar_field(edges, resistivity, found.permeability, FREQUENCY, field)
    assert again.mean == pytest.approx(found.mean, rel=1e-12) and again.loss == pytest.approx(found.loss, rel=1e-12)
    assert np.all(found.permeability[share == 0.0] == 1.0) and np.all(abs(found.permeability[share > 0.5]) > 1.2)
    other = steel_bar_field(edges, resistivity, "AISI 1008", share, FREQUENCY, field, np.full((16, 60), 30.0))
    assert other.mean == pytest.approx(found.mean, rel=1e-4)
    assert power(edges, other) == pytest.approx(power(edges, found), rel=1e-4)
    strong = steel_bar_field(edges, resistivity, "AISI 1008", 0 * share, FREQUENCY, field)
    assert strong.loss == pytest.approx(bar_field(edges, resistivity, np.ones(60), FREQUENCY, field).loss, rel=1e-12)


def test_a_weak_and_no_field_meet_the_initial_permeability() -> None:
    edges, cells = radial_edges(1e-3, 0.0, 1e-5, 40), np.ones(40)
    found = steel_bar_field(edges, 1.69e-7 * cells, "9SMn28k", cells, FREQUENCY, np.array([0.0, 1.0]))
    assert np.all(found.loss[0] == 0.0) and found.mean[0] == pytest.approx(found.mean[1], rel=1e-4)
    assert found.permeability.real == pytest.approx(500.0, rel=0.03)


def test_it_is_fast() -> None:
    """16 slices of 60 cells: below 1 ms for given permeabilities, 8 ms for steel from a solution at 3 % less field."""
    edges, resistivity, share, field = slices()
    near = steel_bar_field(edges, resistivity, "AISI 1008", share, FREQUENCY, 0.97 * field).permeability

    def best(call: Callable[[], BarField]) -> float:
        spent = []
        for _ in range(25):
            start = time.perf_counter()
            call()
            spent.append(time.perf_counter() - start)
        return min(spent)

    assert best(lambda: bar_field(edges, resistivity, near, FREQUENCY, field)) < 1e-3
    assert best(lambda: steel_bar_field(edges, resistivity, "AISI 1008", share, FREQUENCY, field, near)) < 8e-3


def test_the_fundamental_by_quadrature() -> None:
    for steel in STEELS:
        for peak in (30.0, 2e3, 5e4):

            def swing(x: float, peak: float = peak, steel: str = steel) -> float:
                return float(steel_flux_density(peak * np.sin(x), steel)) * np.sin(x)

            exact = 2 / (np.pi * MU_0 * peak) * quad(swing, 0, np.pi, limit=200, epsrel=1e-6)[0]
            what = f"permeability of {steel} to the fundamental at {peak:g} A/m"
            assert fundamental_permeability(peak, steel) == known(exact, what, "quadrature", INDEPENDENT, rel=2e-3)
    assert fundamental_permeability(0.0, "AISI 1008") == fundamental_permeability(1.0, "AISI 1008")


def test_magnetisation_share() -> None:
    """Against m = tanh(m/t) solved; 0 from the Curie point on and no jump there; 1 at 20 °C."""
    celsius, zero = np.array([-100.0, 20.0, 300.0, 600.0, 750.0, 769.0, 769.99]), 273.15
    at = [brentq(lambda m, t=(t + zero) / (770 + zero): m - np.tanh(m / t), 1e-6, 1.0) for t in celsius]
    assert magnetisation_share(celsius, 770.0) == known(
        np.array(at) / at[1], "share of the magnetisation left below 770 °C", "m = tanh(m/t), root found", INDEPENDENT, rel=1e-4
    )
    assert magnetisation_share(770.0, 770.0) == magnetisation_share(1200.0, 770.0) == 0.0
    assert 0.0 < magnetisation_share(770.0 - 1e-6, 770.0) < 1e-4
    assert np.all(np.diff(magnetisation_share(np.linspace(20, 770, 2000), 770.0)) <= 0.0)


@pytest.mark.parametrize(
    ("curie", "measured", "band"),
    [
        (1043.0, {0.4: 0.95, 0.5: 0.93, 0.6: 0.90, 0.7: 0.85, 0.8: 0.77, 0.85: 0.70, 0.9: 0.61, 0.95: 0.46}, 0.09),
        (631.0, {0.5: 0.94, 0.6: 0.90, 0.7: 0.83, 0.8: 0.73, 0.85: 0.66, 0.9: 0.56, 0.95: 0.40}, 0.04),
    ],
)
def test_share_against_iron_and_nickel(curie: float, measured: dict[float, float], band: float) -> None:
    """Over that at absolute zero, within what the docstring states. AIP Handbook, table of reduced magnetisation (memory)."""
    places = np.array(list(measured)) * curie - 273.15
    share = magnetisation_share(places, curie - 273.15) / magnetisation_share(-273.15, curie - 273.15)
    error = share - np.array(list(measured.values()))
    assert np.max(np.abs(error)) > band / 2
    what, table = f"share of the magnetisation left, Curie point {curie} K", "AIP Handbook, reduced magnetisation"
    assert share == known(list(measured.values()), what, table, MEMORY, abs=band)


def test_bad_input(monkeypatch: pytest.MonkeyPatch) -> None:
    edges, one, field = np.linspace(0.0, 0.01, 5), np.ones(4), np.array([1e3])
    for wrong in (
        lambda: bar_field(edges[::-1], one, one, 1e4, field),
        lambda: bar_field(edges, np.ones(3), one, 1e4, field),
        lambda: bar_field(edges, one, one * (-5 - 1j), 1e4, field),
        lambda: bar_field(edges, 0 * one, one, 1e4, field),
        lambda: bar_field(edges, one, np.ones((2, 4)), 1e4, field),
        lambda: bar_field(edges, one, one, 1e4, field * np.nan),
        lambda: steel_bar_field(edges, one, "AISI 1008", -one, 1e4, field),
        lambda: steel_bar_field(edges, one, "AISI 1008", one, 1e4, 1e4 * field),
        lambda: steel_bar_field(edges, one, "mud", one, 1e4, field),
        lambda: radial_edges(0.01, 0.01, 1e-4, 10),
        lambda: magnetisation_share(-300.0, 770.0),
        lambda: magnetisation_share(100.0, 10.0),
        lambda: fundamental_permeability(2e6, "AISI 1008"),
    ):
        with pytest.raises(InputError):
            wrong()
    monkeypatch.setattr(module, "ROUNDS", 2)
    with pytest.raises(InputError, match="does not settle"):
        steel_bar_field(edges, 1e-7 * one, "AISI 1008", one, 1e4, field)
