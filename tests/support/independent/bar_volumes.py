# SPDX-License-Identifier: GPL-3.0-or-later
"""A bar or tube of constant permeability in a coil by finite volumes in r and z, the skin resolved by cells.

psi = r A at the middle of each cell; d(1/(mu r) dpsi/dr)/dr + d(1/(mu r) dpsi/dz)/dz = -J + j w psi/(rho r). The coil is a sheet
of current, half of it in the cells on either side. Far away psi is nil. Between two cells the gain is that of a field even in each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from tests.support.independent.filaments import Bar, between

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
MU_0 = 4e-7 * np.pi
FAR = 10.0
"""Where the field is taken for nil, in coil diameters and lengths."""


def graded_edges(marks: list[tuple[float, float]], growth: float) -> Array:
    """Edges through marks (place, width of the cells beside it), growing away from each."""
    pieces = []
    for (start, left), (end, right) in zip(marks[:-1], marks[1:], strict=True):
        ahead, behind = [min(left, (end - start) / 2)], [min(right, (end - start) / 2)]
        while sum(ahead) + sum(behind) < end - start:
            side = ahead if ahead[-1] <= behind[-1] else behind
            side.append(side[-1] * growth)
        widths = np.array(ahead + behind[::-1])
        pieces.append(start + (np.cumsum(widths) - widths) * (end - start) / widths.sum())
    return np.concatenate([*pieces, [marks[-1][0]]])


@dataclass
class Volumes:
    """Cells round a piece of a relative permeability in a coil (diameter, length [m], turns) at a frequency [Hz].

    bore: radius [m]; first: skin depths in the first cell below the surface; coarse: coil radii in the cells at other edges
    """

    coil: tuple[float, float, float]
    bar: Bar
    mu_r: complex
    frequency: float
    bore: float = 0.0
    first: float = 0.1
    coarse: float = 0.02
    growth: float = 1.15

    def __post_init__(self) -> None:
        bar, coil = self.bar, self.coil
        depth = np.sqrt(bar.resistivity / (np.pi * self.frequency * MU_0 * abs(self.mu_r)))
        rough, far = self.coarse * coil[0] / 2, FAR * max(coil[0], coil[1])
        fine = min(self.first * depth, rough)
        inner = [(0.0, 2 * rough), (self.bore, fine)] if self.bore else [(0.0, 2 * rough)]
        self.r = graded_edges([*inner, (bar.radius, fine), (coil[0] / 2, rough), (far, far)], self.growth)
        ends = {bar.offset + side * bar.length / 2: fine for side in (-1, 1)}
        marks = {side * coil[1] / 2: rough for side in (-1, 1)} | ends
        self.z = graded_edges([(-far, far), *sorted(marks.items()), (far, far)], self.growth)

    def solve(self, edges: Array | None = None) -> tuple[complex, Array]:
        """Added impedance [ohm], and heat by eddy currents in each slice between `edges` [m] for an amplitude of one ampere [W]."""
        rc, zc, dr, dz = (self.r[1:] + self.r[:-1]) / 2, (self.z[1:] + self.z[:-1]) / 2, np.diff(self.r), np.diff(self.z)
        bar, omega = self.bar, 2 * np.pi * self.frequency
        solid = ((rc > self.bore) & (rc < bar.radius))[:, None] & (np.abs(zc[None, :] - bar.offset) < bar.length / 2)
        eddy = np.where(solid, 1j * omega / bar.resistivity * (dr / rc)[:, None] * dz, 0.0)
        column, inside = int(np.argmin(np.abs(self.r - self.coil[0] / 2))), np.abs(zc) < self.coil[1] / 2
        sheet = np.zeros(solid.shape)
        sheet[column - 1 : column + 1, inside] = dz[inside] * self.coil[2] / self.coil[1] / 2
        full = self._psi(np.where(solid, self.mu_r, 1.0) * MU_0, eddy, sheet)
        empty = self._psi(np.full(solid.shape, MU_0), np.zeros(solid.shape), sheet)
        heat = np.sum(np.abs(omega * full) ** 2 * 2 * np.pi * (dr / rc)[:, None] * dz * solid / bar.resistivity / 2, axis=0)
        return complex(2j * np.pi * omega * np.sum((full - empty) * sheet)), between(edges, self.z, heat)

    def _psi(self, mu: Complex, eddy: Complex, sheet: Array) -> Complex:
        """psi [Wb] in all cells for one ampere."""
        r, z = self.r, self.z
        rc, dr, dz = (r[1:] + r[:-1]) / 2, np.diff(r), np.diff(z)
        outer, inner = (r[1:] ** 2 - rc**2)[:, None] / 2 * mu, (rc**2 - r[:-1] ** 2)[:, None] / 2 * mu
        half = rc[:, None] * dz / 2 * mu
        radial, axial = dz / (outer[:-1] + inner[1:]), dr[:, None] / (half[:, :-1] + half[:, 1:])
        index = np.arange(mu.size).reshape(mu.shape)
        diagonal = eddy.astype(complex)
        for line, gain in ((np.s_[:-1], radial), (np.s_[1:], radial), (np.s_[:, :-1], axial), (np.s_[:, 1:], axial)):
            diagonal[line] += gain
        for line, gain in (
            (0, dz / inner[0]),
            (-1, dz / outer[-1]),
            (np.s_[:, 0], dr / half[:, 0]),
            (np.s_[:, -1], dr / half[:, -1]),
        ):
            diagonal[line] += gain
        pairs = [(index[:-1], index[1:], -radial), (index[:, :-1], index[:, 1:], -axial)]
        rows = np.concatenate([index.ravel(), *(x.ravel() for a, b, _ in pairs for x in (a, b))])
        cols = np.concatenate([index.ravel(), *(x.ravel() for a, b, _ in pairs for x in (b, a))])
        data = np.concatenate([diagonal.ravel(), *(g.ravel() for _, _, g in pairs for _ in (0, 1))])
        matrix = coo_matrix((data, (rows, cols))).tocsc()
        return np.asarray(spsolve(matrix, sheet.ravel().astype(complex), permc_spec="MMD_AT_PLUS_A")).reshape(mu.shape)
