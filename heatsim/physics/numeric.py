# SPDX-License-Identifier: GPL-3.0-or-later
"""Argument and result types of the physics functions, and what they share.

Every function of physics takes floats or arrays that broadcast against each other and gives back a float
for floats and an array for arrays. SI units throughout.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from heatsim.errors import InputError

FloatArray: TypeAlias = npt.NDArray[np.float64]
Numeric: TypeAlias = float | FloatArray
"""A number or an array of numbers."""

Result: TypeAlias = float | Any
"""A float if every argument was one, else an array of the broadcast shape."""


def scalar_or_array(value: Any) -> Result:
    """The value itself [any], with a zero-dimensional array turned into a plain float.

    value: a quantity in any unit [any]
    """
    array = np.asarray(value)
    return float(array) if array.ndim == 0 else array


def require_positive(where: str, **values: Numeric) -> None:
    """Raise InputError unless every value named is finite and above zero; `where` names the function asking.

    where: name of the function that asks, for the message [1]
    """
    for name, value in values.items():
        if not np.all(np.isfinite(value) & (np.asarray(value) > 0)):
            raise InputError.single(where, f"{name} must be a finite number above zero", value, "> 0")


def require_not_negative(where: str, **values: Numeric) -> None:
    """Raise InputError unless every value named is zero or more; infinity passes, not-a-number does not.

    where: name of the function that asks, for the message [1]
    """
    for name, value in values.items():
        if not np.all(np.asarray(value) >= 0):
            raise InputError.single(where, f"{name} must not be negative", value, ">= 0")


def running_integral(values: FloatArray, time: FloatArray) -> FloatArray:
    """Integral from the first instant to each [any], by the trapezoidal rule; the first is 0.

    values: shape (n,), in any unit [any]; time: [s]
    """
    steps = 0.5 * (values[1:] + values[:-1]) * np.diff(time)
    return np.concatenate([[0.0], np.cumsum(steps)])
