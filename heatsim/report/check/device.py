# SPDX-License-Identifier: GPL-3.0-or-later
"""The MOSFET's curves as its datasheet prints them: those of the netlist's model, with the points that it is compared with.

A full point is given, a hollow one estimated; beside it stands by how much the model differs, from half a per cent on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from heatsim.parts.mosfet_curves import capacitances, compared_points, drain_current, gate_voltage
from heatsim.parts.mosfet_model import TRANSFER_VOLTAGE, DatasheetPoint
from heatsim.parts.switch import Switch
from heatsim.report.base.style import BUS, HEAT, INK, LIMIT, PAPER, SUPPLY, easy_unit, legend, note
from heatsim.report.base.words import value_text
from heatsim.report.check.figures import figure_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

KINDS = {"input": (INK, "-"), "output": (SUPPLY, (0, (5, 2))), "reverse": (BUS, (0, (1, 1.2)))}
"""Capacitance -> colour and dashes."""

SHOWN = 0.005
"""Differences below this [1] are not written beside their points."""


def capacitance_curves(switch: Switch, ax: Axes) -> Axes:
    """Input, output and reverse capacitance [F] against the drain's voltage [V]."""
    ax.set_title("Capacitances, gate at source")
    volts = np.geomspace(1.0, switch.voltage_rating, 200)
    points = _by_name(switch)
    factor, unit = easy_unit("F", switch.input_capacitance)
    for (kind, (color, dashes)), values in zip(KINDS.items(), capacitances(switch, volts), strict=True):
        ax.plot(volts, factor * values, color=color, linestyle=dashes, label=kind)
        estimated = any(each.field == f"{kind}_capacitance" for each in switch.estimated)
        _point(ax, points[f"{kind} capacitance"], switch.capacitance_voltage, factor, color, estimated)
        for row in switch.curves.capacitance:
            _point(ax, points[f"{kind} capacitance at {row[0]:g} V"], row[0], factor, color)
    ax.set_xscale("log")
    ax.set_yscale("log")
    ax.xaxis.set_major_formatter("{x:g}")
    ax.yaxis.set_major_formatter("{x:g}")
    ax.set_xlabel("drain voltage, V")
    ax.set_ylabel(unit)
    legend(ax)
    return ax


def output_curves(switch: Switch, ax: Axes) -> Axes:
    """Drain current [A] against the drain's voltage [V] at steps of the gate's, with the on-resistance given as a line."""
    ax.set_title("Output curves")
    current = switch.transconductance_current
    gates = [*(gate_voltage(switch, share * current) for share in (0.25, 0.5, 1.0, 2.0)), switch.on_gate_voltage]
    reach = max(3 * current * switch.on_resistance, 4.0)
    volts = np.linspace(0.0, reach, 120)
    for gate in sorted(gates):
        amperes = drain_current(switch, gate, volts)
        ax.plot(volts, amperes, color=INK, linewidth=1.1)
        end = min(float(amperes[-1]), 2.5 * current)
        note(ax, f"{gate:.3g} V", (float(np.interp(end, amperes, volts)), end), (3, -3), fontsize=7.5)
    drop = current * switch.on_resistance
    given = f"{value_text(switch.on_resistance, 'ohm')} given, {_by_name(switch)['on-resistance'].difference:+.1%} in the model"
    ax.plot([0.0, drop], [0.0, current], color=LIMIT, linewidth=3.0, alpha=0.6, label=given)
    ax.set_xlim(0, 1.1 * reach)
    ax.set_ylim(0, 2.6 * current)
    ax.set_xlabel("drain voltage, V, at gate voltages as marked")
    ax.set_ylabel("A")
    legend(ax)
    return ax


def transfer_curve(switch: Switch, ax: Axes) -> Axes:
    """Drain current [A] against the gate's voltage [V], saturated, with transconductance, threshold, plateau and points given."""
    ax.set_title(f"Transfer curve, drain at {TRANSFER_VOLTAGE:g} V")
    current, points = switch.transconductance_current, _by_name(switch)
    top = gate_voltage(switch, 2 * current)
    gates = np.linspace(max(switch.threshold - 1.0, 0.0), top, 150)
    ax.plot(gates, drain_current(switch, gates, TRANSFER_VOLTAGE), color=INK, label="model")
    at, slope = gate_voltage(switch, current), switch.transconductance
    reach = np.array([-0.35, 0.35]) * current
    estimated = any(each.field == "transconductance" for each in switch.estimated)
    label = f"{value_text(slope, 'S')} {'estimated' if estimated else 'given'}, {points['transconductance'].difference:+.1%}"
    ax.plot(at + reach / slope, current + reach, color=HEAT, linewidth=3.0, alpha=0.6, label=label)
    given = [(gate, amperes, f"gate voltage at {amperes:g} A") for gate, amperes in switch.curves.transfer]
    if switch.threshold_current:
        given.append((switch.threshold, switch.threshold_current, "threshold"))
    if switch.curves.plateau_voltage:
        given.append((switch.curves.plateau_voltage, current, "plateau of the gate"))
    for gate, amperes, name in given:
        _mark(ax, points[name], (gate, amperes), LIMIT)
    ax.set_xlabel("gate voltage, V")
    ax.set_ylabel("A")
    ax.set_ylim(bottom=0)
    legend(ax)
    return ax


PICTURES: tuple[tuple[str, str, str, Callable[[Switch, Axes], Axes]], ...] = (
    (
        "device-capacitances",
        "The MOSFET's capacitances",
        "Lines are the model in the netlist, full points the datasheet's, hollow ones estimated. Where points of the scenario lie "
        "off the lines, the device is another one there.",
        capacitance_curves,
    ),
    (
        "device-output",
        "The MOSFET's output curves",
        "The topmost curve is the gate at the voltage at which the on-resistance is given; its start should lie on the thick line.",
        output_curves,
    ),
    (
        "device-transfer",
        "The MOSFET's transfer curve",
        "The thick line has the slope of the transconductance; points are the datasheet's.",
        transfer_curve,
    ),
)
"""Name, heading, what one should see and how it is drawn."""


def device_figures(switch: Switch) -> Iterator[tuple[str, str, str, Callable[[], Figure]]]:
    """Name, heading, caption of each picture and what draws it; none for a user's own model, which has no closed form."""
    if not switch.user_model:
        for name, title, caption, draw in PICTURES:
            yield name, title, caption, partial(figure_of, partial(draw, switch))


def _by_name(switch: Switch) -> dict[str, DatasheetPoint]:
    return {each.name: each for each in compared_points(switch)}


def _point(ax: Axes, point: DatasheetPoint, volts: float, factor: float, color: str, estimated: bool = False) -> None:
    _mark(ax, point, (volts, factor * point.given), color, estimated)


def _mark(ax: Axes, point: DatasheetPoint, at: tuple[float, float], color: str, estimated: bool = False) -> None:
    """A point, hollow where it is estimated, with the model's difference."""
    look: dict[str, Any] = {"markerfacecolor": PAPER if estimated else color, "markeredgecolor": color, "zorder": 5}
    ax.plot([at[0]], [at[1]], "o", markersize=5.5, **look)
    if abs(point.difference) >= SHOWN:
        note(ax, f"{point.difference:+.1%}", at, (5, 4), fontsize=7.5, color=color)
