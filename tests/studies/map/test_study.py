# SPDX-License-Identifier: GPL-3.0-or-later
"""Operating maps against headrooms by formula, whose boundary is known exactly, and against simulations."""

import math
from collections import Counter

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import check
from heatsim.studies.map import operating_map
from heatsim.studies.map.surface import family
from heatsim.studies.store import Store
from heatsim.studies.wind import duty_of, estimate
from heatsim.verdict.judge import headroom
from tests.support.layers import quick_of
from tests.support.map_pools import (
    CHOKE,
    SUPPLY,
    FormulaPool,
    dead_below,
    island,
    jump,
    mapped,
    numbers,
    result_of,
    two_limits,
    two_limits_end,
)

LOAD, VOLTS = "load = 0 % to 100 %", "supply.voltage = 20 V to 60 V"


@pytest.fixture(scope="module")
def scenario(checkout):
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


@pytest.fixture(scope="module")
def crossing(scenario):
    """The map of two limits that cross."""
    return mapped(scenario, two_limits)


def upper_ends(result, looks=401):
    """Places [1] across the map and the upper end of what is expected to be usable there [1]."""
    places = np.linspace(0, 1, looks)
    return places, np.array([result.predicted(float(u)).course().ceiling for u in places])


def off_boundary(result, truth):
    """Largest distance of the map's upper end from the true one, square to it, as a share of the axes."""
    places, found = upper_ends(result)
    true = np.array([(min(truth(u), 60.0) - 20.0) / 40.0 for u in places])
    return float((np.abs(found - true) / np.hypot(1.0, np.gradient(true, places))).max())


def test_the_boundary_is_within_the_accuracy_everywhere(crossing):
    assert off_boundary(crossing, two_limits_end) < crossing.accuracy
    assert crossing.gaps == ()
    assert 0 < crossing.missed <= crossing.accuracy


def test_every_end_is_enclosed_by_two_evaluated_points_and_within_them(crossing):
    places = {(sample.x, sample.y) for sample in crossing.evidence.samples}
    for reach in crossing.answer.reaches:
        assert (reach.x, reach.upper.low) in places and (reach.x, reach.upper.high) in places
        assert reach.upper.high - reach.upper.low <= 0.005 * 40 * 1.01
        assert reach.upper.low <= two_limits_end(reach.x) <= reach.upper.high
        assert reach.stop == pytest.approx(two_limits_end(reach.x), abs=0.01)


def test_the_corner_is_found_and_each_side_of_it_has_its_own_limit(crossing):
    low, high = 0.5, 1.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if two_limits_end(middle) < 48 / (0.1 + middle) else (low, middle)
    assert min(abs(reach.x - low) for reach in crossing.answer.reaches) < 2 * crossing.accuracy
    for reach in crossing.answer.reaches:
        assert reach.upper.ends == (CHOKE if reach.x < low else SUPPLY)
        others = {SUPPLY: 48 / (0.1 + reach.x), CHOKE: 50 / math.sqrt(1 + 0.15 * math.sin(3 * reach.x))}
        later = max(others, key=others.get)
        if others[later] < 60:
            assert (reach.second.ends, reach.second.at) == (later, pytest.approx(others[later], abs=0.2))
        else:
            assert reach.second is None


def grid_that_serves(formula, truth, accuracy):
    """Points of the smallest square grid (2^n+1 a side) whose bilinear headroom is nil within the accuracy of the truth."""
    places = np.linspace(0, 1, 401)
    for side in (5, 9, 17, 33, 65, 129, 257):
        us, volts = np.linspace(0, 1, side), np.linspace(20, 60, side)
        least = np.array([[min(formula(u, v).values()) for v in volts] for u in us])
        fine = np.linspace(20, 60, 2001)
        worst = 0.0
        for u in places:
            row = [np.interp(u, us, least[:, k]) for k in range(side)]
            inside = np.interp(fine, volts, row) >= 0
            slope = (truth(u + 1e-4) - truth(u - 1e-4)) / 2e-4 / 40
            worst = max(worst, abs(fine[inside].max() - truth(u)) / 40 / math.hypot(1, slope))
        if worst <= accuracy:
            return side**2
    raise AssertionError("no grid serves")


def test_it_takes_less_than_a_third_of_the_points_of_a_grid_that_serves_as_well(crossing):
    grid = grid_that_serves(two_limits, two_limits_end, crossing.accuracy)
    assert len(crossing.evidence.samples) < grid / 3
    assert len(crossing.evidence.samples) < 60


