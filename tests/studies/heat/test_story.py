# SPDX-License-Identifier: GPL-3.0-or-later
"""A heat told: when, how deep, in what order; its bounds, and what is written of it. Its states come from a formula."""

from __future__ import annotations

import json
from collections.abc import Iterator
from concurrent.futures import Future
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from heatsim.errors import NotRunningError
from heatsim.parts.tank import Workpiece
from heatsim.scenario.heat import HeatPlan, heat_plan
from heatsim.scenario.scenario import Scenario
from heatsim.studies.heat import HeatResult, Progress, Watched, heat
from heatsim.studies.heat.band import CELLS, SLICES, _gone_through, band_of
from heatsim.studies.heat.course import Course
from heatsim.studies.heat.responses import Responses, loaded
from heatsim.studies.heat.story import _celsius_at, _depth, _first_above, answers, end_words, events, snapshots
from heatsim.studies.points import PointResult, failed
from heatsim.verdict import Finding
from tests.support.heating import bench, moment_at, result_with

STAINLESS = bench().change(
    {
        "case.loaded.workpiece.material": "stainless 304",
        "heat.wanted": "300 °C",
        "heat.depth_above": "295 °C",
        "heat.longest": "60 s",
    }
)
"""A bar without a Curie point: a short heat."""

SHARE = 1.03
"""Current of the made-up simulator over that of the ideal stage."""

LOAD = Workpiece(1e-6, 0.01, "estimate")


class Formula:
    """States as the ideal stage has them, but for 3 % of current. cold: outcome of starts from rest."""

    cold = "settled"
    runs_until = 1e9

    def __init__(self, scenario: Scenario, case: str, store: object, jobs: int | None = None) -> None:
        self.heater = replace(scenario.heater(case), workpiece=None)
        self.simulated = self.found = 0

    def __enter__(self) -> Formula:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def follow(self, load: Workpiece) -> PointResult:
        """A state."""
        self.simulated += 1
        if self.simulated > self.runs_until:
            return failed("no oscillation", "current stands")
        ideal = loaded(self.heater, load)
        current = SHARE * ideal.coil_current
        power = current**2 / 2 * (load.resistance - self.heater.coil.resistance)
        measures = {"workpiece.power_w": power, "supply.power_w": 1.25 * power, "tank.frequency_hz": ideal.frequency}
        return result_with(measures | {"supply.mean_current_a": power / 24.0, "coil.rms_current_a": current / 2**0.5})

    def confirm(self, load: Workpiece) -> Future[PointResult]:
        """A start from rest, 1 % more current."""
        found, done = self.follow(load), Future[PointResult]()
        measures = dict(found.measures)
        measures["coil.rms_current_a"] = 1.01 * float(measures["coil.rms_current_a"])  # type: ignore[arg-type]
        self.simulated -= 1
        done.set_result(replace(found, outcome=self.cold, measures=measures))
        return done


@pytest.fixture(scope="module")
def told() -> Iterator[list[Progress]]:
    """What a heat tells on its way; the simulator is the formula throughout this module."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("heatsim.studies.heat.study.States", Formula)
        yield []


@pytest.fixture(scope="module")
def found(told: list[Progress]) -> HeatResult:
    """A heat."""
    return heat(STAINLESS, progress=told.append)


def test_it_reaches_what_is_wanted_and_says_when(found: HeatResult) -> None:
    series, wanted = found.series, found.wanted
    assert wanted.reached is not None and wanted.core == pytest.approx(300.0, abs=1e-6) and wanted.at == "core"
    assert np.interp(wanted.reached, series["time_s"], series["surface_c"]) == pytest.approx(wanted.surface)
    assert found.ends == "time is up" and series["time_s"][-1] == pytest.approx(60.0)
    assert {values.size for values in series.values()} == {series["time_s"].size}


def test_energy_and_cost_are_the_mains(found: HeatResult) -> None:
    """Supply 1.25 times the piece's power by the formula, 90 % of the mains; 0.30 a kilowatt-hour."""
    series, wanted = found.series, found.wanted
    assert series["efficiency_ratio"] == pytest.approx(np.full(series["time_s"].size, 0.8), rel=0.01)
    own = float(np.interp(wanted.reached or 0.0, series["time_s"], series["supply.energy_j"]))
    assert wanted.energy == pytest.approx(own / 0.9) and wanted.cost == pytest.approx(0.30 * own / 0.9 / 3.6e6)


def test_events_come_in_order_and_end_with_the_end(found: HeatResult) -> None:
    times = [each.time for each in found.events]
    assert times == sorted(times) and found.events[-1].name == "time is up"
    assert [each.name for each in found.events if each.name in ("as wanted", "time is up")] == ["as wanted", "time is up"]
    assert not any("Curie" in each.name for each in found.events)


