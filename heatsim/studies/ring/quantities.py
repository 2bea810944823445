# SPDX-License-Identifier: GPL-3.0-or-later
"""From a fit to quantities: permeability, 50 % point and the rest, with standard errors, intervals and a note on each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from heatsim.constants import OERSTED
from heatsim.parts.curves import half_current
from heatsim.physics.magnetisation import bias_limit_flux_density
from heatsim.physics.numeric import FloatArray
from heatsim.physics.ringcore import RingSize, ring_inductance
from heatsim.scenario.ringtest import RingTest
from heatsim.studies.ring.data import LIMIT_TO_DEVIATION, RingData
from heatsim.studies.ring.fit import AIR_SPREAD, RingFit
from heatsim.studies.ring.forms import form_of

VAGUE_ERROR = 0.25
"""Relative standard error above which a quantity counts as not identifiable from the data."""

BEYOND_THE_HALF = ("half_current_a", "half_field_a_per_m", "core_half_current_a", "saturation_flux_density_t")
"""Quantities that are extrapolated when the data do not reach the 50 % point."""


@dataclass(frozen=True)
class Quantity:
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
        names = {"low": "low_95", "high": "high_95"}
        return {names.get(name, name): value for name, value in asdict(self).items() if name != "key"}

    def open(self, note: str) -> Quantity:
        """The same as not fixed by the data, and why."""
        return replace(self, identifiable=False, note=note)


def propagated(fit: RingFit, function: Callable[[dict[str, float]], FloatArray]) -> tuple[FloatArray, FloatArray]:
    """A function of the parameters, and its standard errors by propagation (central differences)."""

    def at(x: FloatArray) -> FloatArray:
        return function(dict(zip(fit.names, (x * fit.scale).tolist(), strict=True)))

    step = 1e-4
    slopes = np.stack([(at(fit.x + step * unit) - at(fit.x - step * unit)) / (2 * step) for unit in np.eye(fit.x.size)], axis=-1)
    return at(fit.x), np.sqrt(np.maximum(np.sum(slopes @ fit.covariance * slopes, axis=-1), 0.0))


def _positive_quantities(test: RingTest, fit: RingFit, values: dict[str, float], size: RingSize) -> dict[str, float]:
    """What the fit and the ring's size lead to; every one of them a positive quantity."""
    curve, ring, turns = form_of(fit.kind, values), test.ring(size=size), test.winding.turns
    zero = curve.inductance_zero
    found = {
        "permeability": zero / float(ring_inductance(turns, 1.0, ring.total_area, ring.path_length)),
        "inductance_zero_h": zero,
    }
    half = half_current(curve)
    if half is None:
        return found
    found |= {
        "half_current_a": half,
        "half_field_a_per_m": turns * half / ring.path_length,
        "air_inductance_h": float(np.exp(values["ln_air"])),
    }
    if fit.kind == "soft":
        core, exponent = float(np.exp(values["ln_half"])), 1.0 + float(np.exp(values["ln_steepness"]))
        field = turns * core / ring.path_length
        limit = bias_limit_flux_density(found["permeability"], 0.01 * (field / OERSTED) ** -exponent, exponent)
        return found | {"core_half_current_a": core, "exponent": exponent, "saturation_flux_density_t": limit}
    flux_density = float(np.exp(values["ln_saturation"])) / (turns * ring.total_area)
    return found | {"knee_ratio": float(np.exp(values["ln_knee"])), "saturation_flux_density_t": flux_density}


