# SPDX-License-Identifier: GPL-3.0-or-later
"""Damaged stores: whatever happens to the file, what comes of it is what was stored, or an InputError that says so."""

from __future__ import annotations

import contextlib
import json
import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from heatsim.cli import main
from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.map import operating_map
from heatsim.studies.store import Store
from heatsim.studies.sweep import SweepPlan, sweep
from tests.support.map_pools import FormulaPool, two_limits
from tests.support.pools import Instant
from tests.support.robustness.stores import cut, flip, flip_the_head, lose, overwrite, replace, told
from tests.support.stores import PLAN, filled, key, keyed, same_waves, waves


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory, checkout: Path) -> Path:
    """A store with made-up points, a sweep, and a map."""
    path = tmp_path_factory.mktemp("whole") / "points.db"
    heater = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")
    with Store.open(path) as store:
        filled(store, 60, keep=100)
        store.begin(PLAN | {"more": 1}, keyed(3, 70, 71))
    sweep(heater, SweepPlan.read(heater, ["supply.voltage = 10 V to 60 V in 30"], cases=["loaded"]), path, Instant())
    with Store.open(path) as store:
        mapped(heater, store)
    return path


def mapped(heater: Scenario, store: Store) -> int:
    """Map into a store; returns how many points it had to compute."""
    pool = FormulaPool(two_limits)
    load, volts = "load = 0 % to 100 %", "supply.voltage = 20 V to 60 V"
    operating_map(heater, load, volts, pool, store=store, accuracy=0.05, most_points=10, first_look=3)
    return len(pool.seen)


WAYS: tuple[tuple[Callable[[Path, random.Random], None], int], ...] = (
    (flip, 60),
    (flip_the_head, 40),
    (cut, 40),
    (overwrite, 40),
    (replace, 60),
    (lose, 10),
)


@pytest.mark.parametrize("way", [way for way, _ in WAYS], ids=lambda way: way.__name__)
def test_what_comes_of_a_damaged_store_is_what_was_stored_or_an_input_error(whole: Path, tmp_path: Path, way) -> None:
    sound = told(whole)
    times = dict(WAYS)[way]
    refused = 0
    for seed in range(times):
        path = tmp_path / f"{seed}.db"
        shutil.copy(whole, path)
        way(path, random.Random(seed))
        try:
            found = told(path)
        except InputError as error:
            refused += 1
            assert str(path) in str(error) and "allowed: " in str(error), seed
        else:
            assert found == sound, f"{way.__name__} {seed}: something else, without a word"
    assert refused > times / 4, "hardly any damage was met"


def test_a_store_of_version_1_loses_nothing_without_a_word(version_1: Path, tmp_path: Path) -> None:
    """It has no checksums: numbers may change, rows may not get lost."""
    sound = told(version_1)
    for seed in range(100):
        path = tmp_path / f"{seed}.db"
        shutil.copy(version_1, path)
        (flip, cut, overwrite, replace)[seed % 4](path, random.Random(seed))
        with contextlib.suppress(InputError):
            found = told(path)
            assert [len(part) for part in found] == [len(part) for part in sound], seed
            assert [row[2:] for row in found[0]] == [row[2:] for row in sound[0]], seed


@pytest.mark.parametrize("way", [way for way, _ in WAYS], ids=lambda way: way.__name__)
def test_commands_on_a_damaged_store(whole: Path, tmp_path: Path, way, checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Status, export and map: what they say of a sound store, or exit code 2 and the file's name; never anything else."""
    heater = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")
    refused = 0
    for seed in range(1000, 1012):
        path = tmp_path / f"{seed}.db"
        shutil.copy(whole, path)
        way(path, random.Random(seed))
        for command in (["--status", str(path)], ["--store", str(path), "--export", str(tmp_path / "all.csv")]):
            code, said = main(["sweep", *command]), capsys.readouterr()
            assert code in (0, 2)
            assert code == 0 or path.name in said.err
            refused += code == 2
        try:
            with Store.open(path) as store:
                assert mapped(heater, store) == 0, "a point was lost without a word"
        except InputError as error:
            assert path.name in str(error)
    assert refused > 3


def test_status_of_a_sound_store_says_all_of_it(whole: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sweep", "--status", str(whole), "--json", "-"]) == 0
    assert [told["done"] for told in json.loads(capsys.readouterr().out)["sweeps"]] == [60, 1, 30, 10]


def test_waveforms_of_another_point_are_not_taken_for_its_own(tmp_path: Path) -> None:
    """A file of waveforms copied over another: each says whose it is."""
    path = tmp_path / "points.db"
    with Store.open(path) as store:
        filled(store, 9)
        first, second = (path.with_name(path.name + ".waves") / f"{key(number)}.npz" for number in (0, 8))
        shutil.copy(first, second)
        assert same_waves(store.waveforms(key(0)), waves(0))
        with pytest.raises(InputError, match="another point"):
            store.waveforms(key(8))