def test_confirmations_are_held_against_the_same_load(found: HeatResult) -> None:
    names = [each.name for each in found.confirmed]
    assert names == ["cold", "as wanted", "at its end"]
    assert all(abs(value) < 1e-9 for value in found.confirmed[0].differences.values())
    for each in found.confirmed[1:]:
        assert each.differences["coil.rms_current_a"] == pytest.approx(0.01, abs=1e-6)
        assert abs(each.differences["workpiece.power_w"]) < 1e-6


def test_predictions_of_a_constant_share_are_exact(found: HeatResult) -> None:
    assert all(value < 1e-9 for value in found.trust.prediction.values())
    assert abs(found.trust.piece) < 1e-9 and found.trust.simulated >= len(found.points)


def test_progress_is_told_from_start_to_end(found: HeatResult, told: list[Progress]) -> None:
    doing = list(dict.fromkeys(each.doing for each in told))
    assert doing[0] == "simulating the cold piece" and doing[-1] == "judging" and "heating" in doing
    assert told[-1].time == pytest.approx(60.0) and told[0].hottest == 25.0


def test_the_share_of_a_step_rises_from_nothing_to_all_of_it(found: HeatResult, told: list[Progress]) -> None:
    """Nothing is simulated twice in this heat, so that it never falls back."""
    for doing in dict.fromkeys(each.doing for each in told[1:-1]):
        shares = [each.share for each in told if each.doing == doing]
        assert shares == sorted(shares) and 0.0 <= shares[0] < 0.3 and shares[-1] <= 1.0, doing
    reached = next(each for each in told if each.coldest >= 300.0 and each.doing == "heating")
    assert reached.share == 1.0 and told[-1].share == 1.0


def test_bounds_enclose_the_heat(found: HeatResult) -> None:
    """The coarse grid of the bounds itself is within 3 % of the fine one."""
    band, reached = found.band, found.wanted.reached
    assert band is not None and reached is not None and band.fastest is not None and band.slowest is not None
    assert band.fastest < reached < band.slowest
    assert band.coolest_end < found.series["surface_c"][-1] < band.hottest_end
    plan = heat_plan(STAINLESS)
    responses = Responses(plan.heater, list(found.points))
    nominal, _ = _gone_through(plan, responses, 0.0, 0.0)
    assert nominal == pytest.approx(reached, rel=0.06)
    assert plan.band is not None and band.fastest > nominal * (1 - 2 * plan.band) / 1.1  # type: ignore[operator]


def test_without_a_band_of_the_piece_there_are_no_bounds(found: HeatResult) -> None:
    plan = replace(heat_plan(STAINLESS, SLICES, CELLS), band=None)
    assert band_of(plan, Responses(plan.heater, list(found.points))) is None


def test_what_is_written_is_json_without_not_a_number(found: HeatResult) -> None:
    text = json.dumps(found.as_dict(), allow_nan=False)
    again = json.loads(text)
    assert again["schema"] == "heatsim.heat/1" and again["wanted"]["reached"] == found.wanted.reached
    assert len(again["states"]) == len(found.points) and again["trust"]["energy"] is None
    assert again["series"]["core_c"] == pytest.approx(list(found.series["core_c"]))
    assert len(found.frame()) == found.series["time_s"].size


def holding(grade: Any) -> Watched:
    """A limit of a grade."""
    finding = Finding("coil", "wall temperature", 50.0, 100.0, "°C", 0.5, grade, "measured")
    return Watched(np.array([0.0]), np.array([0.5]), finding, 0.0, 0.0 if grade == "fails" else None)


def test_exit_codes(found: HeatResult) -> None:
    well = replace(found, limits=(holding("holds"),))
    assert well.exit_code == 0 and well.verdict == "holds"
    for grade in ("marginal", "unknown", "fails"):
        assert replace(found, limits=(holding("holds"), holding(grade))).exit_code == 1
    assert replace(well, wanted=replace(found.wanted, reached=None)).exit_code == 1
    assert replace(well, limits=()).exit_code == 1
    assert well.equilibrium_c is None
    assert replace(well, ends="settled").equilibrium_c == found.series["surface_c"][-1]
    assert [each.grade for each in replace(found, limits=(holding("holds"), holding("fails"))).findings] == ["fails", "holds"]


def test_a_heater_that_does_not_run_with_the_cold_piece_is_refused(told: list[Progress], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Formula, "runs_until", 0)
    with pytest.raises(NotRunningError, match="does not run with the cold piece: no oscillation, current stands") as raised:
        heat(STAINLESS)
    assert raised.value.simulated


@pytest.mark.slow
def test_a_heater_that_stops_on_the_way_is_told_with_its_cause(told: list[Progress], monkeypatch: pytest.MonkeyPatch) -> None:
    """Steel changes the load, so that it is asked again."""
    monkeypatch.setattr(Formula, "runs_until", 2)
    found = heat(bench().change({"heat.longest": "5 s"}), confirm=False)
    assert found.ends == "does not run" and found.end_words.endswith("No oscillation: current stands.")
    assert found.wanted.reached is None and found.exit_code == 1
    json.dumps(found.as_dict(), allow_nan=False)


