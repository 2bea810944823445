# SPDX-License-Identifier: GPL-3.0-or-later
"""What computes a number is known by its files and versions, and nothing else."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import heatsim
from heatsim import identity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.sweep import SweepPlan


@pytest.fixture
def copy(checkout: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The code in a folder of its own, whose hash is taken anew at every call."""
    shutil.copytree(checkout / "heatsim", tmp_path / "heatsim", ignore=shutil.ignore_patterns("*.pyc"))
    shutil.copytree(checkout / "netlists", tmp_path / "netlists")
    monkeypatch.setattr(heatsim, "__file__", str(tmp_path / "heatsim" / "__init__.py"))
    monkeypatch.setattr(identity, "library_folder", lambda: tmp_path / "netlists")
    monkeypatch.setattr(identity, "code_hash", identity.code_hash.__wrapped__)
    return tmp_path


@pytest.mark.parametrize(
    ("file", "decides"),
    [
        ("netlists/choke_soft.lib", True),
        ("heatsim/physics/stage.py", True),
        ("heatsim/parts/data/rings.toml", True),
        ("heatsim/report/base/words.py", False),
        ("heatsim/cli/__init__.py", False),
        ("heatsim/docs/index.md", False),
    ],
)
def test_the_hash_is_of_the_files_that_decide_numbers(copy: Path, file: str, decides: bool) -> None:
    before = identity.code_hash()
    with (copy / file).open("a") as stream:
        stream.write("\n")
    assert (identity.code_hash() != before) is decides


def test_the_code_has_one_hash_wherever_it_lies(copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a checkout the model library lies beside the package, in an installation inside of it."""
    before = identity.code_hash()
    inside = copy / "heatsim" / "netlist" / "library"
    (copy / "netlists").rename(inside)
    monkeypatch.setattr(identity, "library_folder", lambda: inside)
    assert identity.code_hash() == before


@pytest.mark.ngspice
def test_the_simulator_says_its_version() -> None:
    from heatsim.engine.worker import simulator

    assert identity.simulator_version() == simulator().version


def test_without_a_simulator_there_is_no_version(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "libngspice.so").write_text("not a library")
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", str(tmp_path / "libngspice.so"))
    assert identity.simulator_version() == ""


@pytest.mark.parametrize(
    ("what", "value"), [("code_hash", lambda: "other code"), ("simulator_version", lambda: "ngspice-99"), ("version", "9.9.9")]
)
def test_points_have_other_keys_after_an_upgrade(checkout: Path, monkeypatch: pytest.MonkeyPatch, what: str, value) -> None:
    heater = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")
    plan = SweepPlan.read(heater, ["supply.voltage = 20 V, 30 V"], cases=["loaded"])
    before = [key for key, _ in plan.keyed(heater)]
    assert before == [key for key, _ in plan.keyed(heater)]
    monkeypatch.setattr(heatsim if what == "version" else identity, "__version__" if what == "version" else what, value)
    assert not set(before) & {key for key, _ in plan.keyed(heater)}
