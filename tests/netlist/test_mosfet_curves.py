# SPDX-License-Identifier: GPL-3.0-or-later
"""The curves of a generated MOSFET in ngspice against their closed forms, and ngspice's VDMOS against the datasheet rows of the
references (section 14: Kp 5.9 A/V2, threshold 4 V; capacitances of 2.45 nF and 10 pF)."""

from __future__ import annotations

import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.parts.mosfet_curves import capacitances, drain_current, gate_voltage
from heatsim.parts.mosfet_estimates import completed, draft
from heatsim.parts.mosfet_model import miller_voltage
from heatsim.parts.switch import Switch
from heatsim.scenario.catalogue import builtin
from tests.netlist.test_mosfet_datasheet import COUNT, DEVICES, Bank, bank
from tests.support import references_heating as ref
from tests.support.book import listed

pytestmark = pytest.mark.ngspice

GENERIC = ("generic 60 V 5 mohm", "generic 200 V 20 mohm", "generic 600 V 180 mohm charge-compensated")


def generic(name: str, folder: Path) -> Bank:
    """Two of a device of the catalogue, without resistance and inductance round them."""
    figures, _ = completed(builtin().devices[name].figures)
    whole = draft({**figures, "gate_resistance": 1e-3})
    return Bank(replace(whole, count=COUNT, drain_inductance=1e-13, miller_voltage=miller_voltage(whole)), folder)


def transfer(at: Bank) -> tuple[np.ndarray, np.ndarray]:
    """Gate voltage [V] and current [A] of a device, drain at 10 V."""
    top = gate_voltage(at.switch, 2 * at.switch.transconductance_current)
    lines = ("vg g_left 0 0", "vd d_left 0 10", ".option reltol=1e-6", ".control", f"dc vg 0.5 {top} {top / 200}")
    _, current, _, gate = at.ask(*lines, "wrdata OUT i(vd) v(g_left)", ".endc").T
    return gate, -current / COUNT


def output(at: Bank, gate: float, reach: float) -> tuple[np.ndarray, np.ndarray]:
    """Drain voltage [V] and current [A] of a device at a gate voltage."""
    lines = (f"vg g_left 0 {gate}", "vd d_left 0 0", ".option reltol=1e-6", ".control", f"dc vd 0 {reach} {reach / 100}")
    _, current, _, drain = at.ask(*lines, "wrdata OUT i(vd) v(d_left)", ".endc").T
    return drain, -current / COUNT


def measured_capacitances(at: Bank, volts: float) -> np.ndarray:
    """Input, output and reverse capacitance [F] of a device, from currents at 100 kHz."""
    w, found = 2 * np.pi * 1e5 * COUNT, []
    for gate, drain in ((1, 0), (0, 1)):
        lines = (f"vg g_left 0 dc 0 ac {gate}", f"vd d_left 0 dc {volts} ac {drain}", ".control", "ac lin 1 100k 100k")
        found.append(at.ask(*lines, "wrdata OUT imag(i(vg)) imag(i(vd))", ".endc")[0][[1, 3]])
    (into_gate, _), (reverse, out) = found
    return np.array([-into_gate, -out, reverse]) / w


def assert_curves(at: Bank) -> None:
    """Transfer and output curves within 0.3 % of the current, capacitances within 0.3 %."""
    s: Switch = at.switch
    gate, current = transfer(at)
    assert current[-1] > 1.9 * s.transconductance_current
    np.testing.assert_allclose(current, drain_current(s, gate, 10.0), rtol=3e-3, atol=1e-6 * current[-1])
    for share in (0.3, 1.0):
        at_gate = gate_voltage(s, share * s.transconductance_current)
        drain, current = output(at, at_gate, 3.0)
        np.testing.assert_allclose(current, drain_current(s, at_gate, drain), rtol=3e-3, atol=1e-9)
    drain, current = output(at, s.on_gate_voltage, 0.5)
    np.testing.assert_allclose(current, drain_current(s, s.on_gate_voltage, drain), rtol=3e-3, atol=1e-9)
    assert drain[1] / current[1] == pytest.approx(s.on_resistance, rel=0.01)
    for volts in (1.0, 5.0, 25.0, 0.4 * s.voltage_rating):
        np.testing.assert_allclose(measured_capacitances(at, volts), capacitances(s, volts), rtol=3e-3, err_msg=f"{volts} V")


@pytest.mark.parametrize("name", DEVICES)
def test_curves_of_a_bank_on_the_bench_are_the_closed_forms(name: str, tmp_path: Path) -> None:
    assert_curves(bank(name, tmp_path))


@pytest.mark.parametrize("name", GENERIC)
def test_curves_of_a_generic_device_are_the_closed_forms(name: str, tmp_path: Path) -> None:
    assert_curves(generic(name, tmp_path))


def asked(folder: Path, model: str, *lines: str) -> np.ndarray:
    """First row that ngspice writes of a bare VDMOS with drain d, gate g."""
    text = "\n".join(["* bare", "m1 d g 0 mos", f".model mos vdmos({model} rb=0)", *lines, ".endc", ".end", ""])
    (folder / "bare.cir").write_text(text, encoding="ascii")
    done = subprocess.run(["ngspice", "-b", "bare.cir"], cwd=folder, capture_output=True, text=True, timeout=60, check=False)
    assert (folder / "out.txt").exists(), done.stdout + done.stderr
    return np.loadtxt(folder / "out.txt", ndmin=2)[0]


@pytest.mark.parametrize("row", ref.MOS1)
def test_the_simulators_channel_is_the_published_law(tmp_path: Path, row: tuple) -> None:
    """Two volts and more over the threshold, where nothing of the slope below it is left."""
    kp, threshold, modulation, gate, drain, *_ = row
    model = f"vto={threshold} kp={kp} lambda={modulation} rd=0 rs=0 rg=0 rds=1e12"
    lines = (f"vg g 0 {gate}", f"vd d 0 {drain}", ".control", "op", "wrdata out.txt i(vd)")
    assert -asked(tmp_path, model, *lines)[1] == listed("MOS1", "current", row, rel=1e-4)


@pytest.mark.parametrize("row", ref.VDMOS_CGD)
def test_the_simulators_gate_drain_capacitance_is_the_published_row(tmp_path: Path, row: tuple) -> None:
    """The current into the gate at a volt across the drain; the drain below the gate conducts nothing at a threshold of 90 V."""
    greatest, least, slope, voltage, *_ = row
    model = f"vto=90 kp=1 cgdmax={greatest} cgdmin={least} a={slope} cgs=0 rg=1m is=1e-30"
    lines = ("vg g 0 10", f"vd d 0 dc {10 - voltage} ac 1", ".control", "ac lin 1 100k 100k", "wrdata out.txt imag(i(vg))")
    assert asked(tmp_path, model, *lines)[1] / (2 * np.pi * 1e5) == listed("VDMOS_CGD", "cgd", row, rel=1e-3)