PLAN = heat_plan(STAINLESS)
CUT = PLAN.piece.volumes.shape


def ramp(surface: float, core: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Temperatures straight over the radius."""
    along = PLAN.piece.middles / PLAN.piece.shape.outer
    return np.broadcast_to(core + (surface - core) * along, CUT).copy()


@pytest.mark.parametrize(("above", "depth"), [(350.0, 4.0), (320.0, 6.4), (399.0, 0.08), (401.0, 0.0), (250.0, 8.0)])
def test_depth_is_measured_from_the_surface(above: float, depth: float) -> None:
    """8 mm of radius, 300 °C in the core, 400 °C at the surface."""
    plan = replace(PLAN, depth_above=above)
    assert 1e3 * _depth(plan, ramp(400.0, 300.0)[0], 400.0) == pytest.approx(depth, abs=0.02)


def test_the_first_passage_is_found_between_moments() -> None:
    time, values = np.array([0.0, 1.0, 3.0, 4.0]), np.array([20.0, 40.0, 120.0, 90.0])
    assert _first_above(time, values, 80.0) == pytest.approx(2.0)
    assert _first_above(time, values, 10.0) == 0.0
    assert _first_above(time, values, 121.0) is None


def moments() -> list[Any]:
    """Surface 20 to 420 °C in 8 s, core 20 to 340 °C."""
    told = [moment_at(t, LOAD, ramp(20.0 + 50.0 * t, 20.0 + 40.0 * t)) for t in (0.0, 2.0, 5.0, 8.0)]
    return [replace(each, surface=np.full(CUT[0], 20.0 + 50.0 * each.time)) for each in told]


def test_temperatures_between_moments_are_straight() -> None:
    assert _celsius_at(moments(), 3.0) == pytest.approx(ramp(170.0, 140.0))
    assert _celsius_at(moments(), 99.0) == pytest.approx(ramp(420.0, 340.0))


def test_answers_and_snapshots_of_a_made_up_heat() -> None:
    plan = replace(PLAN, start=20.0, wanted=300.0, depth_above=320.0, at="core", price=None, efficiency=None)
    time = np.array([0.0, 2.0, 5.0, 8.0])
    series = {"time_s": time, "core_c": 20.0 + 40.0 * time, "surface_c": 20.0 + 50.0 * time, "supply.energy_j": 1000.0 * time}
    found = answers(plan, moments(), series, 0)
    assert found.reached == pytest.approx(7.0) and found.surface == pytest.approx(370.0)
    assert found.energy == pytest.approx(7000.0) and found.cost is None
    assert found.depth == pytest.approx(8e-3 * 50.0 / 70.0, rel=0.02)
    shots = snapshots(plan, moments(), found)
    assert [each.name for each in shots] == [
        "a quarter of the way",
        "half way",
        "three quarters of the way",
        "as wanted",
        "at the end",
    ]
    assert [each.time for each in shots] == pytest.approx([1.4, 2.8, 4.2, 7.0, 8.0])
    at_surface = answers(replace(plan, at="surface", wanted=500.0), moments(), series, 0)
    assert at_surface.reached is None and at_surface.energy is None


def test_events_of_a_made_up_heat_are_sorted(found: HeatResult) -> None:
    """Limits that are crossed take their place among them."""
    steel = heat_plan(bench())
    course = Course(steel.piece, steel.losses, Responses(steel.heater), lambda load, at: None, 20.0, 10.0)
    course.moments = [replace(each, celsius=2.5 * each.celsius, surface=2.5 * each.surface) for each in moments()]
    course.ends = "settled"
    told = events(steel, course, replace(found.wanted, reached=7.0), [replace(holding("fails"), crossed=6.5)], 0)
    assert [each.name for each in told] == ["surface at Curie point", "limit", "as wanted", "core at Curie point", "settled"]
    assert [each.time for each in told] == sorted(each.time for each in told)
    assert told[1].text == "coil: wall temperature is no longer kept."


@pytest.mark.parametrize("ends", ["settled", "time is up", "beyond the data", "does not run"])
def test_every_end_has_its_words(ends: Any) -> None:
    plan: HeatPlan = PLAN
    course = Course(
        plan.piece, plan.losses, Responses(plan.heater), lambda load, at: None, 20.0, 10.0, moments=moments(), ends=ends
    )
    words = end_words(plan, course, failed("latched", "one side stays on") if ends == "does not run" else None)
    assert "420 °C" in words and words.endswith(".")
    assert ("Latched: one side stays on." in words) == (ends == "does not run")
    assert ("melting range" in words or "without data" in words) == (ends == "beyond the data")
