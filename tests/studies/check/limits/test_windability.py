# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether a choke can be wound is judged in `check`: copper against the hole, and what is left of the hole."""

import math

import pytest

import heatsim as hs
from heatsim.studies.check import case_limits
from heatsim.verdict import judge

FILL, HOLE = "windability, copper fill", "windability, hole left"


@pytest.fixture(scope="module")
def small(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater-small-rings.toml")


def findings(scenario, changes=None):
    """Findings on the left choke by name, fill and hole computed by hand for 1.6 mm wire, 1.706 mm with its enamel."""
    chosen = scenario.change(changes or {})
    heater = chosen.heater("loaded")
    core = heater.chokes[0].core
    fill = 0.0 if core is None else core.winding.copper_fill(core.ring)
    hole = 0.0 if core is None else core.winding.fill(core.ring).free_diameter
    measures = {"choke.left.copper_fill_ratio": fill, "choke.left.hole_left_m": hole}
    found = judge(measures, case_limits(chosen.case("loaded"), heater, measures), 0.1)
    return {finding.limit: finding for finding in found if finding.part == "choke.left"}


def test_forty_wires_through_a_small_hole_fail(small):
    found = findings(small)
    assert found[FILL].value == pytest.approx(40 * 1.6**2 / 12.7**2)
    assert found[FILL].grade == found[HOLE].grade == "fails"
    assert "40 wires of 1.6 mm through a 12.7 mm hole" in found[FILL].cause and "no source" in found[FILL].cause
    assert found[FILL].basis == "common practice"


def test_a_single_layer_on_a_large_ring_holds(checkout):
    found = findings(hs.load(checkout / "scenarios" / "bench-heater.toml"))
    assert found[FILL].value == pytest.approx(40 * 1.6**2 / 24.1**2)
    assert found[FILL].grade == found[HOLE].grade == "holds"


def test_the_hole_wanted_is_the_builders_or_what_the_last_turn_needs(small):
    assert findings(small)[HOLE].allowed == pytest.approx(4e-3)  # [wind] free_bore
    narrow = findings(small, {"wind.free_bore": "1 mm"})[HOLE]
    overall = small.heater("loaded").chokes[0].core.winding.overall
    assert narrow.allowed == pytest.approx(2 * overall) and narrow.basis == "common practice"  # two circles side by side
    assert "strands of one turn together" in narrow.cause
    four = findings(small, {"wind.free_bore": "1 mm", "choke.turns": 5, "choke.wire.strands": 4})[HOLE]
    assert four.allowed == pytest.approx((1 + math.sqrt(2)) * overall)  # four circles in one


def test_the_fill_allowed_is_the_builders_where_given(small):
    found = findings(small, {"limits.choke_copper_fill": "70 %"})[FILL]
    assert found.grade == "holds" and found.basis == "builder"


def test_a_measured_choke_is_wound_already(small):
    found = findings(small, {"choke.measured.inductance": "65 uH", "choke.measured.resistance": "8 mohm"})
    assert not [name for name in found if "windability" in name]
