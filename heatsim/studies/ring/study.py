# SPDX-License-Identifier: GPL-3.0-or-later
"""`ring`: an unknown ring from the parts drawer, identified from its bench test.

Flow: bench test -> observations (`ramp`, `data`) -> every form (`forms`) fitted (`fit`) -> the one with the lowest
information criterion -> quantities with intervals (`quantities`) -> catalogue materials that fit (`candidates`) -> texts
for other commands (`export`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

import heatsim
from heatsim.physics.numeric import FloatArray, running_integral
from heatsim.scenario.catalogue import builtin
from heatsim.scenario.ringtest import RingTest
from heatsim.studies.ring.candidates import MaterialMatch, MeasuredRing, rank
from heatsim.studies.ring.data import RingData, gather
from heatsim.studies.ring.fit import RingFit, fit_forms, predict
from heatsim.studies.ring.forms import form_of
from heatsim.studies.ring.quantities import Quantity, either, propagated, quantities_of
from heatsim.studies.ring.ramp import Flag, Ramp

SCHEMA = "heatsim.ring/1"
"""Name and version of the results schema; keys are added, never renamed."""

DECIDED = 6.0
"""Lead in the information criterion from which a form counts as chosen: odds of about 20 to 1 (Raftery, Sociol. Methodol.
25, 1995, p. 139: 'strong'; memory)."""


@dataclass(frozen=True)
class CurvePoints:
    """Differential inductance [H] at currents [A] with 95 % bounds low and high [H]."""

    current: FloatArray
    inductance: FloatArray
    low: FloatArray
    high: FloatArray

    def as_dict(self) -> dict[str, list[float]]:
        """Plain data, SI."""
        return {
            "current_a": self.current.tolist(),
            "inductance_h": self.inductance.tolist(),
            "low_95_h": self.low.tolist(),
            "high_95_h": self.high.tolist(),
        }


@dataclass(frozen=True)
class RingResult:
    """What is known of a ring after a bench test.

    fit: of the chosen form; fits: of all, best first; decided: whether the runner-up is clearly worse; quantities by key;
    curve: the chosen form over the measured currents; direct: slopes of the ramp itself in pieces, None without one;
    materials: the catalogue, best fitting first; flags: what to know about the data.
    """

    test: RingTest
    data: RingData
    fit: RingFit
    fits: dict[str, RingFit]
    decided: bool
    quantities: dict[str, Quantity]
    curve: CurvePoints
    direct: CurvePoints | None
    materials: tuple[MaterialMatch, ...]
    flags: tuple[Flag, ...]

    @property
    def fitting(self) -> tuple[MaterialMatch, ...]:
        """Materials nothing speaks against."""
        return tuple(match for match in self.materials if match.fits)

    def value(self, key: str) -> float | None:
        """Value of a quantity, None where it is unknown."""
        found = self.quantities.get(key)
        return found.value if found else None

    def as_dict(self) -> dict[str, Any]:
        """Plain data of the results schema."""
        return {
            "schema": SCHEMA,
            "heatsim_version": heatsim.__version__,
            "test": {"file": self.test.label.rsplit("/", 1)[-1], "name": self.test.name},
            "path_rule": self.test.tables.ring.path_rule,
            "form": {
                "chosen": self.fit.kind,
                "decided": self.decided,
                "observations": self.data.count,
                "information_criterion": {kind: fit.bic for kind, fit in self.fits.items()},
                "chi2": {kind: fit.chi2 for kind, fit in self.fits.items()},
            },
            "quantities": {key: estimate.as_dict() for key, estimate in self.quantities.items()},
            "largest_current_a": self.data.reach or None,
            "noise": self._noise(),
            "curve": self.curve.as_dict(),
            "curve_of_the_ramp": self.direct.as_dict() if self.direct else None,
            "materials": [match.as_dict() for match in self.materials],
            "none_of_these": not self.fitting,
            "flags": [{"key": key, "text": text} for key, text in self.flags],
        }

    def _noise(self) -> dict[str, float | None] | None:
        ramp = self.data.ramp
        if ramp is None:
            return None
        return {
            "deviation_a": float(np.median(self.data.deviation) * np.sqrt(ramp.block)),
            "code_width_a": ramp.lsb or None,
            "samples": ramp.time.size * ramp.block,
            "samples_averaged": ramp.block,
            "flat_samples": ramp.flat,
        }


def identify(test: RingTest) -> RingResult:
    """A ring identified from its bench test. Raises InputError when the capture holds no ramp."""
    data, fits = fit_forms(gather(test))
    best, *others = fits.values()
    decided = not others or others[0].bic - best.bic > DECIDED
    flags = list(data.ramp.flags if data.ramp else ())
    spread = _misfit(data, best, flags)
    quantities = quantities_of(test, data, best, spread)
    if not decided and others[0].kind != "linear" and best.kind != "linear":
        quantities = either(quantities, quantities_of(test, data, others[0], spread))
        both = f"the {best.kind} and the {others[0].kind} form fit about equally well"
        flags.append(("undecided", f"{both}; where both have a quantity its interval covers both"))
    flags += _notes(test, data, best)
    curve = _curve(data, best, spread)
    direct = _direct(data, best) if data.ramp else None
    measured = _measured(data, best, quantities, spread)
    ranked = rank(test, measured, builtin().materials)
    return RingResult(test, data, best, fits, decided, quantities, curve, direct, ranked, tuple(flags))


BLOCKS = 24
"""Pieces of the ramp whose mean residuals are tested for a pattern."""


def _misfit(data: RingData, fit: RingFit, flags: list[Flag]) -> float:
    """Factor on all standard errors, 1 unless the residuals show a pattern that noise does not make (1 in 1000)."""
    from scipy.stats import chi2

    size, spread = data.deviation.size, 1.0
    if size:
        pieces = np.array_split(fit.residuals[:size], BLOCKS)
        total = float(sum(np.sum(piece) ** 2 / piece.size for piece in pieces if piece.size))
        if total > chi2.ppf(0.999, BLOCKS - 5):
            spread = float(np.sqrt(total / (BLOCKS - 5)))
            flags.append(("misfit", f"no form follows the ramp within its noise; standard errors are raised by {spread:.2g}"))
    if data.readings and data.readings.scatter_known:
        own = fit.residuals[size : size + data.readings.current.size]
        total, free = float(np.sum(own**2)), max(own.size - 3, 1)
        if total > chi2.ppf(0.999, free):
            factor = float(np.sqrt(total / free))
            text = f"the readings scatter more about every form than stated; standard errors are raised by {factor:.2g}"
            flags.append(("misfit-readings", text))
            spread = max(spread, factor)
    return spread


def _notes(test: RingTest, data: RingData, fit: RingFit) -> Iterator[Flag]:
    """Notes on what the intervals leave out and where measurements disagree."""
    ramp = test.tables.ramp
    if data.ramp and ramp:
        missing = " and no ".join(name for name in ("current_accuracy", "voltage_accuracy") if getattr(ramp, name) is None)
        effect = "errors of gain are not in the intervals, and inductance is off by as much as they are"
        if missing:
            yield "accuracy-not-stated", f"the file states no {missing}: {effect}"
    if data.lcr and (data.ramp or data.readings):
        off = float(fit.residuals[data.count - 1])
        away = f"the LCR reading lies {abs(off):.1f} standard errors from the other measurements"
        if abs(off) > 3:
            yield "disagree", f"{away}; check turns, gains and the meter"
    if data.readings and not data.readings.scatter_known and data.readings.few and not data.ramp:
        yield "scatter-assumed", "too few readings to see their scatter: 0.5 % each is taken"
    if not fit.converged:
        yield "not-converged", "the fit did not come to rest; treat every number as a hint"


def _curve(data: RingData, fit: RingFit, spread: float, points: int = 61) -> CurvePoints:
    currents = np.linspace(0.0, data.reach or 1.0, points if data.reach else 2)
    logs, errors = propagated(fit, lambda values: np.log(form_of(fit.kind, values).inductance(currents)))
    wide = 1.96 * spread * errors
    return CurvePoints(currents, np.exp(logs), np.exp(logs - wide), np.exp(logs + wide))


def _direct(data: RingData, fit: RingFit, pieces: int = 22) -> CurvePoints | None:
    """Slopes of flux against current in pieces of the ramp, each by a straight line: no form, only the fitted resistance,
    step and zero go in."""
    ramp = data.ramp
    assert ramp is not None
    values = fit.values

    def clean_of(current: FloatArray) -> FloatArray:
        return (current - values["offset"]) / (1.0 + values.get("gain_current", 0.0))

    clean, current = (clean_of(each) for each in (predict(fit.curve, values, ramp, ramp.time), ramp.current))
    on = np.flatnonzero(clean > 0.01 * data.reach)
    if not on.size:
        return None
    edges = np.searchsorted(clean[on], np.linspace(0.01, 1.0, pieces + 1) * float(clean[on[-1]])).tolist()
    found, whole = [], _flux_of(ramp, fit, clean)
    for low, high in zip(edges[:-1], edges[1:], strict=True):
        rows = on[low:high]
        if rows.size < 6:
            continue
        flux = whole[rows]
        slope = np.polyfit(flux - flux.mean(), current[rows], 1)[0]
        error = float(np.median(data.deviation)) / (np.sqrt(rows.size) * float(np.std(flux)))
        if slope > 3 * error:
            found.append((float(np.mean(clean[rows])), 1 / slope, 1 / (slope + 1.96 * error), 1 / (slope - 1.96 * error)))
    return CurvePoints(*np.array(found).T) if found else None


def _flux_of(ramp: Ramp, fit: RingFit, clean: FloatArray) -> FloatArray:
    """Flux linkage [Wb] at all samples, from the voltage less R i, up to a constant; clean: current of the fit [A]."""
    values, time, drive = fit.values, ramp.time, ramp.voltage * ramp.time
    if ramp.drive:
        drive = np.interp(time - values["step"], ramp.drive.time, ramp.drive.volt_seconds) - values["volt_zero"] * time
    return (1.0 + values.get("gain_voltage", 0.0)) * drive - values["resistance"] * running_integral(clean, time)


def _measured(data: RingData, fit: RingFit, quantities: dict[str, Quantity], spread: float) -> MeasuredRing:
    """What the catalogue is compared with; shares of the core's own inductance at five currents up to the largest measured."""
    zero, knee = quantities["permeability"], quantities.get("saturation_flux_density_t")
    currents = data.reach * np.linspace(0.2, 1.0, 5 if data.reach else 0)

    def shares_of(values: dict[str, float]) -> FloatArray:
        curve = form_of(fit.kind, values)
        air = curve.inductance_air
        return np.asarray((curve.inductance(currents) - air) / (curve.inductance_zero - air))

    shares, errors = propagated(fit, shares_of)
    saturation = None
    if fit.kind == "gapped" and knee and knee.value and knee.identifiable:
        saturation = (knee.value, (knee.standard_error or 0.0) / knee.value)
    zero_error = (zero.standard_error or 0.0) / (zero.value or 1.0)
    return MeasuredRing(fit.curve.inductance_zero, zero_error, currents, shares, spread * errors, saturation)
