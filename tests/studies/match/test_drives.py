# SPDX-License-Identifier: GPL-3.0-or-later
"""`match` refuses gate drives that its fault models do not describe, instead of ranking causes that cannot be."""

from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.drives import refuse_other_drives

FOLDER = Path(__file__).resolve().parents[3] / "scenarios"


def test_pull_ups_on_a_regulated_supply_are_matched() -> None:
    refuse_other_drives(Scenario.from_file(FOLDER / "bench-heater.toml"), ("idle", "loaded"))


@pytest.mark.parametrize(
    ("file", "change", "field"), [("-push-pull", {}, "gate.drive"), ("", {"gate.supply": "main"}, "gate.supply")]
)
def test_others_are_refused(file: str, change: dict[str, str], field: str) -> None:
    scenario = Scenario.from_file(FOLDER / f"bench-heater{file}.toml").change(change)
    with pytest.raises(InputError, match="cannot be matched") as caught:
        refuse_other_drives(scenario, ("idle",))
    assert field in str(caught.value)
