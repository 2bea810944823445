# SPDX-License-Identifier: GPL-3.0-or-later
"""A capture against its best fit as a figure that can be zoomed and read with the pointer."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.report.base.style import BUS, FAINT, HEAT, INK
from heatsim.report.base.words import part_words, sentence_case
from heatsim.report.base.zoom import Axis, Line, Panel, zoomable_traces
from heatsim.studies.match import MatchResult, Trace


def overlay(result: MatchResult, record: int) -> str:
    """Every signal of a record over one period: capture, best fit and scenario, and what either leaves."""
    panels = [panel for trace in result.traces if trace.record == record for panel in _panels(trace)]
    about = f"Capture {record + 1} against its best fit and the scenario, over one period"
    return zoomable_traces(panels, about, Axis("time from the tank's rise through zero"))


def _panels(trace: Trace) -> Iterator[Panel]:
    """One signal, and below it the departures."""
    time, name = trace.time, sentence_case(part_words(trace.signal))
    lines = [
        Line("scenario", time, trace.sound, FAINT, "dashed"),
        Line("best fit", time, trace.best, BUS),
        Line("capture", time, trace.measured, INK, "dotted", 2.0),
    ]
    yield Panel(name, trace.unit, lines)
    departures = [
        Line("best fit less scenario", time, trace.best - trace.sound, HEAT),
        Line("capture less scenario", time, trace.measured - trace.sound, INK, "dotted", 2.0),
        Line("capture less best fit", time, trace.measured - trace.best, BUS, "dashed"),
    ]
    yield Panel(f"{name}: departures", trace.unit, departures, height=110)
