# SPDX-License-Identifier: GPL-3.0-or-later
"""Coil advice: what turns and clearance must do, agreement with the scenario's own heater, the ranking, one simulated."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.scenario.heat import heat_plan
from heatsim.scenario.scenario import Scenario
from heatsim.studies.heat.coils import study as coils
from heatsim.studies.heat.coils.estimate import Bench, conduction_surplus, given_off_by_name
from heatsim.studies.heat.coils.result import CoilAdvice, CoilEstimate, CoilShape, rank
from heatsim.verdict import Finding
from tests.support.forging import forging

FORGING = forging()
"""The bench heater with a coil by geometry and a steel bar in it; its supply is rated 35 A."""

TEMPERED = FORGING.change({"heat.wanted": "500 °C"})
"""To a temperature below the Curie point, which the heater's supply has the power for."""

STAINLESS = FORGING.change({"case.loaded.workpiece.material": "stainless 304", "heat.wanted": "500 °C"})
TUBE = 6e-3


BENCHES: dict[str, Bench] = {}


def bench(scenario: Scenario) -> Bench:
    """Its own coil looked at, once a scenario."""
    if scenario.hash not in BENCHES:
        plan = heat_plan(scenario)
        BENCHES[scenario.hash] = Bench(plan, coils.temperatures(plan)).settled()
    return BENCHES[scenario.hash]


