# SPDX-License-Identifier: GPL-3.0-or-later
"""From a fit to quantities: permeability, 50 % point and the rest, with standard errors, intervals and a word on each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from heatsim.constants import OERSTED
from heatsim.physics.magnetisation import bias_limit_flux_density
from heatsim.physics.numeric import FloatArray
from heatsim.physics.ringcore import RingSize, ring_inductance
from heatsim.scenario.ringtest import RingTest
from heatsim.studies.ring.data import LIMIT_TO_DEVIATION, RingData
from heatsim.studies.ring.fit import AIR_SPREAD, Fit
from heatsim.studies.ring.forms import form_of

VAGUE_ERROR = 0.25
"""Relative standard error above which a quantity counts as not identifiable from the data."""


@dataclass(frozen=True)
class Estimate:
    """A quantity found. key: name with unit; value, standard_error and the 95 % interval low..high in that SI unit, None
    where there is no such bound; identifiable: whether the data fix it; note: why not, or what it rests on."""

    key: str
    value: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    identifiable: bool
    note: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "value": self.value,
            "standard_error": self.standard_error,
            "low_95": self.low,
            "high_95": self.high,
            "identifiable": self.identifiable,
            "note": self.note,
        }


def propagated(fit: Fit, function: Callable[[dict[str, float]], FloatArray]) -> tuple[FloatArray, FloatArray]:
    """A function of the parameters, and its standard errors by propagation (central differences)."""

    def at(x: FloatArray) -> FloatArray:
        return function(dict(zip(fit.names, (x * fit.scale).tolist(), strict=True)))

    step = 1e-4
    columns = [(at(fit.x + step * unit) - at(fit.x - step * unit)) / (2 * step) for unit in np.eye(fit.x.size)]
    slope = np.stack(columns, axis=-1)
    return at(fit.x), np.sqrt(np.maximum(np.einsum("...i,ij,...j->...", slope, fit.covariance, slope), 0.0))


def _logarithms(test: RingTest, fit: Fit, values: dict[str, float], size: RingSize) -> dict[str, float]:
    """Logarithms of what the fit and the ring's size lead to; every one of them a positive quantity."""
    form, ring, turns = form_of(fit.kind, values), test.ring(size=size), test.winding.turns
    unit = float(ring_inductance(turns, 1.0, ring.total_area, ring.path_length))
    found = {"permeability": form.zero / unit, "inductance_zero_h": form.zero}
    if fit.kind == "linear":
        return {key: float(np.log(value)) for key, value in found.items()}
    half = form.half_current()
    found |= {
        "half_current_a": half,
        "half_field_a_per_m": turns * half / ring.path_length,
        "air_inductance_h": float(np.exp(values["ln_air"])),
    }
    if fit.kind == "soft":
        core, exponent = float(np.exp(values["ln_half"])), 1.0 + float(np.exp(values["ln_steepness"]))
        field = turns * core / ring.path_length
        limit = bias_limit_flux_density(found["permeability"], 0.01 * (field / OERSTED) ** -exponent, exponent)
        found |= {"core_half_current_a": core, "exponent": exponent, "saturation_flux_density_t": limit}
    else:
        found |= {
            "knee_ratio": float(np.exp(values["ln_knee"])),
            "saturation_flux_density_t": float(np.exp(values["ln_saturation"])) / (turns * ring.total_area),
        }
    return {key: float(np.log(value)) for key, value in found.items()}


def quantities_of(test: RingTest, data: RingData, fit: Fit, spread: float) -> dict[str, Estimate]:
    """All quantities with standard errors and 95 % intervals."""
    keys = list(_logarithms(test, fit, fit.values, test.size))
    logs, errors = propagated(fit, lambda values: np.array(list(_logarithms(test, fit, values, test.size).values())))
    errors = np.hypot(spread * errors, _size_errors(test, fit, logs))
    factor = _coverage_factor(data)
    found = {key: _positive(key, log, error, factor) for key, log, error in zip(keys, logs, errors, strict=True)}
    if fit.kind == "linear":
        found["half_current_a"] = _unseen(data)
    else:
        found = {key: _judged(estimate, data, fit) for key, estimate in found.items()}
    if data.ramp:
        found["series_resistance_ohm"] = _resistance(data, fit, spread)
    return found


