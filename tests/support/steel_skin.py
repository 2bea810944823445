# SPDX-License-Identifier: GPL-3.0-or-later
"""The skin of cold steel at 80 kHz from integrations in time (`steel_diffusion`), of the package the curves alone."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from heatsim.physics.magnetisation import STEELS, steel_permeability
from tests.support.bar_in_coil import Array, Complex
from tests.support.steel_diffusion import surface_power

MU_0 = 4e-7 * np.pi
RESISTIVITY, FREQUENCY = 1.69e-7, 80e3


def skin(mu: float) -> float:
    """Skin depth [m] at a permeability."""
    return float(np.sqrt(RESISTIVITY / (np.pi * FREQUENCY * MU_0 * mu)))


def integrated(radius: float, peak: float, steel: str) -> tuple[float, float]:
    """Power and reactive power [W/m2, var/m2] of a cylinder of steel, integrated in time."""
    density = np.linspace(0.0, 2.2, 20001)
    field = density / (MU_0 * np.asarray(steel_permeability(density, STEELS[steel])))
    slope = np.gradient(density, field)
    depth = skin(float(np.interp(peak, field, density)) / (MU_0 * peak))
    return surface_power(radius, RESISTIVITY, FREQUENCY, peak, lambda h: np.interp(np.abs(h), field, slope), 1.3 * depth)


@lru_cache(maxsize=1)
def steel_impedance() -> Callable[[Array], Complex]:
    """Surface impedance [ohm] of AISI 1008 at amplitudes [A/m], from integrations in time at four of them."""
    peaks = np.array([500.0, 3e3, 12e3, 40e3])
    taken = np.array([integrated(8e-3, peak, "AISI 1008") for peak in peaks]).T * 2 / peaks**2
    logs = np.log(peaks), np.log(taken[0]), np.log(taken[1])

    def impedance(field: Array) -> Complex:
        at = np.clip(np.log(np.maximum(field, 1.0)), *logs[0][[0, -1]])
        return np.asarray(np.exp(np.interp(at, logs[0], logs[1])) + 1j * np.exp(np.interp(at, logs[0], logs[2])))

    return impedance
