# SPDX-License-Identifier: GPL-3.0-or-later
"""Copper as a chain of resistors and inductors: its impedance by complex arithmetic against the winding's own resistance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatsim.parts.choke import Choke, Core
from heatsim.parts.curves import LinearCurve
from heatsim.parts.ladder import Ladder, copper_ladder
from heatsim.parts.ring import RingCore
from heatsim.parts.winding import Winding
from heatsim.physics.ringcore import RingSize
from heatsim.scenario.catalogue import builtin

LARGE = RingCore(RingSize(40e-3, 24e-3, 15e-3), 1, 100e-3, 110e-6)
SMALL = RingCore(RingSize(27e-3, 12.7e-3, 11e-3), 1, 63e-3, 65e-6)
WINDINGS = {
    "one wire": (Winding(20, 1, 1.6e-3, 1.7e-3), LARGE),
    "three strands": (Winding(20, 3, 1.6e-3, 1.7e-3), LARGE),
    "two layers in a small hole": (Winding(27, 1, 1.6e-3, 1.7e-3), SMALL),
    "thin wire": (Winding(20, 1, 0.5e-3, 0.55e-3), LARGE),
    "bundle": (Winding(15, 37, 0.3e-3, 0.34e-3, "twisted"), LARGE),
    "thick wire": (Winding(10, 1, 3e-3, 3.1e-3), LARGE),
}


def choke(winding: Winding, ring: RingCore) -> Choke:
    core = Core(ring, winding, builtin().materials["fe-si-al-60"])
    return Choke("left", LinearCurve(60e-6, 1e-6), winding.resistance(ring, 60.0), 20e-12, 60.0, None, core, "unknown")


def impedance(ladder: Ladder, frequency: np.ndarray) -> np.ndarray:
    """Of the elements as they stand in a netlist [ohm]."""
    s = 2j * np.pi * frequency
    cells = ((1 / (1 / cell.resistance + 1 / (s * cell.inductance))) for cell in ladder.cells)
    return ladder.resistance + sum(cells, start=np.zeros(len(frequency), dtype=complex))


@pytest.mark.parametrize("frequency", [20e3, 85e3, 300e3])
@pytest.mark.parametrize("name", WINDINGS)
def test_resistance_at_the_tank_frequency_and_its_harmonics(name: str, frequency: float) -> None:
    winding, ring = WINDINGS[name]
    orders = np.arange(1.0, 41.0)
    found = impedance(copper_ladder(choke(winding, ring), frequency), orders * frequency).real
    wanted = winding.resistance(ring, 60.0) * winding.ac_factor(ring, orders * frequency, 60.0)
    assert found == pytest.approx(wanted, rel=0.10)


def drawn(generator: np.random.Generator) -> tuple[Winding, RingCore] | None:
    """A winding of any wire on any stack of the catalogue; None for one that does not go through the hole."""
    material, entries = builtin().materials["fe-si-al-60"], list(builtin().rings.values())
    ring = RingCore.from_entry(entries[generator.integers(len(entries))], int(generator.integers(1, 4)), material.path_rule)
    wire, twisted = float(generator.choice([0.2e-3, 0.4e-3, 0.7e-3, 1e-3, 1.6e-3, 2.5e-3])), generator.random() < 0.4
    strands = int(generator.integers(2, 60)) if twisted else int(generator.integers(1, 6))
    winding = Winding(int(generator.integers(4, 50)), strands, wire, 1.07 * wire, "twisted" if twisted else "side by side")
    return (winding, ring) if winding.fits(ring) else None


def test_random_windings_on_rings_of_the_catalogue() -> None:
    """Within 8 % at the first three harmonics, 14 % up to the fortieth."""
    generator, orders, apart = np.random.default_rng(7), np.arange(1.0, 41.0), []
    while len(apart) < 60:
        if (found := drawn(generator)) is not None:
            frequency = float(np.exp(generator.uniform(np.log(15e3), np.log(400e3))))
            resistance = impedance(copper_ladder(choke(*found), frequency), orders * frequency).real
            wanted = found[0].resistance(found[1], 60.0) * found[0].ac_factor(found[1], orders * frequency, 60.0)
            apart.append(np.abs(resistance / wanted - 1))
    assert np.max(apart) < 0.14
    assert np.max(np.array(apart)[:, :3]) < 0.08


@pytest.mark.parametrize("name", WINDINGS)
def test_elements_are_positive_and_direct_current_meets_the_direct_resistance(name: str) -> None:
    made = choke(*WINDINGS[name])
    ladder = copper_ladder(made, 85e3)
    assert ladder.cells and all(cell.resistance > 0 and cell.inductance > 0 for cell in ladder.cells)
    assert impedance(ladder, np.array([1e-3])).real == pytest.approx([made.resistance], rel=1e-12)
    assert sum(cell.inductance for cell in ladder.cells) < 1e-2 * made.curve.inductance_zero


@pytest.mark.parametrize("celsius", [20.0, 60.0, 150.0])
def test_warm_copper_is_cold_copper_at_a_lower_frequency(celsius: float) -> None:
    """At another temperature than it was made for it still follows the winding."""
    winding, ring = WINDINGS["two layers in a small hole"]
    orders = np.arange(1.0, 21.0)
    found = copper_ladder(choke(winding, ring), 85e3).at(orders * 85e3, celsius)
    wanted = winding.resistance(ring, celsius) * winding.ac_factor(ring, orders * 85e3, celsius)
    assert found == pytest.approx(wanted, rel=0.10)


def test_a_winding_that_is_not_known_has_its_direct_resistance_alone() -> None:
    assert copper_ladder(replace(choke(*WINDINGS["one wire"]), core=None, resistance=0.02), 85e3) == Ladder(0.02, 60.0)
