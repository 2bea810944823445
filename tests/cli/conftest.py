# SPDX-License-Identifier: GPL-3.0-or-later
"""Commands in this process. Nothing of heatsim is replaced: what a study answered once is remembered for the same question."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from heatsim.cli import main

QUICK = ["--set", "supply.rise_time=300 us", "--set", "simulate.longest=4 ms", "--case", "loaded"]
FAILING = [*QUICK, "--set", "supply.current_rating=20 A"]
"""What the heater that holds fails with, in a second: its supply may give less than it draws."""

ASKED = {
    "heatsim.studies.check.check": 2,
    "heatsim.studies.remedy.find_remedies": 1,
    "heatsim.studies.wind.wind": 1,
    "heatsim.studies.wind.build_yield": 3,
    "heatsim.studies.ring.identify": 1,
}
"""Function of a study -> how many of its arguments are the question; the others are workers and progress."""

ANSWERS: dict[str, Any] = {}


@pytest.fixture(scope="session")
def sound(checkout: Path) -> str:
    """A heater that holds."""
    return str(checkout / "scenarios" / "bench-heater.toml")


@pytest.fixture(scope="session")
def small(checkout: Path) -> str:
    """A heater that fails: its chokes saturate."""
    return str(checkout / "scenarios" / "bench-heater-small-rings.toml")


@pytest.fixture(scope="session")
def ring(checkout: Path) -> str:
    """A bench test of a ring."""
    return str(checkout / "scenarios" / "rings" / "unknown-ring.toml")


@pytest.fixture(scope="session")
def capture(checkout: Path) -> str:
    """A capture of the heater that fails."""
    return str(checkout / "scenarios" / "captures" / "distorted.csv")


@pytest.fixture(scope="session")
def drawer(sound: str, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The heater that holds with one ring and one wire in the drawer, one winding to simulate."""
    text = Path(sound).read_text(encoding="utf-8")
    first, last, wire, end = (
        text.index(head) for head in ("[[wind.ring]]", '[[wind.ring]]\nname = "40', '[[wind.wire]]\nname = "1.6', "[limits]")
    )
    settings = "most_strands = 1\nconfirm = 1\n\n"
    short = text[:first] + settings + text[last : text.index("[[wind.wire]]")] + text[wire:end] + text[end:]
    path = tmp_path_factory.mktemp("drawer") / "drawer.toml"
    path.write_text(short, encoding="utf-8")
    return str(path)


@pytest.fixture
def remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a study has answered in this process is not computed again."""
    for name, count in ASKED.items():
        package, _, function = name.rpartition(".")
        monkeypatch.setattr(name, _remembering(name, getattr(__import__(package, fromlist=[function]), function), count))


def _remembering(name: str, function: Callable[..., Any], count: int) -> Callable[..., Any]:
    def ask(*arguments: Any) -> Any:
        question = repr((name, *(getattr(each, "hash", each) for each in arguments[:count])))
        if question not in ANSWERS:
            ANSWERS[question] = function(*arguments)
        return ANSWERS[question]

    return ask


@pytest.fixture(scope="session")
def swept(sound: str, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """The arguments of a sweep whose store has every point."""
    folder = tmp_path_factory.mktemp("sweep")
    arguments = ["sweep", sound, *QUICK, "--vary", "supply.voltage = 42 V"]
    arguments += ["--store", str(folder / "points.db"), "--out", str(folder)]
    assert main([*arguments, "--quiet"]) == 0
    return arguments


@pytest.fixture(scope="session")
def mapped(sound: str, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """The arguments of a map whose store has every point, by formula: nothing is usable at either end of it."""
    from tests.support.map_pools import FormulaPool, island

    folder = tmp_path_factory.mktemp("map")
    arguments = ["map", sound, "--range", "supply.voltage = 20 V to 60 V", "--store", str(folder / "points.db")]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("heatsim.studies.points.local_pool", lambda workers=None: FormulaPool(island, workers or 2))
        assert main([*arguments, "--quiet", "--out", str(folder)]) == 1
    return arguments
