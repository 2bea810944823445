# SPDX-License-Identifier: GPL-3.0-or-later
"""The ideal current-fed push-pull stage with a parallel-resonant tank, in closed form.

Assumed throughout unless a docstring says otherwise: lossless switches, each drain held at zero for its half
cycle, a pure sine between the drains, chokes large enough to carry a steady current, steady state. Two
circuits: "two" (a choke from the supply to each drain) and "one" (a choke to the centre tap of the work
coil). Source of the circuit: P. J. Baxandall, Proc. IEE 106B suppl. 16, 1959, p. 748 (memory); the laws
follow from the mean choke voltage being zero and from the power balance, and each docstring gives the step.

Voltages:  peak_voltage, tank_rms_voltage, centre_tap_peak_voltage
Power:     load_power, supply_current, input_resistance, switch_rms_current, switch_conduction_loss
Chokes:    choke_flux_swing, choke_rms_voltage, choke_flux_rms, choke_ripple, choke_ripple_harmonic,
           choke_flux_waveform
Tank:      parallel_resistance, unity_power_factor_frequency, resonant_frequency, choke_loaded_inductance,
           tank_quality, tank_harmonic_ratio
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray, Numeric, Result, require_positive, scalar_or_array

Chokes = Literal["one", "two"]


def _check_chokes(chokes: str) -> None:
    if chokes not in ("one", "two"):
        raise InputError.single("stage", "unknown choke arrangement", chokes, "one, two")


def peak_voltage(supply: Numeric) -> Result:
    """Peak voltage between the drains, and of each drain [V], from the supply [V]: pi Vdc.

    A drain is a half sine of mean Vp/pi, and that mean is the supply's.
    """
    return np.pi * supply


def tank_rms_voltage(supply: Numeric) -> Result:
    """Root-mean-square tank voltage between the drains [V] from the supply [V]: pi Vdc/sqrt(2)."""
    return np.pi / np.sqrt(2.0) * supply


def centre_tap_peak_voltage(supply: Numeric) -> Result:
    """Peak voltage of the coil's centre tap [V] from the supply [V], one-choke circuit: (pi/2) Vdc."""
    return np.pi / 2.0 * supply


def load_power(supply: Numeric, resistance: Numeric) -> Result:
    """Power [W] in a resistance [ohm] between the drains: (pi Vdc)^2/(2R).

    supply: [V]; resistance: [ohm]
    """
    return np.square(peak_voltage(supply)) / (2.0 * np.asarray(resistance)[()])


def supply_current(supply: Numeric, resistance: Numeric) -> Result:
    """Mean supply current [A] into a resistance [ohm] between the drains: pi^2 Vdc/(2R); half of it in each
    choke."""
    return np.divide(supply, input_resistance(resistance))


def input_resistance(resistance: Numeric) -> Result:
    """Resistance the supply sees [ohm] for a resistance [ohm] between the drains: 2R/pi^2."""
    return 2.0 / np.pi**2 * resistance


def switch_rms_current(supply_mean_current: Numeric) -> Result:
    """Root-mean-square current [A] of one switch bank from the mean supply current [A]: Idc/sqrt(2).

    supply_mean_current: [A]

    A bank carries the whole supply current for half of the time; choke ripple neglected.
    """
    return supply_mean_current / np.sqrt(2.0)


def switch_conduction_loss(supply_mean_current: Numeric, bank_resistance: Numeric) -> Result:
    """Conduction loss [W] of both banks together, a bank's on-resistance [ohm] each: Idc^2 R.

    supply_mean_current: [A]; bank_resistance: on-resistance of one bank [ohm]
    """
    return np.square(supply_mean_current) * bank_resistance


