# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures that are not over time: choke curves, harmonics, losses. Data [SI] and axes in, axes out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from heatsim.parts.curves import Curve
from heatsim.physics.stage import tank_harmonic_ratio
from heatsim.report.base.style import (
    ACROSS,
    DOTTED,
    FAINT,
    HEAT,
    INK,
    LEFT,
    LIMIT,
    PAPER,
    RIGHT,
    SIDE,
    easy_unit,
    empty,
    legend,
    note,
)
from heatsim.report.base.words import SIDES, family, number, part_words, plural, value_text
from heatsim.verdict.finding import Finding

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True)
class Excursion:
    """Where a choke works on its curve.

    side: left, right or centre; curve: flux against current; least, mean, greatest: of its current [A], None when there
    is no run to read them from; share: lowest part of its zero-current inductance it may fall to, None without a limit.
    """

    side: str
    curve: Curve
    least: float | None = None
    mean: float | None = None
    greatest: float | None = None
    share: float | None = None


def choke_curves(chokes: Sequence[Excursion], ax: Axes) -> Axes:
    """Differential inductance [H] against current [A], with the part of the curve that is used and the limit."""
    ax.set_title("Where the chokes work on their curves")
    if not chokes:
        return empty(ax, "no choke curve is known")
    zero = max(choke.curve.inductance_zero for choke in chokes)
    factor, unit = easy_unit("H", zero)
    reach = _reach(chokes)
    for choke in chokes:
        _curve(ax, choke, np.linspace(0, reach, 600), factor)
    for choke in chokes:
        _used(ax, choke, factor)
    limits = {choke.share * choke.curve.inductance_zero: choke.share for choke in chokes if choke.share}
    for value, share in sorted(limits.items())[:2]:
        ax.axhline(factor * value, color=LIMIT, linestyle=DOTTED, linewidth=1.5)
        note(ax, f"limit: {100 * share:.0f} % left", (1.0, factor * value), (-2, 3), ACROSS, ha="right", color=LIMIT)
    ax.set_xlim(min(0.0, *(choke.least or 0.0 for choke in chokes)), reach)
    ax.set_ylim(0, 1.08 * factor * zero)
    ax.set_xlabel("A")
    ax.set_ylabel(f"differential inductance, {unit}")
    legend(ax, 3)
    return ax


def _reach(chokes: Sequence[Excursion]) -> float:
    """Current [A] up to which the curves are drawn: beyond the excursion, and far enough to see where they end up."""
    used = max(max(abs(choke.greatest or 0.0), abs(choke.least or 0.0)) for choke in chokes)
    grid = np.geomspace(max(used, 1.0) / 30, 30 * max(used, 1.0), 400)
    low = [grid[choke.curve.inductance(grid) < 0.4 * choke.curve.inductance_zero] for choke in chokes]
    end = max(float(each[0]) if each.size else 0.0 for each in low)
    return max(1.35 * used, min(end, 4.0 * used) if used else end, 1.0)


def _curve(ax: Axes, choke: Excursion, grid: Any, factor: float) -> None:
    """The curve, thin and faint where it is extrapolated."""
    look, value = SIDE[choke.side], factor * choke.curve.inductance(grid)
    known = grid <= choke.curve.known_to
    ax.plot(grid[known], value[known], label=_label(choke), linewidth=1.4, **look)
    if not known.all():
        look = {"color": look["color"], "linewidth": 1.0, "linestyle": ":", "alpha": 0.8}
        ax.plot(grid[~known], value[~known], label="beyond what is known", **look)


def _label(choke: Excursion) -> str:
    """Legend of a choke."""
    if choke.least is None or choke.greatest is None:
        return f"{choke.side} choke"
    return f"{choke.side} choke, used from {choke.least:.3g} to {choke.greatest:.3g} A".replace("-", "−")


