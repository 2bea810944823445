# SPDX-License-Identifier: GPL-3.0-or-later
"""Which gate drives `match` can judge: its fault models describe pull-ups on a regulated gate supply and no other."""

from __future__ import annotations

from collections.abc import Iterable

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario


def refuse_other_drives(scenario: Scenario, cases: Iterable[str]) -> None:
    """Raises InputError for a case whose gates have a driver or hang on the main supply."""
    for case in dict.fromkeys(cases):
        gate = scenario.heater(case).gate
        what = "cannot be matched: the known faults are those of pull-ups on a regulated gate supply"
        if gate.driver is not None:
            raise InputError.single(f"{scenario.label}: gate.drive", what, "push-pull", "pull-up")
        if gate.from_main:
            raise InputError.single(f"{scenario.label}: gate.supply", what, "main", "regulated")
