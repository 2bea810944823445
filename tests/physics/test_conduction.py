# SPDX-License-Identifier: GPL-3.0-or-later
"""Conduction against closed forms (Carslaw & Jaeger, Conduction of Heat in Solids; Incropera & DeWitt, ch. 5; formulas from memory)
and against an explicit finite-difference scheme in temperature written here; steel by EN 1993-1-2.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pytest
from scipy import optimize, special

from heatsim.errors import InputError
from heatsim.physics import heat
from heatsim.physics.bar_field import radial_edges
from heatsim.physics.conduction import Faces, Losses, Marched, march, surface_temperatures
from heatsim.physics.cylinder_grid import CylinderGrid
from tests.support import references_heating as ref
from tests.support.book import CLOSED, INDEPENDENT, PUBLISHED, known, listed

CAPACITY = 3.6e6
"""Of the metal of constant properties [J/(m3*K)]."""

DENSITY = 7850.0


@dataclass(frozen=True)
class Plain:
    """Constant properties; 0 °C at no enthalpy."""

    value: float = 36.0

    def temperature(self, enthalpy: np.ndarray) -> np.ndarray:
        return np.asarray(enthalpy) / CAPACITY

    def conductivity(self, celsius: np.ndarray) -> np.ndarray:
        return np.full_like(celsius, self.value)


class Steel:
    """Carbon steel of EN 1993-1-2, its enthalpy turned round on a table that has every kelvin and, about 735 °C, every 1/20."""

    knots = np.unique(np.concatenate([np.arange(20.0, 1201.0), np.arange(720.0, 760.0, 0.05)]))
    table = DENSITY * heat.steel_enthalpy(knots)

    def temperature(self, enthalpy: np.ndarray) -> np.ndarray:
        if np.max(enthalpy) > self.table[-1]:
            raise InputError.single("Steel", "too hot", float(np.max(enthalpy)), "1200 °C")
        return np.interp(enthalpy, self.table, self.knots)

    def conductivity(self, celsius: np.ndarray) -> np.ndarray:
        return heat.steel_conductivity(celsius)


def film(mantle: float = 0.0, ends: float = 0.0, bath: float = 0.0) -> Losses:
    """Heat transfer [W/(m2*K)] to a bath [°C]."""

    def losses(surface: Faces) -> Mapping[str, Faces]:
        start, end = ends * (surface.start - bath), ends * (surface.end - bath)
        return {"bath": Faces(mantle * (surface.mantle - bath), 0.0, start, end)}

    return losses


def bar(radius: float, count: int = 30, outermost: float = 1e-4) -> CylinderGrid:
    return CylinderGrid(radial_edges(radius, 0.0, outermost, count), np.array([0.0, 0.1]))


def imbalance(grid: CylinderGrid, before: np.ndarray, done: Marched, deposited: float) -> float:
    """Stored + given off - deposited, as a share of all that moved [1]."""
    stored = float(np.sum((done.enthalpy - before) * grid.volumes))
    moved = abs(deposited) + sum(abs(each) for each in done.given_off.values())
    return abs(stored + sum(done.given_off.values()) - deposited) / moved


def test_steady_hollow_cylinder_is_exact() -> None:
    """Films inside and outside and the tube in series, ln(r2/r1)/(2 pi k): every shell stands where the logarithm has it."""
    grid = CylinderGrid(radial_edges(0.01, 0.004, 1e-4, 12), np.array([0.0, 1.0]))

    def losses(surface: Faces) -> Mapping[str, Faces]:
        return {"inside": Faces(0.0, 3e4 * (surface.bore - 300.0)), "outside": Faces(5e3 * (surface.mantle - 20.0))}

    done = march(grid, Plain(), np.zeros(grid.shape), 1e4, losses=losses)
    inside, outside = 1.0 / (3e4 * grid.bore_areas[0]), 1.0 / (5e3 * grid.mantle_areas[0])
    through = np.log(grid.radial / 0.004) / (2.0 * np.pi * 36.0)
    flow = (300.0 - 20.0) / (inside + outside + through[-1])
    expected = 300.0 - flow * (inside + np.log(grid.middles / 0.004) / (2.0 * np.pi * 36.0))
    assert done.temperature[0] == known(
        expected, "steady hollow cylinder", "ln(r2/r1)/(2 pi k), films", CLOSED, unit="°C", rel=1e-9
    )
    faces = surface_temperatures(grid, Plain(), done.enthalpy, losses)
    assert faces.bore == pytest.approx(300.0 - flow * inside, rel=1e-9)
    assert faces.mantle == pytest.approx(20.0 + flow * outside, rel=1e-9)


@pytest.mark.parametrize("row", ref.CYL_RAMP)  # Carslaw & Jaeger 7.8
def test_surface_to_centre_at_constant_flux(row: tuple) -> None:
    """Shells halved, the error falls as h^2 ln(1/h): the logarithm of a shell is not the parabola of heating near the axis."""
    flux, radius, conductivity, difference, _ = row

    def losses(surface: Faces) -> Mapping[str, Faces]:
        return {"coil": Faces(np.full_like(surface.mantle, -flux))}

    def spread(count: int) -> float:
        grid, metal = CylinderGrid(np.linspace(0.0, radius, count + 1), np.array([0.0, 0.1])), Plain(conductivity)
        done = march(grid, metal, np.zeros(grid.shape), 30.0, losses=losses)
        rows, (first, second) = done.temperature[0], grid.middles[:2] ** 2
        centre = rows[0] - (rows[1] - rows[0]) * first / (second - first)
        return float(np.asarray(surface_temperatures(grid, metal, done.enthalpy, losses).mantle)[0] - centre)

    counts = np.array([20, 40, 80])
    errors = np.array([difference - spread(count) for count in counts])
    order = errors * counts**2 / np.log(counts)
    assert order == pytest.approx(order[-1], rel=0.1)
    assert difference - errors[-1] == listed("CYL_RAMP", "difference", row, rel=2.5e-4)


@pytest.mark.parametrize("row", ref.LUMPED_HEAT)
def test_lumped_body(row: tuple) -> None:
    power, capacity, conductance, time, *_ = row
    radius = np.sqrt(capacity / CAPACITY / (np.pi * 0.1))
    grid = bar(radius, 3, radius / 3.0)
    losses = film(conductance / grid.mantle_areas[0], bath=20.0)
    start = np.full(grid.shape, 20.0 * CAPACITY)
    done = march(grid, Plain(1e7), start, time, power / grid.volumes.sum(), losses, tolerance=1e-7)
    assert done.temperature - 20.0 == listed("LUMPED_HEAT", "rise", row, rel=1e-6)
    assert imbalance(grid, start, done, power * time) < 1e-9


def cylinder_series(biot: float, fourier: float, places: np.ndarray) -> np.ndarray:
    """Share of the first difference left in a long cylinder dropped into a bath; Carslaw & Jaeger 7.7."""
    zeros = np.concatenate([[0.0], special.jn_zeros(1, 40)])
    roots = [
        optimize.brentq(lambda z: z * special.j1(z) - biot * special.j0(z), *pair) for pair in zip(zeros, zeros[1:], strict=False)
    ]
    terms = [
        2.0 * special.j1(z) / (z * (special.j0(z) ** 2 + special.j1(z) ** 2)) * np.exp(-(z**2) * fourier) * special.j0(z * places)
        for z in roots
    ]
    return np.sum(terms, axis=0)


def slab_series(biot: float, fourier: float, places: np.ndarray) -> np.ndarray:
    """Share left in a plane wall, places from its middle over half its thickness; Carslaw & Jaeger 3.11."""
    edges = np.pi * np.arange(40)
    roots = [optimize.brentq(lambda z: z * np.sin(z) - biot * np.cos(z), e, e + np.pi / 2.0) for e in edges]
    terms = [4.0 * np.sin(z) / (2.0 * z + np.sin(2.0 * z)) * np.exp(-(z**2) * fourier) * np.cos(z * places) for z in roots]
    return np.sum(terms, axis=0)


@pytest.mark.parametrize("biot", [1.0, 1e6])
@pytest.mark.parametrize("fourier", [0.02, 0.2, 1.0])
def test_cylinder_dropped_into_a_bath(biot: float, fourier: float) -> None:
    grid = bar(0.01, 60, 5e-5)
    losses = film(biot * 36.0 / 0.01, bath=100.0)
    start = np.full(grid.shape, 800.0 * CAPACITY)
    done = march(grid, Plain(), start, fourier * 0.01**2 / 1e-5, losses=losses)
    expected = 100.0 + 700.0 * cylinder_series(biot, fourier, grid.middles / 0.01)
    what = f"cylinder dropped into a bath, Biot {biot:g}, Fourier {fourier}"
    assert done.temperature[0] == known(expected, what, "Carslaw & Jaeger 7.7, series", CLOSED, unit="°C", abs=0.3)
    assert imbalance(grid, start, done, 0.0) < 1e-9


def test_short_cylinder_is_the_product_of_bar_and_wall() -> None:
    """Heat goes out through the mantle and both ends, at Biot numbers of 1 and 2; Incropera & DeWitt 5.8."""
    length, radius, fourier = 0.04, 0.01, 0.3
    grid = CylinderGrid(radial_edges(radius, 0.0, 2e-4, 32), np.linspace(0.0, length, 31))
    losses = film(36.0 / radius, 36.0 / radius, bath=100.0)
    start = np.full(grid.shape, 800.0 * CAPACITY)
    done = march(grid, Plain(), start, fourier * radius**2 / 1e-5, losses=losses)
    middles = (grid.axial[:-1] + grid.axial[1:]) / length - 1.0
    round_ = cylinder_series(1.0, fourier, grid.middles / radius)
    wall = slab_series(2.0, fourier * (2.0 * radius / length) ** 2, middles)
    wanted = 100.0 + 700.0 * np.outer(wall, round_)
    assert done.temperature == known(
        wanted, "short cylinder in a bath", "product of series, Incropera & DeWitt 5.8", CLOSED, unit="°C", abs=0.5
    )
    assert imbalance(grid, start, done, 0.0) < 1e-9


def test_first_instants_at_the_surface() -> None:
    """On a graded grid, a step at the surface reaches in by the complementary error function; Carslaw & Jaeger 2.4.

    Radius a metre, so that the curve of the surface is 1e-4 of what is seen.
    """
    grid = CylinderGrid(radial_edges(1.0, 0.0, 15e-6, 60), np.array([0.0, 0.1]))
    losses = film(1e9, bath=500.0)
    done = march(grid, Plain(), np.zeros(grid.shape), 2e-3, losses=losses)
    depth = 1.0 - grid.middles
    wanted = 500.0 * special.erfc(depth / np.sqrt(4.0 * 1e-5 * 2e-3))
    assert done.temperature[0] == known(
        wanted, "step at the surface after 2 ms", "Carslaw & Jaeger 2.4", CLOSED, unit="°C", abs=3.0
    )
    flowed = 2.0 * 36.0 * 500.0 * np.sqrt(2e-3 / (np.pi * 1e-5)) * grid.mantle_areas[0]
    assert -done.given_off["bath"] == known(flowed, "heat taken up after 2 ms", "Carslaw & Jaeger 2.4", CLOSED, unit="J", rel=5e-3)


def test_bar_with_one_hot_end() -> None:
    grid = CylinderGrid(np.array([0.0, 0.005, 0.01]), 0.2 - radial_edges(0.2, 0.0, 5e-4, 50)[::-1])

    def losses(surface: Faces) -> Mapping[str, Faces]:
        return {"hot end": Faces(start=1e8 * (surface.start - 500.0))}

    done = march(grid, Plain(), np.zeros(grid.shape), 20.0, losses=losses)
    middles = (grid.axial[:-1] + grid.axial[1:]) / 2.0
    expected = 500.0 * special.erfc(middles / np.sqrt(4.0 * 1e-5 * 20.0))
    wanted = np.outer(expected, [1.0, 1.0])
    assert done.temperature == known(wanted, "bar with one hot end", "Carslaw & Jaeger 2.4", CLOSED, unit="°C", abs=0.5)


@pytest.mark.parametrize("temperature, enthalpy, rtol", [*ref.EN_ENTHALPY, (760.0, heat.steel_enthalpy(760.0), 1e-5)])
def test_uniform_heating_is_the_enthalpy_of_steel(temperature: float, enthalpy: float, rtol: float) -> None:
    """EN 1993-1-2; to 760 °C over the peak of specific heat in one call."""
    grid = CylinderGrid(radial_edges(0.01, 0.0, 15e-6, 30), np.linspace(0.0, 0.08, 5))
    done = march(grid, Steel(), np.zeros(grid.shape), 10.0, DENSITY * enthalpy / 10.0)
    what = f"steel heated evenly to {temperature} °C"
    assert done.temperature == known(temperature, what, "enthalpy of EN 1993-1-2", PUBLISHED, unit="°C", rel=rtol)
    assert done.peak_c == pytest.approx(temperature, rel=rtol)


def explicit_steel(radius: float, flux: float, duration: float, count: int = 21) -> tuple[np.ndarray, np.ndarray]:
    """Nodes r [m] and temperature [°C] of a bar heated by a flux: c dT/dt = (1/r) d/dr(r k dT/dr), Euler forward, even nodes."""
    places = np.linspace(0.0, radius, count)
    step, temperature = places[1], np.full(count, 20.0)
    edges = places[:-1] + step / 2.0
    areas = np.diff(np.concatenate([[0.0], edges, [radius]]) ** 2) / 2.0
    instants = int(np.ceil(duration / (0.4 * step**2 / 1.6e-5)))
    for _ in range(instants):
        conductivity = heat.steel_conductivity((temperature[1:] + temperature[:-1]) / 2.0)
        inwards = np.append(edges * conductivity * np.diff(temperature) / step, radius * flux)
        gained = np.diff(np.concatenate([[0.0], inwards])) / areas
        temperature = temperature + duration / instants * gained / (DENSITY * heat.steel_specific_heat(temperature))
    return places, temperature


def test_steel_through_the_peak_against_another_scheme() -> None:
    """12 mm bar, 0.6 MW/m2 for 18 s: the surface is through 735 °C, the centre is in the peak; 6000 steps in temperature."""
    places, expected = explicit_steel(0.006, 6e5, 18.0)

    def losses(surface: Faces) -> Mapping[str, Faces]:
        return {"coil": Faces(np.full_like(surface.mantle, -6e5))}

    grid = bar(0.006, 45, 15e-6)
    enthalpy = np.zeros(grid.shape)
    for _ in range(18):
        done = march(grid, Steel(), enthalpy, 1.0, losses=losses)
        enthalpy = done.enthalpy
    assert expected[0] < 735.0 < expected[-1]
    wanted = np.interp(grid.middles, places, expected)
    assert done.temperature[0] == known(
        wanted, "steel bar heated through 735 °C", "explicit finite differences", INDEPENDENT, unit="°C", abs=0.3
    )


def skin(grid: CylinderGrid, power: float) -> np.ndarray:
    """Heat [W/m3] of a power [W], 0.5 mm deep, most of it in the middle of the piece."""
    nz = grid.shape[0]
    shape = np.outer(np.exp(-np.square(np.linspace(-1.0, 1.0, nz))), np.exp((grid.middles - grid.radial[-1]) / 5e-4))
    return power * shape / float(np.sum(shape * grid.volumes))


def to_the_room(surface: Faces) -> Mapping[str, Faces]:
    """Radiation and a film of 12 W/(m2*K) from all faces."""
    radiated = [heat.radiated_flux(np.add(each, 273.15), 293.15, 0.8) for each in surface]
    return {"radiation": Faces(*radiated), "air": Faces(*(12.0 * np.subtract(each, 20.0) for each in surface))}


@pytest.mark.parametrize("slices, bore", [(1, 0.0), (4, 0.003)])
def test_energy_balances(slices: int, bore: float) -> None:
    grid = CylinderGrid(radial_edges(0.006, bore, 15e-6, 30), np.linspace(0.0, 0.05, slices + 1))
    enthalpy, deposit = np.zeros(grid.shape), skin(grid, 1500.0)
    for _ in range(15):
        done = march(grid, Steel(), enthalpy, 1.0, deposit, to_the_room)
        assert imbalance(grid, enthalpy, done, 1500.0) < 1e-9
        enthalpy = done.enthalpy
    assert done.peak_c > 745.0
    assert min(done.given_off.values()) > 0.0


def test_error_is_kept_to_the_tolerance() -> None:
    """Steel through the peak in one call of 10 s, against a hundred times the care; and care shows."""
    grid = CylinderGrid(radial_edges(0.006, 0.0, 15e-6, 30), np.linspace(0.0, 0.05, 4))
    start, deposit = np.zeros(grid.shape), skin(grid, 1700.0)
    runs = {each: march(grid, Steel(), start, 10.0, deposit, to_the_room, tolerance=each) for each in (1e-3, 1e-5, 1e-6)}
    best = runs[1e-6]
    rise = best.peak_c - 20.0
    errors = {each: np.abs(run.temperature - best.temperature).max() / rise for each, run in runs.items()}
    assert best.peak_c > 780.0
    assert errors[1e-3] < 1e-3 and errors[1e-5] < 3e-5
    assert runs[1e-3].given_off == pytest.approx(best.given_off, rel=2e-3)
    assert runs[1e-3].steps < 80 < runs[1e-6].steps


class Smooth(Plain):
    """A metal whose temperature and conductivity bend smoothly."""

    def temperature(self, enthalpy: np.ndarray) -> np.ndarray:
        return 1000.0 * np.log1p(np.asarray(enthalpy) / CAPACITY / 1000.0)

    def conductivity(self, celsius: np.ndarray) -> np.ndarray:
        return 36.0 - 0.02 * np.asarray(celsius)


def test_order_of_the_time_steps() -> None:
    """Steps of a given length, halved: the error of a third-order method falls to an eighth, within one for the stiff shells."""
    grid = bar(0.006, 6, 1e-3)
    start = np.full(grid.shape, 50.0 * CAPACITY) * (1.0 + np.square(grid.middles / 0.006))

    def after(count: int) -> np.ndarray:
        enthalpy = start
        for _ in range(count):
            done = march(grid, Smooth(), enthalpy, 2.0 / count, 3e8, to_the_room, tolerance=1e9, first_step=2.0)
            assert done.steps == 1
            enthalpy = done.enthalpy
        return enthalpy

    ends = [after(count) for count in (16, 32, 64, 128)]
    gaps = [np.abs(a - b).max() for a, b in zip(ends, ends[1:], strict=False)]
    assert gaps[0] / gaps[1] > 6.0 and 6.5 < gaps[1] / gaps[2] < 10.0


def test_surface_lies_where_conduction_and_radiation_meet() -> None:
    """g (T - Ts) = q(Ts), solved here by bisection, for half a cell of 5 mm that radiates at 1000 °C."""
    grid, metal = CylinderGrid(np.array([0.0, 0.02]), np.array([0.0, 0.01, 0.02])), Plain()
    faces = surface_temperatures(grid, metal, np.full(grid.shape, 1000.0 * CAPACITY), to_the_room)

    def unbalance(surface: float) -> float:
        given = sum(float(np.asarray(each.start)) for each in to_the_room(Faces(surface, surface, surface, surface)).values())
        return 36.0 / 0.005 * (1000.0 - surface) - given

    wanted = optimize.bisect(unbalance, 500.0, 1000.0)
    assert np.asarray(faces.start)[0] == known(
        wanted, "surface where conduction and radiation meet", "bisection", INDEPENDENT, unit="°C", abs=0.01
    )


def test_a_metal_too_hot_is_said() -> None:
    grid = bar(0.006)
    with pytest.raises(InputError, match="too hot"):
        march(grid, Steel(), np.zeros(grid.shape), 20.0, skin(grid, 20e3))


def test_bad_input_is_named() -> None:
    grid = bar(0.006)
    with pytest.raises(InputError, match="another shape"):
        march(grid, Plain(), np.zeros((2, 30)), 1.0)
    with pytest.raises(InputError, match="deposit has another shape"):
        march(grid, Plain(), np.zeros(grid.shape), 1.0, np.zeros(30))
    with pytest.raises(InputError, match="duration"):
        march(grid, Plain(), np.zeros(grid.shape), 0.0)
