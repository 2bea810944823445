# SPDX-License-Identifier: GPL-3.0-or-later
"""The winding drawn to scale: the ring from above with every wire, and a cut through it with layers and the hole left."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.collections import EllipseCollection, LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from heatsim.parts.choke import Core
from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import FAINT, HEAT, INK, PAPER
from heatsim.report.base.words import value_text
from heatsim.report.wind.lay import Lay, lay

TITLE = "The winding, to scale"

SIZE = (4.4, 6.9)
"""Width and height of the figure [inch]: higher than wide, so that its letters stay large on a phone."""

NAMED = 0.3
"""Diameter of the hole over that of the ring from which on the hole has room for its name."""

EVERY = 5
"""Turns from one number to the next."""


def told(core: Core, cut_length: float) -> tuple[str, ...]:
    """What the drawing shows, in sentences: strands, turns per layer, layers, wire to cut, whose length is `cut_length` [m]."""
    winding, laid = core.winding, lay(core)
    strands = f"{winding.strands} strands {winding.lay}" if winding.strands > 1 else "one wire"
    layers = winding.fill(core.ring).layers
    each = [f"layer {k}: {laid.turns_of(k):.4g} turns" for k in range(1, len(layers) + 1)]
    count = f"{len(layers)} layer{'s' if len(layers) > 1 else ''}"
    wires = "bundles" if winding.lay == "twisted" and winding.strands > 1 else "wires"
    share = "The turns of a layer share the ring evenly"
    ends = f"{laid.free:.0f}° are left free between start and end"
    full = "the first layer is full, so that its start and its end lie side by side"
    drawn = ("Filled circles are the first layer and every other one, open circles those between.",) if len(layers) > 1 else ()
    return (
        f"{winding.turns} turns of {strands}: {winding.wires} {wires} through the hole in {count}, counted from the core"
        f" ({'; '.join(each)}).",
        f"Cut {winding.strands} × {cut_length:.2f} m, tails included.",
        f"{share}; {full if laid.full else ends}.",
        f"On the outside the wires lie in {laid.outer} layer{'s' if laid.outer > 1 else ''}.",
        *drawn,
    )


def figure(core: Core) -> Figure:
    """Both views as a figure of its own, in the house style."""
    with new_figure(*SIZE) as made:
        above_picture(core, made.add_axes((0.01, 0.4, 0.98, 0.56)))
        cut_picture(core, made.add_axes((0.01, 0.02, 0.98, 0.33)))
    return made


def above_picture(core: Core, ax: Axes) -> Axes:
    """The ring from above: wires in the hole and on the outside in section, thin lines across the face."""
    laid, (outer, inner, _) = lay(core), core.ring.whole
    _blank(ax, "From above")
    ax.add_patch(Circle((0, 0), 500 * outer, facecolor=FAINT, edgecolor=INK, alpha=0.35, linewidth=0.8))
    ax.add_patch(Circle((0, 0), 500 * inner, facecolor=PAPER, edgecolor=INK, linewidth=0.8))
    runs = [[_mm(wire.bore), _mm(wire.outside)] for wire in laid.wires]
    ax.add_collection(LineCollection(runs, colors=HEAT, linewidths=0.7, alpha=0.8))
    for odd in (True, False):
        some = [wire for wire in laid.wires if wire.layer % 2 == odd]
        places = [_mm(place) for wire in some for place in (wire.bore, wire.outside)]
        _circles(ax, places, laid.diameter, HEAT if odd else PAPER)
    _ends(ax, laid, outer)
    hole = core.winding.fill(core.ring).free_diameter
    if hole > NAMED * outer:
        ax.text(0, 0, f"hole left\n{value_text(hole, 'm')}", ha="center", va="center")
    reach = 500 * outer + 1000 * laid.diameter * laid.outer + 130 * outer
    ax.set(xlim=(-reach, reach), ylim=(-reach, reach))
    return ax


def cut_picture(core: Core, ax: Axes) -> Axes:
    """A cut along the axis: the rings, the layers round them as bands, the hole left."""
    laid, (outer, inner, height), former = lay(core), core.ring.whole, core.winding.former(core.ring)
    layers, wound = len(core.winding.fill(core.ring).layers), core.winding.wound(core.ring)
    _blank(ax, "Cut through the axis")
    d = 1000 * laid.diameter
    a, b, h = 500 * former.inner_diameter, 500 * former.outer_diameter, 1000 * former.height
    for side in (-1, 1):
        for k in reversed(range(max(layers, laid.outer))):
            bore, out = d * min(k + 1, layers), d * min(k + 1, laid.outer)
            _box(ax, side, (a - bore, b + out), h + 2 * bore, HEAT if k % 2 == 0 else PAPER, HEAT)
        _box(ax, side, (a, b), h, PAPER, HEAT)
        for ring in range(core.ring.stack):
            low = 1000 * height * (ring / core.ring.stack - 0.5)
            left = min(side * 500 * inner, side * 500 * outer)
            each = Rectangle((left, low), 500 * (outer - inner), 1000 * height / core.ring.stack)
            each.set(facecolor=FAINT, edgecolor=INK, alpha=0.5, linewidth=0.8)
            ax.add_patch(each)
    half = 500 * wound.height
    ax.axvline(0, color=INK, linewidth=0.7, dashes=(9, 3, 2, 3))
    hole, reach = 500 * wound.inner_diameter, b + d * laid.outer
    _measure(ax, (-hole, hole), half + 0.14 * reach, f"hole left {value_text(wound.inner_diameter, 'm')}", above=True)
    _measure(ax, (-reach, reach), -half - 0.14 * reach, f"over the winding {value_text(2e-3 * reach, 'm')}", above=False)
    rings = f"{core.ring.stack} rings" if core.ring.stack > 1 else "one ring"
    ax.text(1.1 * reach, 0, f"height\n{value_text(wound.height, 'm')},\n{rings}", va="center")
    ax.set(xlim=(-1.15 * reach, 1.95 * reach), ylim=(-half - 0.45 * reach, half + 0.45 * reach))
    return ax


def _blank(ax: Axes, title: str) -> None:
    ax.set_aspect("equal")
    ax.set_axis_off()
    ax.set_title(title, pad=2, y=1.0)


def _mm(place: tuple[float, float]) -> tuple[float, float]:
    return 1000 * place[0], 1000 * place[1]


def _circles(ax: Axes, places: list[tuple[float, float]], diameter: float, fill: str) -> None:
    """Wires in section, to scale."""
    sizes = [1000 * diameter] * len(places)
    wires = EllipseCollection(sizes, sizes, [0.0] * len(places), units="xy", offsets=places, offset_transform=ax.transData)
    wires.set(facecolor=fill, edgecolor=HEAT, linewidth=0.6)
    ax.add_collection(wires)


def _ends(ax: Axes, laid: Lay, outer: float) -> None:
    """Start and end, and numbers of turns of the first layer."""
    last, stand = laid.wires[-1].turn, 1000 * laid.diameter * (laid.outer + 0.5) + 20 * outer
    first = max(wire.turn for wire in laid.wires if wire.layer == 1)
    for turn in sorted({1, last, *range(EVERY, first - 1, EVERY)}):
        some = [wire.outside for wire in laid.wires if wire.turn == turn]
        x, y = (1000 * sum(each) / len(some) for each in zip(*some, strict=True))
        factor = (500 * outer + stand) / math.hypot(x, y)
        name = {last: f"end {last}", 1: "start 1" if last > 1 else "start, end"}.get(turn, str(turn))
        bold = "bold" if turn in (1, last) else "normal"
        away = {1: "left", last: "right"}.get(turn, "center")
        ax.text(x * factor, y * factor, name, ha=away, va="center", fontweight=bold, fontsize=8.5 if bold == "bold" else 7.5)


def _box(ax: Axes, side: int, across: tuple[float, float], height: float, fill: str, edge: str) -> None:
    """A rectangle on one side of the axis, between two radii."""
    low, high = sorted(side * radius for radius in across)
    ax.add_patch(Rectangle((low, -height / 2), high - low, height, facecolor=fill, edgecolor=edge, linewidth=0.7))


def _measure(ax: Axes, ends: tuple[float, float], y: float, text: str, above: bool) -> None:
    """A dimension: an arrow from one end to the other with its words."""
    ax.annotate(
        "", (ends[0], y), (ends[1], y), arrowprops={"arrowstyle": "<->", "color": INK, "lw": 0.8, "shrinkA": 0, "shrinkB": 0}
    )
    box = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.0}
    ax.annotate(
        text, (0, y), (0, 4 if above else -4), textcoords="offset points", ha="center", va="bottom" if above else "top", bbox=box
    )