def test_a_tighter_accuracy_is_kept_too(scenario):
    fine = mapped(scenario, two_limits, accuracy=0.001)
    assert off_boundary(fine, two_limits_end) < 0.001
    assert len(fine.evidence.samples) < 120


def test_where_it_does_not_start_is_found_by_halving_and_followed(scenario):
    found = mapped(scenario, dead_below)
    for reach in found.answer.reaches:
        assert reach.lower.ends == "dead"
        assert reach.lower.low <= 24 + 10 * reach.x**2 <= reach.lower.high
        assert reach.lower.high - reach.lower.low <= 0.2 * 1.01
        assert reach.stop == pytest.approx(two_limits_end(reach.x), abs=0.01)
    for u in np.linspace(0, 1, 101):
        edge = found.predicted(float(u)).course().edges[0]
        assert 20 + 40 * edge.at == pytest.approx(24 + 10 * u**2, abs=0.2)
    assert len(found.evidence.samples) < 100


def test_a_jump_in_a_headroom_is_enclosed_all_the_same(scenario):
    found = mapped(scenario, jump)
    for reach in found.answer.reaches:
        assert reach.upper.low <= 38 + 4 * reach.x <= reach.upper.high
        assert reach.upper.high - reach.upper.low <= 0.2 * 1.01
        assert reach.upper.ends == CHOKE
    assert off_boundary(found, lambda load: 38 + 4 * load) < found.accuracy


def test_a_steep_boundary_and_where_nothing_is_usable(scenario):
    found = mapped(scenario, lambda load, volts: {SUPPLY: 1 - load * volts / 18, "switch.left: drain voltage": 1 - volts / 70})
    assert off_boundary(found, lambda load: 18 / max(load, 1e-3) if load < 0.9 else 20.0) < found.accuracy
    assert found.answer.reference.start is None and found.answer.reference.fails == SUPPLY
    ((low, high),) = found.answer.nowhere
    assert (low, high) == (pytest.approx(0.9, abs=0.006), 1.0)


def test_an_island(scenario):
    found = mapped(scenario, island)
    half = 0.4 * math.sqrt(0.2)
    (first, low), (high, last) = found.answer.nowhere
    assert (first, low, high, last) == (0.0, pytest.approx(0.5 - half, abs=0.006), pytest.approx(0.5 + half, abs=0.006), 1.0)
    middle = next(reach for reach in found.answer.reaches if reach.x == 0.5)
    assert middle.start == pytest.approx(40 - 12 * math.sqrt(0.2), abs=0.05)
    assert middle.stop == pytest.approx(40 + 12 * math.sqrt(0.2), abs=0.05)


def test_everything_and_nothing(scenario):
    everything = mapped(scenario, lambda load, volts: {SUPPLY: 1 - volts / 100}).answer
    assert (everything.reference.start, everything.reference.stop) == (20.0, 60.0)
    assert everything.reference.upper is None and everything.nowhere == ()
    for formula, cause in ((lambda load, volts: {SUPPLY: 0.5 - volts / 20}, SUPPLY), (lambda load, volts: "dead", "dead")):
        nothing = mapped(scenario, formula).answer
        assert nothing.reference.fails == cause
        assert nothing.nowhere == ((0.0, 1.0),)


def test_a_limit_that_cannot_be_judged_somewhere_is_not_passed_there(scenario):
    def known_to_45(load, volts):
        return {**two_limits(load, volts), CHOKE: 0.5 if volts < 45 else None, SUPPLY: 0.9}

    found = mapped(scenario, known_to_45)
    for reach in found.answer.reaches:
        assert reach.upper.low <= 45 <= reach.upper.high
        assert reach.upper.ends == f"not judged: {CHOKE}"
    never = mapped(scenario, lambda load, volts: {SUPPLY: 1 - volts / 50, CHOKE: None})
    assert never.evidence.unjudged == (CHOKE,)
    assert never.answer.reference.upper.ends == SUPPLY  # of the rest the map tells where it ends
    assert never.exit_code == 1 and mapped(scenario, lambda load, volts: {SUPPLY: 1 - volts / 50}).exit_code == 0


def test_a_stronger_supply_never_shrinks_what_is_usable(scenario):
    def rated(amperes):
        return lambda load, volts: {**two_limits(load, volts), SUPPLY: 1 - (0.1 + load) * volts / amperes}

    ends = [upper_ends(mapped(scenario, rated(amperes)), 81)[1] for amperes in (36, 42, 48, 60)]
    for less, more in zip(ends, ends[1:], strict=False):
        assert (more >= less - 0.005).all()
        assert more.mean() > less.mean()


