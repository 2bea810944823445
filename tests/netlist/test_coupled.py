# SPDX-License-Identifier: GPL-3.0-or-later
"""Coupled feed chokes: two of them alone in ngspice against closed forms, and the heater they work in against an independent
integration."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from heatsim.engine.session import Session
from heatsim.measures.energy import balance
from heatsim.netlist.chokes import FLUX_UNIT, emit_choke
from heatsim.netlist.damage import coupled_choke
from heatsim.netlist.generate import make_deck
from heatsim.netlist.slow import currents_of, difference_time, fluxes_of
from heatsim.parts.curves import Curve, GappedCurve, LinearCurve, soft_curve
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import POWDER_60, HystereticCurve
from heatsim.parts.ladder import Ladder
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.parameters import with_changes
from heatsim.studies.match.solver import Solution, Solver
from heatsim.waves import Array
from tests.netlist.test_hysteretic import HYSTERESIS
from tests.netlist.test_library import run
from tests.support.book import CLOSED, INDEPENDENT, known
from tests.support.captures.circuit import Faulty
from tests.support.captures.orbit import Flow, settle, waveforms

FOLDER = Path(__file__).resolve().parents[2] / "scenarios"
BENCH = Scenario.from_file(FOLDER / "bench-heater.toml").heater("loaded")
SMALL = Scenario.from_file(FOLDER / "bench-heater-small-rings.toml").heater("loaded")
LINEAR = LinearCurve(60e-6, 1e-6), LinearCurve(45e-6, 1e-6)
CURVES = {
    "linear": LINEAR[0],
    "soft": soft_curve(60e-6, 1.5e-6, 25.0, 1.855),
    "gapped": GappedCurve(60e-6, 1.5e-6, 1.2e-3, 1e-4),
    "hysteretic": HystereticCurve(POWDER_60, 20, 98.4e-3, 107e-6, 1.5e-6),
}
MEASURED = {
    "choke.measured.inductance": "60 uH",
    "choke.measured.resistance": "8 mohm",
    "choke.measured.saturation_current": "30 A",
    "choke.measured.knee": "soft",
}
INTEGRATION = "the circuit integrated from its own equations"
PEAK, FREQUENCY = 100.0, 90e3
OMEGA = 2 * math.pi * FREQUENCY


def pair(folder: Path, curves: tuple[Curve, Curve], coupling: float, sources: list[str], also: str = "") -> Array:
    """Time and the currents [A] of two chokes whose common end is grounded, from sources at the others; two periods."""
    both = tuple(replace(choke, curve=curve, capacitance=1e-18) for choke, curve in zip(BENCH.chokes, curves, strict=True))
    heater = replace(BENCH, chokes=both, damage=replace(BENCH.damage, choke_coupling=coupling))
    emitted = [coupled_choke(emit_choke(c, f"d_{c.side}", 1e9, Ladder(1e-6, 25.0)), heater, c) for c in both]
    deck = [
        "* two chokes", *dict.fromkeys(text for each in emitted for text in each.subcircuits), *(each.lines for each in emitted),
        "vbus bus 0 0", *sources, also, ".option method=gear reltol=1e-5",
        f".tran 5n {2 / FREQUENCY:.9g} 0 5n uic", ".save i(v.xch_left.vs) i(v.xch_right.vs)", ".end", "",
    ]  # fmt: skip
    return run(folder, "\n".join(deck)).T


def sines(left: float, right: float) -> list[str]:
    """Voltages across the chokes, cosines of amplitudes [V]."""
    return [f"v{name} d_{name} 0 sin(0 {-x:.9g} {FREQUENCY:g} 0 0 90)" for name, x in (("left", left), ("right", right))]


@pytest.mark.ngspice
@pytest.mark.parametrize("coupling", [0.25, -0.25])
def test_currents_of_linear_chokes_are_those_of_the_inverse_matrix(tmp_path: Path, coupling: float) -> None:
    """[L1 M; M L2] i = flux, M = k sqrt(L1 L2) (any textbook), from a given flux on, and after some comes in by its source."""
    mutual = coupling * math.sqrt(60e-6 * 45e-6)
    start = np.array([3e-4, -1e-4])
    also = "\n".join(f".ic v(xch_{side}.phi)={flux / FLUX_UNIT:.9g}" for side, flux in zip(("left", "right"), start, strict=True))
    also += "\niperturb 0 xch_left.phi dc 0 pulse(0 2 10u 1n 1n 1u)"
    time, *currents = pair(tmp_path, LINEAR, coupling, sines(PEAK, -PEAK / 2), also)
    fluxes = np.outer([PEAK, -PEAK / 2], np.sin(OMEGA * time) / OMEGA) + start[:, None]
    fluxes[0] += FLUX_UNIT * 2 * np.clip(time - 10.0005e-6, 0, 1.001e-6)
    wanted = np.linalg.solve([[60e-6, mutual], [mutual, 45e-6]], fluxes)
    late = time > 2e-8
    assert np.array(currents)[:, late] == known(
        wanted[:, late], f"coupled chokes, k = {coupling}: currents", "matrix of inductances", CLOSED, unit="A", abs=0.01
    )


@pytest.mark.ngspice
@pytest.mark.parametrize("name", CURVES)
def test_equal_chokes_on_equal_voltages_have_the_mutual_inductance_more(tmp_path: Path, name: str) -> None:
    """flux = F(i) + M i in both: any curve, with hysteresis, too, and M in series with it; in the opposite sense M less."""
    curve, mutual = CURVES[name], 0.1 * CURVES[name].inductance_zero
    time, left, right = pair(tmp_path, (curve, curve), 0.1, sines(PEAK, PEAK))
    series = [f"vdrive end 0 sin(0 {-PEAK:.9g} {FREQUENCY:g} 0 0 90)", f"lm d_left end {mutual:.9g}", "vright d_right 0 0"]
    alone_time, alone, _ = pair(tmp_path, (curve, curve), 0.0, series)
    assert left == pytest.approx(right, abs=1e-6)
    assert left == pytest.approx(np.interp(time, alone_time, alone), abs=2e-3 * np.ptp(alone))


@pytest.mark.ngspice
@pytest.mark.parametrize("factor", [0.1, -0.1])
def test_a_ring_with_hysteresis_coupled_to_a_linear_choke(tmp_path: Path, factor: float) -> None:
    """Beside the simulator's own coupled inductors: most of the first's linear part, which is in series, shares the flux."""
    curve, own = HystereticCurve(POWDER_60, 20, 98.4e-3, 107e-6, 1.5e-6), LINEAR[0].inductance_zero
    mutual, part = factor * math.sqrt(curve.inductance_zero * own), 1.4e-6
    time, left, right = pair(tmp_path, (curve, LINEAR[0]), factor, sines(PEAK, PEAK / 2))
    apart = [
        f"vleft end 0 sin(0 {-PEAK:.9g} {FREQUENCY:g} 0 0 90)", f"lx d_left end {part:.9g}", "vright d_right 0 0",
        f"vsecond second 0 sin(0 {-PEAK / 2:.9g} {FREQUENCY:g} 0 0 90)", f"ly 0 second {own:.9g}",
        f"kxy lx ly {mutual / math.sqrt(part * own):.9g}",
    ]  # fmt: skip
    alone_time, alone, _ = pair(tmp_path, (replace(curve, inductance_air=curve.inductance_air - part), LINEAR[0]), 0.0, apart)
    assert left == pytest.approx(np.interp(time, alone_time, alone), abs=2e-3 * np.ptp(alone))
    flux = PEAK / 2 * np.sin(OMEGA * time) / OMEGA
    assert right == pytest.approx((flux - mutual * left) / own, abs=2e-3 * np.ptp(right))


def coupled(factor: float) -> Heater:
    """The loaded bench heater on smaller rings with coupled chokes."""
    return with_changes(SMALL, {"choke_coupling": factor})


def test_without_coupling_nothing_changes_and_one_choke_has_none() -> None:
    assert "xch_left.own" not in make_deck(SMALL, "x").text
    one = Scenario.from_file(FOLDER / "bench-heater.toml").change({"heater.topology": "one-choke"}).heater("loaded")
    assert replace(one, damage=replace(one.damage, choke_coupling=0.2)).mutual_inductance == 0.0


def test_currents_and_fluxes_lead_to_each_other() -> None:
    """And M i of the other choke is what the flux has more."""
    heater, currents = coupled(0.2), [9.0, 23.0]
    zero = SMALL.chokes[0].curve.inductance_zero
    more = np.subtract(fluxes_of(heater, currents), fluxes_of(SMALL, currents))
    assert more == pytest.approx([0.2 * zero * 23.0, 0.2 * zero * 9.0])
    assert currents_of(heater, fluxes_of(heater, currents)) == pytest.approx(currents, rel=1e-3)
    assert currents_of(SMALL, fluxes_of(SMALL, currents)) == pytest.approx(currents, rel=1e-3)


def test_what_is_shared_does_not_hold_the_difference() -> None:
    """L1 + L2 - 2 M over the same resistance."""
    own = 2 * float(SMALL.chokes[0].curve.inductance(SMALL.supply_current / 2))
    assert difference_time(coupled(0.1)) / difference_time(SMALL) == pytest.approx(1 - 2 * coupled(0.1).mutual_inductance / own)


def test_far_in_saturation_the_chokes_count_no_further_for_each_other() -> None:
    """From where each has 1.1 M left: there are no currents beside the true ones that the simulator might jump to. Below, at any
    current of the heater at work, M stands as it is."""
    text = make_deck(coupled(0.15), "x").text
    reach = float(re.findall(r"bmut_left .*max\(v\(xch_right\.im\),-([0-9.e+]+)\)", text)[0])
    assert float(SMALL.chokes[0].curve.inductance(reach)) == pytest.approx(1.1 * coupled(0.15).mutual_inductance, rel=1e-4)
    assert reach > 1.5 * 30.0
    both = tuple(replace(choke, curve=LINEAR[0]) for choke in SMALL.chokes)
    assert "gmut_left" in make_deck(replace(coupled(0.15), chokes=both), "x").text


def test_chokes_that_give_way_do_not_couple_closely() -> None:
    with pytest.raises(ValueError, match="couple"):
        coupled(-0.3)


@pytest.fixture(scope="module")
def solver(session: Session) -> Solver:
    """Of heaters on small rings, with all waveforms."""
    return Solver(session, ("tank.voltage", "supply.current"), 400, whole=True)


@pytest.fixture(scope="module")
def sound(solver: Solver) -> Solution:
    """Without coupling."""
    return solver.start(SMALL)


def ripples(signals: Mapping[str, Array]) -> list[float]:
    """Of both chokes' currents, peak to peak [A]."""
    return [float(np.ptp(signals[f"choke.{side}.current"])) for side in ("left", "right")]


