# SPDX-License-Identifier: GPL-3.0-or-later
"""Linear least squares of harmonics at known phases: c_n of x_k = sum over n of c_n exp(i n phi_k), and what they leave."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from heatsim.waves import Array

Complex = NDArray[np.complex128]


def solved_lines(
    phase: Array, scale: Array, signals: Mapping[str, Array], count: int
) -> tuple[dict[str, Complex], dict[str, Array], Array]:
    """Lines, residual of each signal, and the lines' variance for unit noise. A modulated amplitude is divided out.
    The noise is weighted accordingly, which for modulations of some tens of per cent costs next to nothing.

    phase: phi at each sample [rad]; scale: amplitude at each sample over the mean one [1]; count: highest order
    """
    z = np.exp(1j * phase)
    steady = {name: samples / scale for name, samples in signals.items()}
    power = np.ones_like(z)
    gram, right = np.empty(2 * count + 1, complex), {name: np.empty(count + 1, complex) for name in signals}
    for n in range(2 * count + 1):
        gram[n] = power.sum()
        if n <= count:
            for name, samples in steady.items():
                right[name][n] = np.vdot(power, samples)
        power = power * z
    index = np.arange(-count, count + 1)
    offset = index[None, :] - index[:, None]
    matrix = np.where(offset >= 0, gram[np.abs(offset)], gram[np.abs(offset)].conj())
    inverse = np.linalg.inv(matrix)
    lines, left = {}, {}
    for name, samples in steady.items():
        whole = inverse @ np.concatenate([right[name][:0:-1].conj(), right[name]])
        lines[name] = np.concatenate([whole[count : count + 1].real, 2 * whole[count + 1 :]])
        left[name] = samples - horner(lines[name], z)
    own = np.diag(inverse).real[count:]
    return lines, left, np.concatenate([own[:1], 2 * own[1:]])


def horner(lines: Complex, z: Complex) -> Array:
    """c_0 + Re sum c_n z^n by Horner's rule; lines: orders 0 to count; z = exp(i phi)."""
    out = np.zeros_like(z)
    for c in lines[:0:-1]:
        out = (out + c) * z
    return np.asarray(lines[0].real + out.real)


def wave_of(lines: Complex, phase: Array) -> Array:
    """The wave of lines (orders 0 to count) at phases [rad]."""
    return horner(lines, np.exp(1j * phase))
