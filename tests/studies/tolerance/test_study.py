# SPDX-License-Identifier: GPL-3.0-or-later
"""Yield, worst case and influence against closed forms and against plain sampling of functions that need no simulator."""

from collections.abc import Callable, Iterator
from functools import cache

import numpy as np
import pytest

from heatsim.studies.points import Law, drawn_offsets
from heatsim.studies.tolerance.estimate import kept, missed, ran
from heatsim.studies.tolerance.result import Sample
from heatsim.studies.tolerance.study import Study
from heatsim.studies.tolerance.surface import Surface, terms
from heatsim.waves import Array

Rooms = Callable[[Array], Array]


def tilted(x: Array) -> Array:
    """One limit that falls along the first field: it holds up to x1 = 0.6, for 80 % of an even band."""
    return np.stack([0.3 - 0.5 * x[:, 0], np.full(len(x), 0.9)], axis=1)


def rounded(x: Array) -> Array:
    """It holds inside an ellipse with half axes 0.8 and 1.0 in two fields, for pi/4 * 0.8 of an even square; others do nothing."""
    inside = 1 - (x[:, 0] / 0.8) ** 2 - x[:, 1] ** 2
    return np.stack([0.4 * inside, 0.6 + 0.05 * x[:, 2]], axis=1)


def kinked(x: Array) -> Array:
    """Three limits that end it at different ends: x1 <= 0.7, x2 >= -0.8, x1 + x3 <= 1.2, each bent a little."""
    return np.stack([np.tanh(0.7 - x[:, 0]), 0.5 * np.sinh(x[:, 1] + 0.8), 0.3 * np.expm1(1.2 - x[:, 0] - x[:, 2])], axis=1)


def simulator(rooms: Rooms, runs: Callable[[Array], Array] | None = None):
    """Something that answers as simulated heaters do."""

    def simulate(places: Array, cold: bool) -> Iterator[tuple[int, Sample]]:
        found = rooms(places)
        ok = np.ones(len(places), dtype=bool) if runs is None else runs(places)
        for k in reversed(range(len(places))):  # in any order
            named = {f"on: part: limit {j}": float(room) for j, room in enumerate(found[k])} if ok[k] else {}
            told = {"on: tank.frequency_hz": 1e5 * (1 + 0.1 * float(places[k, 0]))} if ok[k] else {}
            yield k, Sample(tuple(map(float, places[k])), named, told, {} if ok[k] else {"on": "it latches"}, cold)

    return simulate


def study(rooms: Rooms, fields: int, law: Law = "uniform", seed: int = 1, most: int = 128, error: float = 0.02, **more) -> Study:
    found = Study(fields, simulator(rooms, **more), law, seed, most, error, lambda _: None)
    found.run()
    return found


known = cache(study)
"""The same study of the same function once only."""


def plain(rooms: Rooms, fields: int, law: Law, count: int = 2**18) -> float:
    """Yield by plain random numbers."""
    rng = np.random.default_rng(5)
    x = rng.normal(0, 1 / 3, (count, fields)) if law == "normal" else rng.uniform(-1, 1, (count, fields))
    return float(np.mean(rooms(x).min(axis=1) >= 0))


@pytest.mark.parametrize("law", ["uniform", "normal"])
@pytest.mark.parametrize(("rooms", "fields"), [(tilted, 2), (rounded, 3), (kinked, 5)])
@pytest.mark.parametrize("seed", [1, 2])
def test_the_yield_is_within_its_error(rooms: Rooms, fields: int, law: Law, seed: int) -> None:
    found, true = known(rooms, fields, law, seed), plain(rooms, fields, law)
    assert found.share is not None and found.reached
    plainly = 0.002  # of the plain numbers
    assert found.share.low - plainly <= true <= found.share.high + plainly
    assert found.share.error <= 0.02


def bent(rng: np.random.Generator, fields: int) -> Rooms:
    """Three limits with slopes, curvature, a wave and products of fields, all drawn."""
    slopes, curves = rng.normal(0, 0.5, (3, fields)), rng.normal(0, 0.25, (3, fields))
    level, waves, phases = rng.uniform(0.2, 0.9, 3), rng.uniform(0.5, 2, (3, fields)), rng.uniform(0, 6, 3)
    products = rng.normal(0, 0.08, (3, fields, fields))

    def rooms(x: Array) -> Array:
        smooth = level + x @ slopes.T + x**2 @ curves.T + 0.1 * np.sin(x @ waves.T + phases)
        return smooth + np.einsum("ni,jik,nk->nj", x, products, x)

    return rooms


