# SPDX-License-Identifier: GPL-3.0-or-later
"""The course of a heat: its energy, its ends, what is gone through again, and how it hangs on steps and grid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatsim.parts.hot_metal import HotMetal, Trend
from heatsim.parts.piece import PieceShape, Substance, cut
from heatsim.parts.tank import Workpiece
from heatsim.physics.heat import lumped_temperature_rise
from heatsim.studies.heat.course import REDO, SPACING, Course
from heatsim.studies.heat.responses import CURRENT, FREQUENCY, Responses, SimulatedPoint, distance
from tests.support.heating import Endless, Faces, LongCoil, answered, nothing_lost, substance

STEEL = LongCoil()


def gone_through(course: Course) -> Course:
    """The heat at its end."""
    list(course.run())
    return course


def time_to(course: Course, celsius: float) -> float:
    """When the core is that warm [s]."""
    return float(np.interp(celsius, [m.celsius[0, 0] for m in course.moments], [m.time for m in course.moments]))


@pytest.fixture(scope="module")
def steel() -> Course:
    """A steel bar through its Curie point."""
    return gone_through(STEEL.course())


def balance(course: Course) -> float:
    """What is missing of the energy that the piece took in, as a share of it [1]."""
    last = course.moments[-1]
    return (last.energy - last.stored - sum(last.lost.values())) / last.energy


def test_the_piece_s_energy_is_stored_or_given_off(steel: Course) -> None:
    assert abs(balance(steel)) < 1e-9
    last = steel.moments[-1]
    heat = (
        steel.piece.heat.enthalpy(last.celsius) - steel.piece.heat.enthalpy(np.full_like(last.celsius, 20.0))
    ) * steel.piece.volumes
    assert last.stored == pytest.approx(float(np.sum(heat)), rel=1e-9)


def test_energy_is_the_power_over_time(steel: Course) -> None:
    """Powers at the moments, added up by trapezia: found within 0.2 %."""
    time, power = np.array([(m.time, m.power) for m in steel.moments]).T
    assert steel.moments[-1].energy == pytest.approx(float(np.trapezoid(power, time)), rel=5e-3)


def test_shorter_steps_change_time_and_temperature_by_a_tenth_of_a_per_cent(steel: Course, monkeypatch: pytest.MonkeyPatch) -> None:
    """Half the error, half the rise, a fifth of what power may be off the straight. Half the error alone changes nothing here:
    steps of a quick heat are as long as load and power let them be. Found: 0.02 % of the time to 850 °C, 0.04 K at the end."""
    for name, value in (("LARGEST_RISE", 15.0), ("BENT", 0.004)):
        monkeypatch.setattr(f"heatsim.studies.heat.course.{name}", value)
    finer = gone_through(STEEL.course(error=0.2))
    assert len(finer.moments) > 1.2 * len(steel.moments)
    assert time_to(finer, 850.0) == pytest.approx(time_to(steel, 850.0), rel=1e-3)
    assert finer.moments[-1].surface[0] == pytest.approx(steel.moments[-1].surface[0], abs=0.4)


def test_twice_the_shells_change_time_by_two_thousandths(steel: Course) -> None:
    """Found: 0.07 % of the time to 850 °C, 0.1 K at the end."""
    finer = gone_through(STEEL.course(STEEL.piece(2 * 44)))
    assert time_to(finer, 850.0) == pytest.approx(time_to(steel, 850.0), rel=2e-3)
    assert finer.moments[-1].surface[0] == pytest.approx(steel.moments[-1].surface[0], abs=0.4)


def test_a_step_s_largest_rise_and_way_are_kept(steel: Course) -> None:
    """But for the third that an accepted step may be over."""
    for one, other in zip(steel.moments, steel.moments[1:], strict=False):
        assert np.max(np.abs(other.surface - one.surface)) < 1.35 * 30.0
        assert distance(one.load, other.load) < 1.35 * SPACING / 2 + 0.02
    assert all(one.time < other.time for one, other in zip(steel.moments, steel.moments[1:], strict=False))


def test_every_load_is_within_reach_of_one_that_was_simulated(steel: Course) -> None:
    assert all(distance(steel.responses.nearest(m.load).load, m.load) < SPACING for m in steel.moments)


def test_told_current_and_load_belong_together(steel: Course) -> None:
    """All along within 0.5 % of what the tank's voltage makes of the load: `REDO`."""
    for moment in steel.moments:
        current, hertz = STEEL.answer(moment.load)
        assert moment.answer.current == pytest.approx(current, rel=REDO)
        assert moment.answer.frequency == pytest.approx(hertz, rel=REDO)


