# SPDX-License-Identifier: GPL-3.0-or-later
"""What a delivered netlist prints under plain `ngspice -b`, against heatsim's own measures of the same run."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from heatsim.measures import measure
from heatsim.netlist.deck import Deck
from heatsim.netlist.generate import make_deck
from heatsim.scenario.scenario import Scenario
from heatsim.waves import Array
from tests.support.engine.binary import run_binary

pytestmark = [pytest.mark.ngspice, pytest.mark.skipif(shutil.which("ngspice") is None, reason="needs the plain ngspice program")]


def printed(deck: Deck, folder: Path) -> dict[str, float]:
    """Numbers that the `.meas` lines print."""
    (folder / "deck.cir").write_text(deck.text, encoding="utf-8")
    done = subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, capture_output=True, text=True, timeout=120)
    return {name: float(value) for name, value in re.findall(r"^(\w+)\s+=\s+([-+.\de]+)", done.stdout, re.MULTILINE)}


def rises(samples: Array, level: float) -> int:
    """How often a signal rises through a level."""
    above = samples > level
    return int((above[1:] & ~above[:-1]).sum())


@pytest.mark.slow
@pytest.mark.parametrize(("topology", "volts", "extra"), [("two-choke", 70, True), ("one-choke", 100, False)])
def test_frequency_and_peaks_are_printed_right(checkout: Path, tmp_path: Path, topology: str, volts: int, extra: bool) -> None:
    """At 70 V the saturated rings dent the wave, which in some periods rises twice through the supply's voltage. In the one-choke
    circuit at 100 V each half of the coil carries so much of the choke's current that it never changes sign."""
    scenario = Scenario.from_file(checkout / "scenarios" / "bench-heater-small-rings.toml")
    bundle = {"choke.wire": {"diameter": "0.2 mm", "strands": 60, "lay": "twisted"}} if extra else {}  # thick wire smooths the dent
    heater = scenario.change({"supply.voltage": f"{volts} V", "heater.topology": topology} | bundle).heater("idle")
    deck = make_deck(heater, "distorted")
    waves, found = run_binary(deck), printed(deck, tmp_path)
    wanted = measure(waves)
    late = waves.between(waves.time[-1] - 20 / heater.frequency, float(waves.time[-1]))
    assert (rises(late["tank.voltage"], volts) > late.duration * wanted["tank.frequency_hz"] + 1) == extra
    assert found["tank_frequency_hz"] == pytest.approx(wanted["tank.frequency_hz"], rel=2e-4)
    assert found["tank_peak_v"] == pytest.approx(wanted["tank.peak_voltage_v"], rel=2e-3)
    for side in ("centre",) if heater.tapped else ("left", "right"):
        assert found[f"choke_{side}_peak_a"] == pytest.approx(wanted[f"choke.{side}.peak_current_a"], rel=5e-3)
