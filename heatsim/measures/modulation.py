# SPDX-License-Identifier: GPL-3.0-or-later
"""The modulation of the tank's envelope, as an oscilloscope shows it."""

from __future__ import annotations

import numpy as np

from heatsim.measures.startup import envelope
from heatsim.waves import Array


def modulation_depth(time: Array, samples: Array, since: float) -> float | None:
    """Depth of a signal's modulation [1], (A - B)/(A + B) of its envelope's largest and least size A and B; None without an
    oscillation.

    time [s], samples in any unit, shape (n,); since: from which on it is looked at, a whole period of the modulation before the
    end [s]. Read off an oscilloscope in the same way; the positive half cycles are taken, so that a lopsided signal has none.
    """
    found = envelope(time, samples)
    sizes = found.size[found.positive & (found.time >= since)]
    return float((sizes.max() - sizes.min()) / (sizes.max() + sizes.min())) if sizes.size and sizes.max() > 0 else None


def depth_of(crest: float, valley: float) -> float:
    """The same [1] from the amplitudes at crest and valley, in any unit."""
    return abs(crest - valley) / (crest + valley) if crest + valley > 0 else float(np.nan)
