# SPDX-License-Identifier: GPL-3.0-or-later
"""What a hot piece gives off: published rows, limits of the closed forms, rays cast at random, and the ledger with `march`."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize

from heatsim.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from heatsim.errors import InputError
from heatsim.physics import heat
from heatsim.physics.bar_field import radial_edges
from heatsim.physics.conduction import Faces, march
from heatsim.physics.cylinder_grid import CylinderGrid
from heatsim.physics.hot_surface import (
    HotSurface,
    Lining,
    Surroundings,
    annulus_flux,
    coil_views,
    concentric_exchange,
    end_convection,
    end_views,
    hot_surface,
    lined_flux,
    view_along,
)
from tests.support import references_heating as ref
from tests.support.book import CLOSED, INDEPENDENT, MEMORY, known, listed

AXIAL = np.linspace(0.0, 0.08, 9)
BARE = Surroundings(0.006, 0.012, coil_start=0.01, coil_end=0.065)
LINED = Surroundings(0.006, 0.012, 0.01, 0.065, lining=Lining(0.0075, 0.0105, 0.3))
FAR = Surroundings(0.05, 0.06, coil_start=9.0, coil_end=9.1, ambient_c=300.0 - ZERO_CELSIUS)


def given_off(surface: HotSurface, celsius: float) -> dict[str, Faces]:
    """Flows with all faces at one temperature."""
    return surface(Faces(np.full((1, len(surface.views)), celsius), 0.0, np.full((1, 2), celsius), np.full((1, 2), celsius)))


@pytest.mark.parametrize("row", ref.RADIATION)
def test_radiation_to_black_surroundings(row: tuple) -> None:
    """A black enclosure, and an enclosure so large that its emissivity does not matter."""
    warm, cold, emissivity, *_ = row
    assert concentric_exchange(warm, cold, emissivity, 1.0, 0.6) == listed("RADIATION", "flux", row)
    assert concentric_exchange(warm, cold, emissivity, 0.1, 1e-9) == listed("RADIATION", "flux", row)


def test_radiation_between_close_cylinders_is_that_of_plates() -> None:
    """1/(1/e1 + 1/e2 - 1) of black-body exchange at equal areas; Incropera & DeWitt, table 13.3."""
    black = STEFAN_BOLTZMANN * (1200.0**4 - 300.0**4)
    wanted = black / (1.25 + 2.5 - 1.0)
    assert concentric_exchange(1200.0, 300.0, 0.8, 0.4, 1.0) == known(
        wanted, "radiation between close cylinders", "plates: Incropera & DeWitt, table 13.3", MEMORY, unit="W/m2", rel=1e-12
    )


@pytest.mark.parametrize("row", ref.RADIATION)
def test_radiation_to_the_room(row: tuple) -> None:
    """The whole from its tables, far from the coil: cubic between knots, so within 1e-5."""
    warm, cold, emissivity, *_ = row
    here = Surroundings(0.05, 0.06, 9.0, 9.1, ambient_c=cold - ZERO_CELSIUS, emissivity=lambda celsius: emissivity)
    flows = given_off(hot_surface(here, AXIAL), warm - ZERO_CELSIUS)
    for part in (flows["radiation_room"].mantle, flows["radiation_room"].start, flows["radiation_room"].end):
        assert part == listed("RADIATION", "flux", row, rel=1e-5)
    assert flows["radiation_coil"].mantle == pytest.approx(0.0, abs=1.0)


def churchill_chu(rayleigh: float, prandtl: float) -> float:
    """Nusselt number [1], written from Churchill & Chu 1975."""
    return (0.60 + 0.387 * rayleigh ** (1 / 6) / (1.0 + (0.559 / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2


@pytest.mark.parametrize("row", ref.CHURCHILL_CHU)
def test_convection_to_the_room(row: tuple) -> None:
    """The formula here is that of the printed rows; the piece's mantle gives off by it, at a diameter that makes the row's Ra."""
    rayleigh, prandtl, *_ = row
    assert churchill_chu(rayleigh, prandtl) == listed("CHURCHILL_CHU", "nusselt", row)
    surface, room = 410.0, 300.0 - ZERO_CELSIUS
    air, film = heat.air_properties((surface + room) / 2.0), (surface + room) / 2.0 + ZERO_CELSIUS
    diameter = (rayleigh * air.viscosity**2 / (heat.GRAVITY / film * (surface - room) * air.prandtl)) ** (1 / 3)
    here = Surroundings(diameter / 2.0, diameter, 9e3, 9.1e3, ambient_c=room)
    flux = given_off(hot_surface(here, AXIAL), surface)["convection_room"].mantle
    expected = churchill_chu(rayleigh, air.prandtl) * air.conductivity / diameter * (surface - room)
    what = f"convection of a mantle at Ra {rayleigh:g}"
    assert flux == known(
        np.full_like(flux, expected), what, "Churchill & Chu 1975 written anew", INDEPENDENT, unit="W/m2", rel=1e-5
    )


def test_convection_of_an_end() -> None:
    """Churchill & Chu 1975 on a vertical wall, written here: {0.825 + 0.387 Ra^(1/6)/[1 + (0.492/Pr)^(9/16)]^(8/27)}^2 (memory)."""
    air = heat.air_properties(260.0)
    rayleigh = heat.GRAVITY / (260.0 + ZERO_CELSIUS) * 480.0 * 0.03**3 / air.viscosity**2 * air.prandtl
    nusselt = (0.825 + 0.387 * rayleigh ** (1 / 6) / (1.0 + (0.492 / air.prandtl) ** (9 / 16)) ** (8 / 27)) ** 2
    wanted = nusselt * air.conductivity / 0.03 * 480.0
    assert end_convection(0.015, 500.0, 20.0) == known(
        wanted, "convection of an end", "Churchill & Chu 1975, vertical wall", MEMORY, unit="W/m2", rel=1e-9
    )


def test_air_in_a_narrow_gap_conducts() -> None:
    air = heat.air_properties(420.0)
    plain = air.conductivity * 760.0 / (0.01 * math.log(1.1))
    assert annulus_flux(0.01, 0.011, 800.0, 40.0) == known(
        plain, "air in a narrow gap", "conduction", CLOSED, unit="W/m2", rel=1e-6
    )
    assert annulus_flux(0.01, 0.011, 40.0, 800.0) == pytest.approx(-plain, rel=1e-6)


def test_air_in_a_wide_gap_flows() -> None:
    """Tube of 0.1 m at 120 °C in one of 0.12 m at 35 °C: 100 W/m, k_eff 0.0343 W/(m*K).

    Incropera & DeWitt, example 9.5 (memory), with air of their table; 5 % for it and for the join with conduction.
    """
    assert annulus_flux(0.05, 0.06, 120.0, 35.0) * math.tau * 0.05 == known(
        100.0, "air between tubes of 0.1 and 0.12 m", "Incropera & DeWitt, example 9.5", MEMORY, unit="W/m", rel=0.05
    )


def test_annulus_rises_smoothly_from_conduction_to_flow() -> None:
    """No kink: the slope against temperature changes by little from kelvin to kelvin, and the join is at most 6 % above."""
    warm = np.arange(60.0, 600.0, 1.0)
    flux = np.asarray(annulus_flux(0.03, 0.04, warm, 40.0))
    slope = np.diff(flux)
    assert np.all(slope > 0.0) and np.max(np.abs(np.diff(slope)) / slope[1:]) < 0.02
    still = np.asarray(heat.air_properties((warm + 40.0) / 2.0).conductivity) * (warm - 40.0) / (0.03 * math.log(4.0 / 3.0))
    assert flux[0] / still[0] < 1.06 < np.max(flux / still)


@pytest.mark.parametrize(
    "distance, inner, outer", [(0.005, 0.006, 0.02), (0.01, 0.015, 0.02), (0.001, 0.019, 0.02), (0.03, 0.006, 0.02)]
)
def test_view_along_against_rays(distance: float, inner: float, outer: float) -> None:
    """A hundred thousand rays by Lambert's law from a point of the cylinder: which pass the plane before they meet the tube."""
    count, dice = 100_000, np.random.default_rng(7)
    square, turn = dice.random(count), math.tau * dice.random(count)
    out, side, along = np.sqrt(1.0 - square), np.sqrt(square) * np.cos(turn), np.sqrt(square) * np.sin(turn)
    flat = out**2 + side**2
    length = (np.sqrt((inner * out) ** 2 + flat * (outer**2 - inner**2)) - inner * out) / flat
    share = float(np.mean(along * length > distance))
    spread = math.sqrt(share * (1.0 - share) / count)
    what = f"view past a plane {distance} m away, {inner} in {outer} m"
    assert view_along(distance, inner, outer) == known(share, what, "100,000 rays", INDEPENDENT, abs=3.5 * spread)


