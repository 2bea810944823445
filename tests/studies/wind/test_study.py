# SPDX-License-Identifier: GPL-3.0-or-later
"""Choosing a winding from the drawer: what fits, what is ranked, and that the choice holds when simulated."""

import pytest

import heatsim as hs
from heatsim.errors import InputError
from heatsim.studies.wind import ring_or_turns, wind
from heatsim.studies.wind.study import pareto
from tests.support.once import short_search


@pytest.fixture(scope="module")
def small(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater-small-rings.toml")


@pytest.fixture(scope="module")
def found(small):
    return short_search(small)


@pytest.mark.slow
def test_the_drawer_of_the_small_rings_holds_a_winding_that_check_grades_holds(found):
    assert found.best is not None
    again = hs.check(found.best.result.scenario)
    assert again.verdict == "holds"


def test_every_candidate_fits_bore_and_drawer(found):
    table = found.scenario.tables.wind
    wires = {wire.name: wire.on_hand for wire in table.wire}
    rings = {ring.name: ring.on_hand for ring in table.ring}
    assert found.considered >= len(found.candidates) > 100
    for one in found.candidates:
        assert one.free_bore >= table.free_bore - 1e-9
        assert 2 * one.strands * one.cut_length <= wires[one.wire]
        assert 2 * one.stack <= rings[one.ring]
        assert one.choke.core.winding.turns == one.turns


def test_no_candidate_has_more_copper_in_its_hole_than_check_allows(small, found):
    assert max(one.choke.core.winding.copper_fill(one.choke.core.ring) for one in found.candidates) <= 0.40
    assert small.tables.limits.choke_copper_fill == 0.40 and len(found.candidates) < found.considered


def key(one):
    """What distinguishes a candidate from every other."""
    return one.ring, one.stack, one.turns, one.wire, one.strands


def test_candidates_are_unique_and_ranked_with_those_that_keep_every_limit_first(found):
    keys = [key(one) for one in found.candidates]
    assert len(keys) == len(set(keys))
    kept = [one.headroom >= 0.2 for one in found.candidates]
    assert kept == sorted(kept, reverse=True)


def test_nothing_on_the_front_is_beaten(found):
    def merits(one):
        return one.headroom, -one.estimate.temperature, -one.copper_mass

    front = {key(one) for one in found.front}
    for one in found.candidates[::37]:
        beaten = any(
            all(a >= b for a, b in zip(merits(x), merits(one), strict=True)) and merits(x) != merits(one) for x in found.candidates
        )
        assert (key(one) in front) != beaten
    assert pareto(found.front) == found.front


def test_a_second_ring_halves_the_flux_density_and_lowers_core_loss(found):
    # Common practice, no source: at fixed volts and frequency doubling the area halves the flux swing and lowers total
    # core loss (P ~ B^b V with b > 1, B halved, V doubled); stacking two equal rings doubles the inductance.
    one = next(each for each in found.candidates if each.ring == "40 mm ring" and each.stack == 1 and each.turns == 15)
    table = {each.change: each for each in ring_or_turns(one, found.duty)}
    before, after = table["as it is"], table["2 rings, same turns"]
    core = before.choke.core
    assert after.choke.curve.inductance_zero == pytest.approx(2 * before.choke.curve.inductance_zero, rel=1e-3)
    assert after.choke.core.flux_density(1.0) == pytest.approx(core.flux_density(1.0) / 2)
    beta = core.material.loss.local_steinmetz(0.1, 1e5)[2]
    assert after.estimate.core_loss == pytest.approx(before.estimate.core_loss * 2 ** (1 - beta), rel=0.02)
    assert after.choke.resistance > before.choke.resistance


@pytest.mark.parametrize(("change", "word"), [({"wind.case": "molten"}, "is no case"), ({"wind.confirm": 0}, "from 1 to 20")])
def test_bad_drawers_are_refused(small, change, word):
    with pytest.raises(InputError, match=word):
        wind(small.change(change))


def test_a_scenario_without_a_drawer_says_what_is_needed(small):
    text = small.text[: small.text.index("[wind]")] + small.text[small.text.index("[limits]") :]
    with pytest.raises(InputError, match=r"\[\[wind.ring\]\]"):
        wind(hs.load(small.label).from_text(text))


def test_mistakes_in_the_drawer_name_their_line(small):
    wrong = small.text.replace('name = "27 mm ring"', 'nam = "27 mm ring"')
    with pytest.raises(InputError, match="did you mean name") as caught:
        small.from_text(wrong, "x.toml")
    line = wrong[: wrong.index('nam = "27')].count("\n") + 1
    assert f"x.toml:{line}: wind.ring.1.nam" in str(caught.value)