def choke_flux_swing(supply: Numeric, frequency: Numeric, chokes: Chokes = "two") -> Result:
    """Peak-to-peak flux linkage of a choke [Wb] at a supply [V] and a tank frequency [Hz].

    supply: [V]; frequency: [Hz]; chokes: "one" or "two" [1]

    Integral of Vdc - v between the instants where they are equal.
    one: (2 Vdc/w) [t0 - (pi/2)(1 - cos t0)], sin t0 = 2/pi, ripple at twice the tank frequency;
    two: (Vdc/w) [pi + 2 t1 - 2 pi (1 - cos t1)] with sin t1 = 1/pi, ripple at the tank frequency.
    """
    _check_chokes(chokes)
    if chokes == "one":
        angle = np.arcsin(2.0 / np.pi)
        shape = 2.0 * (angle - np.pi / 2.0 * (1.0 - np.cos(angle)))
    else:
        angle = np.arcsin(1.0 / np.pi)
        shape = np.pi + 2.0 * angle - 2.0 * np.pi * (1.0 - np.cos(angle))
    return np.divide(supply, frequency) * float(shape / (2.0 * np.pi))


def choke_rms_voltage(supply: Numeric, chokes: Chokes = "two") -> Result:
    """Root-mean-square voltage across a choke [V], which has no mean.

    supply: [V]
    chokes: arrangement [1]
    Returns [V]. one: Vdc less a full-wave rectified sine of peak (pi/2) Vdc, Vdc sqrt(pi^2/8 - 1), at twice the tank
    frequency; two: Vdc less a half sine of peak pi Vdc, Vdc sqrt(pi^2/4 - 1). The mean square of a sine, full-wave or for
    half of the time, less the square of its mean.
    """
    _check_chokes(chokes)
    return np.multiply(supply, float(np.sqrt(np.pi**2 / (8.0 if chokes == "one" else 4.0) - 1.0)))


def choke_flux_waveform(supply: float, frequency: float, time: FloatArray, chokes: Chokes = "two") -> FloatArray:
    """Alternating flux linkage of a choke [Wb], mean zero, at times [s]; the drain's half sine starts at time zero.

    supply: [V]; frequency: [Hz]; time: [s]; chokes: "one" or "two" [1]

    one: integral of Vdc - (pi/2) Vdc |sin wt|; two: of Vdc - pi Vdc max(sin wt, 0).
    """
    _check_chokes(chokes)
    angle = np.mod(2.0 * np.pi * frequency * np.asarray(time), np.pi if chokes == "one" else 2.0 * np.pi)
    if chokes == "one":
        shape = angle - np.pi / 2.0 * (1.0 - np.cos(angle))
        return np.asarray(supply / (2.0 * np.pi * frequency) * shape)
    half = np.minimum(angle, np.pi)
    shape = angle - np.pi * (1.0 - np.cos(half)) + np.pi / 2.0
    return np.asarray(supply / (2.0 * np.pi * frequency) * shape)


def choke_flux_rms(supply: Numeric, frequency: Numeric, chokes: Chokes = "two") -> Result:
    """Root-mean-square alternating flux linkage of a choke [Wb] at a supply [V] and a tank frequency [Hz].

    supply: [V]; frequency: [Hz]; chokes: "one" or "two" [1]

    From the Fourier series of the rectified sine. one: (2 Vdc/w) sqrt(1/2 sum 1/(n (n^2 - 1))^2) over even n;
    two: half of that series with the fundamental of the half sine, (Vdc/w) (pi/2)/sqrt(2), added in squares.
    """
    _check_chokes(chokes)
    even = np.arange(2, 4002, 2, dtype=float)
    series = np.sum(2.0 * (1.0 / (even * (even**2 - 1.0))) ** 2)
    square = series if chokes == "one" else series + np.pi**2 / 8.0
    return np.divide(supply, 2.0 * np.pi * np.asarray(frequency)[()]) * float(np.sqrt(square))


def choke_ripple(supply: Numeric, frequency: Numeric, inductance: Numeric, chokes: Chokes = "two") -> Result:
    """Peak-to-peak ripple current [A] of a choke of constant inductance [H]: flux swing over inductance.

    supply: [V]; frequency: [Hz]; inductance: [H]; chokes: "one" or "two" [1]
    """
    return choke_flux_swing(supply, frequency, chokes) / np.asarray(inductance)[()]


