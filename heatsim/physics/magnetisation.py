# SPDX-License-Identifier: GPL-3.0-or-later
"""How cores magnetise: powder under DC bias, gapped ferrite, hysteresis, steel.

Powder:     bias_share, bias_flux_density, bias_limit_flux_density, bias_differential_inductance,
bias_flux_linkage Gapped:     gapped_inductance, knee_flux_linkage, knee_differential_inductance
Hysteresis: JilesAtherton, langevin, langevin_slope, anhysteretic_magnetisation, anhysteretic_susceptibility,
            virgin_susceptibility, jiles_atherton_slope, jiles_atherton_leg, jiles_atherton_loop
Steel:      steel_permeability, STEELS

Every choke curve keeps the air-core inductance as its floor: a saturated choke is still a coil.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from heatsim.constants import MU_0, OERSTED
from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray, Numeric, Result, require_positive, scalar_or_array


def _check_bias(where: str, b: float, c: float) -> None:
    require_positive(where, b=b)
    if not c > 1.0:
        raise InputError.single(where, "exponent c", c, "above 1, else the core would never saturate")


def bias_share(field: Numeric, b: float, c: float) -> Result:
    """Remaining share [1] of the initial (differential) permeability of powder at a DC field [A/m], even in the field.

    field: [A/m]; b: coefficient as printed, field in oersted [1]; c: exponent as printed [1]

    1/(1 + 100 b H^c), H in oersted: the catalogue's percentage 1/(0.01 + b H^c) over 100, b and c as printed.
    Good down to about 0.2; the maker's curves carry +-5 points. Source of the form: Magnetics powder core
    catalogue.
    """
    _check_bias("bias_share", b, c)
    return scalar_or_array(1.0 / (1.0 + 100.0 * b * np.abs(np.divide(field, OERSTED)) ** c))


def _share_integral(field: Numeric, b: float, c: float) -> Result:
    """Integral of `bias_share` over the field from zero [A/m]: H 2F1(1, 1/c; 1 + 1/c; -100 b H^c), odd."""
    from scipy.special import hyp2f1

    _check_bias("bias_flux_density", b, c)
    argument = -100.0 * b * np.abs(np.divide(field, OERSTED)) ** c
    return scalar_or_array(field * hyp2f1(1.0, 1.0 / c, 1.0 + 1.0 / c, argument))


def bias_flux_density(field: Numeric, mu_initial: float, b: float, c: float) -> Result:
    """Flux density [T] of powder at a field [A/m]: mu0 mu_initial times the integral of `bias_share`, odd.

    field: [A/m]; mu_initial: relative [1]; b: as in `bias_share` [1]; c: exponent as printed [1]

    Follows from reading the catalogue's curve as the differential permeability at bias. No hysteresis.
    """
    return MU_0 * mu_initial * _share_integral(field, b, c)


def bias_limit_flux_density(mu_initial: float, b: float, c: float) -> float:
    """Flux density [T] that `bias_flux_density` tends to: mu0 mu_initial (100 b)^(-1/c) (pi/c)/sin(pi/c) in oersted.

    mu_initial: relative [1]; b: as in `bias_share` [1]; c: exponent as printed [1]

    Should come out near the alloy's saturation flux density: a check on recalled coefficients.
    """
    _check_bias("bias_limit_flux_density", b, c)
    knee = (100.0 * b) ** (-1.0 / c) * OERSTED
    return float(MU_0 * mu_initial * knee * (np.pi / c) / np.sin(np.pi / c))


def bias_differential_inductance(
    current: Numeric, zero_inductance: float, air_inductance: float, field_per_ampere: float, b: float, c: float
) -> Result:
    """Differential inductance [H] of a powder-core winding at a current [A].

    current: [A]; zero_inductance: differential, at no current [H]
    air_inductance: of the winding without its core [H]; field_per_ampere: turns over magnetic path [1/m]
    b: as in `bias_share` [1]; c: exponent as printed [1]

    L_air + (L0 - L_air) bias_share(H), H = current * field_per_ampere; `zero_inductance` L0 and
    `air_inductance` L_air [H], `field_per_ampere` = turns/path [1/m] with the path of the catalogue that
    printed b and c.
    """
    share = bias_share(np.multiply(current, field_per_ampere), b, c)
    return air_inductance + (zero_inductance - air_inductance) * share


def bias_flux_linkage(
    current: Numeric, zero_inductance: float, air_inductance: float, field_per_ampere: float, b: float, c: float
) -> Result:
    """Flux linkage [Wb] of a powder-core winding at a current [A]; the exact integral of its differential inductance.

    current: [A]; zero_inductance: differential, at no current [H]
    air_inductance: of the winding without its core [H]; field_per_ampere: turns over magnetic path [1/m]
    b: as in `bias_share` [1]; c: exponent as printed [1]

    Arguments as in `bias_differential_inductance`. Odd and strictly rising in the current.
    """
    require_positive("bias_flux_linkage", field_per_ampere=field_per_ampere)
    magnetic = _share_integral(np.multiply(current, field_per_ampere), b, c) / field_per_ampere
    return air_inductance * current + (zero_inductance - air_inductance) * magnetic


def gapped_inductance(turns: float, area: float, path: float, mu_r: float, gap: float, gap_area: float = 0.0) -> float:
    """Inductance [H] of turns [1] on a core of area [m2], path [m] and permeability [1] with a gap [m].

    turns: number of them [1]; area: [m2]; path: [m]; mu_r: relative permeability [1]; gap: [m]; gap_area: [m2]

    mu0 N^2/(path/(mu_r area) + gap/gap_area); `gap_area` [m2] may be larger than the core's for fringing,
    zero means the core's own. Reluctances in series; good while the gap is much shorter than the core's limb
    is thick.
    """
    require_positive("gapped_inductance", turns=turns, area=area, path=path, mu_r=mu_r)
    reluctance = path / (mu_r * area) + gap / (gap_area or area)
    return MU_0 * turns**2 / reluctance


def knee_flux_linkage(
    current: Numeric, zero_inductance: float, air_inductance: float, knee_current: float, sharpness: float
) -> Result:
    """Flux linkage [Wb] of a gapped core with a knee at a current [A]; odd, strictly rising.

    current: [A]; zero_inductance: differential, at no current [H]
    air_inductance: of the winding without its core [H]; knee_current: [A]; sharpness: exponent p [1]

    L_air i + (L0 - L_air) i/(1 + |i/i_k|^p)^(1/p): constant inductance L0 [H] up to about `knee_current` i_k
    [A], then the air-core inductance [H]; `sharpness` p [1], 2 round to 12 abrupt (ferrite 6 to 10: common
    practice, no source).
    """
    require_positive("knee_flux_linkage", knee_current=knee_current, sharpness=sharpness)
    ratio = np.abs(np.divide(current, knee_current))
    bend = np.exp(-np.logaddexp(0.0, sharpness * np.log(np.maximum(ratio, 1e-300))) / sharpness)
    return scalar_or_array(air_inductance * np.asarray(current) + (zero_inductance - air_inductance) * current * bend)


def knee_differential_inductance(
    current: Numeric, zero_inductance: float, air_inductance: float, knee_current: float, sharpness: float
) -> Result:
    """Differential inductance [H] of `knee_flux_linkage`, same arguments: L_air + (L0 - L_air)(1 + |x|^p)^(-1 - 1/p).

    current: [A]; zero_inductance: differential, at no current [H]
    air_inductance: of the winding without its core [H]; knee_current: [A]; sharpness: exponent p [1]
    """
    require_positive("knee_differential_inductance", knee_current=knee_current, sharpness=sharpness)
    ratio = np.abs(np.divide(current, knee_current))
    softened = np.logaddexp(0.0, sharpness * np.log(np.maximum(ratio, 1e-300)))
    return scalar_or_array(air_inductance + (zero_inductance - air_inductance) * np.exp(-(1.0 + 1.0 / sharpness) * softened))


class JilesAtherton(NamedTuple):
    """Parameters of the hysteresis model.

    saturation: saturation magnetisation Ms [A/m]; shape: a [A/m]; pinning: k [A/m]; coupling: alpha [1];
    reversible: c [1], from 0 to below 1.
    """

    saturation: float
    shape: float
    pinning: float
    coupling: float
    reversible: float


class HysteresisLoop(NamedTuple):
    """A settled symmetric loop, rising branch: field and magnetisation [A/m] with the loop's own figures.

    tip [A/m], remanence [A/m] and coercive_field (M = 0) [A/m] as magnitudes, loss per cycle [J/m3].
    """

    field: FloatArray
    magnetisation: FloatArray
    tip: float
    remanence: float
    coercive_field: float
    loss: float


def langevin(x: Numeric) -> Result:
    """Langevin function coth x - 1/x [1], by series near zero: x/3 - x^3/45 + 2 x^5/945 - x^7/4725."""
    small = np.abs(x) < 0.05
    safe = np.where(small, 1.0, x)
    series = x * (1.0 / 3.0 - np.square(x) * (1.0 / 45.0 - np.square(x) * (2.0 / 945.0 - np.square(x) / 4725.0)))
    return scalar_or_array(np.where(small, series, 1.0 / np.tanh(safe) - 1.0 / safe))


def langevin_slope(x: Numeric) -> Result:
    """Derivative of the Langevin function [1]: 1/x^2 - 1/sinh^2 x, by series near zero; even, between 0 and 1/3.

    x: [1]
    """
    small = np.abs(x) < 0.05
    safe = np.where(small, 1.0, np.abs(x))
    square = np.square(np.minimum(np.abs(x), 1.0))
    series = 1.0 / 3.0 - square * (1.0 / 15.0 - square * (2.0 / 189.0 - square / 675.0))
    inverse_sinh = 2.0 * np.exp(-safe) / -np.expm1(-2.0 * safe)
    return scalar_or_array(np.where(small, series, 1.0 / safe**2 - inverse_sinh**2))


def anhysteretic_magnetisation(effective_field: Numeric, parameters: JilesAtherton) -> Result:
    """Magnetisation without hysteresis [A/m] at an effective field He = H + alpha M [A/m]: Ms langevin(He/a).

    effective_field: [A/m]; parameters: Ms, a and k [A/m], alpha and c [1]
    """
    return parameters.saturation * langevin(np.divide(effective_field, parameters.shape))


def anhysteretic_susceptibility(parameters: JilesAtherton) -> float:
    """Initial slope dM/dH [1] of the anhysteretic curve: Ms/(3a - alpha Ms).

    parameters: Ms, a and k [A/m], alpha and c [1]

    Raises InputError where that is not positive: such a set magnetises by itself.
    """
    rest = 3.0 * parameters.shape - parameters.coupling * parameters.saturation
    if rest <= 0.0:
        allowed = "coupling * saturation below 3 * shape"
        raise InputError.single("anhysteretic_susceptibility", "coupling too strong", parameters.coupling, allowed)
    return parameters.saturation / rest


def virgin_susceptibility(parameters: JilesAtherton) -> float:
    """Initial slope dM/dH [1] of the virgin curve in this form of the model: c X/(1 - alpha c X), X = Ms/(3a).

    parameters: Ms, a and k [A/m], alpha and c [1]
    """
    reversible = parameters.reversible * parameters.saturation / (3.0 * parameters.shape)
    return reversible / (1.0 - parameters.coupling * reversible)


def jiles_atherton_slope(field: float, magnetisation: float, rising: bool, parameters: JilesAtherton) -> float:
    """Slope dM/dH [1] at a field and a magnetisation [A/m], the field rising or falling.

    field: [A/m]; magnetisation: [A/m]; rising: whether the field rises [1]
    parameters: Ms, a and k [A/m], alpha and c [1]

    He = H + alpha M; M = (1 - c) Mirr + c Man; dMirr/dHe = (Man - Mirr)/(k sign(dH)), zero where it would be
    negative; S = (1 - c) dMirr/dHe + c dMan/dHe; dM/dH = S/(1 - alpha S). Other variants in print differ by
    some per cent. Source: Jiles & Atherton, J. Appl. Phys. 55, 1984, p. 2115 and J. Magn. Magn. Mater. 61,
    1986, p. 48; Jiles, Thoelke & Devine, IEEE Trans. Magnetics 28, 1992, p. 27.
    """
    saturation, shape, pinning, coupling, c = parameters
    x = (field + coupling * magnetisation) / shape
    anhysteretic = saturation * float(langevin(x))
    irreversible = (magnetisation - c * anhysteretic) / (1.0 - c)
    push = (anhysteretic - irreversible) * (1.0 if rising else -1.0)
    slope = (1.0 - c) * max(push, 0.0) / pinning + c * saturation / shape * float(langevin_slope(x))
    return slope / (1.0 - coupling * slope)


def jiles_atherton_leg(
    start: tuple[float, float], end_field: float, parameters: JilesAtherton, points: int = 401
) -> tuple[FloatArray, FloatArray]:
    """Field and magnetisation [A/m] from a state (field, magnetisation) along a monotonic field to `end_field` [A/m].

    start: (field, magnetisation) [A/m]; end_field: [A/m]; parameters: Ms, a and k [A/m], alpha and c [1]
    points: number of samples [1]

    Integrated with relative tolerance 1e-8; `points` samples [1], evenly spaced in the field.
    """
    from scipy.integrate import solve_ivp

    field = np.linspace(start[0], end_field, points)
    rising = end_field > start[0]

    def slope(h: float, m: FloatArray) -> list[float]:
        return [jiles_atherton_slope(h, float(m[0]), rising, parameters)]

    tolerance = {"rtol": 1e-8, "atol": 1e-9 * parameters.saturation, "max_step": abs(end_field - start[0]) / 50.0}
    solution = solve_ivp(slope, (start[0], end_field), [start[1]], method="LSODA", t_eval=field, **tolerance)
    if not solution.success:
        raise InputError.single("jiles_atherton_leg", "the model has no solution here", parameters, solution.message)
    return field, np.asarray(solution.y[0])


def jiles_atherton_loop(field_peak: float, parameters: JilesAtherton, cycles: int = 3, points: int = 2001) -> HysteresisLoop:
    """The symmetric loop at a peak field [A/m], after the virgin curve and `cycles` cycles [1].

    field_peak: [A/m]; parameters: Ms, a and k [A/m], alpha and c [1]; cycles: number of them [1]
    points: number of samples [1]

    loss = mu0 times the loop's area in the H-M plane [J/m3 and cycle].
    """
    from scipy.integrate import trapezoid

    require_positive("jiles_atherton_loop", field_peak=field_peak)
    field, magnetisation = jiles_atherton_leg((0.0, 0.0), field_peak, parameters, points)
    for _ in range(2 * cycles):
        start = (float(field[-1]), float(magnetisation[-1]))
        field, magnetisation = jiles_atherton_leg(start, -start[0], parameters, points)
    tip = float(magnetisation[-1])
    remanence = -float(np.interp(0.0, field, magnetisation))
    coercive = float(np.interp(0.0, magnetisation, field))
    falling = -magnetisation[::-1]  # by symmetry, on the same even grid
    loss = MU_0 * float(trapezoid(falling - magnetisation, field))
    return HysteresisLoop(field, magnetisation, tip, remanence, coercive, loss)


# initial permeability [1], flux density of the greatest permeability [T], c_a [1], c_b [1], exponent n [1];
# published in the Modelica Standard Library, Magnetic.FluxTubes (after Roschke 2000), BSD-3.
STEELS: dict[str, tuple[float, float, float, float, float]] = {
    "AISI 1008": (200.0, 1.17, 8100.0, 2.59, 10.0),
    "DC01": (5.0, 1.1, 6450.0, 3.65, 7.7),
    "9SMn28k": (500.0, 1.036, 43414.0, 35.8, 14.0),
}


def steel_permeability(flux_density: Numeric, coefficients: tuple[float, float, float, float, float]) -> Result:
    """Relative permeability B/(mu0 H) [1] of soft steel at a flux density [T], near 20 °C; see `STEELS`.

    flux_density: [T]; coefficients: mu_i [1], B_max [T], c_a, c_b and n [1]

    1 + (mu_i - 1 + c_a x)/(1 + c_b x + x^n), x = |B|/B_max. Up to about 2 T. Source: Modelica Standard
    Library, Magnetic.FluxTubes (Roschke 2000).
    """
    mu_initial, b_max, c_a, c_b, exponent = coefficients
    x = np.abs(np.divide(flux_density, b_max))
    return 1.0 + (mu_initial - 1.0 + c_a * x) / (1.0 + c_b * x + x**exponent)
