# SPDX-License-Identifier: GPL-3.0-or-later
"""What a hot round workpiece gives off in a water-cooled coil: radiation and convection, to the coil and to the room, by name.

Where:  Surroundings, Lining
Views:  view_along, coil_views, end_views
Flows:  concentric_exchange, annulus_flux, lined_flux, end_convection
Whole:  HotSurface, hot_surface

The piece lies level on the coil's axis, its mantle in slices, in still air at one atmosphere. The coil counts as a closed
cylinder of one temperature. Air is good to a film of 1000 °C, so surfaces to some 1980 °C in a room of 20 °C. Flows are steady:
no heat is stored in air, lining or coil.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from heatsim.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from heatsim.errors import InputError
from heatsim.physics.conduction import Faces
from heatsim.physics.heat import EMISSIVITY_STEEL_OXIDISED, air_properties, grashof_number, natural_convection, radiated_flux
from heatsim.physics.numeric import FloatArray, Numeric, Result, require_not_negative, require_positive, scalar_or_array

EMISSIVITY_COPPER_TARNISHED = 0.4
"""Emissivity of the copper of a coil in use [1]; handbooks (memory): polished 0.03 to 0.05, dull 0.2, oxidised black 0.6 to 0.8."""

EMISSIVITY_REFRACTORY = 0.7
"""Emissivity of light refractories, hot [1]; handbooks (memory): 0.4 to 0.9."""

TABLE_STEP = 10.0
"""Distance of the knots of temperature that `hot_surface` computes flows at [K]; cubic between, within 1e-4 of full flow."""

Emissivity = Callable[[FloatArray], Numeric]
"""Emissivity [1] at a surface temperature [°C]."""


def _oxidised(surface_c: FloatArray) -> Numeric:
    return EMISSIVITY_STEEL_OXIDISED


@dataclass(frozen=True)
class Lining:
    """Refractory sleeve between piece and coil, as long as the coil: radii [m], conductivity [W/(m*K)], emissivity [1]."""

    inner_radius: float
    outer_radius: float
    conductivity: float
    emissivity: float = EMISSIVITY_REFRACTORY

    def __post_init__(self) -> None:
        require_positive("Lining", inner_radius=self.inner_radius, conductivity=self.conductivity, emissivity=self.emissivity)
        if not self.inner_radius < self.outer_radius < math.inf or self.emissivity > 1.0:
            given, allowed = (self.inner_radius, self.outer_radius, self.emissivity), "radii that rise, emissivity up to 1"
            raise InputError.single("Lining", "no sleeve", given, allowed)


@dataclass(frozen=True)
class Surroundings:
    """Room and coil about a workpiece: piece's radius, coil's inside radius and where on the piece's axis it begins and ends [m].

    Temperatures of the coil's inner face and of the room [°C]; emissivity of the coil [1] and of the piece [1] at its surface
    temperature [°C]; a lining between them, or none.
    """

    piece_radius: float
    coil_radius: float
    coil_start: float
    coil_end: float
    coil_c: float = 40.0
    ambient_c: float = 20.0
    coil_emissivity: float = EMISSIVITY_COPPER_TARNISHED
    emissivity: Emissivity = field(default=_oxidised)
    lining: Lining | None = None

    def __post_init__(self) -> None:
        require_positive("Surroundings", piece_radius=self.piece_radius, coil_emissivity=self.coil_emissivity)
        inside = [self.piece_radius, self.coil_radius]
        if self.lining is not None:
            inside[1:1] = [self.lining.inner_radius, self.lining.outer_radius]
        if not all(small < large < math.inf for small, large in zip(inside, inside[1:], strict=False)):
            allowed = "piece, lining inside, lining outside, coil: each larger than the one before"
            raise InputError.single("Surroundings", "radii do not go into one another", inside, allowed)
        if not self.coil_start < self.coil_end or self.coil_emissivity > 1.0:
            given, allowed = (self.coil_start, self.coil_end, self.coil_emissivity), "start before end, emissivity up to 1"
            raise InputError.single("Surroundings", "no coil", given, allowed)

    @property
    def bore_radius(self) -> float:
        """Of what faces the piece, lining or coil [m]."""
        return self.coil_radius if self.lining is None else self.lining.inner_radius


def view_along(distance: Numeric, inner: float, outer: float) -> Result:
    """View factor [1] of a ring on a long cylinder to all that lies beyond a plane a distance [m] along the axis, inside a tube.

    distance: to the plane, from 0 [m]; inner: radius of the cylinder [m]; outer: inside radius of the tube [m]

    Exact for grey-diffuse rings: a ray at the angle t from the axis and p from the normal round it leaves through the plane
    before it meets the tube if z tan t < s(p) = sqrt(R^2 - r^2 sin^2 p) - r cos p; its share is sin^2 t cos p dt dp/pi.
    The integral over t is closed, that over sin p taken by 48 Gauss points: within 1e-4. 1/2 at the plane itself.
    """
    require_positive("view_along", inner=inner, outer=outer)
    require_not_negative("view_along", distance=distance)
    sines, weights = np.polynomial.legendre.leggauss(48)
    reach = np.sqrt(outer**2 - (inner * sines) ** 2) - inner * np.sqrt(1.0 - sines**2)
    angle = np.arctan2(reach, np.asarray(distance, dtype=float)[..., None])
    return scalar_or_array(np.sum(weights * (angle - np.sin(angle) * np.cos(angle)), axis=-1) / (2.0 * math.pi))


def coil_views(surroundings: Surroundings, axial: FloatArray, points: int = 16) -> tuple[FloatArray, FloatArray]:
    """Share [1] of each slice's mantle that lies inside the coil, and mean view factor [1] of each slice to what faces it there.

    surroundings: of the piece [m]; axial: edges of the slices (nz + 1,) [m]; points: per slice that are averaged [1]

    The rest of what a slice sees is the room, through the mouths of the coil or past it. What it sees of the coil's outside and
    end faces counts as room too.
    """
    places = np.asarray(axial)[:-1, None] + np.diff(axial)[:, None] * (np.arange(points) + 0.5) / points
    beyond = [surroundings.coil_start - places, places - surroundings.coil_end]
    factors = [view_along(np.abs(each), surroundings.piece_radius, surroundings.bore_radius) for each in beyond]
    past = [np.where(each > 0.0, 1.0 - factor, factor) for each, factor in zip(beyond, factors, strict=True)]
    covered = np.diff(np.clip(axial, surroundings.coil_start, surroundings.coil_end)) / np.diff(axial)
    return covered, np.asarray(np.mean(np.clip(1.0 - past[0] - past[1], 0.0, 1.0), axis=1))


def end_views(surroundings: Surroundings, axial: FloatArray) -> tuple[tuple[float, float], tuple[float, float]]:
    """For either end, its view factor [1] to the bore of the coil and its area over the area of that bore [1].

    surroundings: of the piece [m]; axial: edges of the slices (nz + 1,) [m]

    The bore is what an end sees up to the far mouth less what it sees up to the near one, if that still lies ahead; none for an
    end past the coil. Of a larger coaxial disc it sees F = (S - sqrt(S^2 - 4 (R/r)^2))/2, S = 1 + (d^2 + R^2)/r^2.
    Incropera & DeWitt, table 13.2 (memory).
    """
    small, large = surroundings.piece_radius, surroundings.bore_radius
    start, end = float(axial[0]), float(axial[-1])

    def mouth(depth: float) -> float:
        total = 1.0 + (depth**2 + large**2) / small**2
        return (total - math.sqrt(total**2 - 4.0 * (large / small) ** 2)) / 2.0

    def view(near: float, far: float) -> tuple[float, float]:
        near = max(near, 0.0)
        return (mouth(near) - mouth(far), small**2 / (2.0 * large * (far - near))) if far > 0.0 else (0.0, 0.0)

    first = view(start - surroundings.coil_end, start - surroundings.coil_start)
    return first, view(surroundings.coil_start - end, surroundings.coil_end - end)


def concentric_exchange(inner_k: Numeric, outer_k: Numeric, inner_e: Numeric, outer_e: Numeric, area_ratio: Numeric) -> Result:
    """Net radiation [W/m2, of the inner surface] from an inner to an outer grey surface that encloses it.

    inner_k: temperature [K]; outer_k: temperature [K]; inner_e: emissivity [1]; outer_e: emissivity [1]
    area_ratio: inner over outer area [1]

    sigma (T1^4 - T2^4)/(1/e1 + (A1/A2)(1/e2 - 1)); A1/A2 = r1/r2 of long concentric cylinders. Incropera & DeWitt, table
    13.3 (memory).
    """
    resistance = 1.0 / np.asarray(inner_e) + np.multiply(area_ratio, 1.0 / np.asarray(outer_e) - 1.0)
    black = np.power(inner_k, 4.0) - np.power(outer_k, 4.0)
    return scalar_or_array(STEFAN_BOLTZMANN * black / resistance)


def annulus_flux(inner: float, outer: float, inner_c: Numeric, outer_c: Numeric) -> Result:
    """Heat [W/m2, of the inner surface] that air carries across the gap between long level concentric cylinders.

    inner: radius [m]; outer: radius [m]; inner_c: [°C]; outer_c: [°C]

    k_eff (T1 - T2)/(r1 ln(r2/r1)); k_eff/k = 0.386 (Pr/(0.861 + Pr))^(1/4) Ra*^(1/4), Ra* = ln(D2/D1)^4/(L^3 (D1^-3/5 +
    D2^-3/5)^5) Ra_L, L = r2 - r1, air at the mean temperature; conduction alone below Ra* of 100; good to 1e7. Raithby & Hollands
    1975, after Incropera & DeWitt 9.8.2 (memory). Where the two meet (1 + x^12)^(1/12) makes it smooth, at most 6 % above.
    """
    if not 0.0 < inner < outer:
        raise InputError.single("annulus_flux", "no gap", (inner, outer), "0 < inner < outer [m]")
    return scalar_or_array(_annulus(inner, outer, inner_c, outer_c, np.add(inner_c, outer_c) / 2.0))


def _annulus(inner: float, outer: float, inner_c: Numeric, outer_c: Numeric, film_c: Numeric) -> Any:
    air, gap, log = air_properties(film_c), outer - inner, math.log(outer / inner)
    rayleigh = grashof_number(gap, inner_c, outer_c, air.viscosity, 1.0 / _kelvin(film_c)) * air.prandtl
    shape = log**4 / (gap**3 * ((2.0 * inner) ** -0.6 + (2.0 * outer) ** -0.6) ** 5)
    flowing = 0.386 * (air.prandtl / (0.861 + air.prandtl) * shape * rayleigh) ** 0.25
    conductivity = air.conductivity * (1.0 + flowing**12) ** (1.0 / 12.0)
    return conductivity * np.subtract(inner_c, outer_c) / (inner * log)


def end_convection(radius: float, surface_c: Numeric, ambient_c: Numeric) -> Result:
    """Heat [W/m2] that still air takes from the upright end of a level bar, taken as a wall as high as the bar is thick.

    radius: [m]; surface_c: [°C]; ambient_c: [°C]

    Source: Churchill & Chu 1975, by way of `ht.Nu_vertical_plate_Churchill`, Rayleigh number up to 1e12; air at the mean
    temperature.
    """
    from ht import Nu_vertical_plate_Churchill

    film_c, height = np.add(surface_c, ambient_c) / 2.0, 2.0 * radius
    air = air_properties(film_c)
    grashof = grashof_number(height, surface_c, ambient_c, air.viscosity, 1.0 / (film_c + ZERO_CELSIUS))
    coefficient = Nu_vertical_plate_Churchill(air.prandtl, grashof) * air.conductivity / height
    return scalar_or_array(coefficient * np.subtract(surface_c, ambient_c))


def _kelvin(celsius: Numeric) -> Any:
    return np.add(celsius, ZERO_CELSIUS)


def lined_flux(surroundings: Surroundings, surface_c: Numeric) -> Result:
    """Heat [W/m2, of the piece] through the lining to the coil: gap, sleeve and gap in series, in steady state.

    surroundings: of the piece [m]; surface_c: of the piece [°C]

    Radiation and air across the inner gap = conduction 2 pi k (T - T')/ln(ro/ri) = radiation and air across the outer gap. Solved
    for the temperature of the sleeve's outer face by bracketed root-finding for each value. Air of the inner gap above 1000 °C
    is taken as at 1000 °C, where it carries a few per cent of what radiation does. The sleeve's conductivity is constant.
    """
    from scipy.optimize import brentq

    lining = surroundings.lining
    if lining is None:
        raise InputError.single("lined_flux", "no lining", None, "surroundings with a lining")

    def solved(surface: float) -> float:
        def unbalance(face_c: float) -> float:
            given, inner_c = _sleeve(surroundings, lining, face_c)
            return _reached(surroundings, lining, surface, inner_c) - given

        low, high = sorted((surface, surroundings.coil_c))
        root = brentq(unbalance, low, high, xtol=1e-9) if high > low else low
        return _sleeve(surroundings, lining, root)[0]

    surfaces = np.asarray(surface_c, dtype=float)
    return scalar_or_array(np.reshape([solved(float(each)) for each in surfaces.ravel()], surfaces.shape))


def _sleeve(surroundings: Surroundings, lining: Lining, face_c: float) -> tuple[float, float]:
    """Heat through a sleeve [W/m2, of the piece] whose outer face has a temperature, and temperature of its inner face [°C]."""
    outer, coil = lining.outer_radius, surroundings.coil_radius
    radiated = concentric_exchange(
        _kelvin(face_c), _kelvin(surroundings.coil_c), lining.emissivity, surroundings.coil_emissivity, outer / coil
    )
    flux = (radiated + annulus_flux(outer, coil, face_c, surroundings.coil_c)) * outer
    inner_c = face_c + flux * math.log(outer / lining.inner_radius) / lining.conductivity
    return flux / surroundings.piece_radius, inner_c


def _reached(surroundings: Surroundings, lining: Lining, surface_c: float, inner_c: float) -> float:
    """Heat from piece to sleeve [W/m2, of the piece]; straight on beyond the temperatures of piece and coil."""
    piece, inside = surroundings.piece_radius, lining.inner_radius
    emissivity = np.asarray(surroundings.emissivity(np.asarray(surface_c)))
    low, high = sorted((surface_c, surroundings.coil_c))
    within = min(max(inner_c, low), high)
    radiated = concentric_exchange(_kelvin(surface_c), _kelvin(within), emissivity, lining.emissivity, piece / inside)
    return float(
        radiated + _annulus(piece, inside, surface_c, within, min((surface_c + within) / 2.0, 1000.0)) - 1e3 * (inner_c - within)
    )


@dataclass(frozen=True, eq=False)
class HotSurface:
    """Heat given off by a piece [W/m2] at surface temperatures [°C], as `conduction.march` asks: from tables, in a moment.

    radiation_coil, convection_coil: from mantle and ends to the coil. With a lining the mantle gives both to it instead, by the
    name of lining, and radiation_coil is of ends that lie inside only, as if the lining there were as cold as the coil (an
    upper bound). radiation_room, convection_room: past the coil and through its mouths. What the first three carry, the
    coil's water takes away. The bore gives nothing off. Slices share radiation and lining by their view of the coil,
    convection by how much of them lies inside.
    """

    surroundings: Surroundings
    covered: FloatArray
    views: FloatArray
    end_views: tuple[float, float]
    lowest_c: float
    highest_c: float
    splines: tuple[Any, ...]

    def __call__(self, surface: Faces) -> dict[str, Faces]:
        """Flows by name [W/m2] at surface temperatures [°C]."""
        mantle, start, end = (self._within(each) for each in (surface.mantle, surface.start, surface.end))
        rows, starts, ends = self.splines[0](mantle), self.splines[1](start), self.splines[2](end)
        near, covered, (first, last) = self.views, self.covered, self.end_views
        return {
            "radiation_coil": Faces(near * rows[..., 0], 0.0, first * starts[..., 0], last * ends[..., 0]),
            "convection_coil": Faces(covered * rows[..., 1]),
            "lining": Faces(near * rows[..., 2]),
            "radiation_room": Faces((1.0 - near) * rows[..., 3], 0.0, (1.0 - first) * starts[..., 1], (1.0 - last) * ends[..., 1]),
            "convection_room": Faces((1.0 - covered) * rows[..., 4], 0.0, starts[..., 2], ends[..., 2]),
        }

    def _within(self, celsius: Numeric) -> FloatArray:
        values = np.asarray(celsius, dtype=float)
        if not (values.min() >= self.lowest_c and values.max() <= self.highest_c):
            allowed = f"{self.lowest_c:g} to {self.highest_c:g} °C"
            raise InputError.single("HotSurface", "surface temperature out of range", (values.min(), values.max()), allowed)
        return values


def hot_surface(
    surroundings: Surroundings, axial: FloatArray, lowest_c: float = -40.0, highest_c: float = 1400.0, area: float = 1.0
) -> HotSurface:
    """What a piece in its surroundings gives off, by name [W/m2], tabulated between two temperatures [°C].

    surroundings: of the piece [m]; axial: edges of its slices (nz + 1,) [m]; lowest_c: [°C]; highest_c: [°C]
    area: factor on the mantle's, for a round piece that stands for another shape [1]
    """
    from scipy.interpolate import CubicSpline

    if not -70.0 <= lowest_c < highest_c <= 1900.0:
        raise InputError.single("hot_surface", "no range of the air's properties", (lowest_c, highest_c), "-70 to 1900 °C, rising")
    knots = np.linspace(lowest_c, highest_c, 1 + math.ceil((highest_c - lowest_c) / TABLE_STEP))
    covered, views = coil_views(surroundings, axial)
    ends = end_views(surroundings, axial)
    tables = [area * _mantle_flows(surroundings, knots), *(_end_flows(surroundings, knots, ratio) for _, ratio in ends)]
    splines = tuple(CubicSpline(knots, table) for table in tables)
    return HotSurface(surroundings, covered, views, (ends[0][0], ends[1][0]), lowest_c, highest_c, splines)


def _room_radiation(surroundings: Surroundings, knots: FloatArray) -> Result:
    return radiated_flux(_kelvin(knots), _kelvin(surroundings.ambient_c), np.asarray(surroundings.emissivity(knots)))


def _mantle_flows(here: Surroundings, knots: FloatArray) -> FloatArray:
    """Radiation and convection to the coil, flow through the lining, radiation and convection to the room [W/m2]; last axis."""
    ratio, emissivity = here.piece_radius / here.coil_radius, np.asarray(here.emissivity(knots))
    room = [
        _room_radiation(here, knots),
        natural_convection(2.0 * here.piece_radius, knots, here.ambient_c) * (knots - here.ambient_c),
    ]
    if here.lining is not None:
        return np.stack([0.0 * knots, 0.0 * knots, np.asarray(lined_flux(here, knots)), *room], axis=-1)
    radiated = concentric_exchange(_kelvin(knots), _kelvin(here.coil_c), emissivity, here.coil_emissivity, ratio)
    carried = annulus_flux(here.piece_radius, here.coil_radius, knots, here.coil_c)
    return np.stack([np.asarray(radiated), np.asarray(carried), 0.0 * knots, *room], axis=-1)


def _end_flows(here: Surroundings, knots: FloatArray, ratio: float) -> FloatArray:
    """Radiation to the bore, radiation and convection to the room [W/m2]; last axis."""
    wall = here.coil_emissivity if here.lining is None else here.lining.emissivity
    emissivity = np.asarray(here.emissivity(knots))
    bore = concentric_exchange(_kelvin(knots), _kelvin(here.coil_c), emissivity, wall, ratio)
    carried = end_convection(here.piece_radius, knots, here.ambient_c)
    return np.stack([np.asarray(bore), np.asarray(_room_radiation(here, knots)), np.asarray(carried)], axis=-1)