def choke_ripple_harmonic(supply: Numeric, frequency: Numeric, inductance: Numeric, order: int) -> Result:
    """Amplitude [A] of one harmonic (order [1]) of the ripple of either of two chokes, constant inductance [H].

    supply: [V]; frequency: [Hz]; inductance: [H]; order: of the harmonic [1]

    Fundamental pi Vdc/(2 w L); even n: 2 Vdc/((n^2 - 1) n w L); other odd orders are zero. The series of a
    half sine.
    """
    if order < 1:
        raise InputError.single("choke_ripple_harmonic", "harmonic order", order, "1 or more")
    if order > 1 and order % 2:
        return np.zeros_like(np.multiply(supply, frequency), dtype=float)[()]
    factor = np.pi / 2.0 if order == 1 else 2.0 / ((order**2 - 1.0) * order)
    return factor * np.divide(supply, 2.0 * np.pi * np.multiply(frequency, inductance))


def parallel_resistance(inductance: Numeric, capacitance: Numeric, series_resistance: Numeric) -> Result:
    """Resistance [ohm] of a tank at unity power factor whose coil has a series resistance [ohm]: L/(C r). Exact.

    inductance: [H]; capacitance: [F]; series_resistance: [ohm]
    """
    return np.divide(inductance, np.multiply(capacitance, series_resistance))


def unity_power_factor_frequency(inductance: Numeric, capacitance: Numeric, series_resistance: Numeric) -> Result:
    """Frequency [Hz] at which a coil (inductance [H] with series resistance [ohm]) and a capacitor [F] look resistive.

    inductance: [H]; capacitance: [F]; series_resistance: [ohm]

    w^2 = 1/(LC) - (r/L)^2. Raises InputError if the coil is so lossy that there is none.
    """
    square = 1.0 / np.multiply(inductance, capacitance) - np.square(np.divide(series_resistance, inductance))
    if np.any(square <= 0.0):
        where = "unity_power_factor_frequency"
        raise InputError.single(where, "no resonance: series resistance too high", series_resistance, "below sqrt(L/C)")
    return np.sqrt(square) / (2.0 * np.pi)


def resonant_frequency(inductance: Numeric, capacitance: Numeric) -> Result:
    """Lossless resonant frequency [Hz] of an inductance [H] and a capacitance [F]: 1/(2 pi sqrt(LC))."""
    require_positive("resonant_frequency", inductance=inductance, capacitance=capacitance)
    return 1.0 / (2.0 * np.pi * np.sqrt(np.multiply(inductance, capacitance)))


def choke_loaded_inductance(tank: Numeric, choke: Numeric, chokes: Chokes = "two") -> Result:
    """Inductance [H] that resonates with the capacitor: the work coil's [H] with the chokes' [H] in the loop.

    tank: inductance of the work coil [H]; choke: inductance of one choke [H]; chokes: "one" or "two" [1]

    Two chokes sit in series across the tank for alternating current (the supply is a short): Lt 2Lc/(Lt +
    2Lc). One choke at the centre tap carries no tank-frequency current: Lt.
    """
    _check_chokes(chokes)
    if chokes == "one":
        return tank
    pair = np.multiply(2.0, choke)
    return scalar_or_array(tank * pair / (tank + pair))


def tank_quality(resistance: Numeric, inductance: Numeric, frequency: Numeric) -> Result:
    """Loaded quality factor [1] of a tank with a resistance [ohm] across it: R/(w L).

    resistance: [ohm]; inductance: [H]; frequency: [Hz]
    """
    return np.divide(resistance, 2.0 * np.pi * np.multiply(frequency, inductance))


def tank_harmonic_ratio(quality: Numeric, order: Numeric) -> Result:
    """Odd tank-voltage harmonic over the fundamental [1] at a loaded quality factor [1]; order [1].

    1/(n sqrt(1 + Q^2 (n - 1/n)^2)): a square current into the tank's impedance. Even orders are zero when
    both sides are alike.
    """
    n = np.asarray(order)
    ratio = 1.0 / (n * np.hypot(1.0, np.multiply(quality, n - 1.0 / n)))
    return scalar_or_array(np.where(n % 2 == 1, ratio, 0.0))
