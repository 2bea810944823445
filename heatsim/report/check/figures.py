# SPDX-License-Identifier: GPL-3.0-or-later
"""The pictures of a case: which there are, what they show, and how they become figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING

from heatsim.measures.basics import mean
from heatsim.parts.heater import Heater
from heatsim.parts.thermal import CEILING
from heatsim.report.base.style import empty
from heatsim.report.base.words import number
from heatsim.report.check import bank, charts, traces, warmth
from heatsim.studies.check import CaseResult
from heatsim.waves import Waveforms

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SIZE = (6.4, 3.5)
"""Width and height of one picture [inch]."""

SLICES = 300
"""Most pieces into which a whole run is cut."""

PERIODS = 3
"""Periods shown."""


@dataclass(frozen=True)
class Scene:
    """A case with what its pictures share."""

    case: CaseResult

    @cached_property
    def last(self) -> Waveforms | None:
        """The last few periods: measured ones if there are, else as long a piece from the end of the run."""
        return last_periods(self.case, PERIODS)

    @cached_property
    def measured(self) -> Waveforms | None:
        """The measured window, else the whole run."""
        waves, window = self.case.waveforms, self.case.window
        return waves.between(*window) if waves is not None and window is not None else waves


def last_periods(case: CaseResult, periods: int) -> Waveforms | None:
    """The last whole periods that were measured; without a measured period, as much of the run's end by the expected
    one; None without waveforms.
    """
    waves = case.waveforms
    if waves is None:
        return None
    frequency = number(case.measures, "tank.frequency_hz") if case.window else None
    stop = case.window[1] if case.window else float(waves.time[-1])
    start = stop - periods / (frequency or case.heater.frequency)
    return waves.between(max(start, float(waves.time[0])), stop)


def excursions(scene: Scene) -> tuple[charts.Excursion, ...]:
    """Each choke's curve with the currents it sees: the magnetising ones where recorded."""
    found, waves = [], scene.measured
    for choke in scene.case.heater.chokes:
        part = f"choke.{choke.side}"
        names = [name for name in (f"{part}.magnetising_current", f"{part}.current") if waves and name in waves]
        share = next((f.allowed for f in scene.case.findings if f.part == part and "inductance" in f.limit), None)
        currents: tuple[float | None, float | None, float | None] = (None, None, None)
        if waves is not None and names:
            current = waves[names[0]]
            currents = float(current.min()), mean(waves.time, current), float(current.max())
        found.append(charts.Excursion(choke.side, choke.curve, *currents, share))
    return tuple(found)


@dataclass(frozen=True)
class Picture:
    """name: end of its file's name; title: heading; caption: what one should see; draw: on axes;
    needs_waves: cannot be drawn without waveforms; needs_steady: says nothing without a steady state; needs: end of a measure's
    key without which there is nothing to draw.
    """

    name: str
    title: str
    caption: str
    draw: Callable[[Scene, Axes], Axes]
    needs_waves: bool = True
    needs_steady: bool = False
    needs: str = ""


def _over_time(draw: Callable[[Waveforms, Axes], Axes]) -> Callable[[Scene, Axes], Axes]:
    return lambda scene, ax: empty(ax, "the run left no waveforms") if scene.last is None else draw(scene.last, ax)


def _gates(scene: Scene, ax: Axes) -> Axes:
    switch = scene.case.heater.switch
    return _over_time(lambda waves, on: traces.gates(waves, on, switch.gate_rating, switch.threshold))(scene, ax)


def _switches(scene: Scene, ax: Axes) -> Axes:
    heater = scene.case.heater
    rated = heater.switch.current_rating, heater.switch.count, heater.heaviest_of_all
    return _over_time(lambda waves, on: traces.switches(waves, on, *rated))(scene, ax)


def _startup(scene: Scene, ax: Axes) -> Axes:
    case = scene.case
    if case.waveforms is None:
        return empty(ax, "the run left no waveforms")
    return traces.startup(
        case.waveforms, ax, number(case.measures, "startup.time_s"), case.window, slices_of(case.waveforms, case.heater)
    )


def slices_of(waves: Waveforms, heater: Heater) -> int:
    """Pieces into which the whole run is cut, each of a period or more."""
    return int(min(max(waves.duration * heater.frequency / 2, 20), SLICES))


def _warm_up(scene: Scene, ax: Axes) -> Axes:
    case = scene.case
    own = (f.allowed for f in case.findings if f.part.startswith("choke") and f.limit.startswith("temperature"))
    return warmth.warm_up(case.measures, ax, next((each for each in own if each is not None), CEILING))


def _shares(scene: Scene, ax: Axes) -> Axes:
    case, rails = scene.case, scene.case.heater.capacitors.rails
    allowed = next((f.allowed for f in case.findings if f.part == "capacitors" and f.limit.startswith("current")), None)
    return bank.shares(case.measures, rails, ax, allowed / (1 + rails.tolerance) if allowed and rails else None)


def _harmonics(scene: Scene, ax: Axes) -> Axes:
    ratios = scene.case.measures.get("tank.harmonic_ratios")
    return charts.harmonics(ratios if isinstance(ratios, list) else None, ax, scene.case.heater.quality)


