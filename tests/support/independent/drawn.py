# SPDX-License-Identifier: GPL-3.0-or-later
"""A circuit to be computed both ways: a demo file with fields set in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from tests.support.independent.datasheet import Figures

FOLDER = Path(__file__).resolve().parents[3] / "scenarios"


@dataclass(frozen=True)
class Drawn:
    """name; file, case and fields set; own: law of the user's own model, if the switches have one; told: what is in it."""

    name: str
    fields: Mapping[str, Any]
    file: str = "bench-heater"
    case: str = "loaded"
    own: Figures | None = None
    told: str = ""

    @cached_property
    def scenario(self) -> Scenario:
        """With the fields set."""
        return Scenario.from_file(FOLDER / f"{self.file}.toml").change(dict(self.fields))

    @cached_property
    def heater(self) -> Heater:
        """Its parts."""
        return self.scenario.heater(self.case)
