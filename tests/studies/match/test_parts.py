# SPDX-License-Identifier: GPL-3.0-or-later
"""Pieces of `match` without the simulator: knobs, probes, the fitted scenario, signals by shape."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import fields
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.measures.lines import BANDS, record_lines, wave_of
from heatsim.parts.curves import half_current
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.data import Layout, floor_of, folded, observed
from heatsim.studies.match.faults import CAUSES, CONNECTION, NOTHING, PROBE, kinds_of
from heatsim.studies.match.fitted_scenario import fitted_fields, with_fields
from heatsim.studies.match.nuisance import tolerances_of
from heatsim.studies.match.parameters import scaled_curve, shorted_coil, turned
from heatsim.studies.match.probes import good, probe_kinds
from heatsim.studies.match.response_library import Sheet
from heatsim.studies.match.search import hypotheses
from heatsim.studies.match.signals import assign, looks
from heatsim.studies.match.solver import COUNT
from heatsim.waves.capture import read_capture

ROOT = Path(__file__).resolve().parents[3]
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")
DEMO = ROOT / "scenarios" / "captures" / "distorted.csv"


def test_no_knob_turned_is_the_same_heater() -> None:
    heater = BENCH.heater("loaded")
    same = turned(heater, {})
    assert same.gate.resistor == pytest.approx(heater.gate.resistor)
    assert (same.chokes, same.coil, same.workpiece, same.supply) == (heater.chokes, heater.coil, heater.workpiece, heater.supply)


def test_unknown_knob_is_refused() -> None:
    with pytest.raises(KeyError, match="log_nonsense"):
        turned(BENCH.heater("loaded"), {"log_nonsense": 1.0})


def test_scaled_curve_is_that_of_fewer_turns() -> None:
    """n times the turns: n^2 the inductance at 1/n the current; heatsim's own winding model must say the same, but for the air."""
    few = BENCH.change({"choke.right.turns": 14}).heater("loaded").chokes[1]
    whole = BENCH.heater("loaded").chokes[1]
    n = 14 / 20
    scaled = scaled_curve(whole.curve, n**2, 1 / n)
    currents = np.linspace(0, 40, 30)
    assert scaled.inductance(currents) == pytest.approx(few.curve.inductance(currents), rel=0.02)
    assert half_current(scaled) == pytest.approx(half_current(whole.curve) / n, rel=1e-3)


def test_scaled_chokes_lose_in_the_core_what_other_rings_would() -> None:
    """A ring with 0.6 of the area loses as much as the scenario with that area does."""
    other = BENCH.change({"choke.left.core.area": "64.2 mm2"}).heater("loaded").chokes[0]
    scaled = turned(BENCH.heater("loaded"), {"log_strength_left": math.log(0.6)}).chokes[0]
    assert scaled.core_loss_resistance(60.0, 2e-4, 85e3) == pytest.approx(other.core_loss_resistance(60.0, 2e-4, 85e3), rel=1e-6)


def test_shorted_coil_turn_against_two_coupled_coils() -> None:
    """Idle: L = L0 (1 - k^2 x^2/(1+x^2)), r = r0 + w k^2 L0 x/(1+x^2), x = wL/R of the turn (coupled circuits, any textbook)."""
    heater = BENCH.heater("idle")
    seen = shorted_coil(heater, 0.3, 5.0)
    w, own = 2 * math.pi * heater.frequency, heater.coil.inductance
    assert seen.inductance == pytest.approx(own * (1 - 0.3 * 25 / 26), rel=1e-9)
    assert seen.resistance == pytest.approx(heater.coil.resistance + w * 0.3 * own * 5 / 26, rel=1e-9)


def test_every_cause_has_its_kinds() -> None:
    causes = {kind.cause for kind in kinds_of(BENCH.heater("loaded"))}
    assert causes == set(CAUSES) - {PROBE}
    assert "heavy load" not in {kind.cause for kind in kinds_of(BENCH.heater("idle"))}
    one = BENCH.change({"heater.topology": "one-choke"}).heater("loaded")
    assert not any("weaker" in kind.name for kind in kinds_of(one))


@pytest.mark.parametrize("case", ["loaded", "idle"])
def test_every_kind_builds_a_heater_over_its_whole_range(case: str) -> None:
    heater = BENCH.heater(case)
    for kind in kinds_of(heater):
        for u in (0.0, 0.5, 1.0):
            changed = turned(heater, kind.knobs(tuple(p.value(u) for p in kind.parameters)))
            assert 20e3 < changed.frequency < 400e3, kind.name
    for tolerance in tolerances_of(heater):
        if tolerance.name == "load" and case == "idle":
            continue
        assert turned(heater, {name: tolerance.deviation * share for name, share in tolerance.knobs.items()}) != heater


