# SPDX-License-Identifier: GPL-3.0-or-later
"""One feed choke worked out by hand, step by step, against the parts.

Two rings 26.9 x 14.7 x 11.2 mm of Fe-Si-Al powder, 60 mu, 24 turns of one 1.0 mm wire (1.062 mm over enamel), on each
side of a two-choke stage of 24 V at 100 kHz, 6 A through it, lying in still air of 25 °C.
Catalogue: le 63.5 mm, Ae 65.4 mm2 a ring, AL 75 nH, b 2.142e-6, c 1.855, loss 44.30 B^1.988 f^1.541 (recalled).

 1 L0 = 4 pi 1e-7 * 60 * 24^2 * 130.8e-6/63.5e-3 = 89.46 uH; by AL 2 * 75 nH * 576 = 86.4 uH, 3.5 % less (part: 8 %).
 2 H = 24 * 6/0.0635 = 2268 A/m = 28.50 Oe; left 1/(1 + 2.142e-4 * 28.50^1.855) = 1/(1 + 0.1070) = 90.33 %.
   Differential L = La + 0.9033 (L0 - La); La (24 turns on the outline 28.58 x 13.07 x 24.62 mm, mu 1)
   = 2e-7 * 576 * 24.62e-3 * ln(28.58/13.07) = 2.219 uH -> 81.02 uH.
 3 Coat of 0.3 mm: 27.52 x 14.13 mm, 23.56 mm high; section 13.39 + 47.12 = 60.51 mm, one layer (38 would fit) at
   pi * 1.062 = 3.336 mm: mean turn 63.85 mm; 24 turns 1.532 m; R20 = 1.532/(58e6 * 0.7854e-6) = 33.64 mohm.
 4 Flux swing 0.5511 * 24/1e5 = 132.3 uWb; B = 132.3e-6/(24 * 130.8e-6) = 42.13 mT peak to peak, 21.07 mT half.
 5 Sine: 44.30 * 0.02107^1.988 * 100^1.541 = 44.30 * 4.649e-4 * 1208 = 24.87 mW/cm3, times 8.306 cm3 = 0.2066 W; the
   choke's waveform 0.984 of it (iGSE with alpha 1.541, beta 1.988, integrated apart): 0.2033 W.
 6 Ripple 1.1357 * 24/(2 pi 1e5 * 81.0 uH) = 0.5355 A rms.
 7 At 55 °C rho = 1.9613e-8, delta = 222.9 um. A lone wire: 1.376; in a field across it G = 11.03 (Kelvin functions at
   sqrt(2) * 0.5/0.2229). Pitch in the hole pi (14.13 - 1.062)/24 = 1.711 mm: as a layer Dowell's xi = 0.8862 * (1/0.2229) *
   sqrt(0.8862/1.711) = 2.861, 2.868; as single wires 1.376 + pi/2 * 11.03 * (0.5/1.711)^2 = 2.855; between them 2.860.
   Outside 3.741 mm: 1.685; faces 2.069, 2.507, 2.945, 3.383 mm: 2.387, 2.064, 1.875, 1.754, mean 2.020.
   F = (23.56 * 2.860 + 23.56 * 1.685 + 13.39 * 2.020)/60.51 = 2.217. R = 38.26 mohm: 36 * R = 1.377 W,
   0.2868 * F * R = 0.0243 W.
 8 Wound: 29.64 mm, hole 12.01 mm, 25.68 mm high: mantle 2391, faces 1154, bore 969, hull 3771 mm2.
   At 55 °C (film 40 °C: k 0.0272, nu 17.0e-6, Pr 0.705): wall Ra = 9.81 * 30 * 0.02568^3/(313 * 17.0e-6^2) * 0.705 =
   3.88e4, Nu = (0.825 + 0.3243 * 5.82)^2 = 7.35, h = 7.79; faces Ra = 3.88e4 * (7.41/25.68)^3 = 932, Nu = 2.98 and 1.49,
   h = 10.9 and 5.5, mean 8.2; bore half the wall's, 3.9. 30 * (2391 * 7.79 + 1154 * 8.2 + 969 * 3.9) = 0.956 W.
   Radiated 0.85 * 5.67e-8 * (328.15^4 - 298.15^4) * 3771e-6 = 0.671 W. Together 1.627 W.
 9 Loss at 55 °C: 0.203 + 1.377 + 0.024 = 1.605 W. Balance: 55 °C less 0.3 K.
"""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.parts.choke import Choke, Core, wound_curve
from heatsim.parts.ring import RingCore
from heatsim.parts.thermal import ChokeHeat, Cooling, choke_heat
from heatsim.physics.convection import ring_heat_flow
from heatsim.scenario.catalogue import builtin
from tests.support.book import INDEPENDENT, MEMORY, Known, known
from tests.support.windings import of_wire

