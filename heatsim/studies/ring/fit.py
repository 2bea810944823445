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

from heatsim.physics.numeric import FloatArray
from heatsim.studies.ring.data import LIMIT_TO_DEVIATION, RingData
from heatsim.studies.ring.forms import SHAPES, Form, form_of, solve_flux
from heatsim.studies.ring.ramp import Ramp, quantisation_memory

AIR_SPREAD = 0.2
"""Standard deviation of the log of the air-core inductance about its closed form; estimate: turns are never quite even."""

GRID = 500
"""Intervals of the time grid on which v = R i + d(flux)/dt is solved; error below 1e-4 of the greatest current."""


class Parameter(NamedTuple):
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
        self.names = [parameter.name for parameter in self.parameters]
        self.scale = np.array([parameter.scale for parameter in self.parameters])
        known = [(k, p.start / p.scale, p.scale / p.spread) for k, p in enumerate(self.parameters) if p.spread]
        self._known = np.array(known).reshape(-1, 3)
        self._flux: FloatArray | None = None

    def values(self, x: FloatArray) -> dict[str, float]:
        """Parameters by name, SI."""
        return dict(zip(self.names, (x * self.scale).tolist(), strict=True))

    def residuals(self, x: FloatArray, near: bool = False) -> FloatArray:
        """Misfits over their deviations: ramp, readings, LCR reading, then what is known beside them.

        near: x lies within a hair of the last one asked for without it, whose flux is then moved to first order.
        """
        values, data = self.values(x), self.data
        form = form_of(self.kind, values)
        parts = []
        if data.ramp:
            grid, flux = solve_ramp(form, values, data.ramp, self._flux, 1 if near else 40)
            self._flux = self._flux if near else flux
            model = read_ramp(form, values, grid, flux, data.ramp.time)
            parts.append((model - data.ramp.current) / data.deviation)
        if data.readings:
            ratio = np.log(form.inductance(data.readings.current) / data.readings.inductance)
            parts.append((ratio + values["meter"]) / data.readings.scatter)
        if data.lcr:
            parts.append(np.array([np.log(form.zero / data.lcr[0]) / data.lcr[1]]))
        rows = self._known
        parts.append((x[rows[:, 0].astype(int)] - rows[:, 1]) * rows[:, 2])
        return np.concatenate(parts)

    def jacobian(self, x: FloatArray) -> FloatArray:
        """Forward differences, each parameter by 1e-5 of its scale."""
        base, columns = self.residuals(x), []
        for k in range(x.size):
            moved = x.copy()
            moved[k] += 1e-5
            columns.append((self.residuals(moved, near=True) - base) / 1e-5)
        return np.stack(columns, axis=1)


def predict(form: Form, values: Mapping[str, float], ramp: Ramp, time: FloatArray) -> FloatArray:
    """Captured current [A] the form leads to at instants [s] within the record."""
    return read_ramp(form, values, *solve_ramp(form, values, ramp), time)


def solve_ramp(
    form: Form, values: Mapping[str, float], ramp: Ramp, guess: FloatArray | None = None, iterations: int = 40
) -> tuple[FloatArray, FloatArray]:
    """Instants [s] on the record's axis and the flux linkage [Wb] there; guess and iterations as in `solve_flux`."""
    gain, step = 1.0 + values.get("gain_voltage", 0.0), values["step"]
    if ramp.volt_seconds is None or ramp.volt_time is None:
        last = max(float(ramp.time[-1]) - step, 1e-3 * float(np.ptp(ramp.time)))
        steps = np.full(GRID, last / GRID)
        flux = solve_flux(form, gain * ramp.voltage * steps, steps, values["resistance"], 0.0, guess, iterations)
        return step + np.linspace(0.0, last, GRID + 1), flux
    grid = _fine(ramp.volt_time)
    drive = np.interp(grid, ramp.volt_time, ramp.volt_seconds) - values["volt_zero"] * (grid - grid[0])
    start = float(_flux_at(form, values.get("start_current", 0.0)))
    flux = solve_flux(form, gain * np.diff(drive), np.diff(grid), values["resistance"], start, guess, iterations)
    return grid + step, flux


def read_ramp(form: Form, values: Mapping[str, float], grid: FloatArray, flux: FloatArray, time: FloatArray) -> FloatArray:
    """The current [A] the oscilloscope shows at instants [s], with its zero and gain; flux [Wb] on a grid of time."""
    return (1.0 + values.get("gain_current", 0.0)) * form.current(np.interp(time, grid, flux)) + values["offset"]


