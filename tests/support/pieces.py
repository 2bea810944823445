# SPDX-License-Identifier: GPL-3.0-or-later
"""Pieces in coils for the tests: cut, computed and corrected in one go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.parts.piece import CELLS, SLICES, Piece, PieceField, PieceShape, Substance, cut
from heatsim.physics.eddy import Reflection
from heatsim.scenario.catalogue import builtin

Layers = list[tuple[Substance, float]]
COIL = (0.06, 0.06, 8.0)
WORK_COIL = (0.06, 0.08, 8.0)


def of_metal(name: str) -> Substance:
    """A metal of the built-in catalogue."""
    metal = builtin().metal(name, "")
    return Substance(metal.resistivity, metal.permeability, metal.curve, metal.hot)


@dataclass(frozen=True)
class Heated:
    """A piece in its field: as the sheets tell it, corrected for its temperatures, and corrected as a piece of one temperature."""

    piece: Piece
    plain: PieceField
    corrected: PieceField
    even: PieceField
    frequency: float
    current: float

    def powers(self, field: PieceField) -> np.ndarray:
        """Power of every slice [W]."""
        return np.asarray(np.sum(field.loss * self.piece.volumes, axis=1))

    def off(self, truth: complex, seen: Reflection | None = None) -> tuple[float, float]:
        """By how much resistance (as a share of it) and reactance (of the added impedance) are above a true impedance [ohm]."""
        seen = seen or self.corrected.reflection
        reactance = 2 * np.pi * self.frequency * seen.inductance_change
        return seen.resistance / truth.real - 1, (reactance - truth.imag) / abs(truth)


def impedance(seen: Reflection, frequency: float) -> complex:
    """Added impedance [ohm]."""
    return complex(seen.resistance, 2 * np.pi * frequency * seen.inductance_change)


def heated(
    shape: PieceShape,
    layers: Layers,
    frequency: float,
    current: float = 1.0,
    celsius: float | np.ndarray = 20.0,
    slices: int = SLICES,
    cells: int = CELLS,
) -> Heated:
    """A piece at a temperature, of all of it or of every slice or cell [°C]."""
    piece = cut(shape, layers, frequency, slices, cells)
    return heated_piece(piece, frequency, current, celsius)


def heated_piece(piece: Piece, frequency: float, current: float, celsius: float | np.ndarray) -> Heated:
    """The same for a piece that is cut."""
    given = np.asarray(celsius, dtype=float)
    everywhere = np.array(np.broadcast_to(given[:, None] if given.ndim == 1 else given, piece.volumes.shape))
    plain = piece.electric(everywhere, frequency, current)
    corrected = piece.corrected(plain, current, piece.correction(everywhere, plain, frequency))
    even = piece.corrected(plain, current, piece.even_correction(float(everywhere.mean()), plain, frequency))
    return Heated(piece, plain, corrected, even, frequency, current)


def bar(
    shape: tuple[float, float, float],
    substance: Substance,
    frequency: float,
    current: float = 1.0,
    celsius: float | np.ndarray = 20.0,
    coil: tuple[float, float, float] = COIL,
) -> Heated:
    """A bar of one substance: radius, length, offset [m]."""
    return heated(PieceShape(shape[0], 0.0, shape[1], shape[2], coil), [(substance, shape[0])], frequency, current, celsius)
