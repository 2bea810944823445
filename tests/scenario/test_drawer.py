# SPDX-License-Identifier: GPL-3.0-or-later
"""Chokes wound from rings and wire on hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from heatsim.scenario.drawer import choke_on
from heatsim.scenario.scenario import Scenario


def test_a_choke_of_the_drawer_says_of_its_saturation_what_one_of_a_file_says(checkout: Path) -> None:
    """The curve under DC bias decides, not the material's other figures; where there is no curve, nothing is known."""
    scenario = Scenario.from_file(checkout / "scenarios" / "bench-heater-small-rings.toml")
    written = scenario.heater("idle").chokes[0]
    assert written.core is not None and written.core.material.bias is not None
    assert choke_on(written.core, scenario.tables.choke) == written
    material = written.core.material
    recalled = replace(material, provenance="measured", bias=replace(material.bias, provenance="memory"))
    assert choke_on(replace(written.core, material=recalled), scenario.tables.choke).saturation_basis == "memory"
    bare = replace(material, provenance="measured", bias=None, saturation_flux_density_t=None)
    assert choke_on(replace(written.core, material=bare), scenario.tables.choke).saturation_basis == "unknown"
