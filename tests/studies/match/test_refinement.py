# SPDX-License-Identifier: GPL-3.0-or-later
"""Fits corrected on the simulator."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from heatsim.studies.match import refinement
from heatsim.studies.match.fit import cost
from heatsim.studies.match.hypothesis import Correction, Dataset
from heatsim.studies.match.parameters import add_changes, with_changes
from heatsim.studies.match.refinement import MOST_DEVIATIONS, corrected, refined, refined_together, within_reach
from heatsim.studies.match.search import alike, contenders, library_fits
from heatsim.studies.match.solver import NoSolution
from tests.support.matching import bench, dataset_of

RANDOM = np.random.default_rng(5)


def some_correction() -> Correction:
    """Of two own parameters, four nuisance parameters and a packed response of six."""
    return Correction(*(RANDOM.normal(size=shape) for shape in (6, 2, 4, (2, 6), (4, 6))))


@pytest.mark.numerics
def test_a_correction_goes_through_the_point_it_was_made_at_and_through_the_new_one() -> None:
    old = some_correction()
    u, t, error = RANDOM.normal(size=2), RANDOM.normal(size=4), RANDOM.normal(size=6)
    new = corrected(old, error, u, t)
    np.testing.assert_allclose(new.value(u, t), old.value(u, t) + error, rtol=1e-12)
    np.testing.assert_allclose(new.value(old.at, old.begin), old.value(old.at, old.begin), rtol=1e-12)
    across = np.array([-(t - old.begin)[1], (t - old.begin)[0], 0, 0])  # at right angles to the way: nothing is known there
    np.testing.assert_allclose(across @ new.added, across @ old.added, rtol=1e-9, atol=1e-12)


@pytest.mark.numerics
def test_the_first_error_and_one_found_at_the_same_point_are_offsets() -> None:
    old, error = some_correction(), RANDOM.normal(size=6)
    u, t = RANDOM.normal(size=2), RANDOM.normal(size=4)
    for new, where in (
        (corrected(old, error, u, t, first=True), (u, t)),
        (corrected(old, error, old.at, old.begin), (old.at, old.begin)),
    ):
        np.testing.assert_allclose(new.offset, old.value(*where) + error)
        assert new.slopes is old.slopes and new.added is old.added


def test_parts_far_from_the_scenario_are_brought_near_together_and_probes_left_alone() -> None:
    """The way from the scenario stays: cut off one by one, parts would make a heater that no fit asked for."""
    fitted = np.array([30.0, -15.0, 3.0, 0.0, 20.0])
    near = within_reach(fitted, 4)
    np.testing.assert_allclose(near[:4], fitted[:4] * MOST_DEVIATIONS / 30)
    assert near[4] == 20.0 and fitted[0] == 30.0
    np.testing.assert_array_equal(within_reach(near, 4), near)


def a_fit(cause: str, evidence: float, name: str = "", **rest: object) -> SimpleNamespace:
    fault = SimpleNamespace(name=name or cause)
    hypothesis = SimpleNamespace(cause=cause, widest=SimpleNamespace(fault=fault))
    return SimpleNamespace(
        **{"hypothesis": hypothesis, "evidence": evidence, "simulated": True, "rough": True, "shortfall": 0.0} | rest
    )


def test_fits_of_the_same_heater_go_together() -> None:
    fits = [a_fit("sound", 0, "as it is"), a_fit("lead", 0), a_fit("probe", 0, "as it is"), a_fit("ripple", 0, "as it is")]
    assert alike(fits, [0, 1, 3]) == [[0, 3], [1]]


def test_slopes_are_simulated_only_where_that_may_decide() -> None:
    one, other, far = a_fit("one", 100.0), a_fit("other", 90.0), a_fit("far", 10.0)
    smooth, guessed = a_fit("smooth", 99.0, rough=False), a_fit("guessed", 99.0, simulated=False)
    assert contenders([far, other, smooth, one, guessed]) == [3, 1]
    assert contenders([one, far]) == []  # nothing else comes near
    assert contenders([a_fit("one", 100.0, shortfall=5.0), far]) == [0]  # but it may be told as outside what heatsim knows
    assert len(contenders([one] + [other] * 9)) == 4


FAR_OUT = {
    "capacitance": -2.5,
    "coil": 1.5,
    "gate_drain_charge": -2.0,
    "ring": 1.5,
    "drain_inductance": 2.0,
    "threshold_split": 1.5,
}
"""Standard deviations from the scenario, of parts that the fault does not stand for."""


def a_capture(fault: str, *u: float) -> Dataset:
    """Fifteen periods of the simulator's own bench heater with a fault and parts that are far out, with little noise."""
    solver, library = bench()
    surface = library.surfaces[fault]
    values = tuple(parameter.value(each) for parameter, each in zip(surface.fault.parameters, u, strict=True))
    changes = dict(surface.fault.changes(values))
    for parameter in library.nuisance:
        add_changes(changes, parameter.changes, FAR_OUT.get(parameter.name, 0.0) * parameter.deviation)
    waves = solver.solve(with_changes(library.heater, changes), surface.nearest(np.array(u))).waveforms
    time = np.linspace(0, 15 * waves.duration, 4999, endpoint=False)
    channels = {}
    for name, noise in (("tank.voltage", 0.2), ("drain.left.voltage", 0.2)):
        one = np.interp(time % waves.duration, waves.time - waves.time[0], waves[name], period=waves.duration)
        channels[name] = one + RANDOM.normal(0, noise, one.size)
    return dataset_of(time, channels)


@pytest.mark.slow
@pytest.mark.ngspice
@pytest.mark.timeout(900)
def test_a_heater_far_from_the_scenario_is_found_on_the_simulator(monkeypatch: pytest.MonkeyPatch) -> None:
    """The best is where the heater is; a search that ends early claims no more than it has simulated."""
    solver, library = bench()
    dataset = a_capture("workpiece heavier", 0.33, 0.4)
    first = next(one for one in library_fits([dataset]) if one.hypothesis.name == "workpiece heavier")
    found = refined([solver], [dataset], first, thorough=True)
    true = np.array([FAR_OUT.get(parameter.name, 0.0) for parameter in library.nuisance])
    truth = replace(found, u=np.array([0.33, 0.4]), nuisance=np.concatenate([true, 0 * found.nuisance[true.size :]]))
    spread = np.sqrt(np.diag(found.covariance))[:2]
    assert found.shortfall == 0.0 and np.all(np.abs(found.u - truth.u) < 3 * spread)
    assert cost([dataset], found, found.corrections) < cost([dataset], truth, found.corrections) + 1.0
    monkeypatch.setattr(refinement, "ROUNDS", 0)
    early = refined([solver], [dataset], first)
    assert early.shortfall > 5 and early.evidence < found.evidence
    monkeypatch.setattr(solver, "solve", lambda *_: (_ for _ in ()).throw(NoSolution("none")))
    assert refined_together([solver], [dataset], [first, first], -np.inf, thorough=False) == [None, None]
