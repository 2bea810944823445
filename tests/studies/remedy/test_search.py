# SPDX-License-Identifier: GPL-3.0-or-later
"""Searches keep to the time that they are given, however long they estimate."""

import time

import pytest

import heatsim as hs
from heatsim.studies.remedy.runner import OutOfTime
from heatsim.studies.remedy.search import Ground
from tests.support.once import checked


def test_nothing_is_estimated_beyond_the_deadline(checkout) -> None:
    heater = hs.load(checkout / "scenarios" / "bench-heater-small-rings.toml")
    ground = Ground(heater, {}, ("loaded",), deadline=time.monotonic() - 1)
    with pytest.raises(OutOfTime):
        ground.short(())
    with pytest.raises(OutOfTime):
        ground.fitted(())
    assert Ground(heater, {}, ("loaded",), deadline=time.monotonic() + 60).short(()) == []


@pytest.mark.ngspice
def test_a_search_without_time_ends_at_once_and_says_so(checkout) -> None:
    heater = hs.load(checkout / "scenarios" / "failures" / "capacitor-current.toml")
    result = checked(heater)
    begun = time.monotonic()
    found = hs.remedies(result, seconds=0.0)
    assert not found.found and "time" in found.ended
    assert time.monotonic() - begun < 10
