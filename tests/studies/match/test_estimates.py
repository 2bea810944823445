# SPDX-License-Identifier: GPL-3.0-or-later
"""Stated errors of fitted quantities."""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest

from heatsim.studies.match import estimates
from heatsim.studies.match.estimates import FAULTS_APART, LAWS_APART, _widened, cause_quantities, derived_quantities
from heatsim.studies.match.fault_model import HEAVIER
from heatsim.studies.match.faults import fault_models
from heatsim.studies.match.result import FittedQuantity
from tests.support.matching import scenario

pytestmark = pytest.mark.numerics


def quantity(key: str) -> FittedQuantity:
    return FittedQuantity(key, "of a test", 0.1, 0.098, 0.103, "ohm", None, 0.9)


def test_what_laws_differ_by_is_added_in_quadrature() -> None:
    """1.96 standard deviations of 2 % beside -2 % and +3 %, of a heavier workpiece 3 % more."""
    for fault, laws in (("leak at the left drain", 0.0392), (HEAVIER, math.hypot(0.0392, 0.0588))):
        wide = _widened(quantity("coil.resistance_ohm"), fault)
        for end, own in ((wide.low, math.log(0.98)), (wide.high, math.log(1.03))):
            assert abs(math.log(end / 0.1)) == pytest.approx(math.hypot(own, laws), rel=1e-3)
    assert _widened(quantity("choke.left.inductance_h"), HEAVIER) == quantity("choke.left.inductance_h")


def test_intervals_reach_over_those_of_the_other_fault_models_that_may_be_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """And are told only as far as by both; a fault model far behind counts for nothing."""
    key = "gate.pull_up_ohm"
    told = {
        name: FittedQuantity(key, "gate pull-up", value, low, high, "ohm", 68.0, shrinkage)
        for name, value, low, high, shrinkage in (
            ("a", 190.0, 180.0, 200.0, 0.9),
            ("b", 67.0, 64.0, 71.0, 0.1),
            ("c", 5.0, 4.0, 6.0, 0.9),
        )
    }
    monkeypatch.setattr(estimates, "fitted_quantities", lambda datasets, one: ((told[one.name],), ("tied",)))
    fits = [
        SimpleNamespace(name="a", evidence=0.0),
        SimpleNamespace(name="b", evidence=-5.0),
        SimpleNamespace(name="c", evidence=-6.0),
    ]
    (found,), tied = cause_quantities([], fits)
    assert (found.value, found.low, found.high, found.shrinkage) == (190.0, 64.0, 200.0, 0.1) and tied == ("tied",)
    assert cause_quantities([], fits[2:])[0] == (told["c"],)


def test_every_quantity_that_is_widened_is_one_that_is_fitted() -> None:
    heater = scenario().heater("loaded")
    keys = {key for key, *_ in derived_quantities(heater)}
    keys |= {parameter.key for fault in fault_models(heater) for parameter in fault.parameters}
    assert keys.issuperset(LAWS_APART) and all(keys.issuperset(apart) for apart in FAULTS_APART.values())
