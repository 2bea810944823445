# SPDX-License-Identifier: GPL-3.0-or-later
"""The formulas of devices.py against published values and quadrature, and the netlist's switch bank against its count."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from heatsim.netlist.library import subcircuit
from heatsim.parts.curves import GappedCurve
from tests.support.book import listed
from tests.support.independent.devices import (
    THERMAL,
    channel_law,
    diode_law,
    gapped_law,
    junction_capacitance,
    miller_law,
    soft_flux,
)
from tests.support.references_heating import MOS1, VDMOS_CGD


@pytest.mark.parametrize("row", MOS1)
def test_channel_is_level_one(row: tuple[float, ...]) -> None:
    """Reference file section 14; resistances next to nothing."""
    kp, threshold, slope, gate, drain, *_ = row
    assert channel_law(kp, slope, 1e-9, 1e-9)(gate - threshold, drain) == listed("MOS1", "current", row)


@pytest.mark.parametrize(("u", "v"), [(0.3, 0.02), (2.0, 0.5), (4.0, 30.0), (6.4, 0.15), (6.4, -0.3), (-0.2, -0.9)])
def test_channel_meets_its_own_equation(u: float, v: float) -> None:
    """The solved current put back: level 1 at the inner nodes, drain and source exchanged when the current runs back."""
    kp, drain, source = 120.0, 5e-3, 1e-3
    i = channel_law(kp, 0.0, drain, source)(u, v)
    x, y = u - i * source, v - i * (drain + source)
    if v < 0:
        x, y, i = u - v + i * drain, -y, -i
    assert i == pytest.approx(kp * (x * y - y * y / 2) if y < x else kp * x * x / 2, rel=1e-9)


@pytest.mark.parametrize("row", VDMOS_CGD)
def test_miller_capacitance(row: tuple[float, ...]) -> None:
    """Reference file section 14."""
    largest, smallest, steepness, voltage, *_ = row
    assert miller_law(largest, smallest, steepness)(voltage) == listed("VDMOS_CGD", "cgd", row)


@pytest.mark.parametrize("v", [-3.0, 0.2, 0.7, 1.2])
def test_diode_meets_its_own_equation(v: float) -> None:
    """I = Is (exp((v - I R)/(n Vt)) - 1), and the conductance is its slope."""
    law = diode_law(1e-10, 1.6, 0.05)
    i, g = law(v)
    assert i == pytest.approx(1e-10 * np.expm1((v - i * 0.05) / (1.6 * THERMAL)), rel=1e-9)
    assert g == pytest.approx((law(v + 1e-6)[0] - law(v - 1e-6)[0]) / 2e-6, rel=1e-5, abs=1e-12)


def test_junction_capacitance_joins_its_tangent() -> None:
    law = junction_capacitance(1e-9, 0.8, 0.5)
    assert law(0.0) == pytest.approx(1e-9)
    assert law(7.2) == pytest.approx(1e-9 / np.sqrt(10))
    assert law(-0.4 - 1e-7) == pytest.approx(law(-0.4 + 1e-7), rel=1e-6)


@pytest.mark.parametrize("current", [0.5, 12.0, 90.0])
def test_soft_flux_is_the_integral_of_the_inductance(current: float) -> None:
    zero, air, half, exponent = 60e-6, 1e-6, 25.0, 1.855
    area, _ = quad(lambda i: air + (zero - air) / (1 + (i / half) ** exponent), 0, current, epsabs=0, epsrel=1e-11)
    assert float(soft_flux(np.array(current), zero, air, half, exponent)) == pytest.approx(area, rel=1e-9)


@pytest.mark.parametrize("flux", [1e-5, 8e-4, 9e-4, 2e-3])
def test_gapped_current_is_the_integral_of_its_slope(flux: float) -> None:
    law = gapped_law(GappedCurve(60e-6, 1e-6, 9e-4, 7e-5))
    area, _ = quad(lambda y: law(y)[1], 0, flux, epsabs=0, epsrel=1e-10, limit=200)
    assert law(flux)[0] == pytest.approx(area, rel=1e-8)
    assert law(0.0)[1] == pytest.approx(1 / 60e-6, rel=1e-12)


def gate_and_drain_charge(count: int, folder: Path) -> tuple[float, float]:
    """Charge [C] that the library's bank of `count` devices takes at the gate while gate and then drain rise by 10 V."""
    deck = "\n".join(
        [
            "* charge of a bank",
            subcircuit("switch_bank.lib", "hs_switch_bank"),
            f"xbank d g 0 hs_switch_bank n={count} cgs=4n cgdmax=3n cgdmin=30p cjo=2n",
            "vg g 0 pwl(0 -10 10u 0 30u 0)",
            "vd d 0 pwl(0 0 20u 0 30u 10)",
            ".option reltol=1e-4",
            ".control",
            "tran 10n 30u 0 10n",
            "meas tran qg integ i(vg) from=0 to=10u",
            "meas tran qd integ i(vd) from=20u to=30u",
            ".endc",
            ".end",
            "",
        ]
    )
    file = folder / f"bank{count}.cir"
    file.write_text(deck, encoding="ascii")
    text = subprocess.run(["ngspice", "-b", file.name], cwd=folder, capture_output=True, text=True, timeout=30, check=False).stdout
    found = [re.search(rf"^{name}\s*=\s*(\S+)", text, re.MULTILINE) for name in ("qg", "qd")]
    assert all(found), text
    gate, drain = (-float(match[1]) for match in found if match)
    return gate, drain


@pytest.mark.ngspice
def test_a_bank_of_three_stores_three_times_the_charge(tmp_path: Path) -> None:
    """Kirchhoff's law: equal devices in parallel. ngspice 39 multiplies a VDMOS's current and junction by `m`, but not its
    gate capacitances, so the bank must not lean on `m`."""
    one, three = gate_and_drain_charge(1, tmp_path), gate_and_drain_charge(3, tmp_path)
    assert one[0] > 4e-8
    assert three[0] == pytest.approx(3 * one[0], rel=0.01)
    assert three[1] == pytest.approx(3 * one[1], rel=0.01)
