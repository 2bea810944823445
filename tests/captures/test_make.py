# SPDX-License-Identifier: GPL-3.0-or-later
"""Whole captures: reproducible, a sound one is what heatsim simulates, cases share one faulty heater, ripple is in the record."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.optimize import least_squares

from heatsim.engine import run_deck
from heatsim.netlist.generate import make_deck
from heatsim.scenario.scenario import Scenario
from tests.support.captures.causes import CAPACITOR, NOTHING, PROBE, SUPPLY, Ripple
from tests.support.captures.circuit import NAMES, Faulty
from tests.support.captures.features import fitted, fundamental, swing
from tests.support.captures.make import DRAINS, Made, fast_ripple, known, make_capture, make_captures, seed_of, slow_ripple
from tests.support.captures.orbit import Flow
from tests.support.captures.scope import CODES_PER_DIVISION, Probe
from tests.support.independent.circuits import FOLDER
from tests.support.independent.measure import rising
from tests.support.layers import quick_of

BENCH = Scenario.from_file(FOLDER / "bench-heater.toml")


@cache
def sound() -> Made:
    """A sound heater's drains and tank."""
    return make_capture(BENCH, "loaded", NOTHING, 3, ("tank.voltage", *DRAINS))


@pytest.mark.slow
def test_a_seed_gives_one_capture_and_another_gives_another() -> None:
    once, again = (make_capture(BENCH, "loaded", CAPACITOR, 5) for _ in range(2))
    other = make_capture(BENCH, "loaded", CAPACITOR, 6)
    assert once.truth == again.truth
    assert np.array_equal(once.time, again.time)
    assert np.array_equal(once.channels["tank.voltage"], again.channels["tank.voltage"])
    assert once.truth != other.truth


@pytest.mark.slow
def test_record_is_even_eight_bit_and_of_bench_length() -> None:
    made = sound()
    assert 1_000 <= made.time.size <= 100_000
    assert 5 <= made.time[-1] * made.truth["frequency"] <= 50
    assert np.diff(made.time) == pytest.approx(np.full(made.time.size - 1, made.time[1]), rel=1e-9)
    for name, values in made.channels.items():
        codes = values / made.details[name].step
        assert codes == pytest.approx(np.round(codes), abs=1e-6)
        assert 50 < np.ptp(codes) < 8.5 * CODES_PER_DIVISION
        error = values - made.details[name].clean
        assert float(np.std(error)) == pytest.approx(np.hypot(made.details[name].noise, made.details[name].step / 12**0.5), rel=0.1)


@pytest.mark.slow
def test_sound_capture_is_what_heatsim_simulates() -> None:
    """The very heater through ngspice: after probe gain, time and clock are fitted, what is left is the record's own noise, but for
    the few samples in which a drain bounces at its change-over (1 % of the period, by some volts in nanoseconds).

    Deviation from the median absolute one, which these samples do not move (normal law: 1.4826 of it).
    """
    made = sound()
    run = run_deck(make_deck(made.faulty.heater, "beside the capture", 400))
    assert run.outcome == "settled", run.detail
    assert run.waveforms is not None
    waves, period = run.waveforms, 1 / made.truth["frequency"]
    marks = rising(waves.time, waves["coil.current"])[-2:]
    assert marks[1] - marks[0] == pytest.approx(period, rel=5e-4)
    for name in ("tank.voltage", *DRAINS):
        detail, values = made.details[name], made.channels[name]

        def residual(x: np.ndarray, name: str = name, values: np.ndarray = values) -> np.ndarray:
            phase = (made.time * (1 + x[2]) / period + made.scope.trigger + x[1]) % 1.0
            return values - x[0] * np.interp(marks[0] + phase * (marks[1] - marks[0]), waves.time, waves[name])

        found = least_squares(residual, [1.0, 0.0, 0.0], x_scale=[0.01, 1e-3, 1e-5])
        expected = np.hypot(detail.noise, detail.step / 12**0.5)
        assert 1.4826 * float(np.median(np.abs(found.fun))) == pytest.approx(expected, rel=0.1), name
        assert np.mean(np.abs(found.fun) > 5 * expected) < 0.01, name
        assert found.x[0] == pytest.approx(made.probes[name].gain, abs=3e-3)
        assert abs(found.x[1]) < 3e-3


@pytest.mark.slow
def test_idle_and_loaded_are_of_one_heater_and_one_probe() -> None:
    idle, loaded = make_captures(BENCH, ("idle", "loaded"), CAPACITOR, 11)
    assert idle.truth["capacitors.capacitance"] == loaded.truth["capacitors.capacitance"]
    assert idle.truth["choke.left.inductance"] == loaded.truth["choke.left.inductance"]
    assert idle.probes == loaded.probes
    assert idle.faulty.heater.workpiece is None
    assert idle.truth["quality"] > 3 * loaded.truth["quality"]
    assert (idle.case, loaded.case) == ("idle", "loaded")


@pytest.mark.parametrize("name", quick_of(["gate.left.voltage", "choke.right.current", "coil.current"], "gate.left.voltage"))
def test_other_channels_can_be_recorded(name: str) -> None:
    made = make_capture(BENCH, "loaded", NOTHING, 8, ("tank.voltage", name))
    period = made.period[name]
    assert np.ptp(made.details[name].clean) == pytest.approx(np.ptp(period) * made.probes[name].gain, rel=0.03)


@pytest.mark.slow
def test_slow_ripple_by_settled_periods_is_the_integrated_one() -> None:
    """At 300 Hz both must come to the same rise of the envelope, that of the supply: the tank's peak is pi times its voltage."""
    start, flow = known(BENCH, "loaded"), Flow(Faulty(BENCH.heater("loaded")))
    instants = np.linspace(0, 20 * start.period, 2000)
    probes = {"tank.voltage": Probe(bandwidth=1e12)}
    ripple = Ripple(4.0, 300.0, 0.0)
    expected = 2.0 / 42 * np.diff(np.sin(2 * np.pi * 300 * instants[[100, 1900]]))[0]
    for how in (slow_ripple, fast_ripple):
        wave = how(flow, start, ripple, instants, ("tank.voltage",), probes)["tank.voltage"]
        early, late = (
            fundamental(fitted(instants[part], wave[part], 1 / start.period, 3)) for part in (slice(0, 200), slice(-200, None))
        )
        assert late / early - 1 == pytest.approx(expected, rel=0.15), how.__name__


@pytest.mark.slow
def test_mains_ripple_fills_its_record() -> None:
    made = make_capture(BENCH, "loaded", SUPPLY, seed_of(BENCH, SUPPLY, "mains ripple"))
    cycles = made.time[-1] * made.truth["supply.ripple_frequency"]
    assert 0.55 < cycles < 1.55
    depth = made.truth["supply.ripple"] / made.truth["supply.voltage"]
    assert 0.4 * depth < swing(made.time, made.channels["tank.voltage"], made.truth["frequency"]) < 1.1 * depth


def test_only_one_probe_is_wrong() -> None:
    made = make_capture(BENCH, "loaded", PROBE, 1, ("tank.voltage", *DRAINS))
    assert sum(probe.kind != "sound" for probe in made.probes.values()) == 1
    assert made.kind != "sound"


def test_sound_state_is_found_without_a_known_one() -> None:
    settled = known(BENCH, "loaded")
    assert settled.state[NAMES.index("flux_left")] > 0
    assert settled.periods < 60
