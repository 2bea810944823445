# SPDX-License-Identifier: GPL-3.0-or-later
"""Model parameters: changed heaters against closed forms and against scenarios of their own."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from heatsim.parts.curves import half_current
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.parameters import scaled_curve, shorted_coil, with_changes

ROOT = Path(__file__).resolve().parents[3]
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")


def test_no_change_is_the_same_heater() -> None:
    heater = BENCH.heater("loaded")
    same = with_changes(heater, {})
    assert same.gate.resistor == pytest.approx(heater.gate.resistor)
    assert (same.chokes, same.coil, same.workpiece, same.supply) == (heater.chokes, heater.coil, heater.workpiece, heater.supply)


def test_an_unknown_model_parameter_is_refused() -> None:
    with pytest.raises(KeyError, match="log_nonsense"):
        with_changes(BENCH.heater("loaded"), {"log_nonsense": 1.0})


def test_scaled_curve_is_that_of_fewer_turns() -> None:
    """n times the turns: n^2 the inductance at 1/n the current; heatsim's own winding model must say the same, but for the air."""
    few = BENCH.change({"choke.right.turns": 14}).heater("loaded").chokes[1]
    whole = BENCH.heater("loaded").chokes[1]
    n = 14 / 20
    scaled = scaled_curve(whole.curve, n**2, 1 / n)
    currents = np.linspace(0, 40, 30)
    assert scaled.inductance(currents) == pytest.approx(few.curve.inductance(currents), rel=0.02)
    assert half_current(scaled) == pytest.approx(half_current(whole.curve) / n, rel=1e-3)


def test_scaled_chokes_lose_in_the_core_what_other_rings_would() -> None:
    """A ring with 0.6 of the area loses as much as the scenario with that area does."""
    other = BENCH.change({"choke.left.core.area": "64.2 mm2"}).heater("loaded").chokes[0]
    scaled = with_changes(BENCH.heater("loaded"), {"log_strength_left": math.log(0.6)}).chokes[0]
    assert scaled.core_loss_resistance(60.0, 2e-4, 85e3) == pytest.approx(other.core_loss_resistance(60.0, 2e-4, 85e3), rel=1e-6)


def test_shorted_coil_turn_against_two_coupled_coils() -> None:
    """Idle: L = L0 (1 - k^2 x^2/(1+x^2)), r = r0 + w k^2 L0 x/(1+x^2), x = wL/R of the turn (coupled circuits, any textbook)."""
    heater = BENCH.heater("idle")
    seen = shorted_coil(heater, 0.3, 5.0)
    w, own = 2 * math.pi * heater.frequency, heater.coil.inductance
    assert seen.inductance == pytest.approx(own * (1 - 0.3 * 25 / 26), rel=1e-9)
    assert seen.resistance == pytest.approx(heater.coil.resistance + w * 0.3 * own * 5 / 26, rel=1e-9)
