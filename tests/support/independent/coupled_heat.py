# SPDX-License-Identifier: GPL-3.0-or-later
"""A long steel bar heated in a long coil at a constant tank voltage: field and conduction by coarse finite volumes of their own.

Independent of the package: none of its functions. Per metre of bar and coil, nothing along the axis.
Field:   (1/r) d/dr(r rho dH/dr) = j w mu0 mu(|H|, T) H with cells that are even inside; mu for the fundamental of B in a sinusoidal
         H by a sum over the period, B = mu0 H + m(T) J(H), J after AISI 1008 (Modelica Standard Library, Roschke 2000).
Curie:   m = tanh(m Tc/T) by bisection, over that at 20 °C; Tc = 770 °C (handbooks, memory), spread over 10 K.
Heat:    rho c(T) dT/dt = (1/r) d/dr(r k(T) dT/dr) + p in temperatures, explicit steps; c and k EN 1993-1-2, 3.4.1, density 7850
         kg/m3 (EN 1993-1-2, memory); resistivity of 0.2 % carbon steel by its table, above 800 °C 0.25 nohm*m a kelvin (memory).
Surface: sigma eps (T^4 - Ta^4).
Coil:    L = L0 + mu0 n^2 (pi a^2) (mean mu - 1), r = r0 - w Im of the same; w^2 L C = 1 and I = V/|r + j w L|.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
MU_0 = 4e-7 * np.pi
SIGMA = 5.670374419e-8
DENSITY = 7850.0
CURIE_K = 770.0 + 273.15
AISI_1008 = (200.0, 1.17, 8100.0, 2.59, 10.0)


def specific_heat(t: Array) -> Array:
    """[J/(kg*K)] at temperatures [°C]."""
    cold = 425 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3
    rising = 666 + 13002 / (738 - np.minimum(t, 735))
    falling = 545 + 17820 / (np.maximum(t, 735) - 731)
    return np.where(t < 600, cold, np.where(t < 735, rising, np.where(t < 900, falling, 650.0)))


def conductivity(t: Array) -> Array:
    """[W/(m*K)] at temperatures [°C]."""
    return np.where(t < 800, 54 - 3.33e-2 * t, 27.3)


def resistivity(t: Array) -> Array:
    """[ohm*m] at temperatures [°C]."""
    table = [(20.0, 1.69e-7), (100.0, 2.19e-7), (300.0, 3.81e-7), (600.0, 7.58e-7), (800.0, 1.094e-6)]
    return np.interp(t, *np.array(table).T) + 2.5e-10 * np.maximum(t - 800, 0)


def _left(kelvin: float) -> float:
    """m of m = tanh(m Tc/T), by bisection."""
    low, high = 1e-9, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if np.tanh(middle * CURIE_K / kelvin) > middle else (low, middle)
    return low


_KELVIN = np.concatenate([np.linspace(250.0, 1000.0, 151), np.linspace(1001.0, CURIE_K, 400)])
_SHARE = np.array([_left(float(each)) for each in _KELVIN]) / _left(293.15)
SPREAD = np.linspace(-4.75, 4.75, 20)
"""Curie points of one bar round the stated one [K]: the same assumption as that of what is compared, 10 K wide."""


def _magnetisation(celsius: Array) -> Array:
    """Share of the magnetisation at 20 °C [1] at temperatures [°C]."""
    kelvin = celsius[:, None] + 273.15 + SPREAD
    return np.mean(np.interp(kelvin, _KELVIN, _SHARE, right=0.0), axis=1)


def _describing_table() -> tuple[Array, Array]:
    """Logarithm of the amplitude of H [A/m], and the fundamental of J/(mu0 H) in it [1]."""
    mu_i, b_max, c_a, c_b, n = AISI_1008
    flux = np.concatenate([np.linspace(0, 0.02, 400), np.linspace(0.02, 2.6, 8000)[1:]])
    x = flux / b_max
    magnetic = flux / (1 + (mu_i - 1 + c_a * x) / (1 + c_b * x + x**n)) / MU_0
    peaks, angle = np.geomspace(1.0, 1.0e6, 400), (np.arange(400) + 0.5) * np.pi / 800
    momentary = peaks[:, None] * np.sin(angle)
    polarisation = np.minimum(np.interp(momentary, magnetic, flux) - MU_0 * np.minimum(momentary, magnetic[-1]), 2.15)
    return np.log(peaks), np.mean(polarisation * np.sin(angle), axis=1) * 2 / (MU_0 * peaks)


_LOG_PEAK, _CHI = _describing_table()


@dataclass
class LongBar:
    """radius of the bar [m]; turns: of the coil per metre [1/m]; empty: its inductance [H/m] and resistance [ohm/m] without the
    bar; capacitance: across a metre of it [F*m]; volts: amplitude across a metre of it [V/m]; emissivity [1]; ambient [°C]; cells:
    of conduction; first: width of the outermost cell of the field [m]
    """

    radius: float
    turns: float
    empty: tuple[float, float]
    capacitance: float
    volts: float
    emissivity: float
    ambient: float = 20.0
    cells: int = 24
    first: float = 1.0e-5

    def __post_init__(self) -> None:
        self.thermal = np.linspace(0, self.radius, self.cells + 1)
        widths = self.first * 1.05 ** np.arange(400)
        depth = np.cumsum(widths)
        depth = depth[: int(np.searchsorted(depth, 0.999 * self.radius))]
        self.edges = np.concatenate([[0.0], self.radius - depth[::-1], [self.radius]])
        self.middle = (self.edges[1:] + self.edges[:-1]) / 2
        self.permeability: Array = np.full(self.middle.size, 60.0)
        self.inductance, self.resistance = self.empty

    def _field(self, rho: Array, mu: Array, omega: float) -> tuple[Complex, Array, complex]:
        """H in every cell for 1 A/m outside, heat of every cell per metre [W/m], mean permeability."""
        from scipy.linalg import solve_banded

        half = np.diff(self.edges) / 2
        inner, outer = self.edges[:-1], self.edges[1:]
        gain = 1 / (half[:-1] / rho[:-1] + half[1:] / rho[1:]) * outer[:-1]
        last = rho[-1] / half[-1] * outer[-1]
        area = (outer**2 - inner**2) / 2
        bands = np.zeros((3, rho.size), dtype=complex)
        bands[0, 1:], bands[2, :-1] = -gain, -gain
        bands[1] = 1j * omega * MU_0 * mu * area
        bands[1, :-1] += gain
        bands[1, 1:] += gain
        bands[1, -1] += last
        right = np.zeros(rho.size, dtype=complex)
        right[-1] = last
        found = np.asarray(solve_banded((1, 1), bands, right))
        drops = np.append(gain * np.abs(np.diff(found)) ** 2, last * abs(1 - found[-1]) ** 2) * np.pi
        heat = drops.copy()
        heat[:-1] /= 2
        heat[1:] += drops[:-1] / 2
        return found, heat, complex(np.sum(2 * area * mu * found) / self.radius**2)

    def _settled(self, celsius: Array) -> tuple[Array, float]:
        """Heat of every cell of the field [W/m] and the coil's current [A] with the bar this warm; sets what the coil is."""
        places = (self.thermal[1:] + self.thermal[:-1]) / 2
        warm = np.interp(self.middle, places, celsius)
        rho, share = resistivity(warm), _magnetisation(warm)
        for _ in range(200):
            omega = 1 / np.sqrt(self.inductance * self.capacitance)
            current = self.volts / np.hypot(self.resistance, omega * self.inductance)
            found, heat, mean = self._field(rho, self.permeability, omega)
            peaks = np.maximum(np.abs(found) * current * self.turns, 1.0)
            wanted = 1 + share * np.interp(np.log(peaks), _LOG_PEAK, _CHI)
            added = MU_0 * self.turns**2 * np.pi * self.radius**2 * (mean - 1)
            before = self.inductance, self.resistance
            self.inductance, self.resistance = self.empty[0] + added.real, self.empty[1] - omega * added.imag
            change = np.max(np.abs(np.log(wanted / self.permeability)))
            self.permeability = self.permeability * (wanted / self.permeability) ** 0.5
            moved = max(abs(self.inductance / before[0] - 1), abs(self.resistance / before[1] - 1))
            if moved < 1e-4 and change < 0.02:
                return heat * (current * self.turns) ** 2, current
        raise ArithmeticError("field and permeability do not come to agree")

    def heat(self, until: float, every: float = 0.1) -> Array:
        """Rows of time [s], surface and core [°C], power [W/m], the coil's resistance [ohm/m], inductance [H/m] and current [A]."""
        edges, width = self.thermal, self.radius / self.cells
        area = np.pi * np.diff(edges**2)
        steps = int(np.ceil(every / (0.4 * width**2 / 1.6e-5)))
        celsius, rows = np.full(self.cells, self.ambient), []
        for number in range(int(round(until / every)) + 1):
            heat, current = self._settled(celsius)
            inside = np.append(0.0, np.cumsum(heat))
            source = np.diff(np.interp(edges**2, self.edges**2, inside)) / area
            surface = celsius[-1] + (celsius[-1] - celsius[-2]) / 2
            rows.append((number * every, surface, celsius[0], inside[-1], self.resistance, self.inductance, current))
            for _ in range(steps):
                celsius = celsius + every / steps * self._rise(celsius, source, area, width)
        return np.array(rows)

    def _rise(self, celsius: Array, source: Array, area: Array, width: float) -> Array:
        """[K/s]."""
        k = conductivity((celsius[1:] + celsius[:-1]) / 2)
        flow = 2 * np.pi * self.thermal[1:-1] * k * np.diff(celsius) / width
        surface = celsius[-1] + (celsius[-1] - celsius[-2]) / 2
        lost = 2 * np.pi * self.radius * SIGMA * self.emissivity * ((surface + 273.15) ** 4 - (self.ambient + 273.15) ** 4)
        net = np.append(flow, -lost) - np.append(0.0, flow)
        return np.asarray((net / area + source) / (DENSITY * specific_heat(celsius)))
