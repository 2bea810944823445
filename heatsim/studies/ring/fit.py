# SPDX-License-Identifier: GPL-3.0-or-later
"""One form of saturation fitted to everything that was measured, by weighted least squares.

Weights come from the noise model: white noise of the oscilloscope, plus its quantisation, of which samples on one and
the same code share the error when there is too little noise to dither it (`quantisation_memory`). What is known beside
the samples (air-core inductance, gain limits, a stated resistance) enters as one more observation each.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from heatsim.parts.curves import Curve
from heatsim.physics.numeric import FloatArray
from heatsim.studies.ring.data import LIMIT_TO_DEVIATION, SCATTER, RingData
from heatsim.studies.ring.forms import PARAMETERS, form_of, solve_flux
from heatsim.studies.ring.ramp import Ramp, quantisation_memory

AIR_SPREAD = 0.2
"""Standard deviation of the log of the air-core inductance about its closed form; estimate: turns are never quite even."""

GRID = 500
"""Intervals of the time grid on which v = R i + d(flux)/dt is solved; error below 1e-4 of the greatest current."""

VAGUE = 3.0
"""Deviation of the log of a form's scale when nothing is known of it: keeps a fit finite that its data leave open."""

EXPONENT, KNEE = (0.8, 0.5), (0.1, 0.5)
"""What is known of materials before measuring, centre and deviation of its log: exponent - 1 of powders (0.35 to 1.3 in
catalogues), relative half width of a ferrite's knee (0.05 to 0.2); memory. Data that say more outweigh it. Where a soft curve
with much series resistance and a wide knee with little would fit alike, it decides."""

PRIORS = {"ln_air": AIR_SPREAD, "ln_half": VAGUE, "ln_saturation": VAGUE, "ln_steepness": EXPONENT[1], "ln_knee": KNEE[1]}
"""Standard deviation of what is known of a form's logarithms beside the samples."""


class RingParameter(NamedTuple):
    """A quantity to fit: start, low, high: values; scale: what a step of one means; spread: standard deviation of what is
    known beside the samples (centred on start), None for nothing."""

    name: str
    start: float
    scale: float
    low: float
    high: float
    spread: float | None = None


class Problem:
    """Residuals of one form over all data, as a function of scaled parameters."""

    def __init__(self, kind: str, data: RingData, start: Mapping[str, float]) -> None:
        self.kind, self.data = kind, data
        self.parameters = _parameters(kind, data, start)
        self.names = tuple(parameter.name for parameter in self.parameters)
        self.scale = np.array([parameter.scale for parameter in self.parameters])
        known = [(k, p.start / p.scale, p.scale / p.spread) for k, p in enumerate(self.parameters) if p.spread]
        self._known = np.array(known).reshape(-1, 3)
        self._flux: FloatArray | None = None

    def residuals(self, x: FloatArray, near: bool = False) -> FloatArray:
        """Misfits over their deviations: ramp, readings, LCR reading, then what is known beside them.

        near: x is a small step away from the last one asked for without it, whose flux is then moved to first order.
        """
        values, data = dict(zip(self.names, (x * self.scale).tolist(), strict=True)), self.data
        curve, parts = form_of(self.kind, values), []
        if data.ramp:
            grid, flux = solve_ramp(curve, values, data.ramp, self._flux, 1 if near else 40)
            self._flux = self._flux if near else flux
            parts.append((read_ramp(curve, values, grid, flux, data.ramp.time) - data.ramp.current) / data.deviation)
        if data.readings:
            ratio = np.log(curve.inductance(data.readings.current) / data.readings.inductance)
            parts.append((ratio + values["meter"]) / data.readings.scatter)
        if data.lcr:
            parts.append(np.array([np.log(curve.inductance_zero / data.lcr[0]) / data.lcr[1]]))
        rows = self._known
        return np.concatenate([*parts, (x[rows[:, 0].astype(int)] - rows[:, 1]) * rows[:, 2]])

    def jacobian(self, x: FloatArray) -> FloatArray:
        """Forward differences, each parameter by 1e-5 of its scale."""
        base, step = self.residuals(x), 1e-5
        return np.stack([(self.residuals(x + step * unit, near=True) - base) / step for unit in np.eye(x.size)], axis=1)


