# SPDX-License-Identifier: GPL-3.0-or-later
"""A real search for a winding, in a small drawer."""

import pytest

import heatsim as hs
from heatsim.studies.wind import build_yield, card
from tests.support.once import short_search


@pytest.fixture(scope="package")
def found(checkout):
    scenario = hs.load(checkout / "scenarios" / "bench-heater-small-rings.toml")
    result = short_search(scenario)
    return result, card(result.best, scenario), build_yield(scenario, result.best.candidate, result.duty)
