# SPDX-License-Identifier: GPL-3.0-or-later
"""The store against a model of it in plain dictionaries, under random sequences of calls and reopenings."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from heatsim.studies.points import PointResult
from heatsim.studies.store import FAILED, Store
from heatsim.studies.store import store as module
from tests.studies.store.test_store import Clock
from tests.support.stores import key, keyed, result, same_waves, without_waves

NUMBERS = st.lists(st.integers(0, 11), max_size=6)
OWNERS = st.sampled_from(["one", "two"])
PLANS = st.integers(0, 2)


class StoreAgainstDictionaries(RuleBasedStateMachine):
    """Two connections to one file; either does what the next rule says."""

    @initialize()
    def start(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.path = self.folder / "bench.sweeps"
        self.clock = module.time = Clock()  # type: ignore[assignment]
        self.stores = [Store.open(self.path), Store.open(self.path)]
        self.sweeps: dict[int, dict[int, int]] = {}  # plan: place -> point
        self.numbers: dict[int, int] = {}  # plan -> number of the sweep
        self.results: dict[int, tuple[PointResult, bool]] = {}
        self.leases: dict[int, tuple[str, float]] = {}
        self.begin(0, 0, [3, 1, 4])

    def teardown(self) -> None:
        import time

        module.time = time
        for store in getattr(self, "stores", ()):
            store.close()
        shutil.rmtree(getattr(self, "folder", "none"), ignore_errors=True)

    @rule(which=st.integers(0, 1))
    def reopen(self, which: int) -> None:
        self.stores[which].close()
        self.stores[which] = Store.open(self.path, create=False)

    @rule(which=st.integers(0, 1), plan=PLANS, numbers=NUMBERS)
    def begin(self, which: int, plan: int, numbers: list[int]) -> None:
        number = self.stores[which].begin({"plan": plan}, keyed(*numbers))
        assert number == self.numbers.setdefault(plan, number)
        places = self.sweeps.setdefault(plan, {})
        for place, point in enumerate(numbers):
            if point not in places.values():
                places[place if place not in places else max(places) + 1] = point

    @rule(which=st.integers(0, 1), data=st.data(), owner=OWNERS, seconds=st.sampled_from([5.0, 20.0]))
    def claim(self, which: int, data: st.DataObject, owner: str, seconds: float) -> None:
        plan = data.draw(st.sampled_from(sorted(self.sweeps)))
        points = sorted(self.sweeps[plan].values())
        wanted = data.draw(st.lists(st.sampled_from(points), max_size=5)) if points else []  # a plan may be empty
        got = self.stores[which].claim(self.numbers[plan], [key(point) for point in wanted], owner, seconds)
        free = [point for point in dict.fromkeys(wanted) if point not in self.results and self._holder(point) in (None, owner)]
        assert got == [key(point) for point in free]
        self.leases |= dict.fromkeys(free, (owner, self.clock.now + seconds))

    def _holder(self, point: int) -> str | None:
        owner, until = self.leases.get(point, (None, 0.0))
        return owner if self.clock.now < until else None

    @rule(which=st.integers(0, 1), owner=OWNERS)
    def release(self, which: int, owner: str) -> None:
        self.stores[which].release(owner)
        self.leases = {point: lease for point, lease in self.leases.items() if lease[0] != owner}

    @rule(seconds=st.sampled_from([1.0, 5.0, 20.0]))
    def wait(self, seconds: float) -> None:
        self.clock.now += seconds

    @rule(which=st.integers(0, 1), data=st.data(), content=st.integers(0, 60), keep=st.booleans())
    def put(self, which: int, data: st.DataObject, content: int, keep: bool) -> None:
        point = data.draw(st.sampled_from(sorted({point for places in self.sweeps.values() for point in places.values()})))
        made = result(content)
        new = self.stores[which].put(key(point), made, keep)
        assert new is (point not in self.results)
        if new:
            self.results[point] = made, keep and made.waveforms is not None
            self.leases.pop(point, None)

    @invariant()
    def the_store_says_what_the_model_says(self) -> None:
        for store in getattr(self, "stores", ()):
            for point in range(12):
                found, (wanted, kept) = store.result(key(point)), self.results.get(point, (None, False))
                assert (found and without_waves(found)) == (wanted and without_waves(wanted))
                assert not kept or same_waves(found and found.waveforms, wanted and wanted.waveforms)
            self._compare_sweeps(store)

    def _compare_sweeps(self, store: Store) -> None:
        told = {info.number: info for info in store.sweeps()}
        assert told.keys() == set(self.numbers.values())
        for plan, number in self.numbers.items():
            places = sorted(self.sweeps[plan].items())
            assert store.pending(number) == [(at, key(point)) for at, point in places if point not in self.results]
            there = [self.results[point][0] for _, point in places if point in self.results]
            numbers = [one.headroom for one in there if one.headroom is not None]
            info = told[number]
            assert (info.total, info.done, info.least_headroom) == (len(places), len(there), min(numbers, default=None))
            assert info.failed == sum(one.outcome in FAILED for one in there)
            rows = [key(point) for _, point in places if point in self.results]
            assert [row[0] for row in store.results(number)] == rows

    @invariant()
    def the_folder_holds_what_is_kept(self) -> None:
        if hasattr(self, "path"):
            folder = self.path.with_name(self.path.name + ".waves")
            there = {file.name for file in folder.iterdir()} if folder.exists() else set()
            assert there == {f"{key(point)}.npz" for point, (_, kept) in self.results.items() if kept}


TestStoreAgainstDictionaries = StoreAgainstDictionaries.TestCase
TestStoreAgainstDictionaries.settings = settings(max_examples=15, stateful_step_count=30, deadline=None)


@pytest.mark.slow
class TestLonger(StoreAgainstDictionaries.TestCase):  # type: ignore[misc, name-defined]
    """Four times as many."""

    settings = settings(max_examples=60, stateful_step_count=30, deadline=None)