def looked(scenario: Scenario, turns: float, clearance: float, length: float) -> CoilEstimate:
    return bench(scenario).look(CoilShape(turns, 20e-3 + 2 * clearance, length, TUBE))


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Few candidates, among them coils that are too close, that suit and that are too wide."""
    monkeypatch.setattr(coils, "TURNS", (6, 10, 14))
    monkeypatch.setattr(coils, "CLEARANCES", (5e-3, 16e-3, 30e-3))
    monkeypatch.setattr(coils, "PITCHES", (1.2, 1.7))
    yield


@pytest.mark.parametrize("scenario", [STAINLESS, FORGING], ids=["stainless", "steel"])
def test_a_closer_coil_couples_better(scenario):
    """Added resistance, and its share in that of coil and piece, rise the closer the coil (common practice, no source)."""
    found = [looked(scenario, 8.0, clearance, 0.08) for clearance in (3e-3, 5e-3, 8e-3, 12e-3, 20e-3)]
    cold = [each.states[0] for each in found]
    added = [each.power / each.coil_current**2 for each in cold]
    assert added == sorted(added, reverse=True)
    assert all(a > 1.05 * b for a, b in zip(added, added[1:], strict=False))
    shares = [each.power / (each.power + each.coil_loss) for each in cold]
    assert shares == sorted(shares, reverse=True)


def test_twice_the_turns_in_the_same_place():
    """Five turns of 4 mm tube and ten of 2 mm, both filling a length of 30 mm round a bore of 40 mm, leads as good as none.

    Inductance goes with the square of turns, so frequency and coil current halve; the power in a piece that is many skin depths
    thick goes with n^2 sqrt(f) times the current's square: over sqrt(2). What is left is the tube's thickness, and the chokes
    beside the larger inductance.
    """
    bare = {"coil.lead_inductance": "0.1 nH", "capacitors.inductance": "0.1 nH", "coil.lead_resistance": "10 uohm"}
    thick = STAINLESS.change({**bare, "coil.tube_diameter": "4 mm", "coil.tube_wall": "0.5 mm"})
    thin = STAINLESS.change({**bare, "coil.tube_diameter": "2 mm", "coil.tube_wall": "0.5 mm"})
    one, two = (bench(each).look(CoilShape(n, 40e-3, 30e-3, d)) for each, n, d in ((thick, 5.0, 4e-3), (thin, 10.0, 2e-3)))
    few_turns, many = one.states[0], two.states[0]
    assert two.inductance / one.inductance == pytest.approx(4.0, rel=0.05)
    assert many.frequency / few_turns.frequency == pytest.approx(0.5, rel=0.03)
    assert many.coil_current / few_turns.coil_current == pytest.approx(0.5, rel=0.03)
    assert many.power / few_turns.power == pytest.approx(1 / np.sqrt(2), rel=0.08)


@pytest.mark.parametrize("celsius", [25.0, 776.0, 850.0])
def test_the_own_coil_is_that_of_the_scenario(celsius):
    """Power, frequency and current of the heater as `heatsim check` builds it, with the piece at that temperature."""
    state = next(each for each in bench(FORGING).look().states if each.celsius == celsius)
    heater = FORGING.change({"case.loaded.workpiece.temperature": f"{celsius} °C"}).heater("loaded")
    assert heater.workpiece is not None
    power = heater.coil_current**2 / 2 * (heater.workpiece.resistance - heater.coil.resistance)
    assert state.power == pytest.approx(power, rel=0.01)
    assert state.frequency == pytest.approx(heater.frequency, rel=0.002)
    assert np.sqrt(2) * state.coil_current == pytest.approx(heater.coil_current, rel=0.002)


def test_an_angle_gives_off_and_conducts_as_in_its_heat():
    """What is looked at with the own coil loses through the hull of the angle, as the heat of the same plan does."""
    bar, angle = 'diameter = "20 mm"\nlength = "100 mm"\n', 'leg = "20 mm"\nthickness = "3 mm"\nlength = "60 mm"\n'
    assert FORGING.text.count(bar) == 1
    plan = heat_plan(Scenario.from_text(FORGING.text.replace(bar, angle), "angle.toml"))
    here, celsius, shape = Bench(plan, coils.temperatures(plan)), np.array([300.0, 800.0]), plan.piece.shape
    losses = here._losses(here._given(plan.scenario.tables.coil), plan.piece)
    assert given_off_by_name(losses, plan.piece, celsius) == pytest.approx(given_off_by_name(plan.losses, plan.piece, celsius))
    warm, held = here._warming
    capacity = (held[-1] - held[0]) / (warm[-1] - warm[0]) / np.sum(plan.piece.volumes)
    conductivity = plan.piece.heat.conductivity(np.full(plan.piece.volumes.shape, plan.wanted)).max()
    assert here.surplus == pytest.approx(conduction_surplus(shape.outer, shape.bore, conductivity / capacity, plan.at == "core"))


def test_all_temperatures_at_once_are_each_of_them_alone():
    """Against `Piece.electric` in the current and at the frequency that were found."""
    here = bench(FORGING)
    plain = replace(here, ends=())
    shape = CoilShape(9.0, 40e-3, 80e-3, TUBE)
    coil = FORGING.tables.coil.model_copy(update={"turns": 9.0, "diameter": shape.diameter, "length": shape.length})
    piece = plain._given(coil).cut(plain._heater(coil).frequency, plain.slices, plain.cells)
    for state in plain.look(shape).states[::3]:
        amplitude = np.sqrt(2) * state.coil_current
        alone = piece.electric(np.full(piece.volumes.shape, state.celsius), state.frequency, amplitude)
        assert state.power == pytest.approx(amplitude**2 / 2 * alone.reflection.resistance, rel=3e-3)


def test_the_coarse_cut_and_the_own_coils_end_effects_cost_little():
    """Against twice as many slices and three times as many shells, and against the coil's own end effects: under 3 % in power."""
    here, shape = bench(FORGING), CoilShape(9.0, 44e-3, 130e-3, TUBE)
    found = here.look(shape)
    finer = replace(here, slices=24, cells=60).look(shape)
    changed = {"coil.turns": 9, "coil.diameter": f"{1e3 * shape.diameter} mm", "coil.length": f"{1e3 * shape.length} mm"}
    own = bench(FORGING.change(changed)).look()
    for each, fine, ends in zip(found.states, finer.states, own.states, strict=True):
        assert each.power == pytest.approx(fine.power, rel=0.015)
        assert each.power == pytest.approx(ends.power, rel=0.03)


def test_time_is_that_of_the_heat_balance():
    """Another integration: c(T) dT/dt = P(T) - losses(T) in steps of time, P and losses straight between the same states."""
    from scipy.integrate import solve_ivp

    one, piece = looked(TEMPERED, 10.0, 16e-3, 0.1), bench(TEMPERED).plan.piece
    volume = float(np.sum(piece.volumes))
    celsius = np.array([each.celsius for each in one.states])
    left = np.array([each.power - each.given_off for each in one.states])

    def rise(_: float, warm: np.ndarray) -> np.ndarray:
        return np.interp(warm, celsius, left) / (volume * piece.heat.metals[0].density * piece.heat.metals[0].specific_heat(warm))

    def there(_: float, warm: np.ndarray) -> float:
        return float(warm[0] - 500.0)

    there.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(rise, (0.0, 1e4), [25.0], events=there, rtol=1e-6, max_step=2.0)
    assert one.seconds == pytest.approx(run.t_events[0][0], rel=0.01)


