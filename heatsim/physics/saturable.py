# SPDX-License-Identifier: GPL-3.0-or-later
"""Steel in a strong alternating field: flux density, and the permeability that goes with the field at its surface.

Curve:    steel_flux_density
Place:    fundamental_permeability, in a field of the same amplitude all over
Surface:  surface_permeability and surface_permeabilities, in a field that falls off into the depth as the steel lets it, and
          loss_permeability
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.magnetisation import STEELS, steel_permeability
from heatsim.physics.numeric import FloatArray, Numeric, Result, scalar_or_array

LOWEST, HIGHEST = 1.0, 1e6
"""Amplitudes [A/m] between which the surface permeability is computed."""

PUBLISHED_TO = 2.0
"""Flux density [T] up to which the steels' curves are published."""

SATURATION = 2.15
"""Polarisation [T] that no steel exceeds, iron's own (memory). Above `PUBLISHED_TO` the curves go on to this or to their greatest,
and stay there."""

_ANGLES = np.linspace(0.0, np.pi, 129)


@lru_cache(maxsize=8)
def _curve(steel: str) -> tuple[FloatArray, FloatArray]:
    """Field [A/m] and flux density [T] of a steel, both rising from zero."""
    if steel not in STEELS:
        raise InputError.single("steel", "is not known", repr(steel), ", ".join(STEELS))
    density = np.concatenate([[0.0], np.geomspace(1e-6, 0.01, 401), np.linspace(0.01, 3.0, 6001)[1:]])
    field = density / (MU_0 * np.asarray(steel_permeability(density, STEELS[steel])))
    top = int(np.argmax(np.minimum(density - MU_0 * field, SATURATION))) + 1
    far = 10.0 * HIGHEST
    return np.append(field[:top], far), np.append(density[:top], density[top - 1] + MU_0 * (far - field[top - 1]))


def steel_flux_density(field: Numeric, steel: str) -> Result:
    """Flux density [T] of a steel of `STEELS` in a field [A/m], odd; no hysteresis.

    field: [A/m]; steel: its name there [1]
    The inverse of B/(mu0 mu_r(B)), by interpolation.
    """
    fields, density = _curve(steel)
    return scalar_or_array(np.sign(field) * np.interp(np.abs(field), fields, density))


def _fundamental(field: FloatArray, steel: str) -> FloatArray:
    """Relative permeability [1] for the fundamental of the flux density in a sinusoidal field of an amplitude [A/m]."""
    from scipy.integrate import simpson

    swing = np.asarray(steel_flux_density(field[:, None] * np.sin(_ANGLES), steel))
    return np.asarray(2.0 / np.pi * simpson(swing * np.sin(_ANGLES), x=_ANGLES, axis=1) / (MU_0 * field))


@lru_cache(maxsize=8)
def _fundamental_table(steel: str) -> tuple[FloatArray, FloatArray]:
    """Logarithm of the amplitude, and the permeability for the fundamental there."""
    logs = np.linspace(np.log(LOWEST), np.log(HIGHEST), 1201)
    return logs, _fundamental(np.exp(logs), steel)


def fundamental_permeability(field_peak: Numeric, steel: str) -> Result:
    """Relative permeability [1] of steel for the fundamental of its flux density in a sinusoidal field.

    field_peak: amplitude of the field at the place [A/m], 0 to `HIGHEST`; steel: name of `STEELS` [1]
    (2/(pi mu0 H)) times the integral of B(H sin x) sin x from 0 to pi (harmonic linearisation: N. Krylov & N. Bogoliubov 1947;
    memory), interpolated in a table over ln H; below `LOWEST` that of `LOWEST`. No hysteresis, so it is real.
    """
    field = np.asarray(field_peak, dtype=float)
    _check_field("fundamental_permeability", field)
    logs, permeability = _fundamental_table(steel)
    return scalar_or_array(np.interp(np.log(np.maximum(field, LOWEST)), logs, permeability))


def _check_field(where: str, field: FloatArray) -> None:
    if not np.all((field >= 0.0) & (field <= HIGHEST)):
        allowed = f"0 to {HIGHEST / 1e3:g} kA/m"
        raise InputError.single(where, "no curve for such a field", f"{np.max(field) / 1e3:.4g} kA/m", allowed)


@lru_cache(maxsize=8)
def _surface_table(steel: str) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Logarithm of the amplitude at the surface, and real and imaginary part of the permeability that goes with it."""
    from scipy.integrate import solve_ivp

    logs = np.linspace(np.log(LOWEST), np.log(HIGHEST), 301)
    local = _fundamental(np.exp(logs), steel)

    def slope(log: float, z: FloatArray) -> FloatArray:
        mu = np.interp(log, logs, local)
        return np.asarray((1.0j * mu - z**2) / z.real)

    start = np.sqrt(1.0j * local[:1])
    found = solve_ivp(slope, (logs[0], logs[-1]), start, t_eval=logs, rtol=1e-7, atol=1e-7)
    permeability = -1.0j * found.y[0] ** 2
    return logs, permeability.real, permeability.imag


def surface_permeability(field_peak: float, steel: str) -> complex:
    """Complex relative permeability [1] of a linear half-space that takes in as much power and reactive power as the steel does.

    field_peak: amplitude of the sinusoidal field at the surface [A/m], up to `HIGHEST`
    steel: name of `STEELS` [1]
    In the depth d(rho dH/dx)/dx = j w mu0 mu(|H|) H, mu(|H|) for the fundamental of B in a sinusoidal field of that amplitude
    (harmonic linearisation, also describing function: N. Krylov & N. Bogoliubov 1947; memory). With Z = -(dH/dx)/H in units of
    sqrt(w mu0/rho) this is dZ/d ln|H| = (j mu - Z^2)/Re Z, a property of the curve alone, and the permeability is -j Z^2: its
    surface impedance sqrt(j w mu0 mu rho) is that of the steel. For a sharp knee the power comes 9 % below MacLean's
    8/(3 pi) H^2 rho/delta (J. Appl. Phys. 25, 1954, p. 1267; memory), for real curves within 5 % of an integration in time (in
    the tests; reactive power within 16 %). The permeability B/H at the crest instead would give a third too little power.
    Hysteresis is left out. Raises InputError above `HIGHEST`.
    """
    if not 0.0 < field_peak <= HIGHEST:
        allowed = f"above 0, up to {HIGHEST / 1e3:g} kA/m"
        raise InputError.single("surface_permeability", "no curve for such a field", f"{field_peak / 1e3:.4g} kA/m", allowed)
    return complex(surface_permeabilities(np.array(field_peak), steel))


def surface_permeabilities(field_peak: FloatArray, steel: str) -> npt.NDArray[np.complex128]:
    """`surface_permeability` [1] at many amplitudes; below `LOWEST` that of `LOWEST`.

    field_peak: amplitudes [A/m], 0 to `HIGHEST`, any shape; steel: name of `STEELS` [1]
    """
    _check_field("surface_permeabilities", field_peak)
    logs, real, imag = _surface_table(steel)
    log = np.log(np.maximum(field_peak, LOWEST))
    return np.asarray(np.interp(log, logs, real) + 1.0j * np.interp(log, logs, imag))


def loss_permeability(complex_permeability: complex) -> float:
    """Real relative permeability [1] of a half-space that takes in the same power: 2 (Re sqrt(j mu))^2.

    complex_permeability: of `surface_permeability` [1]
    """
    return float(2.0 * np.sqrt(1.0j * complex_permeability).real ** 2)