@pytest.mark.parametrize("distance", [0.0, 0.002, 0.02, 0.2])
def test_view_along_limits(distance: float) -> None:
    """A thin wire: (t - sin t cos t)/pi, tan t = R/z; cylinders so close that they are plates: (1 - z/sqrt(z^2 + g^2))/2."""
    angle = math.atan2(0.02, distance)
    wire = (angle - math.sin(angle) * math.cos(angle)) / math.pi
    assert view_along(distance, 1e-7, 0.02) == known(wire, f"view of a thin wire, {distance} m", "limit by hand", CLOSED, abs=1e-5)
    plates = (1.0 - distance / math.hypot(distance, 0.02)) / 2.0
    assert view_along(distance, 1e4, 1e4 + 0.02) == known(
        plates, f"view of plates, {distance} m", "limit by hand", CLOSED, abs=1e-4
    )


def test_views_of_slices() -> None:
    """Everything in the middle of a long coil, half at its mouths, nothing far away, without a jump between."""
    here = Surroundings(0.01, 0.02, coil_start=0.0, coil_end=1.0)
    covered, views = coil_views(here, np.linspace(-1.0, 2.0, 3001))
    assert views[1500] == pytest.approx(1.0, abs=1e-3) and views[0] < 1e-3
    assert (views[999] + views[1000]) / 2.0 == pytest.approx(0.5, abs=1e-3)
    assert np.max(np.abs(np.diff(views))) < 0.06
    assert views == pytest.approx(views[::-1], abs=1e-9)
    assert covered.sum() == pytest.approx(1000.0) and set(np.round(covered, 9)) == {0.0, 1.0}


