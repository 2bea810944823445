# SPDX-License-Identifier: GPL-3.0-or-later
"""Flux curves and losses of wound rings: which curve a material gets, and what stacking does at fixed volts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatsim.parts.choke import Choke, Core, wound_curve
from heatsim.parts.curves import GappedCurve, LinearCurve, TableCurve
from heatsim.parts.materials import Bias
from heatsim.parts.ring import RingCore
from heatsim.parts.winding import Winding
from heatsim.physics.stage import choke_flux_swing
from heatsim.scenario.catalogue import builtin
from tests.support.book import CLOSED, known

MATERIALS = builtin().materials
RING = builtin().rings["powder-39.9x24.1x14.5"]
WINDING = Winding(20, 1, 1.6e-3, 1.7e-3)
ANGLE = np.linspace(0.0, 2.0 * np.pi, 2001)


def core(material: str, stack: int = 1, turns: int = 20) -> Core:
    chosen = MATERIALS[material]
    return Core(RingCore.from_entry(RING, stack, chosen.path_rule), replace(WINDING, turns=turns), chosen)


def choke(made: Core, gap: float = 0.0) -> Choke:
    resistance = made.winding.resistance(made.ring, 60.0)
    return Choke("left", wound_curve(replace(made, gap=gap)), resistance, 20e-12, 60.0, made.winding.copper_area, made, "memory")


@pytest.mark.parametrize("name", [name for name, material in MATERIALS.items() if material.bias])
def test_powder_follows_its_bias_curve_down_to_the_air_core(name: str) -> None:
    """L(i) = La + (L0 - La) share(N i/le), the share of the material; within 0.5 % of L0 between the table's knots."""
    made = core(name)
    curve, bias = wound_curve(made), made.material.bias
    assert isinstance(curve, TableCurve) and bias is not None
    current = np.array([0.0, 2.0, 5.0, 10.0, 30.0, 80.0])
    share = bias.share(20 * current / made.ring.path_length)
    air = min(made.winding.air_inductance(made.ring), 0.5 * curve.inductance_zero)
    expected = air + (curve.inductance_zero - air) * share
    what = f"choke of {name}: inductance under bias"
    assert curve.inductance(current) == known(
        expected, what, "share of the material's curve", CLOSED, unit="H", abs=5e-3 * curve.inductance_zero
    )


def test_a_measured_bias_curve_gives_a_table_known_as_far_as_it_was_measured() -> None:
    made = core("fe-si-al-60")
    points = ((0.0, 1.0), (1000.0, 0.95), (4000.0, 0.7), (8000.0, 0.4))
    measured = replace(made, material=replace(made.material, bias=Bias(6500.0, 1.8, 0.02, "measured", "bench", points=points)))
    curve = wound_curve(measured)
    assert curve.known_to == pytest.approx(8000.0 * made.ring.path_length / 20)
    at = 4000.0 * made.ring.path_length / 20
    air = made.winding.air_inductance(made.ring)
    assert float(curve.inductance(at)) == pytest.approx(air + (curve.inductance_zero - air) * 0.7, rel=5e-3)


def test_ferrite_takes_its_gap_and_a_material_without_saturation_stays_straight() -> None:
    """Path 98.9 mm at 2300 mu and a gap of 1 mm: 97.9/2300 + 1 = 1.0426 mm of air. Reluctances in series."""
    made = core("mnzn-power-ferrite")
    curve = wound_curve(replace(made, gap=1e-3))
    length = made.ring.path_length
    expected = 4e-7 * np.pi * 400 * made.ring.total_area / ((length - 1e-3) / 2300 + 1e-3)
    assert isinstance(curve, GappedCurve)
    assert curve.inductance_zero == known(expected, "gapped ferrite ring", "reluctances in series", CLOSED, unit="H", rel=1e-9)
    unknown = replace(made, material=replace(made.material, saturation_flux_density_t=None))
    straight = wound_curve(replace(unknown, gap=1e-3))
    assert isinstance(straight, LinearCurve) and straight.known_to == 0.0


def test_at_fixed_volts_a_second_ring_halves_the_swing_and_lowers_core_loss() -> None:
    """Common practice: volts and frequency fix the flux linkage; twice the area halves B, and P ~ B^b V with b near 2
    halves the core's total: 2^(1 - 1.988) = 0.504."""
    swing = choke_flux_swing(42.0, 1e5, "two")
    time, flux = ANGLE / (2 * np.pi * 1e5), swing / 2 * np.sin(ANGLE)
    one, two = (choke(core("fe-si-al-60", stack)) for stack in (1, 2))
    assert one.core is not None and two.core is not None
    assert two.core.flux_density(swing) == pytest.approx(one.core.flux_density(swing) / 2)
    losses = [each.core_loss(time, flux) for each in (one, two)]
    assert losses[0] is not None and losses[1] is not None
    assert losses[1] / losses[0] == pytest.approx(2 ** (1 - 1.988), rel=1e-6)


@pytest.mark.parametrize("material", [name for name, each in MATERIALS.items() if each.loss])
def test_the_stand_in_resistor_takes_the_printed_loss(material: str) -> None:
    """V^2/R at the given voltage is the sine's loss, form by form."""
    made = choke(core(material), 1e-3)
    assert made.core is not None and made.core.material.loss is not None
    swing = 2e-4
    density = made.core.material.loss.density(swing / 2 / (20 * made.core.ring.total_area), 1e5)
    resistance = made.core_loss_resistance(60.0, swing, 1e5)
    assert 60.0**2 / resistance == pytest.approx(density * made.core.ring.volume)


def test_without_a_known_loss_nothing_is_made_up() -> None:
    powder = core("mpp-60")
    made = choke(replace(powder, material=replace(powder.material, loss=None)))
    assert made.core_loss(ANGLE, np.sin(ANGLE)) is None
    assert made.core_loss_resistance(60.0, 2e-4, 1e5) == 1e6


def test_copper_loss_of_mean_and_ripple() -> None:
    made = choke(core("fe-si-al-60"))
    assert made.core is not None
    factor = float(made.core.winding.ac_factor(made.core.ring, np.array([1e5]), 60.0)[0])
    assert made.copper_loss(3.0, 5.0, 1e5) == pytest.approx(made.resistance * (9.0 + factor * 16.0))
    assert replace(made, core=None).copper_loss(3.0, 5.0, 1e5) == pytest.approx(made.resistance * 25.0)