def _used(ax: Axes, choke: Excursion, factor: float) -> None:
    """The excursion as a thick piece of the curve, the mean as a point."""
    if choke.least is None or choke.greatest is None:
        return
    color, right = SIDE[choke.side]["color"], choke.side == "right"  # the right one is drawn into the left one
    span = np.linspace(choke.least, choke.greatest, 200)
    width, alpha = (4.0, 0.95) if right else (8.0, 0.45)
    ax.plot(span, factor * choke.curve.inductance(span), color=color, linewidth=width, alpha=alpha, solid_capstyle="butt")
    if choke.mean is not None:
        level = factor * float(choke.curve.inductance(choke.mean))
        look: dict[str, Any] = {"markeredgecolor": PAPER, "zorder": 5}
        ax.plot([choke.mean], [level], "D" if right else "o", markersize=6.5 if right else 10.0, color=color, **look)


SHOWN_ORDERS = 15
FLOOR = 1e-5
"""Lowest ratio on the harmonics picture, -100 dB; the simulator's own tolerance is some 60 to 80 dB down."""


def harmonics(ratios: Sequence[float] | None, ax: Axes, quality: float | None = None, highest: int = SHOWN_ORDERS) -> Axes:
    """Harmonics of the tank voltage over its fundamental; `ratios`: rms of orders 1, 2, ... over that of order 1.

    quality: of the tank [1]; with it, thin marks show what an ideal stage would have, 1/(n sqrt(1+Q^2 (n-1/n)^2)).
    """
    ax.set_title("Harmonics of the tank voltage")
    if not ratios or len(ratios) < 3:
        return empty(ax, "no harmonics: the tank was not measured in a steady state")
    orders = np.arange(2, min(highest, len(ratios)) + 1)
    level = np.maximum(np.asarray(ratios, dtype=float)[1 : orders[-1]], FLOOR)
    decibels, odd = 20 * np.log10(level), orders % 2 == 1
    bottom = 20 * np.log10(FLOOR)
    for which, label, color, hatch in ((odd, "odd", LEFT, None), (~odd, "even", RIGHT, "////")):
        look: dict[str, Any] = {"width": 0.62, "edgecolor": PAPER, "linewidth": 0.5}
        ax.bar(orders[which], decibels[which] - bottom, bottom=bottom, label=label, color=color, hatch=hatch, **look)
    top = dict(zip(orders, decibels, strict=True))
    if quality is not None:
        ideal = 20 * np.log10(np.asarray(tank_harmonic_ratio(quality, orders[odd])))
        ax.hlines(ideal, orders[odd] - 0.45, orders[odd] + 0.45, color=INK, linewidth=1.6, label=f"ideal stage, Q {quality:.3g}")
        top |= {order: max(top[order], mark) for order, mark in zip(orders[odd], ideal, strict=True)}
    for order, ratio in zip(orders, ratios[1:], strict=False):
        if ratio >= 1e-3:
            note(ax, f"{100 * ratio:.2g} %", (float(order), top[order]), (0, 3), ha="center", fontsize=7.5)
    ax.set_ylim(bottom, 10 * np.ceil(max(top.values()) / 10 + 0.6))
    ax.set_xticks(orders)
    ax.set_xlabel("order")
    ax.set_ylabel("dB below the fundamental")
    legend(ax)
    return ax


def power_rows(measures: Mapping[str, Any]) -> list[tuple[str, tuple[float, ...]]]:
    """Where the power goes: (part, powers [W] of its sides), greatest first; the workpiece is one of them."""
    found: dict[str, list[float]] = {}
    for key in measures:
        if key.startswith("loss.") and key.endswith("_w") and (power := number(measures, key)) is not None:
            found.setdefault(_part(key.removeprefix("loss.").removesuffix("_w")), []).append(power)
    if (work := number(measures, "workpiece.power_w")) is not None and work > 0:
        found["workpiece"] = [work]
    return sorted(((part, tuple(powers)) for part, powers in found.items()), key=lambda row: -sum(row[1]))


def _part(part: str) -> str:
    """`choke.left.copper` -> "chokes, copper", `switch.right` -> "switches", `coil` -> "coil"."""
    pieces = part.split(".")
    if not any(piece in SIDES for piece in pieces):
        return part_words(part)
    head, *rest = (piece for piece in pieces if piece not in SIDES)
    return ", ".join([plural(head), *rest])