def test_parameters_places_are_inverse_to_values() -> None:
    for kind in kinds_of(BENCH.heater("loaded")):
        for parameter in kind.parameters:
            assert parameter.place(parameter.value(0.37)) == pytest.approx(0.37)


LINES = np.zeros(COUNT + 1, complex)
LINES[[0, 1, 2, 3]] = [40, 65, -27, 3j]
BAND = np.full(len(BANDS) - 1, 0.2)


def test_probes_do_what_closed_forms_say() -> None:
    """One pole: |R| = 1/sqrt(1+(f/fc)^2); a second-order resonance at its frequency: |R| = Q; compensation, far above: its gain."""
    kinds = {kind.name: kind for kind in probe_kinds("drain.left.voltage", (None, None))}
    slow, _ = kinds["too slow"].seen(100e3, LINES, BAND, (100e3,))
    assert abs(slow[1] / LINES[1]) == pytest.approx(1 / math.sqrt(2))
    ringing, _ = kinds["rings with its ground lead"].seen(100e3, LINES, BAND, (300e3, 4.0))
    assert abs(ringing[3] / LINES[3]) == pytest.approx(4.0)
    weak, bands = kinds["compensated too weakly"].seen(1e6, LINES, BAND, (0.7, 1e3))
    assert abs(weak[1] / LINES[1]) == pytest.approx(0.7, rel=1e-3)
    assert bands == pytest.approx(0.7 * BAND, rel=1e-3)
    assert weak[0] == LINES[0]
    assert kinds["AC coupled"].seen(1e5, LINES, BAND, ())[0][0] == 0
    late, _ = good(delay=1e-7)(1e6, LINES, BAND, ())
    assert np.angle(late[1] / LINES[1]) == pytest.approx(-2 * math.pi * 0.1)


def test_cutting_off_is_done_on_the_wave() -> None:
    cut = probe_kinds("tank.voltage", (-50.0, 50.0))[-1]
    assert cut.name == "cut off"
    lines = np.zeros(COUNT + 1, complex)
    lines[1] = 100
    seen, _ = cut.seen(1e5, lines, BAND, ())
    wave = wave_of(seen, np.linspace(0, 2 * math.pi, 500))
    assert np.max(np.abs(wave)) == pytest.approx(50, rel=0.05)


def test_fitted_fields_make_the_fitted_heater() -> None:
    """Through text and back: every electrical value within the digits written."""
    knobs = {
        "log_capacitance": -0.1,
        "log_coil": 0.02,
        "log_load": 0.3,
        "log_strength_right": -0.8,
        "log_reach_right": 0.2,
        "feed_left": 0.2,
        "short_resistance_left": 2.0,
        "short_inductance_left": 1e-5,
        "log_pull_up": 0.5,
        "threshold": 0.2,
        "log_supply": -0.1,
        "capacitor_resistance": 0.01,
        "lead_resistance": 0.02,
    }
    wanted = turned(BENCH.heater("loaded"), knobs)
    text = with_fields(BENCH, fitted_fields(BENCH, "loaded", wanted), "fitted for a test")
    assert text.startswith("# fitted for a test\n")
    found = Scenario.from_text(text).heater("loaded")
    assert found.frequency == pytest.approx(wanted.frequency, rel=2e-3)
    for one, other in (
        (found.supply.voltage, wanted.supply.voltage),
        (found.capacitors.capacitance, wanted.capacitors.capacitance),
        (found.loaded_inductance, wanted.loaded_inductance),
        (found.loaded_resistance, wanted.loaded_resistance),
        (found.gate.pull_up, wanted.gate.pull_up),
        (found.switch.threshold, wanted.switch.threshold),
    ):
        assert one == pytest.approx(other, rel=2e-3)
    for a, b in zip(found.chokes, wanted.chokes, strict=True):
        currents = np.linspace(0, 60, 40)
        assert a.curve.inductance(currents) == pytest.approx(b.curve.inductance(currents), abs=0.02 * b.curve.inductance_zero)
        assert a.resistance == pytest.approx(b.resistance, rel=1e-4)
        assert a.short == b.short


