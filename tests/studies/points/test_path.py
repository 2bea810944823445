# SPDX-License-Identifier: GPL-3.0-or-later
"""Strips: where cold starts are made, what lies between, and that every outcome is what a cold start comes to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import heatsim as hs
from heatsim.engine.session import Session
from heatsim.engine.shooting import InitialGuess
from heatsim.measures.errors import stated_errors
from heatsim.netlist.deck import State
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import SWITCH_ON
from heatsim.studies.points import path as paths
from heatsim.studies.points.path import CONFIRMED, FOLLOWED, RIPPLED, evaluate_path
from heatsim.studies.points.point import ContinuationPath, Point, PointResult, failed
from heatsim.studies.points.same import relative_step, same_state, same_step
from heatsim.waves import Array, Waveforms
from tests.support.once import checked

pytestmark = pytest.mark.ngspice

SHARE = "case.loaded.workpiece.share"
COLD = ("cold start", "cold start, then periodic")
COARSE = {"simulate.steps_per_period": 100, "simulate.longest": "3 ms"}
"""Where outcomes and not figures are asked for."""

ALIKE = {"drain voltage": 5e-3, "mean current": 5e-3, "peak current of a device": 1e-2, "inductance left at the peak": 1e-2}
"""Limits that check and sweep put the same number to under a slow ripple, and how nearly."""

ALLOWED = {
    "tank.frequency_hz": 1e-3,
    "tank.peak_voltage_v": 5e-3,
    "drain.left.peak_voltage_v": 5e-3,
    "choke.left.peak_current_a": 1e-2,
    "choke.right.peak_current_a": 1e-2,
    "supply.mean_current_a": 5e-3,
}


@pytest.fixture(scope="module")
def scenario(checkout) -> Scenario:  # type: ignore[no-untyped-def]
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def points(field: str, *values: str) -> tuple[Point, ...]:
    return tuple(Point(((field, value),), "loaded") for value in values)


def evaluated(session: Session, scenario: Scenario, path: ContinuationPath) -> list[PointResult]:
    """Results in the order of the points; each is told exactly once."""
    found: dict[int, PointResult] = {}

    def emit(place: int, result: PointResult) -> None:
        assert place not in found
        found[place] = result

    evaluate_path(session, scenario, path, emit)
    assert sorted(found) == list(range(len(path.points)))
    return [found[place] for place in range(len(path.points))]


@pytest.fixture(scope="module")
def volts(session: Session, scenario: Scenario) -> list[PointResult]:
    """A path over the supply voltage; the last but one is at the scenario's own 42 V."""
    return evaluated(session, scenario, ContinuationPath(points("supply.voltage", "36 V", "38 V", "40 V", "42 V", "44 V")))


def one_period(waves: Waveforms, name: str) -> Array:
    """A signal over one period from where the coil's current rises through zero, at 400 phases. The tank voltage bounces where the
    drains change over, and crosses zero more than once."""
    coil, time = waves["coil.current"], waves.time
    rising = np.flatnonzero((coil[:-1] < 0) & (coil[1:] >= 0))[:2]
    start, stop = (time[k] - coil[k] * (time[k + 1] - time[k]) / (coil[k + 1] - coil[k]) for k in rising)
    return np.interp(start + np.linspace(0, 1, 400) * (stop - start), time, waves[name])


@pytest.mark.numerics
def test_ends_are_started_cold_and_the_rest_followed_to_what_check_finds(volts: list[PointResult], scenario: Scenario) -> None:
    assert [result.method in COLD for result in volts] == [True, False, False, False, True]
    assert {result.method for result in volts[1:-1]} == {"periodic"}
    assert {result.outcome for result in volts} == {"settled"}
    check = checked(scenario)["loaded"]
    for key, allowed in ALLOWED.items():
        assert volts[3].measures[key] == pytest.approx(check.measures[key], rel=allowed), key
    assert volts[3].measures["tank.thd_ratio"] == pytest.approx(check.measures["tank.thd_ratio"], abs=1e-3)
    assert volts[3].waveforms is not None and check.waveforms is not None and check.window is not None
    periods = check.waveforms.between(check.window[1] - 3 / check.measures["tank.frequency_hz"], check.window[1])
    for name in ("tank.voltage", "choke.left.current"):
        one, other = one_period(volts[3].waveforms.repeated(3), name), one_period(periods, name)
        assert np.abs(one - other).max() < 0.01 * np.ptp(other), name


