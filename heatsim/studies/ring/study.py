# SPDX-License-Identifier: GPL-3.0-or-later
"""`ring`: an unknown ring from the parts drawer, identified from its bench test.

Flow: bench test -> observations (`ring_ramp`, `ring_data`) -> every form (`ring_forms`) fitted (`ring_fit`) -> the one with
the lowest information criterion -> quantities with intervals (`ring_quantities`) -> catalogue materials that fit
(`ring_match`) -> texts for other commands (`ring_export`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

import heatsim
from heatsim.parts.materials import catalogue
from heatsim.physics.numeric import FloatArray
from heatsim.scenario.ringtest import RingTest
from heatsim.studies.ring.candidates import MaterialMatch, Measured, rank
from heatsim.studies.ring.data import RingData, gather
from heatsim.studies.ring.fit import Fit, fit_forms, predict
from heatsim.studies.ring.forms import form_of
from heatsim.studies.ring.quantities import Estimate, either, propagated, quantities_of
from heatsim.studies.ring.ramp import Flag

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
    """What a bench test tells of a ring.

    fit: of the chosen form; fits: of all, best first; decided: whether the runner-up is clearly worse; quantities by key;
    curve: the chosen form over the measured currents; direct: slopes of the ramp itself in pieces, None without one;
    materials: the catalogue, best fitting first; flags: what to know about the data.
    """

    test: RingTest
    data: RingData
    fit: Fit
    fits: dict[str, Fit]
    decided: bool
    quantities: dict[str, Estimate]
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
        ramp = self.data.ramp
        noise = (
            None
            if ramp is None
            else {
                "deviation_a": float(np.median(self.data.deviation) * np.sqrt(ramp.block)),
                "code_width_a": ramp.lsb or None,
                "samples": ramp.time.size * ramp.block,
                "samples_averaged": ramp.block,
                "flat_samples": ramp.flat,
            }
        )
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
            "noise": noise,
            "curve": self.curve.as_dict(),
            "curve_of_the_ramp": self.direct.as_dict() if self.direct else None,
            "materials": [match.as_dict() for match in self.materials],
            "none_of_these": not self.fitting,
            "flags": [{"key": key, "text": text} for key, text in self.flags],
        }


def identify(test: RingTest) -> RingResult:
    """Everything a bench test tells of its ring; InputError when a capture holds no ramp."""
    data, fits = fit_forms(gather(test))
    best, *others = fits.values()
    decided = not others or others[0].bic - best.bic > DECIDED
    flags = list(data.ramp.flags if data.ramp else ())
    spread = _misfit(data, best, flags)
    quantities = quantities_of(test, data, best, spread)
    if not decided and others[0].kind != "linear" and best.kind != "linear":
        quantities = either(quantities, quantities_of(test, data, others[0], spread))
        flags.append(
            (
                "undecided",
                f"the {best.kind} and the {others[0].kind} form fit about equally well; where both have "
                "a quantity its interval covers both",
            )
        )
    _told(test, data, best, flags)
    curve = _curve(data, best, spread)
    direct = _direct(data, best) if data.ramp else None
    measured = _measured(data, best, quantities, spread)
    return RingResult(test, data, best, fits, decided, quantities, curve, direct, rank(test, measured, catalogue()), tuple(flags))


BLOCKS = 24
"""Pieces of the ramp whose mean residuals are tested for a pattern."""


def _misfit(data: RingData, fit: Fit, flags: list[Flag]) -> float:
    """Factor on all standard errors, 1 unless the residuals show a pattern that noise does not make (1 in 1000)."""
    from scipy.stats import chi2

    size = data.deviation.size
    spread = 1.0
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
            spread = max(spread, float(np.sqrt(total / free)))
            flags.append(
                (
                    "misfit-readings",
                    "the readings scatter more about every form than stated; standard errors "
                    f"are raised by {np.sqrt(total / free):.2g}",
                )
            )
    return spread


def _told(test: RingTest, data: RingData, fit: Fit, flags: list[Flag]) -> None:
    """Notes on what the intervals leave out and where measurements disagree."""
    ramp = test.tables.ramp
    if data.ramp and ramp:
        open_ones = [name for name in ("current_accuracy", "voltage_accuracy") if getattr(ramp, name) is None]
        if open_ones:
            flags.append(
                (
                    "accuracy-not-stated",
                    f"the file states no {' and no '.join(open_ones)}: errors of gain are not in the intervals, and "
                    "inductance is off by as much as they are",
                )
            )
    if data.lcr and (data.ramp or data.readings):
        at = data.deviation.size + (data.readings.current.size if data.readings else 0)
        off = float(fit.residuals[at])
        if abs(off) > 3:
            flags.append(
                (
                    "disagree",
                    f"the LCR reading lies {abs(off):.1f} standard errors from the other measurements; "
                    "check turns, gains and the meter",
                )
            )
    if data.readings and not data.readings.scatter_known and data.readings.current.size < 5 and not data.ramp:
        flags.append(("scatter-assumed", "too few readings to see their scatter: 0.5 % each is taken"))
    if not fit.converged:
        flags.append(("not-converged", "the fit did not come to rest; treat every number as a hint"))


def _shares(fit: Fit, currents: FloatArray, spread: float) -> tuple[FloatArray, FloatArray]:
    """Share of the core's own inductance left at currents [A], and its standard errors."""

    def shares(values: dict[str, float]) -> FloatArray:
        form = form_of(fit.kind, values)
        air = 0.0 if fit.kind == "linear" else min(float(np.exp(values["ln_air"])), 0.45 * form.zero)
        return np.asarray((form.inductance(currents) - air) / (form.zero - air))

    found, errors = propagated(fit, shares)
    return found, spread * errors