def _coverage_factor(data: RingData) -> float:
    """Standard errors in half a 95 % interval: Student's where the scatter was found from a few readings."""
    from scipy.stats import t

    if data.ramp is None and data.readings and not data.readings.scatter_known:
        return float(t.ppf(0.975, max(data.readings.current.size - 3, 1)))
    return 1.96


def _size_errors(test: RingTest, fit: Fit, logs: FloatArray) -> FloatArray:
    """Standard errors of the logarithms from the callipers alone."""
    table, square = test.tables.ring, np.zeros_like(logs)
    for name, value in test.size._asdict().items():
        moved = test.size._replace(**{name: value * (1 + 1e-4)})
        slope = (np.array(list(_logarithms(test, fit, fit.values, moved).values())) - logs) / (value * 1e-4)
        square += (slope * table.accuracy * LIMIT_TO_DEVIATION) ** 2
    return np.sqrt(square)


def _positive(key: str, log: float, error: float, factor: float) -> Estimate:
    value, wide = float(np.exp(log)), float(np.exp(min(factor * error, 50.0)))
    return Estimate(
        key,
        value,
        value * float(error),
        value / wide,
        value * wide,
        bool(error < VAGUE_ERROR),
        "" if error < VAGUE_ERROR else "the data leave it open",
    )


def _judged(estimate: Estimate, data: RingData, fit: Fit) -> Estimate:
    """The estimate with a word on what it rests on."""
    e, reach = estimate, data.reach
    half = fit.form.half_current()
    if e.key in ("half_current_a", "half_field_a_per_m", "core_half_current_a", "saturation_flux_density_t") and half > 1.3 * reach:
        note = f"beyond the largest current measured ({reach:.3g} A): the {fit.kind} form drawn on, not seen"
        return Estimate(e.key, e.value, e.standard_error, e.low, e.high, False, note)
    if e.key == "air_inductance_h" and e.value and (e.standard_error or 0.0) > 0.7 * AIR_SPREAD * e.value:
        return Estimate(
            e.key,
            e.value,
            e.standard_error,
            e.low,
            e.high,
            False,
            "from the closed form; the data do not reach deep enough into saturation to tell",
        )
    if e.key == "saturation_flux_density_t" and fit.kind == "soft":
        return Estimate(
            e.key, e.value, e.standard_error, e.low, e.high, False, "what the form tends to at great fields, far beyond the data"
        )
    return e


def _unseen(data: RingData) -> Estimate:
    """The 50 % point when no saturation was seen."""
    if not data.reach:
        return Estimate("half_current_a", None, None, None, None, False, "one reading without current tells nothing of it")
    return Estimate(
        "half_current_a",
        None,
        None,
        data.reach,
        None,
        False,
        f"no saturation seen up to {data.reach:.3g} A; go on to a larger current",
    )


def _resistance(data: RingData, fit: Fit, spread: float) -> Estimate:
    index = fit.names.index("resistance")
    value = fit.values["resistance"]
    error = spread * float(np.sqrt(fit.covariance[index, index])) * float(fit.scale[index])
    low, high = max(value - 1.96 * error, 0.0), value + 1.96 * error
    note = (
        "of the winding alone, the voltage being across it"
        if data.ramp and data.ramp.recorded
        else ("of the whole loop: winding, shunt, switch and source")
    )
    if data.resistance:
        note += "; stated beside the ramp"
    fixed = error < 0.5 * value
    return Estimate(
        "series_resistance_ohm",
        value,
        error,
        low,
        high,
        fixed,
        note if fixed else note + "; below its upper bound is all that can be said",
    )


def either(first: dict[str, Estimate], second: dict[str, Estimate]) -> dict[str, Estimate]:
    """Quantities of the better form, intervals stretched over those of the other."""
    found = {}
    for key, a in first.items():
        b = second.get(key)
        if b is None or key in ("saturation_flux_density_t",) or None in (a.low, a.high, b.low, b.high):
            found[key] = a
            continue
        low, high = min(a.low or 0.0, b.low or 0.0), max(a.high or 0.0, b.high or 0.0)
        found[key] = Estimate(key, a.value, a.standard_error, low, high, a.identifiable, a.note)
    return found