PICTURES = (
    Picture(
        "tank",
        "Tank and drains",
        "The tank should be a clean sine. Each drain should be a half sine that starts and ends at zero and rests "
        "there while its switch conducts; spikes at the edges come from stray inductance.",
        _over_time(traces.tank),
    ),
    Picture(
        "choke-currents",
        "Choke currents",
        "A healthy choke carries a steady current with a smooth ripple. Peaks that grow sharp mean that it "
        "saturates; unlike curves mean unlike chokes. The means stand beside the names.",
        _over_time(traces.choke_currents),
    ),
    Picture(
        "choke-curves",
        "Where the chokes work on their curves",
        "The thick piece is the current's whole excursion, the point its mean. The piece should stay above the "
        "dotted limit, on the flat part of the curve.",
        lambda scene, ax: charts.choke_curves(excursions(scene), ax),
        needs_waves=False,
    ),
    Picture(
        "warm-up",
        "Chokes warming up",
        "From cold at this load, if nothing changes. A curve that flattens out below the limit may run for ever; one that "
        "grows steeper ends in destruction. An estimate: time the real one, and stop it in time.",
        _warm_up,
        needs_waves=False,
        needs_steady=True,
        needs=".warm_up_c",
    ),
    Picture(
        "gates",
        "Gate voltages",
        "Each gate should rise fast and well above its threshold, stay inside its ratings, fall before the other "
        "rises, and not ring.",
        _gates,
    ),
    Picture(
        "switches",
        "Switch currents",
        "Each bank should carry current for half of the time, without spikes when it turns on. It carries both chokes' currents.",
        _switches,
    ),
    Picture(
        "capacitor-shares",
        "Share of each capacitor, by where the coil connects",
        "Each group of bars is one way of connecting the coil to the bank, the coloured one as built; white lines are the means. "
        "Even bars are best. Worked out for the current of this run; the line is the rating less the tolerance of the capacitance.",
        _shares,
        needs_waves=False,
        needs_steady=True,
        needs=".currents_a",
    ),
    Picture(
        "harmonics",
        "Harmonics of the tank voltage",
        "Odd harmonics follow from the square current and should lie near the marks of an ideal stage; even ones "
        "should be far below: they show that left and right differ.",
        _harmonics,
        needs_waves=False,
        needs_steady=True,
    ),
    Picture(
        "startup",
        "From switching on",
        "The band should open smoothly as the bus rises and then keep its width, without collapsing or "
        "overshooting, and the supply current should come to rest.",
        _startup,
    ),
    Picture(
        "power",
        "Where the power goes",
        "Most of the power should reach the workpiece or, when idle, be lost in the coil and its cooling water. "
        "Two colours end to end are left and right.",
        lambda scene, ax: charts.power(scene.case.measures, ax),
        needs_waves=False,
        needs_steady=True,
    ),
    Picture(
        "temperatures",
        "How warm the parts get",
        "Every part whose temperature is judged, the one nearest to its limit (the red mark) first; of equal parts the worst. "
        "What lasting load brings, or the scenario's run; each is an estimate with a band that stands in its table.",
        lambda scene, ax: charts.temperatures(scene.case.findings, ax),
        needs_waves=False,
        needs_steady=True,
    ),
)
"""Every picture of a case, in reading order."""


def pictures(case: CaseResult) -> tuple[Picture, ...]:
    """Those that have something to show for a case."""
    steady = case.window is not None
    return tuple(
        picture
        for picture in PICTURES
        if (case.waveforms is not None or not picture.needs_waves)
        and (steady or not picture.needs_steady)
        and (not picture.needs or any(key.endswith(picture.needs) and value for key, value in case.measures.items()))
    )


def figure(scene: Scene, picture: Picture) -> Figure:
    """One picture as a figure of its own, in the house style."""
    return figure_of(partial(picture.draw, scene), picture.name)


def figure_of(draw: Callable[[Axes], object], name: str = "") -> Figure:
    """A figure of its own of what draws on axes, in the house style; name: of the picture, for its margins."""
    from heatsim.report.base.pictures import new_figure

    with new_figure(*SIZE) as fig:
        draw(fig.add_axes(place(name)))
    return fig


def place(name: str = "") -> tuple[float, float, float, float]:
    """Left, bottom, width, height of a picture's axes as shares of the figure, by its name: fixed, for a layout engine costs more
    than the drawing.
    """
    left = {"power": 0.2, "temperatures": 0.3}.get(name, 0.11)
    right = 0.92 if name == "startup" else 0.975
    return left, 0.135, right - left, 0.715


def sheet(case: CaseResult, names: Sequence[str] | None = None) -> Figure:
    """All pictures of a case (or those named) on one figure, two abreast."""
    from heatsim.report.base.pictures import new_figure

    wanted = [picture for picture in pictures(case) if names is None or picture.name in names]
    rows = max((len(wanted) + 1) // 2, 1)
    scene = Scene(case)
    with new_figure(2 * SIZE[0], rows * SIZE[1]) as fig:
        for number, picture in enumerate(wanted):
            left, bottom, width, height = place(picture.name)
            row, column = divmod(number, 2)
            ax = fig.add_axes(((left + column) / 2, (bottom + rows - 1 - row) / rows, width / 2, height / rows))
            picture.draw(scene, ax)
    return fig