def test_a_wide_coil_stands_still_where_the_piece_gives_off_what_it_takes():
    one = looked(FORGING, 8.0, 30e-3, 0.1)
    assert one.time is None and one.stalls is not None
    celsius = [each.celsius for each in one.states]
    power, lost = (np.interp(one.stalls, celsius, [getattr(each, name) for each in one.states]) for name in ("power", "given_off"))
    assert 25 < one.stalls < 850
    assert power == pytest.approx(lost, rel=0.05) or one.stalls in celsius
    assert not one.keeps


def test_surplus_of_a_bar_a_thin_wall_and_a_tube():
    """a^2/(8 alpha) either way in a bar; a flat wall warmed from one side: w^2/6 behind and w^2/3 ahead; between, by quadrature."""
    assert conduction_surplus(0.01, 0.0, 1e-5, True) == pytest.approx(0.01**2 / 8e-5)
    assert conduction_surplus(0.01, 0.0, 1e-5, False) == pytest.approx(-(0.01**2) / 8e-5)
    wall = 1e-4
    assert conduction_surplus(0.1, 0.1 - wall, 1e-5, True) == pytest.approx(wall**2 / 6e-5, rel=2e-3)
    assert conduction_surplus(0.1, 0.1 - wall, 1e-5, False) == pytest.approx(-(wall**2) / 3e-5, rel=2e-3)
    r = np.linspace(0.006, 0.01, 20001)
    slope = (r**2 - 0.006**2) / (2 * r * 1e-5)  # of the temperature over dT/dt
    above = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) / 2 * np.diff(r))])
    mean = np.trapezoid(above * r, r) / np.trapezoid(r, r)
    assert conduction_surplus(0.01, 0.006, 1e-5, True) == pytest.approx(mean, rel=1e-5)
    assert conduction_surplus(0.01, 0.006, 1e-5, False) == pytest.approx(mean - above[-1], rel=1e-5)


def test_the_ranking_keeps_limits_first_and_is_quick_first(few):
    advice = coils.coil_advice(TEMPERED, confirm=0)
    assert len(advice.candidates) == 18 and advice.recommended is None and advice.exit_code == 1
    keeping = [each for each in advice.candidates if each.keeps]
    assert 0 < len(keeping) == advice.keeping < 18
    assert advice.candidates[: len(keeping)] == tuple(sorted(keeping, key=lambda each: each.time or 0.0))
    for each in keeping:
        assert all(finding.grade == "holds" for finding in each.findings)
        assert each.worst.supply_current <= 0.9 * 35.0
    assert any(finding.limit == "mean current" for finding in advice.own.short)
    close = [each for each in advice.candidates if each.clearance == pytest.approx(5e-3)]
    assert all(not each.keeps for each in close)


def test_what_keeps_no_limit_is_ranked_by_what_it_lacks(few):
    advice = coils.coil_advice(FORGING, confirm=0)
    assert advice.keeping == 0
    there = [each for each in advice.candidates if each.time is not None]
    assert there and advice.candidates[: len(there)] == tuple(there)
    assert [each.excess for each in there] == sorted(each.excess for each in there)


def test_limits_are_put_right_by_what_the_own_coil_shows():
    over = Finding("supply", "mean current", 30.0, 35.0, "A", 1 - 30 / 35, "holds", "estimate")
    lower = Finding("choke.left", "inductance left at the peak", 0.6, 0.5, "ratio", 0.2, "holds", "memory")
    one = replace(looked(TEMPERED, 10.0, 16e-3, 0.1), findings=(over, lower))
    found = coils.corrected(one, {("supply", "mean current"): 1.1, ("choke.left", "inductance left at the peak"): 0.8})
    supply, choke = found.findings
    assert (supply.value, supply.grade) == (pytest.approx(33.0), "marginal")
    assert supply.headroom == pytest.approx(1 - 33 / 35)
    assert (choke.value, choke.grade) == (pytest.approx(0.48), "fails")
    assert choke.headroom == pytest.approx(-0.04)
    assert coils.corrected(one, {}) == one