def test_views_of_ends() -> None:
    """At the mouth an end sees the room alone; a radius deep in a close bore, discs a radius apart: (3 - sqrt 5)/2 goes out."""
    here = Surroundings(0.01, 0.0100001, coil_start=0.0, coil_end=0.2)
    assert end_views(here, np.array([0.0, 0.25]))[0] == (0.0, 0.0)
    assert end_views(here, np.array([0.0, 0.25]))[1] == (0.0, 0.0)
    view, ratio = end_views(here, np.array([0.01, 0.1]))[0]
    discs = 1.0 - (3.0 - math.sqrt(5.0)) / 2.0
    assert view == known(discs, "view of an end, a radius deep in a close bore", "discs a radius apart", CLOSED, abs=1e-4)
    assert ratio == pytest.approx(0.5, abs=1e-4)
    before, past = end_views(here, np.array([-0.3, -0.01]))[1], end_views(here, np.array([-0.3, -0.01]))[0]
    assert before[0] == pytest.approx((3.0 - math.sqrt(5.0)) / 2.0 - 0.0023, abs=1e-4) and past == (0.0, 0.0)


@pytest.mark.parametrize("surface", [-20.0, 300.0, 900.0, 1250.0])
def test_lining_carries_what_it_gets_and_gives(surface: float) -> None:
    """The sleeve's two faces by this test's own root-finding: what comes, what goes through, and what leaves are one flow."""
    sleeve = LINED.lining
    assert sleeve is not None

    def gap(inner: float, outer: float, warm: float, cold: float, e1: float, e2: float) -> float:
        black = STEFAN_BOLTZMANN * ((warm + ZERO_CELSIUS) ** 4 - (cold + ZERO_CELSIUS) ** 4)
        air = heat.air_properties(min((warm + cold) / 2.0, 1000.0)).conductivity * (warm - cold) / math.log(outer / inner)
        return math.tau * (inner * black / (1.0 / e1 + inner / outer * (1.0 / e2 - 1.0)) + air)

    def unbalance(faces: np.ndarray) -> list[float]:
        through = math.tau * sleeve.conductivity * (faces[0] - faces[1]) / math.log(sleeve.outer_radius / sleeve.inner_radius)
        reached = gap(0.006, sleeve.inner_radius, surface, faces[0], 0.8, sleeve.emissivity)
        return [reached - through, through - gap(sleeve.outer_radius, 0.012, faces[1], LINED.coil_c, sleeve.emissivity, 0.4)]

    faces = optimize.fsolve(unbalance, [surface * 0.8, surface * 0.4], xtol=1e-12)
    flow = math.tau * sleeve.conductivity * (faces[0] - faces[1]) / math.log(sleeve.outer_radius / sleeve.inner_radius)
    assert lined_flux(LINED, surface) * math.tau * 0.006 == known(
        flow, f"heat through a lining at {surface} °C", "root of the sleeve's balance", INDEPENDENT, unit="W/m", rel=1e-5
    )


