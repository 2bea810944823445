# SPDX-License-Identifier: GPL-3.0-or-later
"""Film capacitors under a sine: current, loss, slope, and how the permitted voltage falls with frequency.

Standards of the parts: IEC 60384-16 (metallised polypropylene, DC), -17 (AC and pulse), -13 and -23 (foil,
PEN). CAUTION: a charged bank keeps its charge; ratings here never replace the maker's sheet.
"""

from __future__ import annotations

import numpy as np

from heatsim.errors import InputError
from heatsim.physics.numeric import Numeric, Result, require_not_negative, require_positive, scalar_or_array

# Frequency [Hz] and loss tangent [1] by dielectric, typical to largest; a film maker's comparison chart.
_LOSS_TANGENT = {"PP": ((1e3, 1e-4), (1e5, 2e-4)), "PET": ((1e4, 110e-4),)}


def typical_loss_tangent(dielectric: str, frequency: Numeric) -> Result:
    """Loss tangent [1] of a film, "PP" (polypropylene) or "PET" (polyester), at a frequency [Hz]; factor of 2.

    dielectric: "PP" (polypropylene) or "PET" (polyester) [1]; frequency: [Hz]

    Published for PP at 1 and 100 kHz, straight in logarithms between and held beyond; for PET at 10 kHz only.
    Metal and leads add to it in a real part. Source: a film maker's comparison chart.
    """
    if dielectric not in _LOSS_TANGENT:
        raise InputError.single("typical_loss_tangent", "unknown dielectric", dielectric, ", ".join(_LOSS_TANGENT))
    points = np.log(np.array(_LOSS_TANGENT[dielectric]))
    return scalar_or_array(np.exp(np.interp(np.log(frequency), points[:, 0], points[:, 1])))


def rms_current(capacitance: Numeric, rms_voltage: Numeric, frequency: Numeric) -> Result:
    """Current [A] of a capacitance [F] at a voltage [V, rms] and a frequency [Hz]: 2 pi f C V.

    capacitance: [F]; rms_voltage: [V]; frequency: [Hz]

    A bank of n alike parts carries I/n in each if their leads and bus bars are alike; along bars they do not, see
    `heatsim.physics.bars`.
    """
    return 2.0 * np.pi * np.multiply(frequency, capacitance) * rms_voltage


def series_resistance(capacitance: Numeric, frequency: Numeric, loss_tangent: Numeric) -> Result:
    """Equivalent series resistance [ohm] from the loss tangent [1] at a frequency [Hz]: tan(delta)/(2 pi f C).

    capacitance: [F]; frequency: [Hz]; loss_tangent: [1]
    """
    require_positive("series_resistance", capacitance=capacitance, frequency=frequency)
    return np.divide(loss_tangent, 2.0 * np.pi * np.multiply(frequency, capacitance))


def dielectric_loss(capacitance: Numeric, rms_voltage: Numeric, frequency: Numeric, loss_tangent: Numeric) -> Result:
    """Loss [W]: 2 pi f C V^2 tan(delta) = I^2 ESR; rms_voltage [V], frequency [Hz], loss tangent [1].

    capacitance: [F]; rms_voltage: [V]; frequency: [Hz]; loss_tangent: [1]
    """
    return rms_current(capacitance, rms_voltage, frequency) * rms_voltage * loss_tangent


def peak_slope(peak_voltage: Numeric, frequency: Numeric) -> Result:
    """Steepest dv/dt [V/s] of a sine of a peak [V] at a frequency [Hz]: 2 pi f Vpk.

    peak_voltage: [V]; frequency: [Hz]
    """
    return 2.0 * np.pi * np.multiply(frequency, peak_voltage)


def permitted_rms_voltage(
    capacitance: Numeric,
    frequency: Numeric,
    rated_rms_voltage: Numeric,
    permitted_rms_current: Numeric,
    permitted_loss: Numeric = np.inf,
    loss_tangent: Numeric = 0.0,
) -> Result:
    """Greatest sine voltage [V, rms] at a frequency [Hz]: the least of rated voltage, current limit and loss limit.

    capacitance: [F]; frequency: [Hz]; rated_rms_voltage: [V]; permitted_rms_current: [A]; permitted_loss: [W]
    loss_tangent: [1]

    rated_rms_voltage [V]; permitted_rms_current [A]: V = I/(2 pi f C); permitted_loss [W] with the loss
    tangent [1] at that frequency: V = sqrt(P/(2 pi f C tan delta)). The three regions of the curves in data
    sheets after IEC 60384-17.
    """
    require_positive("permitted_rms_voltage", capacitance=capacitance, frequency=frequency)
    require_not_negative("permitted_rms_voltage", loss_tangent=loss_tangent)
    susceptance = 2.0 * np.pi * np.multiply(frequency, capacitance)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_loss = np.sqrt(np.divide(permitted_loss, susceptance * np.asarray(loss_tangent)))
    by_loss = np.where(np.isnan(by_loss), np.inf, by_loss)
    return scalar_or_array(np.minimum(np.minimum(rated_rms_voltage, permitted_rms_current / susceptance), by_loss))


def voltage_derating(
    temperature_c: Numeric, rated_temperature_c: float = 85.0, slope: float = 0.0125, limit_c: float = 105.0
) -> Result:
    """Share [1] of the rated voltage allowed at a case temperature [°C]; 1 up to the rated temperature [°C].

    temperature_c: of the case [°C]; rated_temperature_c: [°C]; slope: [1/K]; limit_c: [°C]

    Falls by `slope` [1/K] above it and is zero above `limit_c` [°C]. Common film-capacitor practice is 1.25
    to 1.5 % per kelvin from 85 to 105 °C (memory); the maker's sheet decides.
    """
    above = np.maximum(np.subtract(temperature_c, rated_temperature_c), 0.0)
    share = np.maximum(1.0 - slope * above, 0.0)
    return scalar_or_array(np.where(np.asarray(temperature_c) > limit_c, 0.0, share))