@pytest.mark.parametrize(("metal", "volts"), [("copper", 1200.0), ("stainless 304", 400.0), ("aluminium", 600.0)])
def test_metals_without_a_curie_point_come_to_rest(metal: str, volts: float) -> None:
    """Warmer all along, below what radiation alone would need, and at rest where it radiates what it takes in."""
    coil = replace(STEEL, metal=metal, volts=volts)
    course = gone_through(coil.course(longest=3600.0))
    assert course.piece.curie_c is None and course.ends == "settled"
    surface = np.array([m.surface[0] for m in course.moments])
    assert np.all(np.diff(surface) > 0) and abs(balance(course)) < 1e-9
    last = course.moments[-1]
    mantle = np.pi * coil.bar * coil.length * 5.670374419e-8 * coil.emissivity
    assert mantle * ((surface[-1] + 273.15) ** 4 - 293.15**4) == pytest.approx(last.power, rel=6e-3)
    assert surface[-1] < 900.0


@pytest.mark.parametrize("volts", [400.0, 650.0])
def test_a_weak_heater_rests_at_the_curie_point(volts: float) -> None:
    """Power falls by half within a kelvin there. It comes to rest, takes in what it gives off within 2 %, and is there soon."""
    course = gone_through(replace(STEEL, volts=volts).course(longest=3600.0))
    last = course.moments[-1]
    assert course.ends == "settled" and last.time < 600.0 and len(course.moments) < 150
    assert 768.0 < last.surface[0] < 776.0
    assert last.power == pytest.approx(sum(last.given.values()), rel=0.025)


def test_a_heat_ends_where_the_data_of_its_material_end() -> None:
    course = gone_through(replace(STEEL, volts=2500.0).course(longest=100.0))
    assert course.ends == "beyond the data"
    assert course.piece.highest_c == 1200.0 and course.moments[-1].celsius.max() >= 1200.0 > course.moments[-2].celsius.max()


def test_a_weak_heater_rests_below_what_is_wanted() -> None:
    course = gone_through(replace(STEEL, volts=250.0).course(longest=3600.0))
    assert course.ends == "settled" and 700.0 < course.moments[-1].surface[0] < 770.0


def test_longest_is_the_last_moment() -> None:
    course = gone_through(STEEL.course(longest=3.7))
    assert course.ends == "time is up" and course.moments[-1].time == pytest.approx(3.7, rel=1e-12)


def test_a_heater_that_does_not_run_with_the_cold_piece_has_no_course() -> None:
    course = gone_through(STEEL.course(simulate=lambda load, at: None))
    assert course.ends == "does not run" and not course.moments and not course.responses.points


def test_a_heater_that_stops_on_the_way_ends_the_heat_there() -> None:
    heater = STEEL.heater()
    responses = Responses(heater)
    known = answered(responses, STEEL.answer)
    course = STEEL.course(simulate=lambda load, at: known(load, at) if at < 4.0 else None)
    course.responses = responses
    told = list(course.run())
    assert course.ends == "does not run"
    assert 4.0 < course.moments[-1].time < 10.0 and told[-1].time < course.moments[-1].time


