# SPDX-License-Identifier: GPL-3.0-or-later
"""Maps from headrooms by formula."""

import pytest

from heatsim.scenario.scenario import Scenario
from tests.support.map_pools import dead_below, mapped, two_limits


@pytest.fixture(scope="module")
def scenario(checkout):
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


@pytest.fixture(scope="module")
def crossing(scenario):
    return mapped(scenario, two_limits)


@pytest.fixture(scope="module")
def dead(scenario):
    return mapped(scenario, dead_below)