def predict(curve: Curve, values: Mapping[str, float], ramp: Ramp, time: FloatArray) -> FloatArray:
    """Captured current [A] the form leads to at instants [s] within the record."""
    return read_ramp(curve, values, *solve_ramp(curve, values, ramp), time)


def solve_ramp(
    curve: Curve, values: Mapping[str, float], ramp: Ramp, guess: FloatArray | None = None, iterations: int = 40
) -> tuple[FloatArray, FloatArray]:
    """Instants [s] on the record's axis and the flux linkage [Wb] there; guess and iterations as in `solve_flux`."""
    if ramp.drive is None:
        last = max(float(ramp.time[-1]) - values["step"], 1e-3 * float(np.ptp(ramp.time)))
        grid, start = np.linspace(0.0, last, GRID + 1), 0.0
        impulses = ramp.voltage * np.diff(grid)
    else:
        grid = _fine(ramp.drive.time)
        drive = np.interp(grid, ramp.drive.time, ramp.drive.volt_seconds) - values["volt_zero"] * (grid - grid[0])
        impulses, start = np.diff(drive), float(curve.flux(values.get("start_current", 0.0)))
    impulses = (1.0 + values.get("gain_voltage", 0.0)) * impulses
    return grid + values["step"], solve_flux(curve, impulses, np.diff(grid), values["resistance"], start, guess, iterations)


def read_ramp(curve: Curve, values: Mapping[str, float], grid: FloatArray, flux: FloatArray, time: FloatArray) -> FloatArray:
    """The current [A] the oscilloscope shows at instants [s], with its zero and gain; flux [Wb] on a grid of time."""
    return (1.0 + values.get("gain_current", 0.0)) * curve.current(np.interp(time, grid, flux)) + values["offset"]


def _fine(time: FloatArray) -> FloatArray:
    """The record's own instants, thinned or refined to about `GRID`."""
    places = np.linspace(0, time.size - 1, min(max(GRID, time.size), 3 * GRID))
    return np.interp(places, np.arange(time.size), time)


def _first_values(data: RingData) -> dict[str, float]:
    """Starting values of the logarithms of every form."""
    zero, half = data.lcr[0] if data.lcr else 1e-6, 1.0
    if data.ramp:
        zero, half = data.ramp.rough.zero, data.ramp.rough.half
    elif data.readings:
        zero = float(data.readings.inductance[0])
        low = np.flatnonzero(data.readings.inductance < 0.5 * zero)
        half = float(data.readings.current[low[0]] if low.size else 1.5 * data.readings.current[-1])
    first = {"zero": zero, "half": half, "saturation": zero * half, "steepness": EXPONENT[0], "knee": KNEE[0], "air": data.air}
    return {f"ln_{name}": float(np.log(value)) for name, value in first.items()}


def _parameters(kind: str, data: RingData, start: Mapping[str, float]) -> list[RingParameter]:
    """Parameters of a form with its nuisance parameters; `start` overrides single starting values.

    The logarithms of air-core inductance, exponent and knee start at what is known of them, which is their centre too.
    """
    first = _first_values(data) | {name: value for name, value in start.items() if name in ("ln_zero", "ln_half", "ln_saturation")}
    reach = np.log(max(data.reach, 1e-9))
    bounds = {
        "ln_half": (reach - 5, reach + 5),
        "ln_steepness": (np.log(0.08), np.log(12.0)),
        "ln_knee": (np.log(0.02), np.log(0.5)),
    }
    found = []
    for name in PARAMETERS[kind]:
        low, high = bounds.get(name, (first[name] - 6, first[name] + 6))
        begin = float(np.clip(first[name], low + 1e-3, high - 1e-3))
        found.append(RingParameter(name, begin, 1.0, low, high, PRIORS.get(name)))
    if data.ramp:
        found += _ramp_parameters(data, data.ramp, start)
    if data.readings:
        found.append(RingParameter("meter", 0.0, 1.0, -0.5, 0.5, max(data.readings.gain_spread, 1e-6)))
    return found


