# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of a capacitor bank along two bars, and what it says in words. Data [SI] and axes in, axes out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from heatsim.parts.heater import Heater
from heatsim.parts.rails import FacingBars, Rails
from heatsim.report.base.style import ACROSS, ALONG, DOTTED, FAINT, LEFT, LIMIT, PAPER, empty, note
from heatsim.report.base.words import listed, value_text
from heatsim.studies.check import BY_CONNECTION, most_loaded

if TYPE_CHECKING:
    from matplotlib.axes import Axes

GAP = 0.12
"""Room between the three groups of bars as a share of one."""

LOOP = (
    "With the coil at opposite ends the bars are part of its loop: what they add to the tank's inductance is taken to be "
    "capacitors.inductance."
)

PRACTICE = "Connecting the coil at opposite ends of the bank evens out the capacitors (common practice, no source)."


def shares(measures: Mapping[str, Any], rails: Rails | None, ax: Axes, allowed: float | None) -> Axes:
    """Current of each capacitor for each way of connecting the coil, the scenario's own in colour.

    allowed: rms current that one may carry, tolerance taken off [A]; None where it is not known
    """
    ax.set_title("Share of each capacitor, by where the coil connects")
    lists = {way: each for way, key in BY_CONNECTION.items() if isinstance(each := measures.get(key), list) and each}
    if not lists or rails is None:
        return empty(ax, "the bank was not measured in a steady state")
    ticks: dict[float, str] = {}
    for group, (way, currents) in enumerate(lists.items()):
        count, start = len(currents), group * len(currents) * (1 + GAP)
        own = way == rails.coil
        at = [start + k for k in range(count)]
        ax.bar(at, currents, 0.8, color=LEFT if own else FAINT, edgecolor=PAPER, linewidth=0.4 if count < 40 else 0.0)
        most_text = f"at most {value_text(max(currents), 'A')}"
        note(ax, most_text, (start + (count - 1) / 2, 1.0), (0, -2), ALONG, ha="center", va="top")
        ax.hlines(sum(currents) / count, at[0] - 0.5, at[-1] + 0.5, color=PAPER, linewidth=1.2)
        ticks |= {at[0]: "1", at[-1]: str(count)}
        named = f"{way}{', as built' if own else ''}"
        note(ax, named, (start + (count - 1) / 2, 0), (0, -22), ha="center", color=LEFT if own else FAINT)
    top = max(map(max, lists.values()))
    if allowed is not None:
        ax.axhline(allowed, color=LIMIT, linestyle=DOTTED, linewidth=1.5)
        note(ax, f"allowed {value_text(allowed, 'A')}", (1.0, allowed), (-2, 3), ACROSS, ha="right", color=LIMIT)
    ax.set_ylim(0, 1.18 * max(top, min(allowed or 0.0, 1.6 * top)))
    ax.set_xticks(list(ticks), list(ticks.values()))
    ax.grid(False, axis="x")
    ax.set_ylabel("A")
    return ax


def advice(measures: Mapping[str, Any], rails: Rails | None) -> tuple[str, ...]:
    """What the way of connecting the coil does, in sentences; none without bars or without a steady state."""
    most = most_loaded(measures)
    if rails is None or not most:
        return ()
    told = [f"{value_text(current, 'A')} {_at(way)}{' (as built)' if way == rails.coil else ''}" for way, current in most.items()]
    found = f"The most loaded capacitor carries {listed(told)}, worked out for the current of this run."
    loss, resonance = measures.get("capacitor.rails_loss_w"), measures.get("capacitor.inner_resonance_hz")
    return tuple(
        text
        for text in (
            found,
            PRACTICE,
            LOOP if rails.coil == "opposite ends" else "",
            loss and f"The bars lose {value_text(loss, 'W')} by their resistance, which the simulated circuit does not have.",
            resonance and f"The lowest resonance inside the bank lies at {value_text(resonance, 'Hz')}.",
        )
        if text
    )


def _at(way: str) -> str:
    return {"same end": "with the coil at the same end", "opposite ends": "at opposite ends"}.get(way, "in the middle")


def origin(heater: Heater, given: frozenset[str]) -> str:
    """Where the values of a bank come from; given: fields of [capacitors.rails] that the file has."""
    rails = heater.capacitors.rails
    if rails is None:
        return "capacitors taken to share the current evenly: the file does not say how they stand along their bars"
    inductance = value_text(rails.segment_inductance(heater.frequency), "H")
    if isinstance(rails.segment, FacingBars):
        bars = (
            f"bars by geometry, {inductance} from one capacitor to the next (Hammerstad and Jensen; a fifth either way, estimate)"
        )
    else:
        bars = f"bars measured, {inductance} from one capacitor to the next, taken as the same at every frequency"
    assumed = [
        text
        for name, text in (
            ("own_inductance", f"own inductance of a capacitor {value_text(rails.own_inductance, 'H')}"),
            ("tolerance", f"tolerance {100 * rails.tolerance:.3g} %"),
        )
        if name not in given
    ]
    return f"{bars}; currents by Kirchhoff's laws" + (f"; assumed: {listed(assumed)}" if assumed else "")