def test_the_order_of_answers_does_not_matter(scenario):
    found = [
        operating_map(scenario, LOAD, VOLTS, FormulaPool(dead_below, size, seed=seed)) for size, seed in ((1, 1), (2, 2), (7, 3))
    ]
    points = [{(one.x, one.y) for one in each.evidence.samples} for each in found]
    assert points[0] == points[1] == points[2]
    assert found[0].answer == found[1].answer == found[2].answer


@pytest.mark.parametrize("most", quick_of([3, 26, 44, 60], 3, 44))
def test_interrupted_and_continued_it_is_the_same_map_and_nothing_is_computed_twice(scenario, tmp_path, most):
    whole = mapped(scenario, dead_below)
    first, second = FormulaPool(dead_below, 2, most), FormulaPool(dead_below, 3)
    with Store.open(tmp_path / "points.db") as store, pytest.raises(KeyboardInterrupt):
        operating_map(scenario, LOAD, VOLTS, first, store=store)
    with Store.open(tmp_path / "points.db") as store:
        again = operating_map(scenario, LOAD, VOLTS, second, store=store)
        third = operating_map(scenario, LOAD, VOLTS, FormulaPool(dead_below, most=0), store=store)
    assert again.answer == whole.answer == third.answer
    assert (again.known, again.evaluated) == (most, len(whole.evidence.samples) - most)
    assert max(Counter(map(str, first.seen + second.seen)).values()) == 1


def test_points_start_from_a_reached_neighbour_and_never_from_one_where_it_is_dead(scenario):
    pool = FormulaPool(dead_below)
    operating_map(scenario, LOAD, VOLTS, pool)
    looks, probes = pool.paths[:10], pool.paths[10:]
    assert all(path.start is None and path.confirm for path in looks)
    assert [len(path.points) for path in looks] == [5] * 4 + [1] * 6
    assert all((path.start is None) == path.confirm for path in probes)
    near_dead = [path for path in probes for load, volts in [numbers(path.points[0])] if abs(volts - 24 - 10 * load**2) < 1]
    assert near_dead and all(path.start is None for path in near_dead)
    followed = [path for path in probes if path.start is not None]
    assert len(followed) > 10
    assert all(numbers(path.points[0])[0] != 1.0 for path in followed)


def test_a_map_of_fields_that_bear_on_the_start_starts_every_point_from_rest(scenario):
    pool = FormulaPool(lambda rise, volts: {SUPPLY: 1 - volts / 50})
    operating_map(scenario, "supply.rise_time = 100 us to 5 ms", VOLTS, pool)
    assert all(len(path.points) == 1 and path.start is None for path in pool.paths)


def test_sides_that_are_alike_are_told_as_both(scenario):
    def sided(apart):
        return lambda load, volts: {CHOKE: 1 - volts / 50, CHOKE.replace(".left", ".right"): 1 - volts / 50 + apart}

    assert mapped(scenario, sided(0.01)).answer.reference.upper.both
    assert not mapped(scenario, sided(0.1)).answer.reference.upper.both


@pytest.mark.parametrize("headroom", [-0.2, None])
def test_a_run_that_misses_its_energy_balance_is_no_limit_of_the_heater_and_passes_nothing(scenario, headroom):
    odd = mapped(scenario, lambda load, volts: {**two_limits(load, volts), "run: energy balance": headroom if volts > 35 else 0.5})
    assert "run: energy balance" not in odd.evidence.keys
    assert {one.trusted for one in odd.evidence.samples if one.y > 35} == {False}
    for reach in odd.answer.reaches:
        assert reach.upper.low <= 35 <= reach.upper.high
        assert reach.upper.ends == "doubtful"


def test_a_run_that_did_not_settle_passes_nothing(scenario):
    moving = mapped(scenario, lambda load, volts: "drifting" if volts > 35 else two_limits(load, volts))
    assert {reach.upper.ends for reach in moving.answer.reaches} == {"drifting"}
    assert all(reach.upper.low <= 35 <= reach.upper.high for reach in moving.answer.reaches)


def test_points_run_out_and_it_says_so(scenario):
    short = mapped(scenario, jump, most_points=40)
    assert short.gaps
    assert len(short.evidence.samples) < 80
    assert short.as_dict()["unverified"] == [[low, high] for low, high in short.gaps]


