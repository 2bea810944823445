# SPDX-License-Identifier: GPL-3.0-or-later
"""The cache of `match`: answers found again for the same question only, and nothing trusted beyond the user's own files."""

from __future__ import annotations

import os
import pickle
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from heatsim import identity
from heatsim.engine.shooting import InitialGuess
from heatsim.netlist.deck import State
from heatsim.netlist.library import library_folder
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match import cache as match_cache
from heatsim.studies.match.cache import AnswerCache, user_folder
from heatsim.studies.match.parameters import with_changes
from heatsim.studies.match.pool import MatchPool
from heatsim.studies.match.solver import Solution
from heatsim.tasks import Failed
from heatsim.waves import Waveforms

SCENARIO = Path(__file__).resolve().parents[3] / "scenarios" / "bench-heater.toml"
HEATER = Scenario.from_file(SCENARIO).heater("loaded")
SETTING = HEATER, ("tank.voltage",), 200


def asked(number: int = 0) -> tuple[Any, ...]:
    """A question; each number is another."""
    return "slopes", (HEATER, ("tank.voltage",), 200 + number)


def answer(size: int = 3) -> tuple[Any, int]:
    """Sensitivities and step error, and the simulations they took."""
    return (np.arange(size * 1.0), np.array([0.5, np.nan])), 7


def solution(frequency: float) -> Solution:
    """Numbers of every sort, as a simulated period has them."""
    waves = Waveforms(np.arange(3.0), {"tank.voltage": np.ones(3)}, {"tank.voltage": "V"}, "a test")
    guess = InitialGuess(State({"1": 2.5}, {"l1": -1.0}), np.ones(2), np.eye(2))
    lines = {"tank.voltage": np.array([1 + 2j, 3.0])}
    return Solution(HEATER, frequency, lines, {"tank.voltage": np.ones(5)}, guess, waves)


@pytest.fixture
def cache(tmp_path: Path) -> AnswerCache:
    return AnswerCache(tmp_path / "match", "a simulator 1")


def test_an_answer_is_found_again_by_the_same_question_only(cache: AnswerCache) -> None:
    again = Scenario.from_file(SCENARIO).heater("loaded")
    cache.put(asked(), answer())
    (values, rest), simulations = cache.get(("slopes", (again, ("tank.voltage",), 200)))
    assert values.tolist() == [0, 1, 2] and simulations == 7
    np.testing.assert_array_equal(rest, [0.5, np.nan])
    other = replace(HEATER, supply=replace(HEATER.supply, voltage=HEATER.supply.voltage * (1 + 1e-12)))
    for each in (asked(1), ("slopes", (other, ("tank.voltage",), 200)), ("slopes", SETTING, "a fault"), ("start", SETTING)):
        assert cache.get(each) is None
    assert AnswerCache(cache.folder, "a simulator 2").get(asked()) is None


def test_solutions_come_back_whole_with_the_heaters_of_the_question(cache: AnswerCache) -> None:
    """A start has the heater that was asked about, a point of a response surface that heater with the fault."""
    cache.put(("start", SETTING), (solution(85e3), 3))
    start, simulations = cache.get(("start", SETTING))
    wanted = solution(85e3)
    assert (start.heater, start.frequency, start.seed.state, simulations) == (HEATER, 85e3, wanted.seed.state, 3)
    np.testing.assert_array_equal(start.lines["tank.voltage"], wanted.lines["tank.voltage"])
    np.testing.assert_array_equal(start.seed.monodromy, np.eye(2))
    assert dict(start.waveforms.units) == {"tank.voltage": "V"} and start.waveforms.origin == "a test"
    axes = (np.linspace(0, 1, 2),)
    surface = axes, np.zeros((2, 4)), np.array([True, False]), (solution(86e3), None)
    question = "surface", SETTING, "loose lead between coil and bank"
    cache.put(question, (surface, 9))
    (_, _, reached, (one, none)), _ = cache.get(question)
    assert reached.tolist() == [True, False] and none is None
    own = HEATER.loaded_resistance
    assert one.heater == with_changes(HEATER, {"lead_resistance": max(10e-3, 0.06 * own)}) != HEATER


