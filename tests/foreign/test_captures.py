# SPDX-License-Identifier: GPL-3.0-or-later
"""Records of foreign heaters: what each oscilloscope leaves of a period, what each fault changes, and that equal seeds are
equal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatsim.studies.match import fault_model as asked
from tests.foreign.test_laws import BENCH
from tests.support import foreign_study
from tests.support.foreign import capture, faults, scope
from tests.support.foreign.capture import Task, Wave
from tests.support.foreign.circuit import AT, Circuit
from tests.support.foreign.orbit import settle

PHASE = 2 * np.pi * np.arange(scope.POINTS) / scope.POINTS
PERIOD = 11.6e-6
WAVE = Wave(PERIOD, (130 * np.cos(PHASE), np.where(np.cos(PHASE) > 0, 6 + 124 * np.cos(PHASE), 0.2)))
"""A cosine, and a half of it with a step of 6 V, about what the switches make at a change over."""


def made(chain: str, cause: str = faults.NOTHING, seed: int = 3, own: tuple[Wave, ...] = (WAVE,)) -> capture.Made:
    """A capture whose settled period is a cosine."""
    task = Task(cause, 1, chain, seed)
    each, g = capture.draw(task, BENCH, 0)
    return capture.record(task, each, list(own) * (len(each.states) if len(own) == 1 else 1), g)


def amplitude(found: capture.Made, name: str = "tank.voltage") -> float:
    """Of the fundamental, by least squares."""
    angle = 2 * np.pi * found.time / PERIOD
    columns = np.column_stack([np.ones_like(angle), np.cos(angle), np.sin(angle)])
    fit = np.linalg.lstsq(columns, found.channels[name], rcond=None)[0]
    return float(np.hypot(fit[1], fit[2]))


def test_the_known_causes_are_those_that_are_asked_about() -> None:
    assert set(faults.KNOWN) == set(asked.CAUSES)
    assert not set(faults.UNKNOWN) & set(asked.CAUSES)


@pytest.mark.parametrize("cause", faults.DRAWS)
def test_a_fault_changes_its_heater_and_equal_seeds_are_equal(cause: str) -> None:
    for seed in range(6):
        task = Task(cause, seed, scope.EIGHT_BIT, seed)
        each, again = capture.draw(task, BENCH, 0)[0], capture.draw(task, BENCH, 0)[0]
        g = np.random.default_rng([seed, tuple(faults.DRAWS).index(cause), seed, 0])
        sound = capture.sound(BENCH, capture.FAMILIES[seed], g)
        assert each == again
        assert (each.states == (sound,)) == (cause in (faults.NOTHING, faults.PROBE))
        assert all(np.isfinite(value) for value in each.truth.values())


@pytest.mark.slow
@pytest.mark.parametrize("family", [0, 1])
def test_steel_at_its_knee_gives_way(family: int) -> None:
    """Of a transformer and of a thick conductor in layers: at the peak of its current less than 0.8 of the flux that the
    inductance at small currents would hold is left."""
    heater = capture.draw(Task(faults.STEEL, family, scope.EIGHT_BIT, 30_015), BENCH, 0)[0].states[0]
    found = settle(Circuit([heater]), 500)
    depth = float(np.abs(found.table[:, 0, AT["cell0"]]).max()) / heater.work_knee
    assert np.arctan(depth) / depth < 0.8


@pytest.mark.parametrize("chain", scope.CHAINS)
def test_every_chain_keeps_the_wave(chain: str) -> None:
    """Gain within 2 %, and what the converter is wrong by."""
    found = made(chain)
    assert amplitude(found) == pytest.approx(130, rel=0.028)
    assert found.channels["drain.left.voltage"].max() == pytest.approx(130, rel=0.06)
    assert np.array_equal(found.channels["tank.voltage"], made(chain).channels["tank.voltage"])


def ramp(chain: str, **changes: float) -> tuple[np.ndarray, np.ndarray]:
    """A slow triangle, and its codes."""
    x = 100 * np.abs(np.linspace(-1, 1, 40_001)) - 50
    converter = replace(scope.converter(chain, np.random.default_rng(0)), **changes)
    return x, converter.codes(x, 0.0, np.random.default_rng(1))


def test_eight_bits_err_by_their_step_and_noise() -> None:
    """A step of 1/256 of what spans 1/0.76 of the wave; rms of a uniform error, 1/sqrt(12) of it, and the noise."""
    step = 100 / 0.76 / 256
    x, y = ramp(scope.EIGHT_BIT, noise=0.7)
    assert np.unique(np.round(y / step, 6)).size <= 256
    assert (y - x).std() == pytest.approx(step * np.hypot(0.7, 12**-0.5), rel=0.02)


def test_sixteen_averages_leave_a_quarter_of_the_noise() -> None:
    x, y = ramp(scope.AVERAGED, noise=0.8)
    assert (y - x).std() == pytest.approx(100 / 0.76 / 256 * np.hypot(0.8, 12**-0.5) / 4, rel=0.05)


def test_a_bent_converter_bows_in_the_middle() -> None:
    x, y = ramp(scope.CURVED, noise=0.4, bow=1.0 / 256, tooth=0.0)
    wanted = 1 - 4 * (x * 0.76 / 100) ** 2
    step = 100 / 0.76 / 256
    assert np.polyfit(wanted, (y - x) / step, 1)[0] == pytest.approx(1.0, abs=0.05)


def test_two_converters_differ() -> None:
    x, y = ramp(scope.INTERLEAVED, noise=0.5, gains=5e-3, offsets=1.0)
    step = 100 / 0.76 / 256
    even, odd = (np.polyfit(x[k::2], (y - x)[k::2], 1) for k in (0, 1))
    assert odd[0] - even[0] == pytest.approx(5e-3, abs=3e-4)
    assert (odd[1] - even[1]) / step == pytest.approx(1.0, abs=0.03)


def test_a_probe_has_its_corner_and_its_slew() -> None:
    harmonic = 20
    seen = scope.Probe(bandwidth=harmonic / PERIOD).seen(np.cos(harmonic * PHASE), 1 / PERIOD)
    assert np.abs(np.fft.rfft(seen))[harmonic] * 2 / seen.size == pytest.approx(2**-0.5, rel=1e-9)
    wave = np.sign(np.sin(PHASE))
    assert np.abs(np.diff(scope.limited(wave, 0.01))).max() == pytest.approx(0.01, rel=1e-9)
    assert scope.limited(wave, 3.0) == pytest.approx(wave)


@pytest.mark.parametrize("kind", scope.KINDS)
def test_a_wrong_probe_shows(kind: str) -> None:
    g = np.random.default_rng(0)
    found = next(p for p in (scope.wrong(g, scope.Probe(), 130.0, True) for _ in range(200)) if p.kind == kind)
    sound = scope.Probe().seen(WAVE.values[1], 1 / PERIOD)
    seen = found.seen(WAVE.values[1], 1 / PERIOD)
    codes = scope.converter(scope.EIGHT_BIT, g).codes(seen, found.cut, g)
    assert np.abs(codes - sound).max() > 3.0


def test_ripple_moves_the_amplitude_at_its_frequency() -> None:
    seed = next(k for k in range(40) if capture.draw(Task(faults.SUPPLY, 1, scope.EIGHT_BIT, k), BENCH, 0)[0].ripple)
    low, high = (Wave(PERIOD, tuple(factor * values for values in WAVE.values)) for factor in (0.9, 1.1))
    found = made(scope.EIGHT_BIT, faults.SUPPLY, seed, (low, WAVE, high))
    parts = np.array_split(found.channels["tank.voltage"], 24)
    sizes = np.array([np.abs(part).max() for part in parts])
    assert sizes.max() / sizes.min() > 1.08
    assert sizes.max() < 1.1 * 130 * 1.05


def test_a_contact_that_comes_and_goes_leaves_both_states() -> None:
    seed = next(k for k in range(40) if capture.draw(Task(faults.INTERMITTENT, 1, scope.EIGHT_BIT, k), BENCH, 0)[0].toggles)
    weak = Wave(PERIOD, tuple(0.8 * values for values in WAVE.values))
    found = made(scope.EIGHT_BIT, faults.INTERMITTENT, seed, (WAVE, weak))
    whole = int(np.ceil(found.time.size / found.time[-1] * PERIOD))
    peaks = np.array([found.channels["tank.voltage"][k : k + whole].max() for k in range(0, found.time.size - whole, whole)])
    assert peaks.max() > 1.05 * peaks.min()


def test_tasks_are_even_and_each_is_told_from_the_others() -> None:
    tasks = foreign_study.tasks("unseen", 40)
    assert tasks == [*foreign_study.tasks("unseen", 20), *tasks[40:]]
    assert len({foreign_study.name_of(task, "2") for task in tasks}) == 80
    sound = [task for task in tasks if task.cause == faults.NOTHING]
    unseen = [not family.learn for family in capture.FAMILIES]
    assert [sum(task.family == k for task in sound) for k in range(len(unseen))] == [10 * each for each in unseen]
    assert {task.chain for task in sound} == set(scope.CHAINS)
    assert {task.cause for task in tasks} == set(faults.DRAWS)


def test_the_summary_counts() -> None:
    one = {"part": "learn", "asked": "asked", "cause": faults.NOTHING, "first": faults.LOAD, "second": faults.NOTHING}
    one |= {"lead": "7.0", "outside": "0", "channels": "2", "misfit": "0.9"}
    open_ones = [one | {"lead": "6.7"}, one | {"outside": "1"}, one | {"misfit": "1.1"}]
    lines = foreign_study.summary([one, *open_ones, one | {"channels": "4"}]).splitlines()
    wanted = "first 0, in the first two 4, decided 1, decided wrongly 1, passed as nothing wrong 0, outside 1"
    assert lines[0] == f"learn   2 channels sound    4: {wanted}"
    assert lines[1].startswith("learn   2 channels asked    0") and lines[3].startswith("learn   4 channels sound    1: first 0")


@pytest.mark.slow
def test_captures_of_one_batch_follow_the_tank() -> None:
    """Frequency goes with 1/sqrt(C) where capacitors are lost, within what leads and load change; a second making is the same."""
    tasks = [Task(cause, 5, scope.EIGHT_BIT, 11) for cause in (faults.NOTHING, faults.CAPACITOR, faults.OPEN)]
    found = capture.make(tasks, BENCH)
    heaters = [capture.draw(each.task, BENCH, each.attempt)[0].states[0] for each in found]
    for each, heater in zip(found, heaters, strict=True):
        assert each.truth["frequency"] == pytest.approx(heater.frequency, rel=0.06)
        assert np.abs(each.channels["tank.voltage"]).max() == pytest.approx(np.pi * BENCH.supply_voltage, rel=0.12)
    again = capture.make(tasks[:1], BENCH)[0]
    assert again.time == pytest.approx(found[0].time, rel=1e-6)
    assert np.mean(np.abs(again.channels["tank.voltage"] - found[0].channels["tank.voltage"])) < 0.1
