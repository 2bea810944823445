# SPDX-License-Identifier: GPL-3.0-or-later
"""Alternating axial field in a long round workpiece whose resistivity and permeability differ over the radius.

Grid:   radial_edges, thinnest_cell
Field:  bar_field for given permeabilities, steel_bar_field for steel whose permeability follows the field
Heat:   magnetisation_share, what is left of the spontaneous magnetisation at a temperature

Bars, tubes with an air bore, and layered bodies such as a crucible with its charge. Ends are left out; what a coil sees of a
short piece is in `sheets` and `slices`. Many axial slices are solved at once, each as if it were long: properties have the shape
(slices s, cells n), cells from the bore outwards; what is the same in all slices may have the shape (n,).
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from heatsim.constants import MU_0, ZERO_CELSIUS
from heatsim.errors import InputError
from heatsim.physics.conductor import skin_depth
from heatsim.physics.numeric import FloatArray, Numeric, Result, require_not_negative, require_positive, scalar_or_array
from heatsim.physics.saturable import fundamental_permeability, surface_permeabilities

ComplexArray: TypeAlias = npt.NDArray[np.complex128]

CELL_SHARE = 0.2
"""Thickness of the outermost cell over the smallest skin depth [1]; see `thinnest_cell`."""

SETTLED = 1e-5
"""Relative change of a slice's mean and loss from one solution to the next, below which its permeability has settled [1]."""

ROUNDS = 80
"""Solutions after which a permeability has failed to settle; most need 15 to 20, 6 to 10 from a start that is near."""


class BarField(NamedTuple):
    """The field in each slice of a workpiece.

    mean: flux density, mean over the whole section with its bore, over mu0 times the field at the surface [1], complex, (s,)
    loss: mean power density of each cell [W/m3], (s, n); field: amplitude at each edge [A/m], (s, n + 1)
    permeability: relative, of each cell [1], (s, n), complex
    """

    mean: ComplexArray
    loss: FloatArray
    field: FloatArray
    permeability: ComplexArray


def radial_edges(outer: float, bore: float, thinnest: float, cells: int) -> FloatArray:
    """Edges of cells [m] from the bore to the outer surface, the outermost the thinnest, each further one thicker by a factor.

    outer: radius [m]; bore: its radius, 0 for a bar [m]; thinnest: thickness of the outermost cell [m]; cells: their number [1]
    Even cells where these are thinner than `thinnest`.
    """
    require_positive("radial_edges", outer=outer, thinnest=thinnest, cells=cells)
    require_not_negative("radial_edges", bore=bore)
    if bore >= outer:
        raise InputError.single("radial_edges", "bore radius", bore, f"below the outer radius, {outer:.6g} m")
    steps, wall = np.arange(cells), outer - bore
    depth = np.cumsum(_growth(wall / thinnest, cells) ** steps)
    return np.append(outer - wall * (depth / depth[-1])[::-1], outer)


def _growth(ratio: float, cells: int) -> float:
    """Factor q from cell to cell [1]: 1 + q + ... + q^(cells - 1) = ratio of the whole to the first."""
    from scipy.optimize import brentq

    if cells == 1 or ratio <= cells:
        return 1.0
    return float(brentq(lambda q: np.sum(q ** np.arange(cells)) - ratio, 1.0, ratio ** (1.0 / (cells - 1)), xtol=1e-14))


def thinnest_cell(resistivity: Numeric, permeability: Numeric, frequency: float) -> float:
    """Thickness [m] of the outermost cell with which the loss in steel is within 0.5 %: `CELL_SHARE` of the least skin depth.

    resistivity: [ohm*m]; permeability: relative, `fundamental_permeability` in the field at the surface [1]; frequency: [Hz]
    For `radial_edges` with cells that grow by 10 % or less, 0.3 to 200 kA/m and all `STEELS` against `surface_permeability` (in
    the tests); reactive power is within 1 %. Coarser cells lose little: 2.5 times this thickness 2.5 and 3 %, any thickness 12
    and 20 %, so that cells which are coarse inside still bear a field that meets cold steel there, below steel that has lost
    its magnetism. For permeabilities that are given, cells may be as thick as these are even; see `bar_field`.
    """
    require_positive("thinnest_cell", frequency=frequency)
    return CELL_SHARE * float(np.min(skin_depth(resistivity, frequency, permeability)))