def _ramp_parameters(data: RingData, ramp: Ramp, start: Mapping[str, float]) -> list[RingParameter]:
    """Resistance, zeros, gains and the instant of the step."""
    span, length = max(data.reach, 1e-12), float(np.ptp(ramp.time))
    limit, least = ramp.voltage / span, 0.0 if data.resistance else data.least_resistance
    begin, known = data.resistance or (start.get("resistance", 0.03 * limit + least), None)
    zero_spread = None if ramp.flat else max(ramp.lsb, 0.01 * span) * LIMIT_TO_DEVIATION
    found = [
        RingParameter("resistance", begin, 0.1 * limit, least, 6 * limit + begin, known),
        RingParameter("offset", ramp.rough.offset if ramp.flat else 0.0, 0.01 * span, -span, span, zero_spread),
    ]
    for name, spread in zip(("gain_current", "gain_voltage"), data.gains, strict=True):
        found += [RingParameter(name, 0.0, 0.01, -0.5, 0.5, spread)] if spread > 0 else []
    if ramp.drive is None:
        begin = start.get("step", ramp.rough.step)
        return [*found, RingParameter("step", begin, 0.01 * length, begin - 3 * length, begin + 0.5 * length)]
    volts, error = ramp.voltage, max(ramp.drive.zero_error, 1e-7 * ramp.voltage)
    found.append(RingParameter("volt_zero", 0.0, 0.01 * volts, -volts, volts, error))
    if ramp.flat:
        return [*found, RingParameter("step", 0.0, 0.01 * length, -0.2 * length, 0.2 * length)]
    found.append(RingParameter("step", 0.0, 0.01 * length, -length, length, 1e-6 * length))
    return [*found, RingParameter("start_current", float(np.mean(ramp.current[:3])), 0.01 * span, -span, 2 * span)]


@dataclass(frozen=True)
class RingFit:
    """A form with its best values.

    x: scaled parameters, in the order of `names`, their values being x * scale; covariance: of x; residuals: over their
    deviations, ramp first; chi2: their squares summed; bic: Schwarz's information criterion, chi2 + parameters *
    ln(observations); converged: whether the search ended by itself.
    """

    kind: str
    names: tuple[str, ...]
    x: FloatArray
    scale: FloatArray
    covariance: FloatArray
    residuals: FloatArray
    chi2: float
    bic: float
    converged: bool

    @property
    def values(self) -> dict[str, float]:
        """Parameters by name, SI (logarithms among them)."""
        return dict(zip(self.names, (self.x * self.scale).tolist(), strict=True))

    @property
    def curve(self) -> Curve:
        """The form as a curve."""
        return form_of(self.kind, self.values)


def fit_form(kind: str, data: RingData, start: Mapping[str, float] | None = None) -> RingFit:
    """Fit one form by bounded least squares (scipy's trust-region reflective)."""
    from scipy.optimize import least_squares

    start = start or {}
    problem = Problem(kind, data, start)
    low, high = (np.array([getattr(p, side) for p in problem.parameters]) / problem.scale for side in ("low", "high"))
    first = np.array([start.get(p.name, p.start) for p in problem.parameters]) / problem.scale
    found = least_squares(
        problem.residuals,
        np.clip(first, low + 1e-6, high - 1e-6),
        jac=problem.jacobian,
        bounds=(low, high),
        x_scale="jac",
        max_nfev=100,
    )
    covariance = np.linalg.pinv(found.jac.T @ found.jac, hermitian=True)
    chi2 = 2.0 * float(found.cost)
    bic = chi2 + found.x.size * float(np.log(data.count))
    return RingFit(kind, problem.names, found.x, problem.scale, covariance, found.fun, chi2, bic, found.status > 0)