def test_the_stated_error_holds_over_drawn_heaters() -> None:
    """Of twelve at 95 % at most two may lie outside (binomial law, one in fifty)."""
    rng, outside, samples = np.random.default_rng(0), 0, []
    for seed in range(1, 13):
        fields = int(rng.integers(2, 6))
        rooms = bent(rng, fields)
        found, true = study(rooms, fields, seed=seed, most=96), plain(rooms, fields, "uniform", 2**16)
        assert found.share is not None and found.reached
        outside += not found.share.low - 0.003 <= true <= found.share.high + 0.003
        samples.append(len(found.samples))
    assert outside <= 2 and np.mean(samples) < 50


def test_closed_forms_of_the_yield() -> None:
    """Areas: a cut at 0.6 of an even band from -1 to 1 leaves 80 %, an ellipse pi a b / 4 of the square."""
    assert plain(tilted, 2, "uniform") == pytest.approx(0.8, abs=0.004)
    assert plain(rounded, 3, "uniform") == pytest.approx(np.pi * 0.8 / 4, abs=0.004)


@pytest.mark.parametrize(("rooms", "fields"), [(tilted, 2), (rounded, 3), (kinked, 5)])
def test_a_tenth_of_the_plain_samples_for_the_same_error(rooms: Rooms, fields: int) -> None:
    """Plain samples know a share to 2 sqrt(p (1 - p)/n) at 95 % (the binomial law)."""
    found = known(rooms, fields, "uniform", 1)
    assert found.share is not None
    share = found.share
    needed = 4 * share.value * (1 - share.value) / share.error**2
    assert len(found.samples) <= needed / 10


@pytest.mark.parametrize(("rooms", "fields", "worst"), [(tilted, 2, -0.2), (kinked, 5, np.tanh(-0.3))])
def test_the_worst_corner_is_found_and_simulated_from_rest(rooms: Rooms, fields: int, worst: float) -> None:
    """The least over the box by hand: 0.3 - 0.5 at x1 = 1; tanh(0.7 - 1), against 0.3 expm1(-0.8) = -0.165 and 0.5 sinh(-0.2)."""
    found = known(rooms, fields, "uniform", 1)
    assert found.worst is not None and found.worst.sample.cold
    assert found.worst.sample.least[0] == pytest.approx(worst, abs=1e-6)
    assert abs(found.worst.told - worst) <= max(found.worst.error, 1e-3)


def test_heaters_that_do_not_run_count_against_the_yield() -> None:
    found = study(tilted, 2, runs=lambda x: x[:, 1] < 0.8, most=80)
    assert found.share is not None and not all(each.runs for each in found.samples)
    assert found.share.low <= 0.8 * 0.9 <= found.share.high, "80 % keep the limit, 90 % run"
    assert not found.reached, "a handful of samples cannot tell to 2 % how many do not run"


@pytest.mark.parametrize("seed", [1, 4, 6])
def test_corners_that_are_alike_are_not_sampled_twice(seed: int) -> None:
    """Two fields that do nothing: every worst place has neighbours that are as bad."""
    rooms = bent(np.random.default_rng(seed), 3)
    found = study(lambda x: rooms(x[:, :3]), 5, seed=seed)
    assert found.share is not None and found.worst is not None
    surface = found.surface()
    assert surface is not None and len({tuple(each) for each in surface.places}) == len(surface.places)


def test_a_worst_heater_that_does_not_run_stays_the_worst() -> None:
    """The only corner at which both fields are high does not run; no heater that is simulated later takes its place."""

    def slanted(x: Array) -> Array:
        return np.stack([0.7 - 0.5 * x[:, 0] - 0.1 * x[:, 1] ** 3 - 0.05 * x[:, 1]], axis=1)

    found = study(slanted, 2, runs=lambda x: (x < 0.99).any(axis=1), most=40)
    assert all(each.runs for each in found.samples[: found.even])
    assert found.worst is not None and not found.worst.sample.runs and found.worst.sample.offsets == (1.0, 1.0)


def test_nothing_is_told_where_nothing_runs() -> None:
    found = study(tilted, 2, runs=lambda x: np.zeros(len(x), dtype=bool))
    assert found.share is None and found.worst is None and not found.limits
    assert len(found.samples) < 60