def test_another_heatsim_or_model_library_finds_nothing(
    cache: AnswerCache, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The models that the netlists include decide the numbers as heatsim's own code does."""
    cache.put(asked(), answer())
    models = tmp_path / "netlists"
    models.mkdir()
    for path in library_folder().glob("*.lib"):
        (models / path.name).write_bytes(path.read_bytes())
    last = sorted(models.iterdir())[-1]
    last.write_text(last.read_text() + "* one line more\n")
    monkeypatch.setattr(identity, "library_folder", lambda: models)
    identity.code_hash.cache_clear()
    try:
        assert AnswerCache(cache.folder, "a simulator 1").get(asked()) is None
    finally:
        identity.code_hash.cache_clear()


@pytest.mark.parametrize("share", [0.0, 0.3, 0.99])
def test_a_damaged_answer_is_none_and_goes(cache: AnswerCache, share: float) -> None:
    cache.put(asked(), answer(1000))
    path = cache.place(asked())
    path.write_bytes(path.read_bytes()[: int(share * path.stat().st_size)])
    assert cache.get(asked()) is None
    assert not path.exists()
    cache.put(asked(), answer())
    assert cache.get(asked())[1] == 7


class Trap:
    """What a pickle runs when it is read."""

    def __init__(self, mark: Path) -> None:
        self.mark = mark

    def __reduce__(self) -> tuple[Any, ...]:
        return Path.touch, (self.mark,)


@pytest.mark.parametrize("inside", [False, True])
def test_a_pickle_in_an_answers_place_is_not_run(cache: AnswerCache, tmp_path: Path, inside: bool) -> None:
    """Neither as the file itself nor as an array of objects in it."""
    cache.put(asked(), answer())
    mark, path = tmp_path / "run", cache.place(asked())
    if inside:
        with path.open("wb") as stream:
            np.savez(stream, skeleton=np.array([Trap(mark)], dtype=object))
    else:
        path.write_bytes(pickle.dumps(Trap(mark)))
    path.chmod(0o600)
    assert cache.get(asked()) is None
    assert not mark.exists()


@pytest.mark.parametrize("mode", [0o620, 0o602])
def test_what_others_may_write_is_not_read(cache: AnswerCache, mode: int) -> None:
    cache.put(asked(), answer())
    assert cache.folder.stat().st_mode & 0o777 == 0o700
    assert cache.place(asked()).stat().st_mode & 0o777 == 0o600
    cache.place(asked()).chmod(mode)
    assert cache.get(asked()) is None


@pytest.mark.parametrize("mode", [0o777, 0o1777, 0o770])
def test_a_folder_that_others_may_write_is_not_used(cache: AnswerCache, mode: int) -> None:
    cache.put(asked(), answer())
    cache.folder.chmod(mode)
    assert cache.get(asked()) is None
    cache.put(asked(1), answer())
    assert len(list(cache.folder.iterdir())) == 1


def test_a_planted_link_is_not_followed(cache: AnswerCache, tmp_path: Path) -> None:
    """Not even to a sound answer of the user's own, and what it leads to stays as it was."""
    cache.put(asked(), answer())
    target = tmp_path / "elsewhere.npz"
    place = cache.place(asked(1))
    cache.place(asked()).rename(target)
    before = target.read_bytes()
    place.symlink_to(target)
    assert cache.get(asked(1)) is None
    cache.put(asked(1), answer(5))
    assert target.read_bytes() == before and not place.is_symlink()
    assert cache.get(asked(1))[0][0].size == 5


def test_a_link_in_the_folders_place_is_not_followed(cache: AnswerCache, tmp_path: Path) -> None:
    real = tmp_path / "real"
    real.mkdir(mode=0o700)
    cache.folder.symlink_to(real)
    cache.put(asked(), answer())
    assert cache.get(asked()) is None and not list(real.iterdir())


def test_a_pipe_in_an_answers_place_does_not_block(cache: AnswerCache) -> None:
    cache.put(asked(1), answer())
    os.mkfifo(cache.place(asked()), 0o600)
    assert cache.get(asked()) is None


def test_the_folder_stays_small_and_clean(cache: AnswerCache, monkeypatch: pytest.MonkeyPatch) -> None:
    """Once a run: what was used longest ago goes first, with answers of earlier versions and what killed processes left; nothing
    that is not the cache's own, however old and large."""
    cache.put(asked(), answer())
    size = cache.place(asked()).stat().st_size
    monkeypatch.setattr(match_cache, "LARGEST", int(3.5 * size))
    for k in range(4):
        cache.put(asked(k), answer())
        os.utime(cache.place(asked(k)), (1000 + k, 1000 + k))
    former, half, fresh = ("0" * 40 + ".kept", f".{'1' * 40}.npz.ab_c.part", f".{'2' * 40}.npz.abc.part")
    foreign = ("thesis.npz", "a" * 39 + ".npz", "notes.kept", ".npz.part", "b" * 40 + ".npz.txt")
    for name in (former, half, fresh, *foreign):
        (cache.folder / name).write_bytes(bytes(4 * size))
        (cache.folder / name).chmod(0o600)
        if name != fresh:
            os.utime(cache.folder / name, (1, 1))
    folder = cache.folder / ("c" * 40 + ".npz")
    folder.mkdir()
    AnswerCache(cache.folder, "a simulator 1").put(asked(4), answer())
    assert [cache.place(asked(k)).exists() for k in range(5)] == [False, True, True, True, True]
    left = {path.name for path in cache.folder.iterdir()}
    assert left >= {*foreign, fresh, folder.name} and not left & {former, half}


def test_a_folder_that_cannot_be_made_costs_nothing(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    cache = AnswerCache(tmp_path / "file" / "match", "")
    cache.put(asked(), answer())
    assert cache.get(asked()) is None


@pytest.mark.parametrize("named", ["", "relative"])
def test_the_users_folder_is_the_standards(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, named: str) -> None:
    """XDG Base Directory Specification: a relative path is to be ignored."""
    monkeypatch.setenv("HOME", str(tmp_path / "user"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "elsewhere"))
    assert user_folder() == tmp_path / "elsewhere" / "heatsim" / "match"
    monkeypatch.setenv("XDG_CACHE_HOME", named)
    assert user_folder() == tmp_path / "user" / ".cache" / "heatsim" / "match"


@pytest.mark.slow
@pytest.mark.ngspice
def test_the_simulator_is_asked_once(tmp_path: Path) -> None:
    """The start and a small response surface, then both again from the folder; a failure is not kept."""
    with MatchPool(1, tmp_path) as pool:
        start = pool.one(("start", (SETTING, 60.0)))
        surface = pool.one(("surface", (SETTING, start, "less capacitance")))
        assert isinstance(pool.one(("surface", (SETTING, start, "no such fault"))), Failed)
        made = pool.simulations
        assert made >= 7 and pool.spared == 0
    with MatchPool(1, tmp_path) as pool:
        begun = pool.one(("start", (SETTING, 60.0)))
        again = pool.one(("surface", (SETTING, begun, "less capacitance")))
        assert (pool.simulations, pool.spared) == (0, made)
        assert isinstance(pool.one(("surface", (SETTING, begun, "no such fault"))), Failed)
        version = pool.version
    assert version.startswith("ngspice") and begun.frequency == start.frequency
    np.testing.assert_array_equal(again[1], surface[1])
    assert [each.heater for each in again[3]] == [each.heater for each in surface[3]]
    with MatchPool(1) as pool:
        assert pool.one(("surface", (SETTING, begun, "less capacitance")))[1].shape == surface[1].shape
        assert pool.simulations > 0 and pool.spared == 0