def test_signals_are_told_by_shape() -> None:
    found, notes = assign(read_capture(DEMO), BENCH, "loaded", {})
    assert found == {"CH1": "tank.voltage", "CH2": "drain.left.voltage"}
    assert len(notes) == 2


def test_the_tank_is_the_widest_that_alternates_in_any_order(tmp_path: Path) -> None:
    """Drains, a drain without its mean and a current before the tank: taken for what they are, or left out with a word."""
    phase = 2 * math.pi * 85e3 * np.arange(4000) * 4e-8
    half = np.maximum(np.sin(phase), 0.0)
    path = tmp_path / "scope.npz"
    np.savez(
        path,
        time=np.arange(4000) * 4e-8,
        a=131 * half - 131 / math.pi,
        b=131 * np.maximum(-np.sin(phase), 0.0),
        c=131 * half,
        d=131 * np.sin(phase),
        e=60 * np.cos(phase),
    )
    found, notes = assign(read_capture(path), BENCH, "loaded", {})
    assert found == {"d": "tank.voltage", "b": "drain.right.voltage", "c": "drain.left.voltage"}
    assert sum("alternates about zero too" in note for note in notes) == 2


def test_stated_signals_win_and_wrong_ones_are_named() -> None:
    capture = read_capture(DEMO)
    assert assign(capture, BENCH, "loaded", {"2": "drain.right.voltage"})[0] == {"CH2": "drain.right.voltage"}
    with pytest.raises(InputError, match=r"did you mean tank\.voltage"):
        assign(capture, BENCH, "loaded", {"CH1": "tank.volt"})
    with pytest.raises(InputError, match="CH7"):
        assign(capture, BENCH, "loaded", {"CH7": "tank.voltage"})


def test_a_forgotten_probe_factor_is_asked_about() -> None:
    capture = read_capture(DEMO, probe=0.1)
    assert any("probe's factor" in note for note in looks(capture, {"CH1": "tank.voltage"}, BENCH, "loaded", 42.0))
    assert not any("probe's factor" in note for note in looks(read_capture(DEMO), {"CH1": "tank.voltage"}, BENCH, "loaded", 42.0))


def test_a_sheet_reaches_another_process_whole() -> None:
    """Its plain form holds every field but the kind, in their order: slopes of its own were once left behind."""
    kind = kinds_of(BENCH.heater("loaded"))[0]
    rest = [f"value of {each.name}" for each in fields(Sheet) if each.name != "kind"]
    assert Sheet(kind, *rest).plain == tuple(rest)


@pytest.mark.parametrize("periods", [5.0, 5.37, 41.3])
@pytest.mark.parametrize("density", [50.0, 52.31])
def test_what_folds_back_on_lines_stays_within_what_is_allowed(density: float, periods: float) -> None:
    """Against records with one order above the lines, sampled and fitted: each of orders 13 to 190 shifts no line by more than
    three times what is allowed for it, and the line it shifts most by a third of it or more on the average: not idle."""
    phase = np.arange(round(density * periods)) * 2 * math.pi / density
    time, used = phase / (2 * math.pi * 1e5), []
    for order in range(13, 190):
        wave = np.cos(phase) + 0.01 * np.cos(order * phase + 0.7)
        found = record_lines(time, {"tank.voltage": wave}, 1e5, 12, "tank.voltage")
        seen = observed(found, {"tank.voltage": wave}, 12)
        lines = np.zeros(200, complex)
        lines[1], lines[order] = 1.0, 0.01
        allowed = folded(seen.layout, density, seen.periods, {"tank.voltage": lines}, {"tank.voltage": np.zeros(5)}, 1.0)
        real, imaginary = seen.layout.pairs()[0]
        off = np.hypot(seen.vector[real], seen.vector[imaginary])
        room = np.hypot(allowed[real], allowed[imaginary])
        assert np.all(off < 3 * room + 1e-7), order
        used.append(float(np.max(off) / np.max(room)))
    assert float(np.mean(used)) > 0.33


