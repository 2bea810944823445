# SPDX-License-Identifier: GPL-3.0-or-later
"""Maps from headrooms by formula."""

import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.map import operating_map
from tests.support.map_pools import FormulaPool, dead_below, two_limits


def mapped(scenario, formula, horizontal="load = 0 % to 100 %", vertical="supply.voltage = 20 V to 60 V", **more):
    return operating_map(scenario, horizontal, vertical, FormulaPool(formula), **more)


@pytest.fixture(scope="module")
def scenario(checkout):
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


@pytest.fixture(scope="module")
def crossing(scenario):
    return mapped(scenario, two_limits)


@pytest.fixture(scope="module")
def dead(scenario):
    return mapped(scenario, dead_below)
