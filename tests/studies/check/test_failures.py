# SPDX-License-Identifier: GPL-3.0-or-later
"""Every failure scenario comes to the class and names the part that the head of its file says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import heatsim as hs
from heatsim.studies.check import SWITCH_ON, CheckResult
from heatsim.studies.remedy import find_remedies
from tests.support.layers import quick_of
from tests.support.once import checked

pytestmark = pytest.mark.ngspice

FOLDER = Path(__file__).resolve().parents[3] / "scenarios" / "failures"

SHOWN = {
    "capacitor-current": ("settled", "fails", "current of one capacitor, rms"),
    "choke-saturates": ("settled", "fails", "inductance left at the peak"),
    "contactor-bounce": ("settled", "fails", "drain voltage at switch-on"),
    "drain-over-voltage": ("settled", "fails", "drain voltage"),
    "foldback-stalls": ("settled", "fails", "starts and settles"),
    "gate-clamp-too-high": ("settled", "fails", "highest gate voltage"),
    "hiccup": ("dead", "fails", "starts and settles"),
    "latch": ("latched", "fails", "starts and settles"),
    "late-gate-supply": ("settled", "fails", "drain voltage at switch-on"),
    "load-too-heavy": ("settled", "fails", "mean current"),
    "small-reservoir": ("settled", "fails", "drain voltage"),
    "supply-too-weak": ("settled", "fails", "starts and settles"),
    "weak-pull-up": ("settled", "fails", "gate drive reached"),
}
"""File -> outcome of the run, grade and name of the limit that the part named in it must show."""


def result_of(name: str) -> CheckResult:
    """The file as it is."""
    return checked(hs.load(FOLDER / f"{name}.toml"))


def test_every_file_is_listed():
    assert sorted(path.stem for path in FOLDER.glob("*.toml")) == sorted(SHOWN)
    assert len(SHOWN) >= 10


@pytest.mark.parametrize("name", quick_of(SHOWN, "capacitor-current", "gate-clamp-too-high"))
def test_a_failure_has_its_class_and_names_its_part(name):
    result = result_of(name)
    wanted = re.search(r"^# Class: (.+?)\. Part: (\w+)\b", result.scenario.text, re.MULTILINE)
    assert wanted, "the head of the file says neither class nor part"
    (case,) = result.cases
    outcome, grade, limit = SHOWN[name]
    assert (case.measures["startup.class"], case.outcome) == (wanted[1], outcome)
    found = [each for each in case.findings if each.limit == limit and each.part.split(".")[0] == wanted[2]]
    assert found and {each.grade for each in found} == {grade}
    assert all(each.cause and each.remedy for each in found)


@pytest.mark.slow
def test_a_bouncing_contactor_is_mended_by_a_slower_rise() -> None:
    """The failure scenario's chokes are not known, so that a remedy winds new ones; the drains are what a slower rise mends."""
    remedies = find_remedies(result_of("contactor-bounce"), seconds=None, most=6, enough=1)
    calm = [each for each in remedies.tried if each.complete and any(change.kind == "rise" for change in each.changes)]
    assert any(
        all(f.grade == "holds" for case in each.cases.values() for f in case.findings if f.limit == SWITCH_ON) for each in calm
    )
    assert remedies.found and "rise" in {change.kind for change in remedies.found[0].changes}
