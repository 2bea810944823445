# SPDX-License-Identifier: GPL-3.0-or-later
"""House style of the pictures: few colours, each with one meaning and never alone in carrying it.

Left is blue and solid, right is orange and dashed, on every picture. Blue and orange stay apart for every common kind
of colour blindness, and all colours have a luminance of 0.1 to 0.3, so that they read on white and on dark paper.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib import RcParams
    from matplotlib.axes import Axes

INK, FAINT, PAPER = "#31363f", "#8b919b", "#ffffff"
LEFT, RIGHT, CENTRE = "#2476b0", "#cc6a2b", "#6f7d1e"
TANK = INK
LIMIT = "#b8434e"
HEAT = "#b5562f"
SUPPLY, BUS = "#9a5a9e", "#2a8a80"

SIDE: dict[str, dict[str, Any]] = {
    "left": {"color": LEFT, "linestyle": "-"},
    "right": {"color": RIGHT, "linestyle": (0, (5, 2))},
    "centre": {"color": CENTRE, "linestyle": "-"},
}
"""Line properties of each side."""

DOTTED = (0, (1, 1.4))
"""Dashes of limits and of what is wanted."""

ACROSS = ("axes fraction", "data")
"""Coordinates of a note beside a level: share of the picture's width, value."""

ALONG = ("data", "axes fraction")
"""Coordinates of a note beside a moment: value, share of the picture's height."""

_PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))


@lru_cache
def rules() -> RcParams:
    """matplotlib settings of the house style."""
    from matplotlib import rc_params_from_file

    return rc_params_from_file(Path(__file__).with_name("house.mplstyle"), use_default_template=False)


@contextmanager
def house() -> Iterator[None]:
    """Draw in the house style inside this block."""
    from matplotlib import rc_context

    with rc_context(rules()):
        yield


def easy_unit(unit: str, largest: float) -> tuple[float, str]:
    """Factor from SI and label so that numbers up to `largest` are easy to read: 4.7e-5 H -> (1e6, "µH")."""
    if unit in ("", "°C", "K", "A/m2"):
        return 1.0, unit
    if unit in ("ratio", "%"):
        return 100.0, "%"
    size, label = abs(largest), unit.replace("ohm", "Ω")
    return next(((1 / step, f"{prefix}{label}") for step, prefix in _PREFIXES if size >= step), (1.0, label))


def unit_label(ax: Axes, unit: str, color: str = INK) -> None:
    """The unit, upright beside the vertical axis."""
    ax.set_ylabel(unit, rotation=0, va="center", ha="center", labelpad=8, color=color)


def legend(ax: Axes, columns: int = 5) -> None:
    """One legend line between title and picture."""
    if ax.get_legend_handles_labels()[0]:
        place: dict[str, Any] = {"loc": "lower left", "bbox_to_anchor": (-0.01, 1.0), "borderaxespad": 0.15}
        ax.legend(ncols=columns, handlelength=2.4, columnspacing=1.4, **place)


def note(ax: Axes, text: str, at: tuple[float, float], offset: tuple[float, float], coords: Any = "data", **look: Any) -> None:
    """A small text on a picture, minus signs as printed.

    at: place in `coords`, named as matplotlib names them; offset: from there [points]; look: of the text.
    """
    ax.annotate(text.replace("-", "−"), at, offset, xycoords=coords, textcoords="offset points", **({"fontsize": 8} | look))


def limit_line(ax: Axes, value: float, label: str, reach: float = 1.9) -> None:
    """A limit drawn across the picture, or said in words when it lies too far out to be drawn to scale.

    value: in the picture's units; reach: how many times the data's own range it may lie from zero to be drawn.
    """
    low, high = ax.get_ylim()
    below = value <= 0
    if min(low, 0) * reach <= value <= max(high, 0) * reach and value != 0:
        ax.axhline(value, color=LIMIT, linestyle=DOTTED, linewidth=1.5)
        look = {"ha": "right", "va": "bottom" if below else "top", "color": LIMIT}
        note(ax, label, (1.0, value), (-2, 3 if below else -3), ACROSS, **look)
        ax.set_ylim(min(low, value * 1.08), max(high, value * 1.08))
        return
    side, edge, lift = ("below", 0.0, -30) if below else ("above", 1.0, 5)
    note(ax, f"{label}: {side} this picture", (1.0, edge), (0, lift), "axes fraction", color=LIMIT, ha="right", va="bottom")


def empty(ax: Axes, why: str) -> Axes:
    """An empty picture that says why it is empty."""
    ax.grid(False)
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_visible(False)
    ax.text(0.5, 0.5, why, ha="center", va="center", transform=ax.transAxes, color=FAINT)
    return ax
