# SPDX-License-Identifier: GPL-3.0-or-later
"""The netlist's bank on a simulated test bench: what its datasheet says is what is measured, for three devices far apart.

All figures are invented. The bench is ngspice: small signals at the capacitance voltage, a gate-charge test at constant currents,
and direct currents. Allowed: 0.5 %, of the gate-drain charge 3 %: its last straight line is drawn through a bent curve, and the
channel's resistance rises with the current.
"""

from __future__ import annotations

import subprocess
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.netlist.power import emit_switch
from heatsim.parts.mosfet_model import datasheet_points
from heatsim.parts.switch import Switch
from heatsim.scenario.scenario import Scenario

pytestmark = pytest.mark.ngspice

BENCH = Scenario.from_file(Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater.toml")
DEVICES = {
    "55 V": {
        "voltage_rating": "55 V",
        "on_resistance": "8 mohm",
        "threshold": "2.9 V",
        "threshold_current": "250 uA",
        "transconductance": "62 S",
        "transconductance_current": "50 A",
        "input_capacitance": "3.3 nF",
        "output_capacitance": "790 pF",
        "reverse_capacitance": "260 pF",
        "gate_drain_charge": "41 nC",
        "gate_drain_charge_voltage": "44 V",
        "diode_drop": "1.1 V",
        "diode_current": "60 A",
    },
    "200 V": {},
    "200 V, threshold at 1 mA": {"threshold": "3.3 V", "threshold_current": "1 mA", "gate_drain_charge_voltage": "160 V"},
    "650 V": {
        "voltage_rating": "650 V",
        "on_resistance": "420 mohm",
        "threshold": "3.5 V",
        "threshold_current": "250 uA",
        "transconductance": "9 S",
        "transconductance_current": "7 A",
        "input_capacitance": "1.3 nF",
        "output_capacitance": "160 pF",
        "reverse_capacitance": "18 pF",
        "gate_drain_charge": "17 nC",
        "gate_drain_charge_voltage": "400 V",
        "diode_drop": "0.9 V",
        "diode_current": "7 A",
    },
    "steep channel below a high on-resistance": {"transconductance": "20 S", "on_resistance": "25 mohm"},
}
"""Fields of [switch] that differ from the demo's. The last has a square law whose channel alone would have 27 mohm."""

COUNT = 2
ALLOWED = {"gate-drain charge": 0.03}


@dataclass(frozen=True)
class Bank:
    """A bank of COUNT devices as heatsim writes it, without resistance and inductance round it, and a simulator to ask."""

    switch: Switch
    folder: Path

    def ask(self, *lines: str) -> np.ndarray:
        """Run a deck of further lines and control commands, the last of which is `wrdata out ...`; what it wrote."""
        gate = replace(BENCH.heater("loaded").gate, resistor=1e-3, inductance=1e-13)
        emission = emit_switch(self.switch, gate, "left", 10e6)
        out, deck = self.folder / "out.txt", self.folder / "bench.cir"
        body = "\n".join(lines).replace("OUT", out.name)
        deck.write_text("\n".join(["* bench", *emission.subcircuits, emission.lines, body, ".end", ""]), encoding="ascii")
        done = subprocess.run(
            ["ngspice", "-b", deck.name], cwd=self.folder, capture_output=True, text=True, timeout=60, check=False
        )
        assert out.exists(), done.stdout + done.stderr
        table = np.loadtxt(out, ndmin=2)
        out.unlink()
        return table


def bank(name: str, folder: Path) -> Bank:
    """Of one of DEVICES."""
    fields = {f"switch.{key}": value for key, value in DEVICES[name].items()}
    switch = BENCH.change({**fields, "switch.count": COUNT}).heater("loaded").switch
    return Bank(replace(switch, threshold_spread=0.0, drain_inductance=1e-13, gate_resistance=1e-3), folder)


def capacitances(at: Bank) -> dict[str, float]:
    """Input, output and reverse capacitance of a device [F] from currents at 100 kHz."""
    v, w = at.switch.capacitance_voltage, 2 * np.pi * 1e5 * COUNT

    def currents(gate: int, drain: int) -> tuple[float, float]:
        """Imaginary currents out of the sources of gate and drain."""
        row = at.ask(
            f"vg g_left 0 dc 0 ac {gate}",
            f"vd d_left 0 dc {v} ac {drain}",
            ".control",
            "ac lin 1 100k 100k",
            "wrdata OUT imag(i(vg)) imag(i(vd))",
            ".endc",
        )[0]
        return row[1], row[3]

    into_gate, _ = currents(1, 0)
    reverse, out = currents(0, 1)
    return {"input capacitance": -into_gate / w, "output capacitance": -out / w, "reverse capacitance": reverse / w}


def gate_drain_charge(at: Bank) -> float:
    """Of a device [C], from a gate-charge test: a current into the gate while the drain carries another and is clamped.

    The plateau is at its gate voltage at half the drain's swing. It begins where the drain has left the clamp by a hundredth, and
    ends where the straight line through the half volt below the on-resistance's gate voltage crosses it.
    """
    s = at.switch
    top, on = s.gate_drain_charge_voltage, s.on_gate_voltage
    current, long = COUNT * (s.input_capacitance * on + 3 * s.gate_drain_charge) / 200e-6, 400e-6
    t, vg, _, vd = at.ask(
        f"ig 0 g_left pwl(0 0 1n {current})",
        f"id 0 d_left {COUNT * s.transconductance_current}",
        f"vclamp clamp 0 {top}",
        "dclamp d_left clamp ideal",
        ".model ideal d(n=0.1 is=1n)",
        "rleak g_left 0 1g",
        ".option reltol=1e-5",
        ".control",
        f"tran 50n {long} 0 50n",
        "wrdata OUT v(g_left) v(d_left)",
        ".endc",
    ).T
    plateau = float(np.interp(-top / 2, -vd[vd < 0.99 * top], vg[vd < 0.99 * top]))

    last = (vg > on - 0.5) & (vg < on)
    slope, offset = np.polyfit(t[last], vg[last], 1)
    return current / COUNT * float((plateau - offset) / slope - t[vd < 0.99 * top][0])


def direct(at: Bank) -> dict[str, float]:
    """On-resistance at a hundredth of the transconductance's current, transconductance, diode drop and, if given, threshold."""
    s = at.switch
    row = at.ask(
        f"vg g_left 0 {s.on_gate_voltage}",
        f"id 0 d_left {COUNT * s.transconductance_current / 100}",
        ".control",
        "op",
        "wrdata OUT v(d_left)",
        ".endc",
    )[0]
    found = {"on-resistance": row[1] / (s.transconductance_current / 100)}
    _, current, _, gate = at.ask(
        "vg g_left 0 0",
        "vd d_left 0 10",
        ".option reltol=1e-6",
        ".control",
        "dc vg 0.5 9 2m",
        "wrdata OUT i(vd) v(g_left)",
        ".endc",
    ).T
    current = -current / COUNT
    found["transconductance"] = float(np.interp(s.transconductance_current, current, np.gradient(current, gate)))
    if s.threshold_current:
        found["threshold"] = float(np.interp(np.log(s.threshold_current), np.log(np.maximum(current, 1e-15)), gate))
    lines = ("vg g_left 0 0", f"id d_left 0 {COUNT * s.diode_current}", ".control", "op", "wrdata OUT v(d_left)", ".endc")
    return found | {"diode drop": -at.ask(*lines)[0][1]}


@pytest.mark.parametrize("name", DEVICES)
def test_a_bank_on_the_bench_is_its_datasheets(name: str, tmp_path: Path) -> None:
    device = bank(name, tmp_path)
    measured = capacitances(device) | direct(device) | {"gate-drain charge": gate_drain_charge(device)}
    points = {each.name: each for each in datasheet_points(device.switch)}
    assert set(measured) == set(points)
    apart = {what: measured[what] / each.given - 1 for what, each in points.items()}
    assert all(abs(share) < ALLOWED.get(what, 0.005) for what, share in apart.items()), apart
    assert all(abs(each.difference) < 1e-6 for each in points.values())
