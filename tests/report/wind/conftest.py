# SPDX-License-Identifier: GPL-3.0-or-later
"""A real search for a winding, in a small drawer."""

import tomllib

import pytest

import heatsim as hs
from heatsim.studies.wind import build_yield, card


@pytest.fixture(scope="package")
def found(checkout):
    scenario = hs.load(checkout / "scenarios" / "bench-heater-small-rings.toml")
    drawer = tomllib.loads(scenario.text)["wind"]
    quick = {"wind.ring": drawer["ring"][1:], "wind.wire": drawer["wire"][1:], "wind.confirm": 1, "wind.most_strands": 2}
    result = hs.wind(scenario.change({**quick, "supply.rise_time": "300 us"}))
    return result, card(result.best, scenario), build_yield(scenario, result.best.candidate, result.duty)
