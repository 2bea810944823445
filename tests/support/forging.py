# SPDX-License-Identifier: GPL-3.0-or-later
"""The bench heater with its coil given by geometry and a steel bar in it, for coil advice."""

from __future__ import annotations

from pathlib import Path

from heatsim.scenario.scenario import Scenario

COIL = """[coil]
turns = 10
diameter = "44 mm"
length = "74 mm"
tube_diameter = "6 mm"
tube_wall = "1 mm"
"""
BAR = """[case.loaded.workpiece]
diameter = "20 mm"
length = "100 mm"
material = "steel"

[heat]
wanted = "850 °C"
"""


def forging() -> Scenario:
    """The scenario, from that of the measured coil; the supply is rated 35 A."""
    path = Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater.toml"
    head, _, tail = path.read_text(encoding="utf-8").partition("[case.loaded.workpiece.measured]")
    assert tail.count("=") == 2
    before, _, after = head.partition("[coil.measured]")
    assert before.count("[coil]\n") == 1
    text = before.replace("[coil]\n", COIL) + after[after.index("[wind]") :] + BAR
    return Scenario.from_text(text, "forging.toml", path.parent)