def test_causes_are_equally_likely_beforehand_and_sides_are_one_kind() -> None:
    """The priors of each cause's hypotheses add up to one, those of nothing wrong to two; a lead is as likely as both chokes'
    feeds together."""
    kinds = kinds_of(BENCH.heater("loaded"))
    sheets = {kind.name: Sheet(kind, (), np.zeros(1), np.ones((), bool), ()) for kind in kinds}
    start = SimpleNamespace(waveforms={"tank.voltage": np.zeros(9), "drain.left.voltage": np.zeros(9)})
    seen = SimpleNamespace(layout=SimpleNamespace(orders=dict.fromkeys(start.waveforms)), clipped={})
    found = hypotheses([SimpleNamespace(atlas=SimpleNamespace(sheets=sheets, start=start), seen=seen)])
    total = Counter()
    for each in found:
        total[each.cause] += math.exp(each.prior)
    assert dict(total) == pytest.approx(dict.fromkeys(CAUSES, 1.0) | {NOTHING: 2.0})
    priors = {each.name: math.exp(each.prior) for each in found if each.cause == CONNECTION}
    lead = priors.pop("loose lead between coil and bank")
    assert lead == pytest.approx(sum(priors.values())) and len(priors) == 2


def test_what_the_model_may_be_off() -> None:
    """A line that a kind moves by 0.1 among 24 still ones of the tank: a share of it there, and of the rms in all the others;
    nothing of it in another signal."""
    layout = Layout(
        {"tank.voltage": np.array([0, *range(2, 26)]), "drain.left.voltage": np.arange(26)},
        dict.fromkeys(("tank.voltage", "drain.left.voltage"), np.zeros(5)),
    )
    off = np.zeros(layout.size)
    real, imaginary = layout.pairs()[0]
    off[real.start + 3] = 0.1
    floor = floor_of(layout, off, 0.012)
    smear = 0.03 * 0.1 / math.sqrt(25 * 2)
    assert floor[real.start + 3] == pytest.approx(math.sqrt(0.4e-4**2 + 0.0012**2 + smear**2))
    assert floor[imaginary.start + 3] == floor[real.start + 3]
    assert floor[real.start + 9] == pytest.approx(math.hypot(0.4e-4, smear))
    other = layout.pairs()[1][0]
    assert floor[other] == pytest.approx(np.full(26, 0.4e-4))
    assert floor_of(layout, off, 0.012, 16.0)[other] == pytest.approx(np.full(26, 6.4e-4))
    assert floor_of(layout, off, 0.012, 16.0)[0] == pytest.approx(4 * floor[0])


def test_an_edge_met_at_the_same_places_folds_back_as_an_impulse_there() -> None:
    """Sixty samples a period, a spike of one sample where the tank crosses zero upwards: the spectrum of an impulse, 2/60 each."""
    phase = np.arange(1200) * 2 * math.pi / 60
    wave = np.cos(phase)
    wave[45::60] += 0.01  # phase 3 pi/2, which is -pi/2
    time = phase / (2 * math.pi * 1e5)
    seen = observed(record_lines(time, {"tank.voltage": wave}, 1e5, 12, "tank.voltage"), {"tank.voltage": wave}, 12)
    _, edge = seen.layout.edges(np.full(seen.layout.size, 2 * 0.01 / 60))
    real, imaginary = seen.layout.pairs()[0]
    orders = seen.layout.orders["tank.voltage"]
    turned_ = np.exp(1j * orders * np.angle(seen.lines.lines["tank.voltage"][1]))
    spike = (seen.vector[real] + 1j * seen.vector[imaginary]) * turned_
    assert spike[1:] == pytest.approx((edge[real] + 1j * edge[imaginary])[1:], abs=3e-6)
    assert spike[0].real == pytest.approx(0.01 / 60, abs=1e-6)


def test_slopes_come_from_the_anchors_and_from_the_sound_heater_where_a_kind_keeps_them() -> None:
    kind = next(kind for kind in kinds_of(BENCH.heater("loaded")) if kind.anchors == 2)
    low, high = np.array([[1.0, 2.0], [np.nan, np.nan]]), np.array([[3.0, 6.0], [np.nan, np.nan]])
    sheet = Sheet(kind, (), np.zeros(1), np.ones((), bool), (), ((0.2, low), (0.6, high)))
    sound = np.array([[9.0, 9.0], [7.0, 8.0]])
    assert sheet.slopes(np.array([0.3]), sound) == pytest.approx(np.array([[1.5, 3.0], [7.0, 8.0]]))
    assert sheet.slopes(np.array([0.9]), sound).tolist() == [[3.0, 6.0], [7.0, 8.0]]
    names = {tolerance.name for tolerance in tolerances_of(BENCH.heater("loaded"))}
    for each in kinds_of(BENCH.heater("loaded")):
        assert names.issuperset((*each.replaces, *each.keeps)), each.name
