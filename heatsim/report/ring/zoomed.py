# SPDX-License-Identifier: GPL-3.0-or-later
"""Inductance over current on the page: to be zoomed, and read with the pointer."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.report.base.style import CENTRE, INK, LEFT, RIGHT, SUPPLY
from heatsim.report.base.zoom import Axis, Line, Panel, zoomable_traces
from heatsim.report.ring.picture import TITLE, chosen
from heatsim.report.ring.terminal import sentence
from heatsim.studies.ring import RingResult

LOOKS = ((RIGHT, "dashed"), (CENTRE, "dotted"), (SUPPLY, "dashdot"))
"""Colour and dash of each candidate."""


def zoomed(result: RingResult) -> str:
    """The curve as HTML of ours; its numbers are those of the still picture. Empty where nothing is known of saturation."""
    if not result.data.reach:
        return ""
    panel = Panel(TITLE, "H", tuple(_lines(result)))
    return zoomable_traces([panel], f"{TITLE}. {sentence(result)}", Axis("direct current", "A"))


def _lines(result: RingResult) -> Iterator[Line]:
    """The fit with its band, the slopes of the ramp, candidates."""
    curve = result.curve
    yield Line(f"{result.fit.kind} form", curve.current, curve.inductance, LEFT, width=2.2)
    yield Line("least, 95 %", curve.current, curve.low, LEFT, width=0.6, fill="most, 95 %")
    yield Line("most, 95 %", curve.current, curve.high, LEFT, width=0.6)
    if result.direct:
        yield Line("slopes of the ramp", result.direct.current, result.direct.inductance, INK, "dotted", 1.2)
    for match, (colour, dash) in zip(chosen(result), LOOKS, strict=False):
        if match.curve is not None:
            name = match.material.name + ("" if match.fits else " (does not fit)")
            yield Line(name, curve.current, match.curve.inductance(curve.current), colour, dash, 1.4)
