# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture that fits a sweep: lines over one axis, maps over two, or what tolerances do."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from heatsim.errors import InputError
from heatsim.report.sweep.influence import influence
from heatsim.report.sweep.lines import lines
from heatsim.report.sweep.maps import maps
from heatsim.report.sweep.view import SweepView, columns_of

OUTPUTS = ("headroom", "tank.peak_voltage_v", "choke.*.peak_current_a", "tank.frequency_hz", "tank.thd_ratio")
"""What is drawn over one axis unless asked otherwise; a star stands for either choke, and the larger one is drawn."""


def draw(plan: Mapping[str, Any], frame: Any, outputs: Sequence[str] = ()) -> Figure:
    """The picture that fits the sweep: lines, maps, or influence.

    plan: as a store holds it; frame: of the sweep, rows by place; outputs: measures instead of the usual ones.
    """
    view = SweepView(plan, frame)
    for key in outputs:
        if key != "headroom" and not any(name in view.frame for name in columns_of(key)):
            raise InputError.single("--output", "is not a measure of this sweep", key, _near(key, view.frame))
    which = kind(view)
    if which == "lines":
        return lines(view, outputs or OUTPUTS)
    return (influence if which == "influence" else maps)(view, outputs[0] if outputs else "headroom")


def kind(view: SweepView) -> str:
    """Which picture fits a sweep: lines over one axis, maps over two, or the influence of tolerances."""
    if view.samples and np.prod(view.shape[1:-1]) == 1:
        return "influence"
    return "maps" if sum(dimension.numbers is not None for dimension in view.dimensions) >= 2 else "lines"


def _near(key: str, frame: Any) -> str:
    close = difflib.get_close_matches(key, [str(name) for name in frame.columns], n=3, cutoff=0.4)
    return f"did you mean {' or '.join(close)}?" if close else "headroom, or a column of the exported table"