def test_lining_saves_heat_and_needs_to_be_there() -> None:
    bare, lined = (hot_surface(each, AXIAL) for each in (BARE, LINED))
    without, with_it = (sum(float(each.mantle[0, 3]) for each in given_off(one, 1000.0).values()) for one in (bare, lined))
    assert 0.2 * without < with_it < 0.7 * without
    with pytest.raises(InputError, match="no lining"):
        lined_flux(BARE, 500.0)


@pytest.mark.parametrize("here", [BARE, LINED])
def test_tables_are_close_to_what_they_hold(here: Surroundings) -> None:
    """Half-way between knots, the flows of a slice in the middle of the coil and of one outside; 2e-4 of the flow at 1400 °C."""
    surface = hot_surface(here, AXIAL)
    for celsius in (25.0, 405.0, 995.0, 1345.0):
        flows = given_off(surface, celsius)
        if here.lining is None:
            radiated = concentric_exchange(celsius + ZERO_CELSIUS, 313.15, 0.8, 0.4, 0.5)
            inside, carried = radiated * surface.views[3], annulus_flux(0.006, 0.012, celsius, 40.0)
            assert flows["radiation_coil"].mantle[0, 3] == pytest.approx(inside, abs=40.0)
            assert flows["convection_coil"].mantle[0, 3] == pytest.approx(carried, abs=4.0)
        else:
            assert flows["lining"].mantle[0, 3] == pytest.approx(lined_flux(here, celsius) * surface.views[3], abs=10.0)
        outside = heat.natural_convection(0.012, celsius, 20.0) * (celsius - 20.0)
        assert flows["convection_room"].mantle[0, 0] == pytest.approx(outside, abs=4.0)


def test_a_piece_as_warm_as_coil_and_room_gives_nothing_off() -> None:
    here = Surroundings(0.006, 0.012, 0.01, 0.065, coil_c=20.0, ambient_c=20.0)
    for name, faces in given_off(hot_surface(here, AXIAL), 20.0).items():
        assert all(np.asarray(each) == pytest.approx(0.0, abs=1e-6) for each in faces), name


class Metal:
    """Constant properties."""

    def temperature(self, enthalpy: np.ndarray) -> np.ndarray:
        return np.asarray(enthalpy) / 5e6

    def conductivity(self, celsius: np.ndarray) -> np.ndarray:
        return np.full_like(celsius, 30.0)


@pytest.mark.parametrize("here", [BARE, LINED])
def test_ledger_of_a_piece_in_its_coil(here: Surroundings) -> None:
    """400 W for 30 s into a 12 mm bar: deposited = stored + given off, and with a lining less goes into the coil's water."""
    grid = CylinderGrid(radial_edges(0.006, 0.0, 1e-4, 8), AXIAL)
    losses, start = hot_surface(here, AXIAL), np.full(grid.shape, 20.0 * 5e6)
    done = march(grid, Metal(), start, 30.0, 400.0 / grid.volumes.sum(), losses)
    stored = float(np.sum((done.enthalpy - start) * grid.volumes))
    assert stored + sum(done.given_off.values()) == pytest.approx(400.0 * 30.0, rel=1e-9)
    assert set(done.given_off) == {"radiation_coil", "convection_coil", "lining", "radiation_room", "convection_room"}
    assert (done.given_off["lining"] > 0.0) == (here.lining is not None)
    assert (done.given_off["convection_coil"] > 0.0) == (here.lining is None)


def test_too_hot_is_said() -> None:
    surface = hot_surface(FAR, AXIAL, highest_c=800.0)
    with pytest.raises(InputError, match="out of range"):
        given_off(surface, 801.0)
    with pytest.raises(InputError, match="air's properties"):
        hot_surface(FAR, AXIAL, highest_c=2000.0)


def test_bad_input_is_named() -> None:
    with pytest.raises(InputError, match="do not go into one another"):
        Surroundings(0.01, 0.02, 0.0, 0.1, lining=Lining(0.012, 0.021, 0.3))
    with pytest.raises(InputError, match="no coil"):
        Surroundings(0.01, 0.02, 0.1, 0.0)
    with pytest.raises(InputError, match="no sleeve"):
        Lining(0.02, 0.012, 0.3)
    with pytest.raises(InputError, match="no gap"):
        annulus_flux(0.02, 0.01, 100.0, 20.0)