def _fine(time: FloatArray) -> FloatArray:
    """The record's own instants, thinned or refined to about `GRID`."""
    places = np.linspace(0, time.size - 1, min(max(GRID, time.size), 3 * GRID))
    return np.interp(places, np.arange(time.size), time)


def _flux_at(form: Form, current: float) -> float:
    """Flux linkage [Wb] at a current [A], by bisection."""
    low, high = 0.0, abs(current) * form.zero * 1.01
    for _ in range(60 if current else 0):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if form.current(np.array([middle]))[0] < abs(current) else (low, middle)
    return float(np.sign(current) * 0.5 * (low + high))


def first_values(data: RingData, kind: str) -> dict[str, float]:
    """Starting values of a form's logarithms."""
    if data.ramp:
        zero, half = data.ramp.rough.zero, data.ramp.rough.half
    elif data.readings:
        zero = float(data.readings.inductance[0])
        low = np.flatnonzero(data.readings.inductance < 0.5 * zero)
        half = float(data.readings.current[low[0]] if low.size else 1.5 * data.readings.current[-1])
    else:
        zero, half = data.lcr[0] if data.lcr else 1e-6, 1.0
    steep = {"soft": np.log(EXPONENT[0]), "gapped": np.log(KNEE[0])}.get(kind, 0.0)
    return {
        "ln_zero": float(np.log(zero)),
        "ln_half": float(np.log(half)),
        "ln_saturation": float(np.log(zero * half)),
        "ln_steepness": float(steep),
        "ln_knee": float(steep),
        "ln_air": float(np.log(data.air)),
    }


VAGUE = 3.0
"""Deviation of the log of a shape's scale when nothing is known of it: keeps a fit finite that its data leave open."""

EXPONENT, KNEE = (0.8, 0.5), (0.1, 0.5)
"""What is known of materials before measuring, centre and deviation of its log: exponent - 1 of powders (0.35 to 1.3 in
catalogues), relative half width of a ferrite's knee (0.05 to 0.2); memory. Data that tell outweigh it; where a soft curve
with much series resistance and a wide knee with little would fit alike, it decides."""


def _parameters(kind: str, data: RingData, start: Mapping[str, float]) -> list[Parameter]:
    """Parameters of a form with its nuisances; `start` overrides single starting values."""
    first = {**first_values(data, kind), **start}
    reach = np.log(max(data.reach, 1e-9))
    bounds = {
        "ln_half": (reach - 5, reach + 5),
        "ln_steepness": (np.log(0.08), np.log(12.0)),
        "ln_knee": (np.log(0.02), np.log(0.5)),
    }
    spreads = {"ln_air": AIR_SPREAD, "ln_half": VAGUE, "ln_steepness": EXPONENT[1], "ln_knee": KNEE[1], "ln_saturation": VAGUE}
    centres = {"ln_air": np.log(data.air), "ln_steepness": np.log(EXPONENT[0]), "ln_knee": np.log(KNEE[0])}
    found = []
    for name in SHAPES[kind]:
        low, high = bounds.get(name, (first[name] - 6, first[name] + 6))
        begin = float(centres.get(name, np.clip(first[name], low + 1e-3, high - 1e-3)))
        found.append(Parameter(name, begin, 1.0, low, high, spreads.get(name)))
    if data.ramp:
        found += _ramp_parameters(data, data.ramp, first)
    if data.readings:
        found.append(Parameter("meter", 0.0, 1.0, -0.5, 0.5, max(data.readings.gain_spread, 1e-6)))
    return found


def _ramp_parameters(data: RingData, ramp: Ramp, first: Mapping[str, float]) -> list[Parameter]:
    span, length = max(data.reach, 1e-12), float(np.ptp(ramp.time))
    limit = ramp.voltage / span
    known = data.resistance
    least = 0.0 if known else data.least_resistance
    begin = known[0] if known else first.get("resistance", 0.03 * limit + least)
    zero_spread = None if ramp.flat else max(ramp.lsb, 0.01 * span) * LIMIT_TO_DEVIATION
    found = [
        Parameter("resistance", begin, 0.1 * limit, least, 6 * limit + begin, known[1] if known else None),
        Parameter("offset", ramp.rough.offset if ramp.flat else 0.0, 0.01 * span, -span, span, zero_spread),
    ]
    found += [
        Parameter(name, 0.0, 0.01, -0.5, 0.5, spread)
        for name, spread in zip(("gain_current", "gain_voltage"), data.gains, strict=True)
        if spread > 0
    ]
    if not ramp.recorded:
        begin = first.get("step", ramp.rough.step)
        return [*found, Parameter("step", begin, 0.01 * length, begin - 3 * length, begin + 0.5 * length)]
    found.append(
        Parameter(
            "volt_zero", 0.0, 0.01 * ramp.voltage, -ramp.voltage, ramp.voltage, max(ramp.volt_zero_error, 1e-7 * ramp.voltage)
        )
    )
    if ramp.flat:
        return [*found, Parameter("step", 0.0, 0.01 * length, -0.2 * length, 0.2 * length)]
    found.append(Parameter("step", 0.0, 0.01 * length, -length, length, 1e-6 * length))
    return [*found, Parameter("start_current", float(np.mean(ramp.current[:3])), 0.01 * span, -span, 2 * span)]