def bar_field(
    edges: FloatArray,
    resistivity: FloatArray,
    permeability: FloatArray | ComplexArray,
    frequency: float,
    surface_field: FloatArray | ComplexArray,
) -> BarField:
    """Field [A/m], loss [W/m3] and mean permeability [1] of each slice for properties that are even over a cell.

    edges: of the cells [m], rising, the first the radius of the bore, 0 without one; resistivity: [ohm*m], (s, n) or (n,)
    permeability: relative, real, or complex mu' - j mu" with a magnetic loss mu" [1], (s, n) or (n,); frequency: [Hz]
    surface_field: amplitude at the surface of each slice [A/m], (s,)

    (1/r) d/dr(r rho dH/dr) = j w mu0 mu H, E = -rho dH/dr, in the bore E(b) = -j w mu0 (b/2) H(b) (Davies & Simpson 1979). In
    each cell H is the sum of exp(kr) and exp(-kr), k^2 = j w mu0 mu/rho, that takes the values at its edges, and the equation
    holds on the average with these two as weights (Galerkin). That is exact for a plane wall, whatever the thickness of its
    cells; the error is of second order in the thickness over the radius. 8 even cells in a bar of 0.1 to 50 skin depths in
    radius give the loss within 0.3 %, 30 within 0.02 % (in the tests). The losses of the cells add up to the power that enters
    through the surface, to rounding; with complex permeability they include the magnetic loss.
    """
    amplitude = np.abs(np.atleast_1d(surface_field))
    shape = (amplitude.size, np.size(edges) - 1)
    _check_cells("bar_field", edges, resistivity, frequency, amplitude)
    mu = np.asarray(_spread("bar_field", "permeability", permeability, shape), dtype=complex)
    if not np.all(np.isfinite(mu) & (mu.real > 0.0)):
        raise InputError.single("bar_field", "permeability", permeability, "finite, its real part above 0")
    mean, loss, field = _solve(edges, _spread("bar_field", "resistivity", resistivity, shape), mu, frequency)
    return BarField(mean, loss * amplitude[:, None] ** 2, field * amplitude[:, None], mu)


def _check_cells(where: str, edges: FloatArray, resistivity: FloatArray, frequency: float, amplitude: FloatArray) -> None:
    require_positive(where, resistivity=resistivity, frequency=frequency)
    require_not_negative(where, surface_field=amplitude)
    if not (np.size(edges) > 1 and edges[0] >= 0.0 and np.all(np.diff(edges) > 0.0)):
        raise InputError.single(where, "edges of cells", edges, "two or more, rising, from 0 or above")


def _spread(where: str, name: str, values: npt.NDArray[Any], shape: tuple[int, int]) -> npt.NDArray[Any]:
    """The values for all slices."""
    if np.shape(values) not in (shape, shape[1:]):
        allowed = f"{shape} or {shape[1:]}, from the numbers of surface fields and of cells"
        raise InputError.single(where, f"shape of the {name}", np.shape(values), allowed)
    return np.broadcast_to(values, shape)