def quantities_of(test: RingTest, data: RingData, fit: RingFit, spread: float) -> dict[str, Quantity]:
    """All quantities with standard errors and 95 % intervals; spread: factor on the standard errors of the fit."""
    keys = _positive_quantities(test, fit, fit.values, test.size)

    def logarithms(values: dict[str, float], size: RingSize = test.size) -> FloatArray:
        return np.log(list(_positive_quantities(test, fit, values, size).values()))

    logs, errors = propagated(fit, logarithms)
    errors, deviation = spread * errors, test.tables.ring.accuracy * LIMIT_TO_DEVIATION
    for name, value in test.size._asdict().items():  # of the callipers
        moved = logarithms(fit.values, test.size._replace(**{name: value * (1 + 1e-4)}))
        errors = np.hypot(errors, (moved - logs) / (value * 1e-4) * deviation)
    factor = _coverage_factor(data)
    found = {key: _positive(key, log, error, factor) for key, log, error in zip(keys, logs, errors, strict=True)}
    if fit.kind == "linear":
        found["half_current_a"] = _unseen(data)
    else:
        found = {key: _judged(quantity, data, fit) for key, quantity in found.items()}
    if data.ramp:
        found["series_resistance_ohm"] = _resistance(data, fit, spread)
    return found


def _coverage_factor(data: RingData) -> float:
    """Standard errors in half a 95 % interval: Student's where the scatter was found from a few readings."""
    from scipy.stats import t

    if data.ramp is None and data.readings and not data.readings.scatter_known:
        return float(t.ppf(0.975, max(data.readings.current.size - 3, 1)))
    return 1.96


def _positive(key: str, log: float, error: float, factor: float) -> Quantity:
    value, wide = float(np.exp(log)), float(np.exp(min(factor * error, 50.0)))
    found = Quantity(key, value, value * float(error), value / wide, value * wide, True)
    return found if error < VAGUE_ERROR else found.open("the data leave it open")


def _judged(quantity: Quantity, data: RingData, fit: RingFit) -> Quantity:
    """The quantity with a note on what it rests on."""
    key, value = quantity.key, quantity.value or 0.0
    if key in BEYOND_THE_HALF and (half_current(fit.curve) or np.inf) > 1.3 * data.reach:
        return quantity.open(f"beyond the largest current measured ({data.reach:.3g} A): the {fit.kind} form drawn on, not seen")
    if key == "air_inductance_h" and value and (quantity.standard_error or 0.0) > 0.7 * AIR_SPREAD * value:
        return quantity.open("from the closed form; the data do not reach deep enough into saturation to tell")
    if key == "saturation_flux_density_t" and fit.kind == "soft":
        return quantity.open("what the form tends to at great fields, far beyond the data")
    return quantity


def _unseen(data: RingData) -> Quantity:
    """The 50 % point when no saturation was seen."""
    seen = f"no saturation seen up to {data.reach:.3g} A; go on to a larger current"
    note = seen if data.reach else "one reading without current tells nothing of it"
    return Quantity("half_current_a", None, None, data.reach or None, None, False, note)


def _resistance(data: RingData, fit: RingFit, spread: float) -> Quantity:
    index, value = fit.names.index("resistance"), fit.values["resistance"]
    error = spread * float(np.sqrt(fit.covariance[index, index])) * float(fit.scale[index])
    alone, loop = "of the winding alone, the voltage being across it", "of the whole loop: winding, shunt, switch and source"
    fixed, notes = error < 0.5 * value, [alone if data.ramp and data.ramp.drive else loop]
    notes += ["stated beside the ramp"] if data.resistance else []
    notes += [] if fixed else ["below its upper bound is all that can be said"]
    low, high = max(value - 1.96 * error, 0.0), value + 1.96 * error
    return Quantity("series_resistance_ohm", value, error, low, high, fixed, "; ".join(notes))


def either(first: dict[str, Quantity], second: dict[str, Quantity]) -> dict[str, Quantity]:
    """Quantities of the better form, intervals stretched over those of the other."""
    found = dict(first)
    for key in (first.keys() & second.keys()) - {"saturation_flux_density_t"}:
        a, b = first[key], second[key]
        if a.low is not None and a.high is not None and b.low is not None and b.high is not None:
            found[key] = replace(a, low=min(a.low, b.low), high=max(a.high, b.high))
    return found
