# SPDX-License-Identifier: GPL-3.0-or-later
"""Fewer samples of a wave for a page, where the eye cannot see the difference."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from heatsim.waves import Array


def thinned(waves: Sequence[tuple[Array, Array]], most: int) -> tuple[Array, list[Array]]:
    """Common places along, and each wave there; of waves with `most` samples or fewer every sample.

    waves: places, growing, and samples there, shape (n,) each; most: samples kept of a wave. Of a longer one the least and the
    greatest sample of each of `most` / 2 equal slices are kept, so that no peak is lost. Where one wave has a sample and another
    has none, the other is on the straight line between its own; beyond its ends it is NaN.
    """
    kept = [_extremes(x, y, most) for x, y in waves]
    along = np.unique(np.concatenate([x[where] for (x, _), where in zip(waves, kept, strict=True)]))
    return along, [np.interp(along, x, y, left=np.nan, right=np.nan) for x, y in waves]


def _extremes(x: Array, y: Array, most: int) -> NDArray[np.intp]:
    """Places of the samples that are kept."""
    if x.size <= most:
        return np.arange(x.size)
    edges = np.linspace(x[0], x[-1], most // 2 + 1)
    starts = np.unique(np.searchsorted(x, edges[:-1]))
    inner = [
        start + pick(part) for start, part in zip(starts, np.split(y, starts[1:]), strict=True) for pick in (np.argmin, np.argmax)
    ]
    return np.unique([0, *inner, x.size - 1])
