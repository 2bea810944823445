# SPDX-License-Identifier: GPL-3.0-or-later
"""Core loss per volume: catalogue fits, Steinmetz, and waveforms that are not sines.

Sine:      steinmetz, powder_loss_a, powder_loss_b
Waveform:  igse_ki, igse_loss, igse_triangle_ratio, mse_loss, mse_triangle_ratio

In every fit the flux density is the peak of the alternating part, half of the swing from peak to peak.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray, Numeric, Result, require_positive

_TESLA_IN_GAUSS = 1e4
_KW_PER_M3 = 1e3  # 1 mW/cm3 = 1 kW/m3


def steinmetz(flux_density: Numeric, frequency: Numeric, k: float, alpha: float, beta: float) -> Result:
    """Loss [W/m3] for a sine of a peak flux density [T] and a frequency [Hz]: k f^alpha B^beta.

    flux_density: peak [T]; frequency: [Hz]; k: in W/m3 with f in Hz and B in T [1]
    alpha: exponent of the frequency [1]; beta: exponent of the flux density [1]

    k in W/m3 with f in Hz and B in T; alpha, beta [1]. No DC bias. Valid within the data the fit came from.
    """
    return k * np.power(frequency, alpha) * np.power(flux_density, beta)


def powder_loss_a(flux_density: Numeric, frequency: Numeric, a: float, b: float, c: float) -> Result:
    """Loss [W/m3] of a powder core, peak flux density [T] and frequency [Hz]; form A: a B^b f^c.

    flux_density: peak [T]; frequency: [Hz]; a: coefficient as printed [1]; b: coefficient as printed [1]
    c: exponent as printed [1]

    Coefficients as printed, for mW/cm3 with B in T (half of the swing) and f in kHz. Source of form and
    units: Magnetics powder core design manual.
    """
    return _KW_PER_M3 * a * np.power(flux_density, b) * np.power(np.divide(frequency, 1e3), c)


def powder_loss_b(flux_density: Numeric, frequency: Numeric, coefficients: tuple[float, float, float, float]) -> Result:
    """Loss [W/m3] of a powder core, peak flux density [T] and frequency [Hz]; form B.

    flux_density: peak [T]; frequency: [Hz]; coefficients: as printed, see below [1]

    f/(a/B^3 + b/B^2.3 + c/B^1.65) + d f^2 B^2 with coefficients (a, b, c, d) as printed, for mW/cm3 with B in
    gauss and f in Hz. Source: Micrometals, Power Conversion, Issue L, 2007 (memory).
    """
    a, b, c, d = coefficients
    gauss = np.multiply(flux_density, _TESLA_IN_GAUSS)
    hysteresis = frequency * gauss**3 / (a + b * gauss**0.7 + c * gauss**1.35)
    return _KW_PER_M3 * (hysteresis + d * np.square(frequency) * gauss**2)


def _cosine_integral(alpha: float) -> float:
    """Integral of |cos|^alpha over a whole turn: 2 sqrt(pi) Gamma((alpha + 1)/2)/Gamma(alpha/2 + 1)."""
    return 2.0 * math.sqrt(math.pi) * math.exp(math.lgamma((alpha + 1.0) / 2.0) - math.lgamma(alpha / 2.0 + 1.0))


def igse_ki(k: float, alpha: float, beta: float) -> float:
    """Coefficient ki of the improved generalised Steinmetz equation, from Steinmetz's k, alpha [1], beta [1].

    ki = k/((2 pi)^(alpha - 1) 2^(beta - alpha) I(alpha)); then a sine gives back k f^alpha B^beta.
    Source: Venkatachalam, Sullivan, Abdallah, Tacca, COMPEL 2002.
    """
    return k / float((2.0 * np.pi) ** (alpha - 1.0) * 2.0 ** (beta - alpha) * _cosine_integral(alpha))


def _one_period(time: npt.ArrayLike, flux_density: npt.ArrayLike, where: str) -> tuple[FloatArray, FloatArray]:
    """Time steps and flux-density steps of one closed period, checked."""
    t, b = np.asarray(time, dtype=float), np.asarray(flux_density, dtype=float)
    if t.ndim != 1 or t.shape != b.shape or len(t) < 3:
        raise InputError.single(where, "time and flux density", f"{t.shape}, {b.shape}", "two lists of one length >= 3")
    steps = np.diff(t)
    if not (np.all(np.isfinite(b)) and np.all(steps > 0)):
        raise InputError.single(where, "time must rise and every value be finite", "", "a strictly rising time axis")
    swing = np.ptp(b)
    if abs(b[-1] - b[0]) > 0.02 * swing:
        given = f"ends {b[-1] - b[0]:.3g} T away from its start"
        raise InputError.single(where, "flux density is not one whole period", given, "last sample = first, within 2 %")
    return steps, np.diff(b)


def igse_loss(time: npt.ArrayLike, flux_density: npt.ArrayLike, k: float, alpha: float, beta: float) -> float:
    """Mean loss [W/m3] over one period of any flux density, straight between samples.

    time: rising, not necessarily even, shape (n,) [s]
    flux_density: the last sample repeats the first, shape (n,) [T]; k: as in `steinmetz` [1]
    alpha: exponent of the frequency [1]; beta: exponent of the flux density [1]

    time [s], rising and not necessarily even; flux_density [T], the last sample repeating the first. k,
    alpha, beta as in `steinmetz`. P = (1/T) integral of ki |dB/dt|^alpha (peak-to-peak B)^(beta - alpha). One
    major loop: minor loops are not split off, so a waveform that turns back within a period is judged by its
    whole swing (too high for beta > alpha); relaxation and DC bias are outside the model. Source: COMPEL
    2002, as for `igse_ki`.
    """
    steps, changes = _one_period(time, flux_density, "igse_loss")
    swing = float(np.ptp(np.asarray(flux_density, dtype=float)))
    if swing == 0.0:
        return 0.0
    integral = np.sum(np.abs(changes / steps) ** alpha * steps)
    return float(igse_ki(k, alpha, beta) * swing ** (beta - alpha) * integral / np.sum(steps))


def igse_triangle_ratio(alpha: float, duty: Numeric) -> Result:
    """Loss of a triangular flux density over that of a sine of the same swing and frequency [1], by the same equation.

    alpha: exponent of the frequency [1]; duty: rising share D of the period [1]

    2^alpha [D^(1 - alpha) + (1 - D)^(1 - alpha)]/((2 pi)^(alpha - 1) I(alpha)); `duty` D is the rising share
    [1].
    """
    require_positive("igse_triangle_ratio", duty=duty, rest=np.subtract(1.0, duty))
    sides = np.power(duty, 1.0 - alpha) + np.power(np.subtract(1.0, duty), 1.0 - alpha)
    return 2.0**alpha * sides / ((2.0 * np.pi) ** (alpha - 1.0) * _cosine_integral(alpha))


def mse_loss(time: npt.ArrayLike, flux_density: npt.ArrayLike, k: float, alpha: float, beta: float) -> float:
    """Mean loss [W/m3] over one period by the modified Steinmetz equation; arguments as in `igse_loss`.

    time: as in `igse_loss` [s]; flux_density: likewise [T]; k: as in `steinmetz` [1]
    alpha: exponent of the frequency [1]; beta: exponent of the flux density [1]

    f_eq = 2/(dB^2 pi^2) integral of (dB/dt)^2, P = k f_eq^(alpha - 1) Bpk^beta f. A second opinion on
    `igse_loss`. Source: Reinert, Brockmeyer, De Doncker, IEEE Trans. Industry Applications 37, 2001 (memory).
    """
    steps, changes = _one_period(time, flux_density, "mse_loss")
    swing = float(np.ptp(np.asarray(flux_density, dtype=float)))
    if swing == 0.0:
        return 0.0
    equivalent = 2.0 / (swing * np.pi) ** 2 * np.sum(changes**2 / steps)
    return float(k * equivalent ** (alpha - 1.0) * (swing / 2.0) ** beta / np.sum(steps))


def mse_triangle_ratio(alpha: float, duty: Numeric) -> Result:
    """Loss of a triangular flux density over a sine's [1] by the modified equation; `duty` the rising share [1].

    alpha: exponent of the frequency [1]; duty: rising share D of the period [1]

    [(2/pi^2)(1/D + 1/(1 - D))]^(alpha - 1). Source as `mse_loss`.
    """
    require_positive("mse_triangle_ratio", duty=duty, rest=np.subtract(1.0, duty))
    sides = np.divide(1.0, duty) + np.divide(1.0, np.subtract(1.0, duty))
    return np.power(2.0 / np.pi**2 * sides, alpha - 1.0)
