# SPDX-License-Identifier: GPL-3.0-or-later
"""What is kept between runs of `match`: found again for the same question only, and never trusted beyond the user's own files."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match import cache as match_kept
from heatsim.studies.match.cache import Kept, user_folder
from heatsim.studies.match.pool import MatchPool
from heatsim.tasks import Failed


@pytest.fixture
def kept(tmp_path: Path) -> Kept:
    return Kept(tmp_path / "match", "a simulator 1")


def test_an_answer_is_found_again_by_the_same_question_only(kept: Kept, checkout: Path) -> None:
    heater = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml").heater("loaded")
    again = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml").heater("loaded")
    kept.put(("sheet", heater, "a kind"), (np.arange(3), 7))
    values, simulations = kept.get(("sheet", again, "a kind"))
    assert values.tolist() == [0, 1, 2] and simulations == 7
    other = replace(heater, supply=replace(heater.supply, voltage=heater.supply.voltage * (1 + 1e-12)))
    for asked in (("sheet", other, "a kind"), ("sheet", heater, "another kind"), ("slopes", heater, "a kind")):
        assert kept.get(asked) is None
    assert Kept(kept.folder, "a simulator 2").get(("sheet", heater, "a kind")) is None


def test_another_heatsim_finds_nothing(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    kept.put("asked", 1)
    monkeypatch.setattr(match_kept, "_own_files", lambda: b"changed")
    assert Kept(kept.folder, "a simulator 1").get("asked") is None


@pytest.mark.parametrize("share", [0.0, 0.3, 0.99])
def test_a_damaged_answer_is_none_and_goes(kept: Kept, share: float) -> None:
    kept.put("asked", list(range(1000)))
    path = kept.place("asked")
    path.write_bytes(path.read_bytes()[: int(share * path.stat().st_size)])
    assert kept.get("asked") is None
    assert not path.exists()
    kept.put("asked", 5)
    assert kept.get("asked") == 5


@pytest.mark.parametrize("mode", [0o620, 0o602])
def test_what_others_may_write_is_not_read(kept: Kept, mode: int) -> None:
    kept.put("asked", 5)
    assert kept.folder.stat().st_mode & 0o777 == 0o700
    kept.place("asked").chmod(mode)
    assert kept.get("asked") is None


def test_the_folder_stays_small_and_clean(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was used longest ago goes first, and what a killed process left."""
    monkeypatch.setattr(match_kept, "LARGEST", 5000)
    for k in range(4):
        kept.put(k, bytes(1500))
        os.utime(kept.place(k), (1000 + k, 1000 + k))
    assert [kept.get(k) is not None for k in range(4)] == [False, True, True, True]
    os.utime(kept.place(2), (1, 1))
    left = kept.folder / "tmpabc"
    left.write_bytes(b"half")
    os.utime(left, (1, 1))
    kept.put(4, bytes(1500))
    assert [kept.get(k) is not None for k in range(5)] == [False, True, False, True, True]
    assert not left.exists()


def test_a_folder_that_cannot_be_made_costs_nothing(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    kept = Kept(tmp_path / "file" / "match", "")
    kept.put("asked", 1)
    assert kept.get("asked") is None


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
def test_a_crew_asks_the_simulator_once(tmp_path: Path, checkout: Path) -> None:
    """The start and a small sheet, then both again from the folder; a failure is not kept."""
    heater = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml").heater("loaded")
    setting = (heater, ("tank.voltage",), 200)
    with MatchPool(1, tmp_path) as pool:
        start = pool.one(("start", (setting, 60.0)))
        sheet = pool.one(("sheet", (setting, start, "less capacitance")))
        assert isinstance(pool.one(("sheet", (setting, start, "no such kind"))), Failed)
        made = pool.simulations
        assert made >= 7 and pool.spared == 0
    with MatchPool(1, tmp_path) as pool:
        begun = pool.one(("start", (setting, 60.0)))
        again = pool.one(("sheet", (setting, begun, "less capacitance")))
        assert (pool.simulations, pool.spared) == (0, made)
        assert isinstance(pool.one(("sheet", (setting, begun, "no such kind"))), Failed)
        version = pool.version
    assert version.startswith("ngspice") and begun.frequency == start.frequency
    np.testing.assert_array_equal(again[1], sheet[1])
    with MatchPool(1) as pool:
        assert pool.one(("sheet", (setting, begun, "less capacitance")))[1].shape == sheet[1].shape
        assert pool.simulations > 0 and pool.spared == 0
