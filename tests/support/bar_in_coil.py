# SPDX-License-Identifier: GPL-3.0-or-later
"""The field of a solenoid round a bar by finite volumes in r and z, the bar's skin as an impedance that follows the field.

Independent of the package: none of its functions, another formulation. psi = r A in the air, d(1/r dpsi)/d(r, z) = -mu0 J; at the
bar's surface E = Zs H, which is dpsi/dn = (j w mu0/Zs) psi. The mirror plane is z = 0; far away psi is nil.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csc_matrix
from scipy.sparse.linalg import spsolve

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
MU_0 = 4e-7 * np.pi


def _edges(marks: list[float], finest: float, growth: float, far: float) -> Array:
    """Cell edges from 0 to far, fine on both sides of each mark and growing away from it."""
    found = [0.0]
    targets = [*marks, far]
    for start, end in zip([0.0, *marks], targets, strict=True):
        steps, total = [finest], finest
        half = (end - start) / 2 if end != far else end - start
        while total < half:
            steps.append(min(steps[-1] * growth, (end - start) / 4))
            total += steps[-1]
        widths = np.array(steps if end == far else steps + steps[::-1])
        found += list(start + np.cumsum(widths) * (end - start) / widths.sum())
    return np.array(found)


class Solenoid:
    """A coil (diameter, length [m], turns; a sheet of current) round a bar (radius, length [m]) at a frequency [Hz]."""

    def __init__(self, coil: tuple[float, float, float], piece: tuple[float, float], frequency: float, finest: float = 0.4e-3):
        self.coil, self.piece, self.omega = coil, piece, 2 * np.pi * frequency
        self.r = _edges([piece[0], coil[0] / 2], finest, 1.25, 0.5)
        self.z = _edges(sorted({piece[1] / 2, coil[1] / 2}), finest, 1.25, 0.5)
        self.rc, self.zc = (self.r[1:] + self.r[:-1]) / 2, (self.z[1:] + self.z[:-1]) / 2
        self.dr, self.dz = np.diff(self.r), np.diff(self.z)
        self.index = np.arange(self.rc.size * self.zc.size).reshape(self.rc.size, -1)
        self.bar = (self.rc[:, None] < piece[0]) & (self.zc[None, :] < piece[1] / 2)
        self.column, self.inside = int(np.argmin(abs(self.rc - coil[0] / 2))), self.zc < coil[1] / 2
        side, top = int(np.argmax(self.rc > piece[0])), int(np.argmax(self.zc > piece[1] / 2))
        self.places = np.concatenate([self.index[side, :top], self.index[:side, top]])
        self.radii = np.concatenate([np.full(top, piece[0]), self.rc[:side]])
        self.lengths = np.concatenate([self.dz[:top], self.dr[:side]])
        self.gap = np.concatenate([np.full(top, self.rc[side] - piece[0]), np.full(side, self.zc[top] - piece[1] / 2)])

    def _matrix(self, solid: NDArray[np.bool_], gains: Complex) -> csc_matrix:
        """Fluxes between neighbours that both are air, to the edges where psi is nil, and into the skin."""
        rows, cols, data = [], [], []
        diagonal = np.zeros(self.index.shape, dtype=complex)
        flat = diagonal.reshape(-1)
        radial = self.dz[None, :] / self.r[1:-1, None] / np.diff(self.rc)[:, None]
        axial = self.dr[:, None] / self.rc[:, None] / np.diff(self.zc)[None, :]
        every = slice(None)
        for gain, low, high in (
            (radial, (slice(0, -1), every), (slice(1, None), every)),
            (axial, (every, slice(0, -1)), (every, slice(1, None))),
        ):
            free = ~solid[low] & ~solid[high]
            a, b, g = self.index[low][free], self.index[high][free], gain[free]
            rows, cols, data = [*rows, a, b], [*cols, b, a], [*data, g, g]
            np.subtract.at(flat, a, g)
            np.subtract.at(flat, b, g)
        diagonal[0, :] -= self.dz / (self.rc[0] / 2) / self.rc[0]
        diagonal[-1, :] -= self.dz / self.r[-1] / (self.r[-1] - self.rc[-1])
        diagonal[:, -1] -= self.dr / self.rc / (self.z[-1] - self.zc[-1])
        if gains.size:
            np.subtract.at(flat, self.places, gains * self.lengths)
        diagonal[solid] = 1.0
        cells = self.index.reshape(-1)
        entries = np.concatenate([*data, flat]), (np.concatenate([*rows, cells]), np.concatenate([*cols, cells]))
        return coo_matrix(entries).tocsc()

    def _psi(self, current: float, solid: NDArray[np.bool_], gains: Complex) -> Complex:
        source = np.zeros(self.index.shape, dtype=complex)
        source[self.column, self.inside] = -MU_0 * self.coil[2] / self.coil[1] * current * self.dz[self.inside]
        return np.asarray(spsolve(self._matrix(solid, gains), source.reshape(-1)))

    def reflection(self, impedance: Callable[[Array], Complex], current: float) -> tuple[float, float]:
        """Resistance [ohm] and inductance change [H] that the bar brings in.

        impedance: surface impedance [ohm] at amplitudes of the field [A/m]; current: amplitude [A]
        """
        field, psi = np.full(self.places.size, current * self.coil[2] / self.coil[1]), np.zeros(0, dtype=complex)
        for _ in range(60):
            beta = 1j * self.omega * MU_0 / impedance(field)
            gains = beta / (1 + self.gap * beta) / self.radii
            psi = self._psi(current, self.bar, gains)
            found = np.abs(gains * psi[self.places] / MU_0)
            if np.max(np.abs(found - field)) < 1e-3 * field.max():
                break
            field = np.sqrt(field * np.maximum(found, 1.0))
        power = np.sum(impedance(found).real * found**2 * 2 * np.pi * self.radii * self.lengths)
        empty = self._psi(current, np.zeros_like(self.bar), np.zeros(0, dtype=complex))
        change = ((psi - empty).reshape(self.index.shape)[self.column] * self.dz)[self.inside].sum()
        return float(2 * power / current**2), float(4 * np.pi * change.real * self.coil[2] / self.coil[1] / current)