def test_another_coil_takes_the_place_of_a_measured_one():
    measured = FORGING.change({"coil.measured": {"inductance": "2 uH", "resistance": "15 mohm"}})
    shape = CoilShape(7.0, 50e-3, 60e-3, TUBE)
    changed = coils.with_coil(measured, "loaded", shape, {"piece-cold": 25.0, "piece-hot": 700.0})
    by_hand = FORGING.change({"coil.turns": 7, "coil.diameter": "56 mm", "coil.length": "60 mm"})
    assert changed.heater("idle") == by_hand.heater("idle")
    assert changed.tables.coil.lead_inductance == pytest.approx(60e-9)
    piece = changed.tables.case["piece-hot"].workpiece
    assert piece is not None and piece.temperature == 700.0 and piece.material == "steel"


def test_a_bar_too_thick_for_the_model_is_said():
    thick = FORGING.change({"case.loaded.workpiece.diameter": "60 mm", "coil.diameter": "90 mm"})
    close = bench(thick).look(CoilShape(8.0, 66e-3, 80e-3, TUBE))
    assert any("0.8 of the coil" in each for each in close.doubts) and close.excess >= 1
    assert not bench(thick).look(CoilShape(8.0, 84e-3, 80e-3, TUBE)).doubts


def test_a_coil_that_leaves_no_room_for_the_sleeve_is_left_out(few):
    sleeved = TEMPERED.change({"heat.sleeve_inner": "22 mm", "heat.sleeve_outer": "32 mm"})
    advice = coils.coil_advice(sleeved, confirm=0)
    assert advice.left_out == {"the sleeve does not fit": 6}
    assert {round(1e3 * each.clearance) for each in advice.candidates} == {16, 30}


def test_a_frequency_far_from_the_own_coils_is_said():
    assert any("kHz" in each for each in looked(FORGING, 2.0, 5e-3, 0.03).doubts)
    assert not looked(FORGING, 9.0, 5e-3, 0.08).doubts


def test_a_coil_without_its_tube_is_refused():
    sizes = {"turns": 10, "diameter": "44 mm", "length": "74 mm"}
    measured = FORGING.change({"coil": {**sizes, "measured": {"inductance": "2 uH", "resistance": "15 mohm"}}})
    with pytest.raises(InputError, match="tube_diameter"):
        coils.coil_advice(measured, confirm=0)


@pytest.mark.slow
def test_what_is_recommended_has_been_simulated_and_holds(few):
    told: list[str] = []
    advice = coils.coil_advice(TEMPERED, lambda what, share: told.append(what), confirm=1)
    assert isinstance(advice, CoilAdvice) and advice.exit_code == 0
    chosen, own = advice.recommended, advice.confirmed[0]
    assert chosen is not None and own.estimate.own and not own.holds and "mean current" in own.ended_by
    assert chosen.estimate == advice.candidates[0] and rank(chosen.estimate) == min(map(rank, advice.candidates))
    assert [each.name for each in chosen.states] == ["cold", "as wanted", "idle"]
    assert all(each.outcome == "settled" and not each.short for each in chosen.states)
    for state in (each for one in advice.confirmed for each in one.states if each.celsius is not None):
        rows = {row.key: row for row in state.compared}
        assert abs(rows["workpiece.power_w"].difference) < 0.03
        assert abs(rows["supply.mean_current_a"].difference) < 0.05
        assert abs(rows["coil.rms_current_a"].difference) < 0.04
    data = json.loads(json.dumps(advice.as_dict()))
    assert data["schema"] == "heatsim.coils/1" and data["recommended"]["turns"] == chosen.estimate.shape.turns
    assert "estimated 18 of 18 coils" in told and any("number 1 of the ranking" in each for each in told)


def test_the_share_of_cases_simulated_counts_those_to_come_and_never_falls() -> None:
    told: list[float] = []
    progress = coils._of_all(4, told.append)
    for index, reached, target in (
        (0, 1.0, 2.0),
        (1, 1.0, 2.0),
        (0, 1.0, 4.0),
        (0, 4.0, 4.0),
        (1, 2.0, 2.0),
        (2, 1.0, 1.0),
        (3, 1.0, 1.0),
    ):
        progress(index, reached, target)
    assert told == [0.125, 0.25, 0.25, 0.375, 0.5, 0.75, 1.0]
