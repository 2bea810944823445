# SPDX-License-Identifier: GPL-3.0-or-later
"""The lead between a bank's sources and ground, common to drain and gate current."""

import re
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

import heatsim as hs
from heatsim.netlist.power import emit_switch
from heatsim.parts.heater import Heater
from heatsim.studies.check import case_deck
from tests.support.once import checked

LEAD, COUNT = 8e-9, 2


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Heater:
    return hs.load(checkout / "scenarios" / "bench-heater.toml").heater("loaded")


def measured(heater: Heater, folder: Path, rate: float) -> dict[str, float]:
    """A bank that is fully on while its current rises at a rate [A/s]: source node, gate at the chip against ground, current."""
    part = emit_switch(heater.switch, heater.gate, "left", heater.stray_corner)
    deck = [
        "* a bank in its source leads",
        *part.subcircuits,
        part.lines,
        "vg g_left 0 12",
        f"id 0 d_left pwl(0 0 1u 0 3u {2e-6 * rate:g})",
        "rd d_left 0 1k",
        ".option reltol=1e-5",
        ".control",
        "tran 1n 3u 0 1n",
        "meas tran source find v(s_left) at=2.5u",
        "meas tran gate find v(xsw_left.gp) at=2.5u",
        ".endc",
        ".end",
        "",
    ]
    file = folder / "lead.cir"
    file.write_text("\n".join(deck), encoding="ascii")
    text = subprocess.run(["ngspice", "-b", file.name], cwd=folder, capture_output=True, text=True, timeout=60, check=False).stdout
    found = {name: re.search(rf"^{name}\s*=\s*(\S+)", text, re.MULTILINE) for name in ("source", "gate")}
    assert all(found.values()), text
    return {name: float(match[1]) for name, match in found.items() if match}


@pytest.mark.parametrize("rate", [1e7, 1e8, -1e8])
def test_the_lead_takes_its_share_of_the_drive(heater: Heater, tmp_path: Path, rate: float) -> None:
    """Faraday's law: leads in parallel drop (L/n) di/dt, and what the gate supply gives is short of it at the chip."""
    switch = replace(heater.switch, count=COUNT, source_inductance=LEAD)
    found = measured(replace(heater, switch=switch), tmp_path, rate)
    assert found["source"] == pytest.approx(LEAD / COUNT * rate, rel=5e-3)
    drive = found["gate"] - found["source"]
    assert drive == pytest.approx(12.0 - LEAD / COUNT * rate, abs=0.01), "what charges the gate meanwhile drops some mV on its way"


def test_without_it_the_netlist_has_no_such_node(checkout: Path) -> None:
    bench = hs.load(checkout / "scenarios" / "bench-heater.toml")
    assert "s_left" not in case_deck(bench, "loaded").text
    with_lead = case_deck(bench.change({"switch.source_inductance": "6 nH"}), "loaded").text
    assert "lsource_left s_left 0 3e-09" in with_lead


@pytest.mark.slow
def test_a_heater_with_source_leads_keeps_its_books(checkout: Path) -> None:
    """The energy balance holds, and switches turn slower: the lead works against every change of their current."""
    bench = hs.load(checkout / "scenarios" / "bench-heater.toml")
    plain = checked(bench)["loaded"].measures
    leads = hs.check(bench.change({"switch.source_inductance": "10 nH"}), ["loaded"])["loaded"].measures
    assert abs(leads["energy.imbalance_ratio"]) < 0.005
    assert leads["switch.left.overlap_loss_w"] > plain["switch.left.overlap_loss_w"]
    assert leads["tank.frequency_hz"] == pytest.approx(plain["tank.frequency_hz"], rel=0.01)