@dataclass(frozen=True)
class Fit:
    """A form with its best values.

    values: parameters by name (logarithms among them); covariance: of the scaled parameters, in the order of `names`
    and times `scale`; residuals: over their deviations, ramp first; chi2: their squares summed; bic: Schwarz's
    information criterion, chi2 + parameters * ln(observations); converged: whether the search ended by itself.
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
        """Parameters by name, SI."""
        return dict(zip(self.names, (self.x * self.scale).tolist(), strict=True))

    @property
    def form(self) -> Form:
        """The form itself."""
        return form_of(self.kind, self.values)


def fit_form(kind: str, data: RingData, start: Mapping[str, float] | None = None) -> Fit:
    """Fit one form by bounded least squares (scipy's trust-region reflective)."""
    from scipy.optimize import least_squares

    problem = Problem(kind, data, start or {})
    low, high = (np.array([getattr(p, side) for p in problem.parameters]) / problem.scale for side in ("low", "high"))
    first = np.array([(start or {}).get(p.name, p.start) for p in problem.parameters]) / problem.scale
    first = np.clip(first, low + 1e-6, high - 1e-6)
    found = least_squares(
        problem.residuals,
        first,
        jac=problem.jacobian,
        bounds=(low, high),
        method="trf",
        x_scale="jac",
        xtol=1e-8,
        ftol=1e-8,
        gtol=1e-8,
        max_nfev=100,
    )
    covariance = np.linalg.pinv(found.jac.T @ found.jac, hermitian=True)
    chi2 = 2.0 * float(found.cost)
    bic = chi2 + found.x.size * float(np.log(data.count))
    return Fit(kind, tuple(problem.names), found.x, problem.scale, covariance, found.fun, chi2, bic, found.status > 0)


def fit_forms(data: RingData) -> tuple[RingData, dict[str, Fit]]:
    """Fit every form the data can carry, first with rough weights, then with those of the noise model.

    Returns the data with their final deviations, and the fits by kind, lowest information criterion first.
    """
    kinds = ("linear",) if data.ramp is None and data.readings is None else tuple(SHAPES)
    fits = {kind: _best_start(kind, data) for kind in kinds}
    data = reweighted(data, min(fits.values(), key=lambda fit: fit.chi2))
    fits = {kind: fit_form(kind, data, fit.values) for kind, fit in fits.items()}
    return data, dict(sorted(fits.items(), key=lambda item: item[1].bic))


def _best_start(kind: str, data: RingData) -> Fit:
    """The best of a few starts; the others are tried only when the first leaves more than noise."""
    limit = data.ramp.voltage / max(data.reach, 1e-12) if data.ramp else 0.0
    starts: list[dict[str, float]] = [{}, {"resistance": 0.4 * limit}, {"ln_steepness": 0.3, "ln_knee": np.log(0.3)}]
    best = fit_form(kind, data, {})
    for start in starts[1:] if kind != "linear" and data.ramp else []:
        if best.chi2 < 1.5 * data.count:
            break
        if "resistance" in start and data.resistance:
            continue
        best = min(best, fit_form(kind, data, start), key=lambda fit: fit.chi2)
    return best


def reweighted(data: RingData, fit: Fit) -> RingData:
    """The data with deviations from the residuals of a fit: noise with quantisation of the ramp, scatter of readings."""
    size = data.deviation.size
    if data.ramp:
        raw = fit.residuals[:size] * data.deviation
        form, values = fit.form, fit.values
        model = predict(form, values, data.ramp, data.ramp.time)
        data = replace(data, deviation=sample_deviation(data.ramp, model, float(np.sqrt(np.mean(raw**2)))))
    if data.readings and not data.readings.scatter_known:
        misfit = fit.residuals[size : size + data.readings.current.size] * data.readings.scatter
        free = max(misfit.size - (1 if data.ramp else 3), 1)
        scatter = float(np.sqrt(np.sum(misfit**2) / free))
        few = misfit.size < 5 and not data.ramp
        data = replace(data, readings=replace(data.readings, scatter=0.005 if few else max(scatter, 1e-4)))
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
