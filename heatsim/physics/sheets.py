# SPDX-License-Identifier: GPL-3.0-or-later
"""A round piece in its coil as current sheets: fast, for a field that is asked for thousands of times.

    sheet_coupling  how the slices of a piece and the coil act on each other
    sheet_fields    field at the surface of every slice
    sheet_reflection  what the coil sees

Each slice is a stretch of a long piece in an axial field H, summed up in its mean permeability mu: the mean flux density over the
whole section over mu0 H. To the outside it is a current sheet M = (mu - 1) H on its mantle. With h the coil's mean field over a
slice per ampere and N the demagnetising factors between slices, H = h I - N M. End faces and radial magnetisation are left out: by
how much that falls short a field in two dimensions tells (`heatsim.physics.slices`). Source of the approach: magnetometric
demagnetising factors from the mutual inductance of solenoids, Chen, Brug & Goldfarb, IEEE Trans. Magn. 27, 1991, p. 3601 (memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.eddy import Reflection, sheet_flux
from heatsim.physics.inductance import solenoid_sheet_inductance
from heatsim.physics.numeric import FloatArray, require_positive

ComplexArray = npt.NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class SheetCoupling:
    """Of a piece cut into n slices.

    radius: of the piece [m]; widths: of the slices [m], (n,); field: of the coil over each slice per ampere [1/m], (n,);
    demagnetising: factors between slices [1], (n, n)
    """

    radius: float
    widths: FloatArray
    field: FloatArray
    demagnetising: FloatArray


@lru_cache(maxsize=256)
def sheet_coupling(coil: tuple[float, float, float], radius: float, edges: tuple[float, ...]) -> SheetCoupling:
    """How the slices of a piece and its coil act on each other.

    coil: (diameter [m], length [m], turns [1]); radius: of the piece [m]; edges: of its slices from the coil's middle [m]

    The flux of one sheet through another of the same radius follows from the self-inductance F(l) of sheets as long as their
    distances (Maxwell's rule for coaxial coils of one diameter; Rosa & Grover 1912, memory): M = [F(a) + F(b) - F(c) - F(d)]/2.
    """
    where = "sheet_coupling"
    places = np.asarray(edges)
    widths = np.diff(places)
    require_positive(where, diameter=coil[0], length=coil[1], turns=coil[2], radius=radius, widths=widths)
    if 2.0 * radius >= coil[0]:
        raise InputError.single(where, "piece as thick as the coil", radius, f"below the coil's radius, {coil[0] / 2.0:.6g} m")
    reach = _own_flux(radius, np.abs(places[:, None] - places[None, :]))
    mutual = (reach[1:, :-1] + reach[:-1, 1:] - reach[:-1, :-1] - reach[1:, 1:]) / 2.0
    factors = np.eye(widths.size) - mutual / (MU_0 * np.pi * radius**2 * widths[:, None])
    node, weight = np.polynomial.legendre.leggauss(6)
    inside = places[:-1, None] + widths[:, None] / 2.0 * (1.0 + node)
    field = sheet_flux(coil, radius, inside.ravel()).reshape(inside.shape) @ weight / 2.0 / (MU_0 * np.pi * radius**2)
    return SheetCoupling(radius, widths, field, factors)


def _own_flux(radius: float, length: FloatArray) -> FloatArray:
    """Flux linkage [Wb/A] of sheets with one turn a metre of these lengths [m] with themselves; 0 for no length."""
    safe = np.where(length > 0.0, length, 1.0)
    return np.where(length > 0.0, np.asarray(solenoid_sheet_inductance(2.0 * radius, safe, safe)), 0.0)


def sheet_fields(coupling: SheetCoupling, mean: ComplexArray, current: float) -> ComplexArray:
    """Amplitude of the field at the surface of every slice [A/m], complex, (n,).

    coupling: of piece and coil [1]; mean: permeability of every slice over its whole section [1], (n,)
    current: amplitude of the coil's [A]
    """
    matrix = np.eye(mean.size) + coupling.demagnetising * (mean - 1.0)
    return np.asarray(np.linalg.solve(matrix, coupling.field.astype(complex)), dtype=np.complex128) * current


def sheet_reflection(
    coupling: SheetCoupling, mean: ComplexArray, fields: ComplexArray, current: float, frequency: float
) -> Reflection:
    """Resistance [ohm] and inductance [H] that the piece adds to its coil: flux of the slices' sheets through it (reciprocity).

    coupling: of piece and coil [1]; mean: permeability of every slice [1]; fields: of `sheet_fields` for that current [A/m]
    current: amplitude of the coil's [A]; frequency: [Hz]
    """
    moment = np.sum(coupling.widths * coupling.field * (mean - 1.0) * fields) / current
    change = MU_0 * np.pi * coupling.radius**2 * complex(moment)
    return Reflection(float(-2.0 * np.pi * frequency * change.imag), float(change.real))