NEGLIGIBLE = 1e-6
"""Share of the supplied power below which a part is not drawn."""


def power(measures: Mapping[str, Any], ax: Axes) -> Axes:
    """Horizontal bars [W] of the workpiece and every loss; left and right stand end to end."""
    supplied = sum(number(measures, key) or 0.0 for key in ("supply.power_w", "gate_supply.power_w"))
    rows = [row for row in power_rows(measures) if abs(sum(row[1])) > NEGLIGIBLE * supplied]
    if not rows or supplied <= 0:
        ax.set_title("Where the power goes")
        return empty(ax, "no powers: the run has no steady state to take them from")
    total = sum(sum(powers) for _, powers in rows)
    factor, unit = easy_unit("W", supplied)
    ax.set_title(f"Where the power goes: {factor * supplied:.4g} {unit} in, {factor * total:.4g} {unit} accounted for")
    for place, (part, powers) in enumerate(rows):
        _bar(ax, place, part, powers)
        share = f"{value_text(sum(powers), 'W')}, {value_text(sum(powers) / supplied, 'ratio')}"
        note(ax, share, (sum(powers), place), (4, 0), va="center")
    ax.set_yticks(range(len(rows)), [part for part, _ in rows])
    ax.invert_yaxis()
    ax.set_xlim(0, 1.22 * max(sum(powers) for _, powers in rows))
    ax.set_xlabel("W")
    ax.grid(False, axis="y")
    return ax


def warmest(findings: Sequence[Finding]) -> list[Finding]:
    """The worst temperature of each kind of part, the warmest against its limit first."""
    found: dict[tuple[str, str], Finding] = {}
    for each in findings:
        if each.unit == "°C" and each.value is not None and each.headroom is not None:
            place = family(each.part), each.limit
            if place not in found or each.headroom < (found[place].headroom or 0.0):
                found[place] = each
    return sorted(found.values(), key=lambda each: each.headroom or 0.0)


def temperatures(findings: Sequence[Finding], ax: Axes) -> Axes:
    """Horizontal bars [°C] of every part whose temperature is judged, with a mark at its limit."""
    rows = warmest(findings)
    ax.set_title("How warm the parts get")
    if not rows:
        return empty(ax, "no temperature is judged")
    for place, each in enumerate(rows):
        value, allowed = each.value or 0.0, each.allowed or 0.0
        color = LIMIT if each.grade == "fails" else HEAT if each.grade == "marginal" else FAINT
        ax.barh([place], [value], height=0.66, color=color)
        ax.plot([allowed, allowed], [place - 0.4, place + 0.4], color=LIMIT, linewidth=1.6)
        note(ax, f"{value_text(value, '°C')} of {value_text(allowed, '°C')}", (max(value, allowed), place), (5, 0), va="center")
    ax.set_yticks(range(len(rows)), [_warm_part(each) for each in rows])
    ax.invert_yaxis()
    ax.set_xlim(0, 1.42 * max(max(each.value or 0.0, each.allowed or 0.0) for each in rows))
    ax.set_xlabel("°C")
    ax.grid(False, axis="y")
    return ax


def _warm_part(finding: Finding) -> str:
    """`choke.left`, temperature -> "left choke"; what is not the part's own temperature is named beside it."""
    part, limit = part_words(finding.part).removeprefix("conductor "), finding.limit.partition(", ")[0]
    for words in ("temperature of the ", " temperature", "temperature", " against boiling", " at the"):
        limit = limit.replace(words, "")
    plain = limit.partition(" after ")[0].strip()
    return f"{part}, {plain}" if plain else part


def _bar(ax: Axes, place: int, part: str, powers: Sequence[float]) -> None:
    """One part: a bar of one colour, or one a side."""
    if len(powers) == 1:
        ax.barh([place], powers, height=0.66, color=HEAT if part == "workpiece" else FAINT)
        return
    left = 0.0
    for amount, color, hatch in zip(powers, (LEFT, RIGHT), (None, "////"), strict=False):
        ax.barh([place], [amount], left=left, height=0.66, color=color, hatch=hatch, edgecolor=PAPER, linewidth=0.5)
        left += amount