def _admittances(edges: FloatArray, resistivity: FloatArray, k: ComplexArray) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Each cell as a circuit between H and r E at its edges: across it, and from its inner and its outer edge to ground.

    From the Galerkin integrals of rho r (f' g' + k^2 f g): rho (r1 k coth kh + 1/2), rho (r2 k coth kh - 1/2) and, across,
    rho k (r1 + r2)/2/sinh kh, less which the former are those to ground.
    """
    width, slope = np.diff(edges), resistivity * k
    wave = k * width
    fall = np.expm1(-wave)
    half = slope * (-fall / (2.0 + fall))  # rho k tanh(kh/2)
    across = slope * (-2.0 * np.exp(-wave) / (fall * (2.0 + fall)))  # rho k/sinh kh
    bend = (resistivity - width * across) / 2.0
    return across * ((edges[1:] + edges[:-1]) / 2.0), half * edges[:-1] + bend, half * edges[1:] - bend


def _solve(
    edges: FloatArray, resistivity: FloatArray, permeability: ComplexArray, frequency: float
) -> tuple[ComplexArray, FloatArray, FloatArray]:
    """Mean permeability [1], loss [W/m3] and amplitudes at the edges [A/m] of each slice for 1 A/m at the surface.

    The tridiagonal systems of the slices stand one below the other in one, with zeros between them.
    """
    from scipy.linalg.lapack import zgtsv

    omega_mu = 2.0 * np.pi * frequency * MU_0
    across, inner, outer = _admittances(edges, resistivity, np.sqrt(1.0j * omega_mu * permeability / resistivity))
    slices, cells = resistivity.shape
    middle, above, below, right = np.zeros((4, slices, cells + 1), dtype=complex)
    middle[:, :-1] = across + inner
    middle[:, 1:] += across + outer
    middle[:, 0] += 0.5j * omega_mu * edges[0] ** 2
    at_surface = middle[:, -1].copy()
    above[:, :-1] = -across
    below[:, :-2] = -across[:, :-1]
    middle[:, -1] = right[:, -1] = 1.0
    *_, found, _ = zgtsv(below.ravel()[:-1], middle.ravel(), above.ravel()[:-1], right.reshape(-1, 1))
    field = found.reshape(slices, cells + 1)
    inflow = at_surface - across[:, -1] * field[:, -2]
    square = field.real**2 + field.imag**2
    step = np.diff(field, axis=1)
    loss = across.real * (step.real**2 + step.imag**2) + inner.real * square[:, :-1] + outer.real * square[:, 1:]
    return 2.0 * inflow / (1.0j * omega_mu * edges[-1] ** 2), loss / np.diff(edges**2), np.sqrt(square)


def steel_bar_field(
    edges: FloatArray,
    resistivity: FloatArray,
    steel: str,
    share: FloatArray,
    frequency: float,
    surface_field: FloatArray | ComplexArray,
    start: FloatArray | ComplexArray | None = None,
) -> BarField:
    """Field [A/m], loss [W/m3] and mean permeability [1] of each slice of steel, the permeability following the field.

    edges: as in `bar_field` [m]; resistivity: [ohm*m], (s, n) or (n,); steel: name of `STEELS` [1]
    share: of the magnetisation at 20 °C that is left, 0 in what is not magnetic [1], (s, n) or (n,); see `magnetisation_share`
    frequency: [Hz]; surface_field: amplitude at the surface of each slice [A/m], (s,)
    start: permeability to start from, of a solution that is near [1], (s, n)

    mu = 1 + share (mu_20(H) - 1), mu_20 the `fundamental_permeability` at the mean amplitude in a cell; a cell across which the
    field drops from A to B takes the share (1 - B/A)^3 of the `surface_permeability` at A instead, which is right for a cell of
    many skin depths (and makes the permeability complex, without a magnetic loss behind it). Solved in turns with the field
    until mean and loss of every slice change by less than `SETTLED`; InputError if they do not. For grids see `thinnest_cell`.
    Loss comes within 1 % of `surface_permeability` for thick even steel, and within 5 % of integrations in time (reactive power
    17 %), also where a hot skin without magnetism covers cold steel (in the tests); hysteresis is left out. That the whole
    curve scales with the saturation is an assumption: towards the Curie point weak fields meet more permeability than this
    (memory).
    """
    amplitude = np.abs(np.atleast_1d(surface_field))[:, None]
    shape = (amplitude.size, np.size(edges) - 1)
    _check_cells(where := "steel_bar_field", edges, resistivity, frequency, amplitude)
    if not np.all((np.asarray(share) >= 0.0) & (np.asarray(share) <= 1.05)):
        raise InputError.single(where, "share of the magnetisation", share, "0 to 1.05, 1 at 20 °C")
    rho, left = _spread(where, "resistivity", resistivity, shape), _spread(where, "share", share, shape)
    even = np.broadcast_to(amplitude, (shape[0], shape[1] + 1))
    first = _cell_permeability(even, left, steel) if start is None else _spread(where, "start", start, shape)
    mu = np.asarray(first, dtype=complex)
    before, pace, last = np.zeros((2, shape[0]), dtype=complex), np.full(shape, 0.8), np.zeros(shape, dtype=complex)
    for _ in range(ROUNDS):
        mean, loss, field = _solve(edges, rho, mu, frequency)
        now = np.array([mean, loss @ np.diff(edges**2)])
        if np.all(np.abs(now - before) <= SETTLED * np.abs(now)):
            return BarField(mean, loss * amplitude**2, field * amplitude, mu)
        before, change = now, _cell_permeability(field * amplitude, left, steel) - mu
        pace = _pace(pace, change, last)
        mu, last = mu + pace * change, change
    raise InputError.single(where, "the permeability does not settle", f"{np.max(amplitude):.4g} A/m", "a finer grid")


def _pace(pace: FloatArray, change: ComplexArray, last: ComplexArray) -> FloatArray:
    """Share of the change found that each cell makes [1], from how its change came out after the last share.

    Half way to the secant rule pace/(1 - change/last), between 0.1 and 1: a cell that swings to and fro makes less of it.
    """
    square = last.real**2 + last.imag**2
    ratio = (change.real * last.real + change.imag * last.imag) / np.maximum(square, 1e-300)
    secant = np.clip(pace / (1.0 - np.clip(ratio, -5.0, 0.5)), 0.1, 1.0)
    return np.asarray(np.where(square > 0.0, (pace + secant) / 2.0, pace))


def _cell_permeability(field: FloatArray, share: FloatArray, steel: str) -> ComplexArray:
    """Relative permeability [1] of each cell for amplitudes at the edges [A/m]."""
    inside, outside = field[:, :-1], field[:, 1:]
    local = np.asarray(fundamental_permeability((inside + outside) / 2.0, steel))
    drop = 1.0 - np.minimum(inside / np.maximum(outside, 1e-300), 1.0)
    return np.asarray(1.0 + share * (local - 1.0 + drop * drop * drop * (surface_permeabilities(outside, steel) - local)))


@lru_cache(maxsize=1)
def _weiss() -> tuple[FloatArray, FloatArray]:
    """Temperature over the Curie temperature, rising, and the square of the spontaneous magnetisation over that at zero."""
    m = np.sin(np.linspace(np.pi / 2.0, 0.0, 4001))[1:-1]  # m^2 and T/Tc are smooth in one another towards the Curie point
    return np.concatenate([[0.0], m / np.arctanh(m), [1.0]]), np.concatenate([[1.0], m**2, [0.0]])


def magnetisation_share(celsius: Numeric, curie_c: Numeric) -> Result:
    """Spontaneous magnetisation of a ferromagnet over that at 20 °C [1]: mean-field theory, an ESTIMATE; 0 above the Curie point.

    celsius: temperature [°C]; curie_c: Curie point, above 20 [°C]

    m = tanh(m Tc/T), the molecular field of Weiss for spin 1/2 (C. Kittel, Introduction to Solid State Physics, chapter on
    ferromagnetism; memory), from a table. Over that at absolute zero it is, of iron's measured curve (AIP Handbook; memory),
    0.03 above at 0.4 Tc, 0.02 below at 0.7, 0.06 at 0.8 and 0.09 at 0.9; of nickel's within 0.04.
    """
    temperature, square = _weiss()
    curie = np.asarray(curie_c, dtype=float) + ZERO_CELSIUS
    kelvin = np.asarray(celsius, dtype=float) + ZERO_CELSIUS
    require_not_negative("magnetisation_share, absolute", temperature=kelvin)
    if not np.all(curie > ZERO_CELSIUS + 20.0):
        raise InputError.single("magnetisation_share", "Curie point", curie_c, "above 20 °C")
    cold = np.interp((ZERO_CELSIUS + 20.0) / curie, temperature, square)
    return scalar_or_array(np.sqrt(np.interp(kelvin / curie, temperature, square) / cold))