def test_a_small_ripple_has_the_error_that_its_period_does_not_close(volts: list[PointResult]) -> None:
    for result in volts:
        assert result.waveforms is not None
        current = result.waveforms["supply.current"]
        apart = abs(current[-1] - current[0])
        assert 0 < apart <= stated_errors(result.measures)["supply.ripple_current_a"] < apart + 0.1 * np.ptp(current)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("field", "values", "ends"),
    [
        ("gate.supply_voltage", ("14 V", "12 V", "3.65 V", "3.61 V"), "dead"),
        ("gate.pull_up", ("68 ohm", "100 ohm", "3 kohm", "5 kohm"), "latched"),
    ],
)
def test_a_path_into_a_sick_region_tells_what_cold_starts_come_to(
    session: Session, scenario: Scenario, field: str, values: tuple[str, ...], ends: str
) -> None:
    sick = scenario.change(COARSE | ({"gate.supply_voltage": "8 V"} if ends == "latched" else {}))
    found = evaluated(session, sick, ContinuationPath(points(field, *values)))
    assert found[-1].outcome == ends
    assert {result.method for result in (found[0], found[-1])} <= set(COLD)
    alone = [evaluated(session, sick, ContinuationPath((point,)))[0] for point in points(field, *values)[1:-1]]
    assert [result.outcome for result in found[1:-1]] == [result.outcome for result in alone]


@pytest.mark.slow
def test_a_periodic_state_that_slowly_repels_is_not_said_to_be_reached(session: Session, scenario: Scenario) -> None:
    """Small gapped chokes at 60 V, of strands so thin that skin and proximity effect damp next to nothing. The periodic state's
    choke peak is 60 A, but what is off it grows by 0.6 % a period (over 800 free periods), and a cold start swings between 36 and
    82 A for as long as it is simulated."""
    choke = {
        "inductance": "60 uH",
        "resistance": "15 mohm",
        "saturation_current": "3 A",
        "knee": "sharp",
        "air_inductance": "1.5 uH",
    }
    wire = {"diameter": "0.1 mm", "strands": 10, "lay": "twisted"}
    slow = {"supply.rise_time": "1 ms", "simulate.longest": "6 ms", SHARE: "50 %"}
    small = scenario.change({"choke.measured": choke, "choke.wire": wire} | slow)
    found = evaluated(session, small, ContinuationPath(points("supply.voltage", "60 V")))[0]
    assert (found.outcome, found.method) == ("drifting", "cold start")
    assert found.measures["choke.right.peak_current_a"] > 75


@pytest.mark.slow
def test_a_slow_ripple_is_judged_at_its_worst_instant_by_check_and_sweep_alike(session: Session, scenario: Scenario) -> None:
    """The trough of this ripple holds, its mean and its crest do not. Drain and gate follow the ripple without delay; the lead
    carries the reservoir's own current besides."""
    changes = {"supply.ripple": "3 V", "supply.ripple_frequency": "150 Hz", "supply.current_rating": "27 A"}
    rippling = scenario.change(changes | {"heater.wanted_headroom": "2 %", "simulate.steps_per_period": 100})
    followed = evaluated(session, rippling, ContinuationPath(points("supply.voltage", "42 V")))[0]
    case = hs.check(rippling, ["loaded"]).cases[0]
    assert followed.method == "cold start, then periodic" and followed.notes == (RIPPLED,)
    assert (case.outcome, case.grade, followed.grade) == ("settled", "fails", "fails")
    assert followed.ends == "supply: mean current"
    steady = [each for each in case.findings if each.limit != SWITCH_ON]  # of a followed state nothing says how it starts
    for one, other in zip(steady, followed.findings, strict=True):
        assert (one.part, one.limit, one.grade) == (other.part, other.limit, other.grade)
        if one.value is not None and other.value is not None and one.limit in ALIKE:
            assert one.value == pytest.approx(other.value, rel=ALIKE[one.limit]), one.limit
    waves = case.waveforms
    assert waves is not None
    assert waves.between(waves.time[-1] - 1 / 150, waves.time[-1])["drain.left.voltage"].max() == pytest.approx(
        next(f.value for f in case.findings if f.limit == "drain voltage"), rel=2e-3
    )
    for measures in (case.measures, followed.measures):
        low, high = measures["valley.tank.peak_voltage_v"], measures["crest.tank.peak_voltage_v"]
        assert high / low == pytest.approx(43.5 / 40.5, rel=5e-3)
        assert high == measures["tank.peak_voltage_v"]
        assert measures["valley.supply.mean_current_a"] < 27 < measures["crest.supply.mean_current_a"]


