# SPDX-License-Identifier: GPL-3.0-or-later
"""Laws of damaged parts against numerical integration."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from heatsim.parts.damage import Damage, steel_at, voltage_coefficient
from heatsim.scenario.scenario import Scenario

BENCH = Scenario.from_file(Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater.toml")
OMEGA = 2 * np.pi * 85e3


@pytest.mark.parametrize(("depth", "reactance"), [(0.3, 1.0), (1.0, 1.0), (1.8, 1.0), (1.2, 0.2), (0.7, 2.0)])
def test_steel_adds_what_it_should_at_its_current(depth: float, reactance: float) -> None:
    """Of a sine of flux with `depth` times the knee's, current through both branches by a Fourier transform: its fundamental has
    the wanted amplitude, and voltage over it the impedance of eddy resistance and reactance in parallel."""
    steel = steel_at(0.14, 150.0, depth, OMEGA, reactance)
    angle = 2 * np.pi * np.arange(4096) / 4096
    flux = depth * steel.knee_flux * np.sin(angle)
    ratio = flux / (steel.inductance * steel.knee / 2)
    voltage = OMEGA * depth * steel.knee_flux * np.cos(angle)
    current = flux / steel.inductance * (1 + ratio**4) + voltage / steel.resistance
    i, v = (2 * np.fft.rfft(x)[1] / angle.size for x in (current, voltage))
    assert abs(i) == pytest.approx(150.0, rel=1e-9)
    seen = 1 / (1 / 0.14 + 1 / (0.14j * reactance))
    assert v / i == pytest.approx(seen, rel=1e-9)
    assert (steel.seen_resistance, OMEGA * steel.seen_inductance) == pytest.approx((seen.real, seen.imag))


def test_half_the_flux_is_left_at_the_knee() -> None:
    steel = steel_at(0.14, 150.0, 1.0, OMEGA)
    flux = steel.knee * steel.inductance / 2
    assert flux / steel.inductance * (1 + (flux / steel.knee_flux) ** 4) == pytest.approx(steel.knee, rel=1e-12)


@pytest.mark.parametrize("lost", [0.05, 0.3, 0.6])
def test_a_bank_loses_its_share_at_the_peak(lost: float) -> None:
    """C(v) = dq/dv by differences of the charge that solves v = (q/C)(1 + b (q/C)^2)."""
    b = voltage_coefficient(lost, 130.0)

    def charge(volts: float) -> float:
        return float(brentq(lambda w: w * (1 + b * w**2) - volts, 0, 2 * volts, xtol=1e-13, rtol=1e-14))

    assert (charge(130.01) - charge(129.99)) / 0.02 == pytest.approx(1 - lost, rel=1e-6)
    assert 1 / Damage(voltage_coefficient=b).stiffness(130.0) == pytest.approx(1 - lost, rel=1e-9)
    assert Damage().stiffness(130.0) == 1.0


def test_an_open_device_leaves_the_others() -> None:
    heater = replace(BENCH.heater("loaded"), damage=Damage(open_devices=(0, 1)))
    assert (heater.bank("left").count, heater.bank("right").count) == (2, 1)
    assert heater.bank("left") is heater.switch