def fit_forms(data: RingData) -> tuple[RingData, dict[str, RingFit]]:
    """Fit every form the data can carry, first with rough weights, then with those of the noise model.

    Returns the data with their final deviations, and the fits by kind, lowest information criterion first.
    """
    kinds = ("linear",) if data.ramp is None and data.readings is None else tuple(PARAMETERS)
    fits = {kind: _best_start(kind, data) for kind in kinds}
    data = reweighted(data, min(fits.values(), key=lambda fit: fit.chi2))
    fits = {kind: fit_form(kind, data, fit.values) for kind, fit in fits.items()}
    return data, dict(sorted(fits.items(), key=lambda item: item[1].bic))


def _best_start(kind: str, data: RingData) -> RingFit:
    """The best of a few starts; the others are tried only when the first leaves more than noise."""
    best = fit_form(kind, data)
    if kind == "linear" or not data.ramp:
        return best
    starts = [{"ln_steepness": 0.3, "ln_knee": float(np.log(0.3))}]
    if not data.resistance:
        starts.insert(0, {"resistance": 0.4 * data.ramp.voltage / max(data.reach, 1e-12)})
    for start in starts:
        if best.chi2 < 1.5 * data.count:
            break
        best = min(best, fit_form(kind, data, start), key=lambda fit: fit.chi2)
    return best


def reweighted(data: RingData, fit: RingFit) -> RingData:
    """The data with deviations from the residuals of a fit: noise with quantisation of the ramp, scatter of readings."""
    size = data.deviation.size
    if data.ramp:
        rms = float(np.sqrt(np.mean((fit.residuals[:size] * data.deviation) ** 2)))
        model = predict(fit.curve, fit.values, data.ramp, data.ramp.time)
        data = replace(data, deviation=sample_deviation(data.ramp, model, rms))
    if data.readings and not data.readings.scatter_known:
        misfit = fit.residuals[size : size + data.readings.current.size] * data.readings.scatter
        free = max(misfit.size - (1 if data.ramp else 3), 1)
        scatter = SCATTER if data.readings.few and not data.ramp else max(float(np.sqrt(np.sum(misfit**2) / free)), 1e-4)
        data = replace(data, readings=replace(data.readings, scatter=scatter))
    return data


def sample_deviation(ramp: Ramp, model: FloatArray, rms: float) -> FloatArray:
    """Standard deviation [A] of each (block-averaged) sample; rms: of the residuals of the averages [A].

    Variance of one sample: noise^2 + lsb^2/12 (1 - m + m n), with m the quantisation's memory and n the number of
    neighbours the model puts on the same code, so that a flat stretch without noise counts as one sample.
    """
    step = ramp.lsb**2 / 12
    memory = quantisation_memory(ramp.dither, ramp.lsb)
    same = _neighbours_on_a_code(ramp, model) if memory > 1e-4 else np.ones(model.size)
    shared = step * (1 - memory + memory * np.mean(np.minimum(same, ramp.block)))
    found = ramp.noise**2 if ramp.noise_stated else ramp.block * rms**2 - shared
    noise = np.sqrt(max(found, (0.02 * ramp.lsb) ** 2, 1e-20))
    return np.asarray(np.sqrt((noise**2 + step * (1 - memory + memory * same)) / ramp.block))


def _neighbours_on_a_code(ramp: Ramp, model: FloatArray) -> FloatArray:
    """How many samples around each one the model puts on the same code."""
    codes = np.round(model / ramp.lsb)
    ends = np.concatenate([[0], np.flatnonzero(np.diff(codes)) + 1, [codes.size]])
    run = np.repeat(np.diff(ends), np.diff(ends)).astype(float) * ramp.block
    dwell = ramp.lsb * ramp.block / np.maximum(np.abs(np.gradient(model)), 1e-30)
    return np.asarray(np.where(run > ramp.block, run, np.clip(dwell, 1.0, ramp.block)))