@pytest.mark.slow
def test_fast_ripple_is_started_cold(session: Session, scenario: Scenario) -> None:
    rippling = scenario.change(COARSE | {"supply.ripple": "2 V", "supply.ripple_frequency": "20 kHz"})
    found = evaluated(session, rippling, ContinuationPath(points("supply.voltage", "40 V", "41 V", "42 V")))
    assert {result.method for result in found} == {"cold start"}


def test_a_point_that_cannot_be_built_is_a_row_with_its_cause(session: Session, scenario: Scenario) -> None:
    found = evaluated(session, scenario.change(COARSE), ContinuationPath(points("supply.voltage", "40 V", "4000 V", "42 V")))
    assert [result.outcome for result in found] == ["settled", "unbuildable", "settled"]
    assert "supply.voltage" in found[1].outcome_detail


@pytest.mark.numerics
def test_a_path_with_a_start_makes_no_cold_start(session: Session, scenario: Scenario, volts: list[PointResult]) -> None:
    assert volts[3].state is not None
    found = evaluated(session, scenario, ContinuationPath(points(SHARE, "98 %", "96 %", "94 %"), volts[3].state, confirm=False))
    assert {(result.outcome, result.method) for result in found} == {("settled", "periodic")}
    power = [result.measures["workpiece.power_w"] for result in found]
    assert power == sorted(power, reverse=True)


@pytest.mark.numerics
def test_a_path_from_a_neighbour_is_started_cold_at_its_end(session: Session, scenario: Scenario, volts: list[PointResult]) -> None:
    """The end's own figures are those that were followed, and a cold start of it by itself finds the same."""
    path = ContinuationPath(points("supply.voltage", "42.5 V", "43.2 V", "44 V"), volts[3].state, samples=(0,))
    found = evaluated(session, scenario, path)
    assert [result.method for result in found] == [CONFIRMED, FOLLOWED, CONFIRMED]
    assert volts[-1].method in COLD
    for key, allowed in ALLOWED.items():
        assert found[-1].measures[key] == pytest.approx(volts[-1].measures[key], rel=allowed), key


BRANCHES = {"A": 8e4, "B": 9e4}


class Scripted(paths._Path):
    """A path without a simulator: cold starts come to the branch that `wakes` says, following stays on its own branch."""

    def __init__(self, path: ContinuationPath, wakes: str, told: list[tuple[int, PointResult]]) -> None:
        super().__init__(None, None, path, lambda place, result: told.append((place, result)), lambda: None)  # type: ignore[arg-type]
        self.wakes, self.colds = wakes, []
        self._first = self._cold  # type: ignore[method-assign]

    def result(self, branch: str, method: str) -> PointResult:
        if branch == "-":
            return failed("dead", "no oscillation", method=method)
        found = result_with(tank__frequency_hz=BRANCHES[branch])
        return replace(found, grade="holds", headroom=0.2, method=method, state=branch)

    def _cold(self, place: int) -> PointResult:
        self.colds.append(place)
        return self.result(self.wakes[place], "cold start")

    def _followed(self, place: int, guess: str) -> PointResult | None:  # type: ignore[override]
        return self.result(guess, FOLLOWED)

    def _checked(self, place: int, followed: PointResult) -> PointResult:
        cold = self._cold(place)
        return replace(followed, method=CONFIRMED) if same_state(followed, cold) else cold


