# SPDX-License-Identifier: GPL-3.0-or-later
"""A changed scenario as a file: the same heater as the changed one, the user's comments kept."""

import heatsim as hs
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.written import with_fields


def test_the_file_is_the_changed_heater_with_its_comments(checkout):
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml").change(
        {"choke.right.turns": 22, "choke.measured": {"inductance": "50 uH", "resistance": "9 mohm"}}
    )
    fields = {"choke.measured": None, "choke.turns": 18, "supply.voltage": "30 V", "choke.wire": {"diameter": "1 mm", "strands": 4}}
    text = with_fields(scenario, fields, "changed\nfor a test")
    assert text.startswith("# changed\n# for a test\n")
    kept = [line.split("#", 1)[1] for line in scenario.text.splitlines() if "#" in line and not line.startswith("[choke.wire")]
    assert all(comment in text for comment in kept)
    assert Scenario.from_text(text).hash == scenario.change(fields).hash
    assert "measured]" not in text.split("[switch]")[0]