def _curve(data: RingData, fit: Fit, spread: float, points: int = 61) -> CurvePoints:
    currents = np.linspace(0.0, data.reach or 1.0, points if data.reach else 2)
    logs, errors = propagated(fit, lambda values: np.log(form_of(fit.kind, values).inductance(currents)))
    wide = 1.96 * spread * errors
    return CurvePoints(currents, np.exp(logs), np.exp(logs - wide), np.exp(logs + wide))


def _direct(data: RingData, fit: Fit, pieces: int = 22) -> CurvePoints | None:
    """Slopes of flux against current in pieces of the ramp, each by a straight line: no form, only the fitted resistance,
    step and zero go in."""
    ramp = data.ramp
    assert ramp is not None
    values, form = fit.values, fit.form
    clean = (predict(form, values, ramp, ramp.time) - values["offset"]) / (1.0 + values.get("gain_current", 0.0))
    on = np.flatnonzero(clean > 0.01 * data.reach)
    if not on.size:
        return None
    edges = np.searchsorted(clean[on], np.linspace(0.01, 1.0, pieces + 1) * float(clean[on[-1]])).tolist()
    found, whole = [], _flux_of(data, fit, clean)
    for low, high in zip(edges[:-1], edges[1:], strict=True):
        rows = on[low:high]
        if rows.size < 6:
            continue
        flux = whole[rows]
        current = (ramp.current[rows] - values["offset"]) / (1.0 + values.get("gain_current", 0.0))
        slope = np.polyfit(flux - flux.mean(), current, 1)[0]
        error = float(np.median(data.deviation)) / (np.sqrt(rows.size) * float(np.std(flux)))
        if slope > 3 * error:
            found.append((float(np.mean(clean[rows])), 1 / slope, 1 / (slope + 1.96 * error), 1 / (slope - 1.96 * error)))
    return CurvePoints(*np.array(found).T) if found else None


def _flux_of(data: RingData, fit: Fit, clean: FloatArray) -> FloatArray:
    """Flux linkage [Wb] at all samples, from the voltage less R i, up to a constant."""
    ramp, values = data.ramp, fit.values
    assert ramp is not None
    time = ramp.time
    lost = np.concatenate([[0.0], np.cumsum(0.5 * (clean[1:] + clean[:-1]) * np.diff(time))]) * values["resistance"]
    if ramp.volt_time is not None and ramp.volt_seconds is not None:
        drive = np.interp(time - values["step"], ramp.volt_time, ramp.volt_seconds) - values["volt_zero"] * time
    else:
        drive = ramp.voltage * time
    return np.asarray((1.0 + values.get("gain_voltage", 0.0)) * drive - lost)


def _measured(data: RingData, fit: Fit, quantities: dict[str, Estimate], spread: float) -> Measured:
    """What the catalogue is compared with; shares at five currents up to the largest measured."""
    zero = quantities["permeability"]
    currents = data.reach * np.linspace(0.2, 1.0, 5) if data.reach else np.empty(0)
    shares, errors = _shares(fit, currents, spread) if data.reach else (np.empty(0), np.empty(0))
    knee = quantities.get("saturation_flux_density_t")
    saturation = None
    if fit.kind == "gapped" and knee and knee.value and knee.identifiable:
        saturation = (knee.value, (knee.standard_error or 0.0) / knee.value)
    return Measured(fit.form.zero, (zero.standard_error or 0.0) / (zero.value or 1.0), currents, shares, errors, saturation)