def test_a_limit_that_is_not_always_judged_is_named_and_left_out() -> None:
    def simulate(places: Array, cold: bool) -> Iterator[tuple[int, Sample]]:
        for k, sample in simulator(tilted)(places, cold):
            rooms = dict(sample.rooms) | ({"on: part: sometimes": 0.1} if places[k, 0] > 0 else {})
            yield k, Sample(sample.offsets, rooms, sample.measures, sample.trouble, cold)

    found = Study(2, simulate, "uniform", 1, 60, 0.02, lambda _: None)
    found.run()
    assert found.unjudged == ("on: part: sometimes",) and found.share is not None


def test_samples_are_the_same_again() -> None:
    first, again = known(kinked, 5, "uniform", 1), study(kinked, 5)
    assert [each.offsets for each in first.samples] == [each.offsets for each in again.samples]


def test_the_error_of_a_surface_is_that_of_samples_left_out() -> None:
    """On a plane nothing is off; on a bent function the error told is that found at new places, within a factor of 3."""
    places = drawn_offsets(3, 40, 3, "uniform")
    even = Surface(places, places @ np.array([[1.0], [2.0], [-0.5]]) + 3)
    assert even.error[0] < 1e-9
    values = np.exp(0.8 * places[:, :1]) * np.cos(places[:, 1:2])
    bent, new = Surface(places, values), np.random.default_rng(2).uniform(-0.9, 0.9, (500, 3))
    found = np.sqrt(np.mean((bent.at(new)[:, 0] - np.exp(0.8 * new[:, 0]) * np.cos(new[:, 1])) ** 2))
    assert found / 3 < bent.error[0] < 3 * found
    assert bent.distance(np.full((1, 3), 2.0))[0] > 2, "far away"
    assert even.least_error(1) < 1e-9 and bent.least_error(1) == pytest.approx(bent.error[0])


def test_noise_is_smoothed_and_what_is_smooth_goes_through_every_sample() -> None:
    rng = np.random.default_rng(4)
    places, new = drawn_offsets(3, 48, 3, "uniform"), rng.uniform(-1, 1, (400, 3))
    noisy, smooth = 0.5 + 0.1 * places[:, 0] + rng.normal(0, 0.1, 48), np.exp(0.6 * places[:, 1])
    surface = Surface(places, np.stack([noisy, smooth], axis=1))
    assert surface.at(places)[:, 1] == pytest.approx(smooth)
    assert np.abs(surface.at(new)[:, 0] - 0.5 - 0.1 * new[:, 0]).max() < 0.12, "no overshoot between samples"
    assert surface.error[0] == pytest.approx(0.1, rel=0.35)


def test_terms_of_a_polynomial() -> None:
    """1 + d + d (d + 1)/2 of a quadratic."""
    assert [terms(d, 2) for d in (1, 2, 5)] == [3, 6, 21] and terms(5, 1) == 6


def test_shares() -> None:
    lowest = np.array([-0.1, -0.01, 0.01, 0.2])
    share = kept(lowest, [lowest + 0.02, lowest - 0.02])  # yields of 75 % and 25 %
    assert share.value == 0.5
    assert share.error == pytest.approx(0.5 - 0.0), "sqrt(1/2 (0.25^2 + 0.25^2)) = 0.25, twice that and cut at the ends"
    assert kept(lowest, [lowest] * 8).error == pytest.approx(0.003)
    # Wilson 1927: 18 of 20 at z = 2 lies between (0.9 + 0.1)/1.2 -+ (2/1.2) sqrt(0.09/20 + 4/1600)
    half = 2 / 1.2 * np.sqrt(0.09 / 20 + 4 / 1600)
    assert (ran(18, 20).low, ran(18, 20).high) == (pytest.approx(1 / 1.2 - half), pytest.approx(1 / 1.2 + half))
    assert ran(20, 20).low == 1.0 and missed(30) == pytest.approx(0.1)


def test_influence_of_a_sum_is_by_its_squares() -> None:
    """Sobol': of a1 x1 + a2 x2 with even fields the total effects are ai^2/(a1^2 + a2^2)."""

    def sum_of(x: Array) -> Array:
        return np.stack([5 + 3 * x[:, 0] + 1 * x[:, 1]], axis=1)

    found = study(sum_of, 2)
    surface = found.surface()
    assert surface is not None
    spread = found._spreads(surface, ["a", "b"])[1]
    assert {one.field: pytest.approx(one.total, abs=0.02) for one in spread.influences} == {"a": 0.9, "b": 0.1}
    assert {one.field: pytest.approx(one.moves) for one in spread.influences} == {"a": 6.0, "b": 2.0}
    assert spread.deviation == pytest.approx(np.sqrt(10 / 3), rel=0.01)
