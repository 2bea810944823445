# SPDX-License-Identifier: GPL-3.0-or-later
"""Simulations that several files of tests look at: made once in a run of the tests, whichever of its processes asks first."""

from __future__ import annotations

import fcntl
import hashlib
import os
import pickle
import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import heatsim as hs
from heatsim.scenario.ringtest import RingTest
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CheckResult
from heatsim.studies.ring import RingResult, identify
from heatsim.studies.wind import WindResult
from tests.support.deciding_code import ROOT

MADE: dict[str, Any] = {}


def once(name: str, make: Callable[[], Any]) -> Any:
    """What `make` returns, from this process or from the run's cache folder where another has made it (tests/conftest.py)."""
    if name not in MADE:
        place = Path(os.environ["XDG_CACHE_HOME"]) / "once" / hashlib.sha256(name.encode()).hexdigest()[:16]
        place.parent.mkdir(parents=True, exist_ok=True)
        with place.with_suffix(".lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not place.exists():
                part = place.with_suffix(".part")
                part.write_bytes(pickle.dumps(make(), pickle.HIGHEST_PROTOCOL))
                part.rename(place)
            MADE[name] = pickle.loads(place.read_bytes())
    return MADE[name]


def checked(scenario: Scenario, cases: Sequence[str] | None = None) -> CheckResult:
    """The check of a scenario of the repository, or of one that is changed; what comes back is not to be changed."""
    found: CheckResult = once(f"check {scenario.hash} {scenario.identity} {cases}", lambda: hs.check(scenario, cases))
    return found


def short_search(scenario: Scenario) -> WindResult:
    """A search in the drawer without its smallest ring and thinner wire, with one winding to confirm."""
    drawer = tomllib.loads(scenario.text)["wind"]
    quick = {"wind.ring": drawer["ring"][1:], "wind.wire": drawer["wire"][1:], "wind.confirm": 1, "wind.most_strands": 2}
    short = scenario.change({**quick, "supply.rise_time": "300 us"})
    found: WindResult = once(f"wind {short.hash}", lambda: hs.wind(short))
    return found


def demo_ring() -> RingResult:
    """What the demo bench test of a ring tells."""
    file = ROOT / "scenarios" / "rings" / "unknown-ring.toml"
    found: RingResult = once("ring", lambda: identify(RingTest.from_file(file)))
    return found
