# SPDX-License-Identifier: GPL-3.0-or-later
"""The heater as a whole: what stands in for the core loss of its chokes."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from heatsim.scenario.scenario import Scenario


def steinmetz(tesla: float, hertz: float) -> float:
    """Loss [W] of the bench heater's two rings a side, k f^a B^b V, from the catalogue's printed coefficients (reference
    file, section 8)."""
    milliwatt_per_cm3 = 44.30 * tesla**1.988 * (hertz / 1e3) ** 1.541
    return milliwatt_per_cm3 / 1e3 * 2 * 107e-6 * 98.4e-3 * 1e6


@pytest.mark.parametrize(
    ("topology", "rms", "swing", "harmonic"),
    [("two-choke", math.sqrt(math.pi**2 / 4 - 1), 0.551101965822, 1), ("one-choke", math.sqrt(math.pi**2 / 8 - 1), 0.105256831, 2)],
)
def test_core_resistance_takes_the_steinmetz_loss_of_the_ideal_swing(
    checkout: Path, topology: str, rms: float, swing: float, harmonic: int
) -> None:
    """V^2/R at the ideal stage's alternating choke voltage (reference file, section 5)."""
    scenario = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml").change({"heater.topology": topology})
    heater = scenario.heater("loaded")
    choke = heater.chokes[0]
    assert choke.core is not None
    tesla = swing * 42 / heater.frequency / 2 / (choke.core.winding.turns * 2 * 107e-6)
    wanted = steinmetz(tesla, harmonic * heater.frequency)
    assert (rms * 42) ** 2 / heater.core_resistance(choke) == pytest.approx(wanted, rel=1e-6)
