# SPDX-License-Identifier: GPL-3.0-or-later
"""Waveforms of a check as figures that can be zoomed and read with the pointer: of each case, and of several over one another."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from heatsim.measures.basics import mean
from heatsim.report.base.style import BUS, CENTRE, FAINT, INK, LEFT, RIGHT, SUPPLY
from heatsim.report.base.words import number
from heatsim.report.base.zoom import MOST, Axis, Level, Line, Panel, zoomable_traces
from heatsim.report.check.figures import last_periods, slices_of
from heatsim.report.check.overlay import drawable, periods_of, within
from heatsim.report.check.traces import rating_words, sliced
from heatsim.studies.check import CaseResult
from heatsim.waves import Array, Waveforms

PERIODS, AT_FIRST = 6, 3
"""Periods that can be looked at, and those that are shown at first."""

FULL, MOST_CASES, MOST_TOGETHER = 2, 3, 4
"""Cases up to which figures have all of that, up to which each case has its own at half of it, and up to which there is one of all
together: a page stays under 3 MB.
"""

STILL = (
    f"With more than {MOST_CASES} cases the waveforms of each stand still here, so that the page stays small; all samples are in "
    "the files beside it."
)
"""Said where there are too many cases."""

THINNED = "Of {:,} simulated samples of {} periods the least and the greatest of equal slices are here"
"""Of longer records."""

SIDES = (("left", LEFT, "solid"), ("right", RIGHT, "dashed"))

BUILDS = ((LEFT, "solid"), (RIGHT, "dashed"), (BUS, "dashdot"), (SUPPLY, "dotted"), (CENTRE, "dotdash"))
"""Line of each build or case in turn, as in `overlay`."""

OVERLAID = {
    "tank.voltage": ("Tank voltage", "V"),
    "drain.left.voltage": ("Left drain voltage", "V"),
    "gate.left.voltage": ("Left gate voltage", "V"),
    "choke.left.current": ("Left choke current", "A"),
}
"""Signals of several cases or builds over one another: heading and unit."""


@dataclass(frozen=True)
class Zoomed:
    """A figure for a page, HTML of ours. titles: of the pictures (`figures`) that it stands for; kept: what it is drawn from."""

    text: str
    titles: tuple[str, ...]
    kept: str


def periods(case: CaseResult, count: int = PERIODS) -> Zoomed | None:
    """The last so many periods of a case, each of whose samples is there; None without waveforms."""
    waves = last_periods(case, count)
    if waves is None:
        return None
    time, start = waves.time - waves.time[0], 1e3 * waves.time[0]
    panels = list(_panels(case, waves, time))
    view = (0.0, float(time[-1]) * AT_FIRST / count)
    along = Axis(f"time, from {start:.4g} ms after switching on")
    title = f"Waveforms of case {case.name}: the last {count} periods"
    text = zoomable_traces(panels, title, along, view)
    few = time.size <= MOST
    kept = f"All {time.size:,} simulated samples of {count} periods are here" if few else THINNED.format(time.size, count)
    kept += f", {AT_FIRST} periods at first." if count > AT_FIRST else "."
    return Zoomed(text, ("Tank and drains", "Choke currents", "Gate voltages", "Switch currents"), kept)


def _panels(case: CaseResult, waves: Waveforms, time: Array) -> Iterator[Panel]:
    """Tank and drains, chokes, gates, switches: those that were recorded."""
    switch = case.heater.switch
    ratings = [
        Level(sign * switch.gate_rating, f"rating {sign * switch.gate_rating:+.3g} V") for sign in (1, -1) if switch.gate_rating
    ]
    threshold = [] if switch.threshold is None else [Level(switch.threshold, f"threshold {switch.threshold:.3g} V", INK)]
    heaviest, rated = case.heater.heaviest_of_all, switch.current_rating
    most = rating_words(rated, switch.count, heaviest) if rated else ""
    rating = [Level(rated * switch.count / heaviest, most)] if rated else []
    tank = [Line("tank", time, waves["tank.voltage"], INK, width=2.4)] if "tank.voltage" in waves else []
    yield Panel("Tank and drains", "V", [*tank, *_sides(waves, time, "drain.{}.voltage", "{} drain")])
    yield Panel("Choke currents", "A", _sides(waves, time, "choke.{}.current", "{} choke, mean {:.3g} A"))
    yield Panel("Gate voltages", "V", _sides(waves, time, "gate.{}.voltage", "{} gate"), [*ratings, *threshold])
    banks = switch.count > 1
    title = "Switch currents, whole banks" if banks else "Switch currents"
    yield Panel(title, "A", _sides(waves, time, "switch.{}.current", "{} bank" if banks else "{} switch"), rating)


def _sides(waves: Waveforms, time: Array, pattern: str, label: str) -> list[Line]:
    found = [(side, pattern.format(side), color, dash) for side, color, dash in SIDES]
    if pattern.startswith("choke"):
        found.append(("centre", pattern.format("centre"), CENTRE, "solid"))
    there = [(side, waves[name], color, dash) for side, name, color, dash in found if name in waves]
    return [Line(label.format(side, mean(time, values)), time, values, color, dash) for side, values, color, dash in there]


def startup(case: CaseResult, most: int = MOST) -> Zoomed | None:
    """The whole run, as `traces.startup` has it, with so many samples of the tank; None without waveforms."""
    waves = case.waveforms
    if waves is None:
        return None
    slices = slices_of(waves, case.heater)
    volts = [Line("tank", waves.time, waves["tank.voltage"], FAINT, width=1.2)] if "tank.voltage" in waves else []
    amperes: list[Line] = []
    for name, label, color, lines in (("bus.voltage", "bus", BUS, volts), ("supply.current", "supply", SUPPLY, amperes)):
        if name in waves:
            time, low, high = sliced(waves.time, waves[name], slices)
            lines.append(Line(label, time, 0.5 * (low + high), color, width=2.0))
    settled = number(case.measures, "startup.time_s")
    marks = {} if settled is None else {"settled": settled}
    if case.window is not None:
        marks |= {"measured": case.window[0]}
    title = f"Case {case.name} from switching on"
    panels = [Panel("Tank and bus voltage", "V", volts), Panel("Supply current", "A", amperes, height=110)]
    kept = (
        f"Of {waves.time.size:,} samples of the tank the least and the greatest of each of {most // 2:,} equal slices are here; "
        f"of bus and supply the middle of each of {slices:,}."
    )
    text = zoomable_traces(panels, title, Axis("time after switching on"), marks=marks, most=most)
    return Zoomed(text, ("From switching on",), kept)


def of_case(cases: int) -> tuple[Callable[[CaseResult], Zoomed | None], ...]:
    """What draws the figures of each of so many cases."""
    if cases <= FULL:
        return periods, startup
    return (partial(periods, count=PERIODS // 2), partial(startup, most=MOST // 4)) if cases <= MOST_CASES else ()


def over_one_another(cases: Sequence[CaseResult]) -> Zoomed | None:
    """The cases of a check over the same phase; None where fewer than two were measured, or where there are too many."""
    if len(cases) > MOST_TOGETHER:
        return None
    text = overlaid(cases, [case.name for case in cases], 2 if len(cases) <= FULL else 1)
    return Zoomed(text, (), "") if text else None


def overlaid(cases: Sequence[CaseResult | None], names: Sequence[str], shown: int = 2) -> str:
    """Cases or builds over the same phase, one period or two each; empty where fewer than two were measured."""
    known = {place: found for place in drawable(cases) if (case := cases[place]) and (found := periods_of(case))}
    if len(known) < 2:
        return ""
    panels = []
    for signal, (title, unit) in OVERLAID.items():
        lines = []
        for place, (phase, waves) in known.items():
            if signal in waves:
                x, inside = within(phase)
                inside = inside & (x <= shown)
                lines.append(Line(names[place], x[inside], waves[signal][inside], *BUILDS[place % len(BUILDS)]))
        panels.append(Panel(title, unit, lines))
    about = f"Waveforms of {', '.join(names[place] for place in known)} over one another"
    return zoomable_traces(panels, about, Axis("periods of the tank", "periods"))