def test_a_stretch_that_was_badly_predicted_is_gone_through_again() -> None:
    """From 4 s on simulated currents are 2 % above what they were: told times go back, the history does not."""
    responses = Responses(STEEL.heater())
    plain = answered(responses, STEEL.answer)
    asked: list[SimulatedPoint] = []

    def jumping(load: Workpiece, at: float) -> SimulatedPoint:
        found, factor = plain(load, at), 1.02 if at > 4.0 else 1.0
        assert found is not None
        asked.append(replace(found, shares={CURRENT: factor * found.shares[CURRENT], FREQUENCY: found.shares[FREQUENCY]}))
        return asked[-1]

    course = Course(STEEL.piece(), STEEL.course().losses, responses, jumping, 20.0, 12.0)
    told = np.array([m.time for m in course.run()])
    kept = np.array([m.time for m in course.moments])
    assert np.any(np.diff(told) < 0) and np.all(np.diff(kept) > 0) and kept[-1] == 12.0
    jump = next(point for point in asked if point.time > 4.0)
    assert abs(jump.errors[CURRENT]) > REDO
    going_back = [(a, b) for a, b in zip(told, told[1:], strict=False) if b < a]
    assert any(a < jump.time and b < jump.time for a, b in going_back)
    after = next(m for m in course.moments if m.time >= jump.time)
    assert after.answer.current == pytest.approx(1.02 * STEEL.answer(after.load)[0], rel=REDO)


def test_lean_is_a_factor_on_the_heat_of_a_current() -> None:
    """The same current makes a tenth more heat, and the coil's added resistance grows with it."""
    held = answered(Responses(STEEL.heater()), lambda load: (300.0, 6e4))
    first, more = (next(STEEL.course(simulate=held, lean=lean).run()) for lean in (1.0, 1.1))
    assert more.power == pytest.approx(1.1 * first.power, rel=1e-3)
    added = [moment.load.resistance - STEEL.resistance for moment in (first, more)]
    assert added[1] == pytest.approx(1.1 * added[0], rel=1e-3)


def constant(metal: HotMetal) -> HotMetal:
    """A metal with the properties of 20 °C throughout; no source needed."""

    def even(value: float) -> Trend:
        return Trend(0.0, "memory", "made up", points=((20.0, value), (1000.0, value)))

    return replace(metal, electrical=even(1.7e-8), thermal=even(390.0), heat=even(385.0))


def test_a_thin_conducting_bar_warms_as_one_body() -> None:
    """Constant power and a loss in proportion to the rise: (P/G)(1 - exp(-t G/C))."""
    copper = substance("copper")
    assert copper.hot is not None
    hot = constant(copper.hot)
    even = Substance(1.7e-8, 1.0, None, hot)
    coil = replace(STEEL, bar=4e-3)
    shape = PieceShape(coil.bar / 2, 0.0, coil.length, 0.0, (coil.diameter, coil.length, coil.turns))
    made = cut(shape, [(even, coil.bar / 2)], coil.hertz, 1, 20)
    piece = Endless(made.shape, made.layers, made.edges, made.cuts)
    watts, per_area, mantle = 300.0, 60.0, np.pi * coil.bar * coil.length
    responses = Responses(coil.heater())
    simulate = answered(responses, lambda load: (float(np.sqrt(2 * watts / (load.resistance - coil.resistance))), coil.hertz))

    def losses(surface: Faces) -> dict[str, Faces]:
        return {"film": Faces(per_area * (np.asarray(surface.mantle) - 20.0))}

    course = gone_through(Course(piece, losses, responses, simulate, 20.0, 60.0))
    capacity = float(np.sum(piece.volumes)) * hot.density * 385.0
    for moment in course.moments:
        expected = float(lumped_temperature_rise(watts, capacity, per_area * mantle, moment.time))
        assert moment.surface[0] - 20.0 == pytest.approx(expected, rel=3e-3, abs=0.05)
    assert course.moments[-1].surface[0] > 150.0


def test_without_losses_all_stays_in_the_piece() -> None:
    course = gone_through(STEEL.course(losses=nothing_lost, longest=3.0))
    assert course.moments[-1].stored == pytest.approx(course.moments[-1].energy, rel=1e-9)
