# SPDX-License-Identifier: GPL-3.0-or-later
"""Rings by name and a catalogue of one's own in a scenario: they are found, they win, and faults name file and line."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from tests.support.robustness.sound import OWN

CORE = re.compile(r"(?ms)^outer_diameter.*?^height[^\n]*\n")


@pytest.fixture
def text(checkout: Path) -> str:
    return (checkout / "scenarios" / "bench-heater.toml").read_text(encoding="utf-8")


def by_name(text: str, name: str) -> str:
    """The scenario with its ring by catalogue name; printed path and area of the file dropped."""
    lines = CORE.sub(f'ring = "{name}"\n', text, count=1).splitlines()
    return "\n".join(line for line in lines if not line.startswith(("path_length", "area")))


def with_catalogue(text: str) -> str:
    return text.replace("[heater]\n", '[heater]\ncatalogue = "own.toml"\n', 1)


def test_a_ring_by_name(text: str) -> None:
    ring = Scenario.from_text(by_name(text, "powder-39.9x24.1x14.5")).heater("idle").chokes[0].core.ring
    assert (ring.path_length, ring.area) == (pytest.approx(98.4e-3), pytest.approx(107.2e-6))
    assert ring.stack == 2 and ring.coating == pytest.approx(0.4e-3)


def test_own_entries_win(text: str, tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    scenario = Scenario.from_text(with_catalogue(by_name(text, "drawer-40")), folder=tmp_path)
    choke = scenario.heater("idle").chokes[0]
    assert choke.core.material.alloy == "measured powder" and choke.saturation_basis == "measured"
    assert choke.core.ring.path_length == pytest.approx(98e-3)
    reach = 100 * 79.5774715 * 98e-3 / choke.core.winding.turns
    assert choke.curve.known_to == pytest.approx(reach)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("permeability = 55", "permeability = -5", r"own.toml:4: material.fe-si-al-60.permeability: is out of range"),
        ('"3 %"', '"3 Oe"', r"own.toml:10: material.fe-si-al-60.bias.tolerance: has the unit 'Oe'"),
        ('height = "14.5 mm"', 'hight = "14.5 mm"', r"own.toml:17: ring.drawer-40.hight: is not a known key"),
        ("[ring.drawer-40]", "[ring.drawer-40", r"own.toml:14: is not TOML"),
    ],
)
def test_faults_of_the_file_name_their_line(text: str, tmp_path: Path, old: str, new: str, told: str) -> None:
    (tmp_path / "own.toml").write_text(OWN.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError, match=told):
        Scenario.from_text(with_catalogue(text), folder=tmp_path).heater("idle")


def test_a_missing_file_is_named(text: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"scenario:6: heater.catalogue: .*own.toml cannot be read.*allowed: a catalogue file"):
        Scenario.from_text(with_catalogue(text), folder=tmp_path).heater("idle")


def test_unknown_ring_both_or_neither(text: str) -> None:
    with pytest.raises(InputError, match=r"core.ring: is not in the catalogue.*powder-39.9x24.1x14.5"):
        Scenario.from_text(by_name(text, "powder-39.9x24.1x14")).heater("idle")
    both = text.replace("outer_diameter", 'ring = "powder-39.9x24.1x14.5"\nouter_diameter', 1)
    with pytest.raises(InputError, match=r"core.ring: goes without outer_diameter"):
        Scenario.from_text(both).heater("idle")
    with pytest.raises(InputError, match=r"has no size; allowed: either ring, a name in the catalogue, or all of"):
        Scenario.from_text(CORE.sub("", text, count=1)).heater("idle")


def test_ferrite_still_asks_for_its_gap(text: str) -> None:
    ferrite = by_name(text, "ferrite-40x24x16").replace('"fe-si-al-60"', '"mnzn-power-ferrite"')
    with pytest.raises(InputError, match="gap: is missing"):
        Scenario.from_text(ferrite).heater("idle")