ENTRY = builtin().rings["powder-26.9x14.7x11.2"]
RING = RingCore.from_entry(ENTRY, 2, "logarithmic")
WINDING = of_wire(24, "1.0 mm", grade=1)
CORE = Core(RING, WINDING, builtin().materials["fe-si-al-60"])
CURVE = wound_curve(CORE)
CHOKE = Choke("left", CURVE, WINDING.resistance(RING, 55.0), 10e-12, 55.0, WINDING.copper_area, CORE, "memory")


def waveforms() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time, flux linkage and current of the ideal stage: 24 V less a half sine of pi * 24 V, 6 A mean."""
    angle = np.linspace(0.0, 2.0 * np.pi, 1001)
    time = angle / (2 * np.pi * 1e5)
    volts = 24.0 * (1.0 - np.pi * np.maximum(np.sin(angle), 0.0))
    flux = np.concatenate([[0.0], np.cumsum(0.5 * (volts[1:] + volts[:-1]) * np.diff(time))])
    ripple = (flux - np.mean(flux)) / float(CURVE.inductance(6.0))
    return time, float(CURVE.flux(6.0)) + flux - np.mean(flux), 6.0 + ripple


@pytest.fixture(scope="module")
def found() -> ChokeHeat:
    return choke_heat(CHOKE, *waveforms(), Cooling(ambient_c=25.0))


def by_hand(value: float, what: str, unit: str, rel: float) -> Known:
    """A number of the hand calculation on top."""
    return known(value, f"choke: {what}", "the choke by hand, nine steps", INDEPENDENT, unit=unit, rel=rel)


def test_step_1_inductance() -> None:
    assert CURVE.inductance_zero == by_hand(89.46e-6, "inductance without current", "H", 1e-4)
    assert CURVE.inductance_zero == known(2 * 75e-9 * 24**2, "choke: inductance", "AL of the catalogue", MEMORY, unit="H", rel=0.08)


def test_step_2_inductance_at_the_operating_current() -> None:
    assert WINDING.air_inductance(RING) == by_hand(2.219e-6, "air-core inductance", "H", 1e-3)
    assert float(CURVE.inductance(6.0)) == by_hand(81.02e-6, "inductance at 6 A", "H", 3e-3)


def test_step_3_copper() -> None:
    assert WINDING.mean_turn(RING) == by_hand(63.85e-3, "mean turn", "m", 1e-4)
    assert WINDING.resistance(RING, 20.0) == by_hand(33.64e-3, "resistance", "ohm", 1e-4)


def test_step_4_flux_density(found: ChokeHeat) -> None:
    assert found.swing_t == by_hand(42.13e-3, "flux density swing", "T", 1e-3)


def test_step_5_core_loss(found: ChokeHeat) -> None:
    assert found.core_w == by_hand(0.2033, "core loss", "W", 2e-3)


def test_steps_6_and_7_copper_loss(found: ChokeHeat) -> None:
    """The hand takes all ripple at 100 kHz; its harmonics add a few per cent to the AC part."""
    assert found.copper_dc_w == by_hand(1.377, "copper loss, direct", "W", 5e-3)
    assert found.copper_ac_w == by_hand(0.0243, "copper loss, alternating", "W", 0.06)
    assert float(WINDING.ac_factor(RING, np.array([1e5]), 55.0)[0]) == by_hand(2.217, "AC over DC resistance at 100 kHz", "1", 5e-3)


def test_step_8_heat_given_off() -> None:
    wound = WINDING.wound(RING)
    assert [1e3 * value for value in wound] == pytest.approx([29.64, 12.01, 25.68], abs=0.01)
    flow = ring_heat_flow(wound, 55.0, 25.0)
    assert flow.convection == by_hand(0.956, "convection at 55 °C", "W", 0.01)
    assert flow.radiation == by_hand(0.671, "radiation at 55 °C", "W", 2e-3)


def test_step_9_temperature(found: ChokeHeat) -> None:
    assert found.state == "balanced"
    assert found.temperature_c == known(
        54.7, "choke: temperature", "the choke by hand, nine steps", INDEPENDENT, unit="°C", abs=0.5
    )
    assert found.dominant == "direct current"
