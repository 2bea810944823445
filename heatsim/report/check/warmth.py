# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of chokes that warm up from cold. Data [SI] and axes in, axes out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from heatsim.parts.thermal import CEILING
from heatsim.report.base.style import ACROSS, DOTTED, LIMIT, SIDE, empty, legend, note
from heatsim.report.base.words import SIDES, number, value_text
from heatsim.studies.check import WARM_UP_TIMES

if TYPE_CHECKING:
    from matplotlib.axes import Axes

TICKS = {
    10.0: "10 s",
    30.0: "30 s",
    60.0: "1 min",
    180.0: "3 min",
    600.0: "10 min",
    1800.0: "30 min",
    3600.0: "1 h",
    10800.0: "3 h",
}
"""Times [s] that are marked."""


def warm_up(measures: Mapping[str, Any], ax: Axes, limit: float) -> Axes:
    """Temperature of each choke against the time from cold; `limit` [°C]: what it may reach."""
    ax.set_title("Chokes warming up")
    curves = {side: curve for side in SIDES if isinstance(curve := measures.get(f"choke.{side}.warm_up_c"), list)}
    if not curves:
        return empty(ax, "core loss or geometry of the chokes is not known")
    for side, curve in curves.items():
        shown = np.flatnonzero(np.asarray(curve) >= CEILING)[:1].tolist() or [len(curve) - 1]
        known = slice(0, shown[0] + 1)
        ax.plot(WARM_UP_TIMES[known], curve[known], label=_label(measures, side), **SIDE[side])
    ax.axhline(limit, color=LIMIT, linestyle=DOTTED, linewidth=1.5)
    note(ax, f"limit {value_text(limit, '°C')}", (1.0, limit), (-2, 3), ACROSS, ha="right", color=LIMIT)
    ax.set_xscale("log")
    ax.set_xlim(WARM_UP_TIMES[0], WARM_UP_TIMES[-1])
    ax.set_xticks(list(TICKS), list(TICKS.values()))
    ax.minorticks_off()
    ax.set_ylim(bottom=0)
    ax.set_xlabel("time from cold")
    ax.set_ylabel("°C")
    legend(ax)
    return ax


def _label(measures: Mapping[str, Any], side: str) -> str:
    """Legend of a choke: when it passes the limit, if it does."""
    passes = number(measures, f"choke.{side}.time_to_limit_s")
    return f"{side} choke" + ("" if passes is None else f", at the limit after {value_text(passes, 's')}")