def test_whole_numbers_on_both_axes(scenario):
    found = operating_map(
        scenario,
        "capacitors.count = 3 to 11",
        "choke.turns = 10 to 40",
        FormulaPool(lambda count, turns: {SUPPLY: 1 - turns / (10.5 + 2 * count)}),
        case="idle",
    )
    assert all(one.x == round(one.x) and one.y == round(one.y) for one in found.evidence.samples)
    for reach in found.answer.reaches:
        assert (reach.upper.low, reach.upper.high) == (10 + 2 * reach.x, 11 + 2 * reach.x)


def test_plain_data(crossing):
    told = crossing.as_dict()
    assert told["schema"] == "heatsim.map/1"
    assert told["answer"]["at_reference"]["upper"]["ends"] == SUPPLY
    assert len(told["points"]) == len(crossing.evidence.samples) == told["points_evaluated"]
    assert {point["least"] for point in told["points"]} <= set(told["limits"])
    assert [column["x"] for column in told["columns"]] == sorted(column["x"] for column in told["columns"])


def test_axes_that_make_no_sense(scenario):
    for more, words in (({"accuracy": 0.2}, "0.05 % to 5 %"), ({"first_look": 2}, "3 to 15"), ({"case": "ilde"}, "no such case")):
        with pytest.raises(InputError, match=words):
            mapped(scenario, two_limits, **more)
    with pytest.raises(InputError, match="two different fields"):
        operating_map(scenario, LOAD, "case.loaded.workpiece.share = 10 % to 90 %", FormulaPool(two_limits))


class Estimates(FormulaPool):
    """Headrooms as the quick estimates of `heatsim wind` have them: no simulation, real shapes."""

    def __init__(self):
        super().__init__(two_limits)

    def result(self, scenario, point):
        return result_of(self.margins(scenario.change(dict(point.fields)), point.case))

    @staticmethod
    def margins(scenario, case):
        heater, limits = scenario.heater(case), scenario.tables.limits
        duty = duty_of(heater)
        found = {choke.side: estimate(choke, duty) for choke in heater.chokes}
        margins = {
            SUPPLY: headroom(duty.mean_current * 2, heater.supply.current_rating),
            "switch.left: drain voltage": headroom(math.pi * duty.voltage, heater.switch.voltage_rating),
        }
        for side, one in found.items():
            left = headroom(one.remaining, limits.choke_inductance_remaining, lower=True)
            margins |= {
                f"choke.{side}: inductance left at the peak": left,
                f"choke.{side}: temperature": headroom(one.temperature, limits.choke_temperature),
            }
        return margins


def test_estimates_of_a_real_heater_are_followed(checkout):
    scenario = Scenario.from_file(checkout / "scenarios" / "bench-heater-small-rings.toml")
    found = operating_map(scenario, "load = 0 % to 150 %", "supply.voltage = 10 V to 60 V", Estimates())
    assert len(found.evidence.samples) < 80

    def usable(load, volts):
        fields = {"case.loaded.workpiece.share": f"{100 * load} %", "supply.voltage": f"{volts} V"}
        return min(Estimates.margins(scenario.change(fields), "loaded").values()) >= 0

    for load in np.linspace(0.07, 1.43, 7):
        low, high = 10.0, 60.0
        while high - low > 0.02:
            middle = (low + high) / 2
            low, high = (middle, high) if usable(load, middle) else (low, middle)
        expected = 10 + 50 * found.predicted(found.horizontal.share(load)).course().ceiling
        assert expected == pytest.approx(low, abs=0.25)
    assert len({family(reach.upper.ends) for reach in found.answer.reaches}) >= 1


@pytest.mark.slow
def test_a_map_of_simulations_ends_where_single_runs_do(checkout):
    small = Scenario.from_file(checkout / "scenarios" / "bench-heater-small-rings.toml")
    scenario = small.change(supply__rise_time="300 us", choke__wire__strands=1)  # two do not go through the hole, at no voltage
    found = operating_map(scenario, "load = 20 % to 100 %", "supply.voltage = 16 V to 32 V", accuracy=0.02, first_look=3)
    reach = found.answer.reference
    assert (reach.x, reach.start) == (1.0, 16.0)
    assert family(reach.upper.ends) == "choke: temperature"
    assert reach.stop < found.answer.reaches[0].stop
    within = 0.02 * 16
    for volts, holds in ((reach.stop - within, True), (reach.stop + within, False)):
        case = check(scenario.change(supply__voltage=f"{volts:.3f} V"), ["loaded"])["loaded"]
        least = min(finding.headroom for finding in case.findings if finding.headroom is not None)
        assert (least >= 0) == holds
