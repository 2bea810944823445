# SPDX-License-Identifier: GPL-3.0-or-later
"""Stores of before an upgrade: shown and exported as they are, gone on with, and their numbers never taken for today's."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from heatsim import identity
from heatsim.cli import main
from heatsim.scenario.scenario import Scenario
from heatsim.studies.map import operating_map
from heatsim.studies.store import Store
from heatsim.studies.store import database as store_file
from heatsim.studies.sweep import SweepPlan, sweep
from tests.support.map_pools import FormulaPool, two_limits
from tests.support.pools import Instant
from tests.support.stores import PLAN, key, keyed, result, without_waves

DONE = [9, 1, 6, 10]
"""Points with a result in each sweep of the old store."""

VOLTAGES = "supply.voltage = 10 V to 60 V in 6"


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def version(path: Path) -> int:
    """What the file says of itself, at the place SQLite has for it."""
    return int.from_bytes(path.read_bytes()[60:64], "big")


def assert_all_there(store: Store) -> None:
    assert [told.done for told in store.sweeps()][:4] == DONE
    assert {row[0]: row[2] for row in store.results(1)} == {key(k): without_waves(result(k)) for k in range(9)}


def assert_sound(store: Store) -> None:
    """All that is missing is a file beside the store, which the text of it does not hold."""
    assert store.check() == [f"point {key(0)}: its waveforms are gone from {store._shelf.folder}"]


@pytest.mark.parametrize("writable", [True, False])
def test_a_store_of_version_1_is_read_as_it_is(version_1: Path, monkeypatch: pytest.MonkeyPatch, writable: bool) -> None:
    before = version_1.read_bytes()
    monkeypatch.setattr(store_file, "_writable", lambda *_: writable)
    with Store.open(version_1, create=False) as store:
        assert_all_there(store)
        assert [len(store.frame(number)) for number in (1, 2, 3, 4)] == DONE
        assert store.frame(3)["headroom"].tolist() == pytest.approx([40 / volts - 1 for volts in (10, 20, 30, 40, 50, 60)])
        assert [told.made_with for told in store.sweeps()] == [{}] * 4
        assert_sound(store)
    assert version_1.read_bytes() == before and version(version_1) == 1


def test_commands_show_and_export_it(
    version_1: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    assert main(["sweep", "--status", str(version_1), "--json", "-"]) == 0
    told = json.loads(capsys.readouterr().out)["sweeps"]
    assert [one["done"] for one in told] == DONE and not any(one["current"] for one in told)
    assert main(["sweep", "--status", str(version_1)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "bench-heater.toml" in said
    assert "Sweeps 1, 2, 3 and 4 were computed by an earlier heatsim, other than today's." in said
    table = tmp_path / "points.csv"
    assert main(["sweep", "--store", str(version_1), "--sweep", "3", "--export", str(table), "--plot", "--out", str(tmp_path)]) == 0
    assert len(table.read_text().splitlines()) == 7 and (tmp_path / "sweep-3.png").exists()


def test_what_is_written_to_it_makes_it_version_2_and_nothing_is_lost(version_1: Path) -> None:
    with Store.open(version_1) as store:
        assert store.begin(PLAN, keyed(*range(12))) == 1
        assert store.put(key(10), result(10), keep_waveforms=True)
        assert not store.put(key(3), result(7)), "its result is there already"
    assert version(version_1) == 2
    with Store.open(version_1, create=False) as store:
        assert [told.done for told in store.sweeps()] == [10, 1, 6, 10]
        rows = {row[0]: row[2] for row in store.results(1)}
        assert rows == {key(k): without_waves(result(k)) for k in (*range(9), 10)}
        assert_sound(store)


def test_a_sweep_does_not_take_its_points_and_says_so(version_1: Path, heater: Scenario) -> None:
    plan = SweepPlan.read(heater, [VOLTAGES], cases=["loaded"])
    found = sweep(heater, plan, version_1, pool := Instant())
    assert len(pool.seen) == 6 and found.evaluated == 6 and found.number == 5
    assert (found.outdated, found.stale) == (16, 16), "those of the sweep and of the map"
    with Store.open(version_1) as store:
        assert_all_there(store)


def test_a_map_does_not_take_its_points_and_says_so(version_1: Path, heater: Scenario) -> None:
    with Store.open(version_1) as store:
        made = operating_map(heater, "load = 0 % to 100 %", "supply.voltage = 20 V to 60 V", FormulaPool(two_limits), store=store)
        assert made.known == 0 and made.outdated == 16
        assert_all_there(store)


@pytest.mark.parametrize("what", ["code_hash", "simulator_version"])
def test_after_an_upgrade_points_are_computed_anew_and_the_old_ones_stay(
    heater: Scenario, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    path, plan = tmp_path / "points.db", SweepPlan.read(heater, [VOLTAGES], cases=["loaded"])
    first = sweep(heater, plan, path, Instant())
    assert (first.stale, first.outdated) == (0, 0)
    with monkeypatch.context() as patched:
        patched.setattr(identity, what, lambda: "of another version")
        upgraded = sweep(heater, plan, path, pool := Instant())
        assert len(pool.seen) == 6 and upgraded.number == 2 and (upgraded.stale, upgraded.outdated) == (6, 6)
    back = sweep(heater, plan, path, pool := Instant())
    assert pool.seen == [] and back.number == 1 and back.outdated == 6
    with Store.open(path) as store:
        assert [told.done for told in store.sweeps()] == [6, 6]
        assert store.sweeps()[0].made_with == identity.made_with() != store.sweeps()[1].made_with