@pytest.mark.slow
@pytest.mark.ngspice
@pytest.mark.parametrize("factor", [0.15, -0.15])
def test_the_heater_against_the_independent_integration(solver: Solver, sound: Solution, factor: float) -> None:
    """Frequency within 3e-4, both chokes' ripple within 1 %, supply current within 1e-3; and the energy balance closes."""
    heater = coupled(factor)
    found = solver.solve(heater, sound)
    flow = Flow(Faulty(SMALL, mutual=heater.mutual_inductance), rtol=1e-6)
    other = waveforms(flow, settled := settle(flow))
    what = f"coupled chokes in the heater, k = {factor}"
    assert found.frequency == known(1 / settled.period, f"{what}: frequency", INTEGRATION, INDEPENDENT, unit="Hz", rel=3e-4)
    mean = float(np.real(found.lines["supply.current"][0]))
    wanted = float(np.mean(other["supply.current"][:-1]))
    assert mean == known(wanted, f"{what}: supply current", INTEGRATION, INDEPENDENT, unit="A", rel=1e-3)
    ripple = np.array(ripples(found.waveforms))
    assert ripple == known(ripples(other), f"{what}: ripple, left and right", INTEGRATION, INDEPENDENT, unit="A", rel=1e-2)
    assert abs(balance(found.waveforms, make_deck(heater, "x", paused=True).ledger).imbalance_ratio or 1.0) < 2e-3


@pytest.mark.slow
@pytest.mark.ngspice
@pytest.mark.parametrize("model", ["powder", "hysteretic", "measured"])
def test_a_cold_start_leads_to_the_same_state(solver: Solver, model: str) -> None:
    """And the slow states that a neighbour without coupling expects are near it, none further off than a twentieth of its scale."""
    changes: dict[str, Any] = {"powder": {}, "hysteretic": HYSTERESIS, "measured": MEASURED}[model]
    plain = with_changes(Scenario.from_file(FOLDER / "bench-heater-small-rings.toml").change(changes).heater("loaded"), {})
    heater = with_changes(plain, {"choke_coupling": 0.15})
    sound = solver.start(plain)
    near, cold = solver.solve(heater, sound), solver.start(heater)
    assert cold.frequency == pytest.approx(near.frequency, rel=1e-4)
    assert cold.point == pytest.approx(near.point, abs=0.01)
    expected = sound.point_in(heater)
    assert expected == pytest.approx(near.point, abs=0.05)
    assert np.abs(expected - sound.point)[3:].min() > 0.05
    assert near.point_in(plain) == pytest.approx(sound.point, abs=0.05)
