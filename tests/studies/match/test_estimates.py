# SPDX-License-Identifier: GPL-3.0-or-later
"""Stated errors of fitted quantities."""

from __future__ import annotations

import math

import pytest

from heatsim.studies.match.estimates import LAWS_APART, _widened, derived_quantities
from heatsim.studies.match.faults import fault_models
from heatsim.studies.match.result import FittedQuantity
from tests.support.matching import scenario

pytestmark = pytest.mark.numerics


def quantity(key: str) -> FittedQuantity:
    return FittedQuantity(key, "of a test", 0.1, 0.098, 0.103, "ohm", None, 0.9)


def test_what_laws_differ_by_is_added_in_quadrature() -> None:
    """1.96 standard deviations of 2 % beside -2 % and +3 %."""
    wide = _widened(quantity("coil.resistance_ohm"))
    for end, own in ((wide.low, math.log(0.98)), (wide.high, math.log(1.03))):
        assert abs(math.log(end / 0.1)) == pytest.approx(math.hypot(own, 0.0392), rel=1e-3)
    assert _widened(quantity("choke.left.inductance_h")) == quantity("choke.left.inductance_h")


def test_every_quantity_that_is_widened_is_one_that_is_fitted() -> None:
    heater = scenario().heater("loaded")
    keys = {key for key, *_ in derived_quantities(heater)}
    keys |= {parameter.key for fault in fault_models(heater) for parameter in fault.parameters}
    assert keys.issuperset(LAWS_APART)