@pytest.mark.parametrize("start", [None, "A"])
@pytest.mark.parametrize(
    "wakes",
    [
        "A",
        "AB",
        "AAAAAAAAAAAA",
        "AAAAAAABBBBB",
        "BBBBBBBBBBBB",
        "AABBBBBBBBAA",
        "AAAA-AAAAAAA",
        "AAAAAAA-----",
        "-----AAAAAAA",
        "------",
    ],
)
def test_what_is_followed_is_what_a_cold_start_comes_to(wakes: str, start: str | None) -> None:
    """Two branches that both can be followed anywhere: only cold starts tell where each is reached. What changes back within a
    stretch whose ends agree is not seen, but for the points that are sampled."""
    told: list[tuple[int, PointResult]] = []
    others = [k for k in range(len(wakes)) if wakes[k] != (start or wakes[0])]
    samples = tuple(others[len(others) // 2 :][:1])
    path = Scripted(ContinuationPath(points("x", *(f"{k}" for k in range(len(wakes)))), start, samples=samples), wakes, told)
    path.evaluate()
    assert sorted(place for place, _ in told) == list(range(len(wakes))), "each once"
    assert len(path.colds) == len(set(path.colds)), "none started twice"
    found = dict(told)
    for place, branch in enumerate(wakes):
        assert found[place].state == (None if branch == "-" else branch)
        assert place in path.colds or found[place].method == FOLLOWED
    if set(wakes) == {"A"}:
        assert set(path.colds) == {len(wakes) - 1, *([] if start else [0])}


def test_the_worst_point_that_holds_and_both_sides_of_a_jump_are_started_cold() -> None:
    told: list[tuple[int, PointResult]] = []
    path = Scripted(ContinuationPath(points("x", *(f"{k} V" for k in range(30))), "A"), "A" * 30, told)
    sizes = [(0.5 - 0.01 * abs(15 - place), 130.0 + place + 30 * (place > 20)) for place in range(30)]

    def followed(place: int, guess: str) -> PointResult:
        headroom, volts = sizes[place]
        result = result_with(tank__peak_voltage_v=volts)
        return replace(result, grade="fails" if place == 9 else "holds", headroom=abs(headroom - 0.4), method=FOLLOWED, state=guess)

    path._followed = followed  # type: ignore[method-assign, assignment]
    path._checked = lambda place, result: (path.colds.append(place), replace(result, method=CONFIRMED))[1]  # type: ignore[method-assign, assignment]
    path.evaluate()
    worst = min((abs(headroom - 0.4), place) for place, (headroom, _) in enumerate(sizes) if place != 9)[1]
    assert path.colds == [29, worst, 20, 21]


def result_with(**measures: float) -> PointResult:
    named = {
        "tank.frequency_hz": 8e4,
        "tank.peak_voltage_v": 130.0,
        "supply.mean_current_a": 25.0,
        "choke.left.peak_current_a": 15.0,
    }
    return replace(failed("settled", ""), measures=named | {key.replace("__", "."): v for key, v in measures.items()})


@pytest.mark.parametrize(
    ("change", "same"),
    [
        ({}, True),
        ({"tank__frequency_hz": 8e4 * 1.004}, True),
        ({"tank__frequency_hz": 8e4 * 1.006}, False),
        ({"tank__peak_voltage_v": 132.0}, False),
        ({"supply__mean_current_a": 24.0}, False),
        ({"choke__left__peak_current_a": 16.0}, False),
        ({"choke__left__peak_current_a": 15.5}, True),
    ],
)
def test_same_state(change: dict[str, float], same: bool) -> None:
    assert same_state(result_with(), result_with(**change)) is same
    assert same_state(result_with(**change), result_with()) is same


def test_a_result_without_measures_is_no_same_state() -> None:
    assert not same_state(result_with(), failed("dead", "no oscillation"))


def test_periods_laid_end_to_end_are_one_signal() -> None:
    phase = np.array([0.0, 0.1, 0.35, 0.8, 1.0])
    period = Waveforms(2.0 + phase, {"x": np.cos(2 * np.pi * phase)}, {"x": "V"}, "made")
    waves = period.repeated(3)
    assert np.all(np.diff(waves.time) > 0)
    assert waves.time[-1] - waves.time[0] == pytest.approx(3.0)
    assert np.allclose(waves["x"], np.cos(2 * np.pi * (waves.time - 2.0)))


def test_periods_laid_end_to_end_leave_no_step_where_they_join() -> None:
    """A period that fails to close by 0.2: nowhere more than the wave's own slope, and the mean stays."""
    time = np.linspace(0.0, 1.0, 201)
    period = Waveforms(time, {"x": np.sin(2 * np.pi * time) + 0.2 * time}, {"x": "V"}, "made")
    waves = period.repeated(3)
    assert np.max(np.abs(np.diff(waves["x"]))) < 2 * np.pi / 200 * 1.01
    assert np.trapezoid(waves["x"], waves.time) / 3 == pytest.approx(np.trapezoid(period["x"], time))


@pytest.mark.parametrize(
    ("values", "steps"),
    [
        (("40 V", "41 V", "42 V"), 1.0),
        (("40 V", "42 V", "43 V"), 0.5),
        (("40", "41", "39"), -2.0),
        (("40 V", "40 V", "41 V"), None),
        (("40 V", "41 V", "50 V"), None),
        (("400 mV", "1 V", "2 V"), None),
        (("a", "b", "c"), None),
    ],
)
def test_steps_along_a_path(values: tuple[str, ...], steps: float | None) -> None:
    found = relative_step(*points("supply.voltage", *values))
    assert found == (None if steps is None else pytest.approx(steps))


def grid(*places: tuple[int, int]) -> tuple[Point, ...]:
    """Points of a grid by row and column."""
    return tuple(Point((("a", f"{row} V"), ("b", f"{column} %")), "loaded") for row, column in places)


@pytest.mark.parametrize(
    ("places", "same"),
    [
        (((0, 1), (0, 2), (1, 2), (1, 1)), True),
        (((1, 0), (2, 0), (2, 1), (1, 1)), True),
        (((0, 0), (0, 1), (0, 2), (0, 3)), False),
        (((0, 1), (0, 2), (1, 2), (1, 3)), False),
        (((0, 1), (0, 2), (1, 1), (1, 2)), False),
    ],
)
def test_the_step_of_the_row_before(places: tuple[tuple[int, int], ...], same: bool) -> None:
    assert same_step(*grid(*places)) is same


def test_states_on_a_plane_are_predicted_round_the_ends_of_rows() -> None:
    """Exactly, in every node and inductor, wherever the row before or two rows before tell."""
    snake = [(row, column) for row in range(4) for column in (range(5) if row % 2 == 0 else range(4, -1, -1))]
    path = Scripted(ContinuationPath(grid(*snake), "A"), "A" * len(snake), [])

    def on_plane(row: int, column: int) -> InitialGuess:
        value = 3.0 + 0.5 * row - 0.25 * column
        return InitialGuess(State({"n": 2 * value}, {"l": -value}), np.array([value]), np.eye(1))

    known = []
    for place, at in enumerate(snake):
        found = path._predicted(place)
        if found is not None:
            known.append(place)
            wanted = on_plane(*at)
            assert found.state.nodes == pytest.approx(wanted.state.nodes) and found.point == pytest.approx(wanted.point)
            assert found.state.inductors == pytest.approx(wanted.state.inductors)
        path._states[place] = on_plane(*at)
    assert known == [2, 3, 4, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19]


def test_steps_in_two_fields_are_none() -> None:
    both = [Point((("a", f"{k}"), ("b", f"{2 * k}")), "loaded") for k in range(3)]
    assert relative_step(*both) is None
