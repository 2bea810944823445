# SPDX-License-Identifier: GPL-3.0-or-later
"""Chokes as netlist: one subcircuit call a choke, its curve in the parameters or, for a table, in the text."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from heatsim.netlist.library import call, subcircuit
from heatsim.parts.choke import Choke
from heatsim.parts.curves import Curve, GappedCurve, LinearCurve, TableCurve
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.parts.ladder import Ladder
from heatsim.waves import Capacitive, Inductive, Magnetic, Ohmic, Product, Resistive, Signal

FLUX_UNIT = 100e-6
"""Flux linkage [Wb] of one volt on node phi: keeps the node near 1 for kilowatt-class heaters."""


NO_CORE_RESISTANCE = 1e6
"""Stand-in for core loss [ohm] beside a model that has its own: none."""


@dataclass(frozen=True)
class Emission:
    """A part's share of a deck: subcircuits by name, lines, signals, and its entries in the energy ledger."""

    subcircuits: tuple[str, ...]
    lines: str
    signals: tuple[Signal, ...]
    sources: tuple[Product, ...] = ()
    losses: tuple[Resistive | Ohmic | Product, ...] = ()
    stores: tuple[Capacitive | Inductive | Magnetic, ...] = ()


@lru_cache(maxsize=64)
def _table_text(curve: TableCurve, side: str) -> tuple[str, str]:
    """Name and text of the library's table subcircuit with this curve's knots, on both sides of zero."""
    knots = np.array(curve.knots)
    beyond = knots[-1] + np.array([1.0, curve.inductance_air]) * 10 * knots[-1, 0]
    half = np.vstack([knots, beyond])
    table = np.vstack([-half[:0:-1], half])
    pairs = [f"{flux / FLUX_UNIT:.9g},{current:.9g}" for current, flux in table]
    rows = ",\n+ ".join(", ".join(pairs[k : k + 4]) for k in range(0, len(pairs), 4))
    base = f"hs_choke_{curve.kind}"
    text = subcircuit(f"choke_{curve.kind}.lib", base).replace(base, f"{base}_{side}")
    return f"{base}_{side}", re.sub(
        r"pwl\(v\(phi\),.*?\)$", lambda _: f"pwl(v(phi),\n+ {rows})", text, flags=re.MULTILINE | re.DOTALL
    )


def choke_model(curve: Curve, side: str) -> tuple[str, str, dict[str, float]]:
    """Subcircuit name, its text and the curve's parameters for a flux curve."""
    if isinstance(curve, TableCurve):
        name, text = _table_text(curve, side)
        return name, text, {}
    if isinstance(curve, GappedCurve):
        values = {"l1": curve.inductance_straight, "la": curve.inductance_air, "k": curve.saturation_flux, "w": curve.knee}
        return "hs_choke_gapped", subcircuit("choke_gapped.lib", "hs_choke_gapped"), values
    if isinstance(curve, LinearCurve):
        return "hs_choke_linear", subcircuit("choke_linear.lib", "hs_choke_linear"), {"l0": curve.inductance_zero}
    if isinstance(curve, HystereticCurve):
        shape = dict(zip(("ms", "ja", "k", "alpha", "c"), curve.parameters, strict=True))
        size = {"turns": float(curve.turns), "area": curve.area, "path": curve.path, "la": curve.inductance_air}
        return "hs_choke_hysteretic", subcircuit("choke_hysteretic.lib", "hs_choke_hysteretic"), {**shape, **size}
    raise TypeError(f"no netlist model for {type(curve).__name__}")


def _with_ladder(name: str, text: str, side: str, ladder: Ladder) -> tuple[str, str]:
    """Name and text of a choke's subcircuit with the cells of a ladder in series with the copper resistance.

    A cell's inductor is a node whose voltage is its current, t de/dt = i - e: half the unknowns of an inductor between two
    nodes, for 7 % more time a run instead of 12 %.
    """
    if not ladder.cells:
        return name, text
    own = name if name.endswith(f"_{side}") else f"{name}_{side}"
    together = f"rcu+{sum(cell.resistance for cell in ladder.cells):.9g}"
    lines = [
        "* copper: resistors in series, some with an inductor beside them, whose current [A] is the voltage of node e<k>",
        f"rcu x y {{{together}}}",
    ]
    for k, cell in enumerate(ladder.cells):
        lines += [f"fe{k} 0 e{k} vs 1", f"re{k} e{k} 0 1", f"ce{k} e{k} 0 {cell.inductance / cell.resistance:.9g}"]
        lines += [f"ge{k} x y e{k} 0 {{{cell.resistance:.9g}/({together})}}"]
    return own, text.replace(name, own).replace("rcu x y {rcu}", "\n".join(lines))


def emit_choke(choke: Choke, node: str, core_resistance: float, ladder: Ladder) -> Emission:
    """The choke from bus to `node`.

    core_resistance: stands for its core loss, unless its model has its own [ohm]
    ladder: its copper

    What the ladder's inductors store and give back is booked with its loss, nil over whole periods.

    The magnetic energy of a hysteretic choke is no function of the flux, so it has no entry among the stores. The integral
    of the core's voltage times its current goes to the losses. Over whole periods that is the area of the loop, the loss;
    over other stretches it holds besides what the core stores and gives back.
    """
    x = f"xch_{choke.side}"
    hysteretic = isinstance(choke.curve, HystereticCurve)
    core_resistance = NO_CORE_RESISTANCE if hysteretic else core_resistance
    name, text, curve = choke_model(choke.curve, choke.side)
    name, text = _with_ladder(name, text, choke.side, ladder)
    values = {**curve, "rcu": ladder.resistance, "rcore": core_resistance, "cw": choke.capacitance, "fref": FLUX_UNIT}
    part = f"choke.{choke.side}"
    winding, core = f"i(v.{x}.vs)", ((1.0, f"v({x}.y)"), (-1.0, f"v({node})"))
    turn = _shorted_turn(choke, x, node)
    beside = (*((factor / core_resistance, vector) for factor, vector in core), *(t for s in turn.signals for t in s.terms))
    eddies = (
        (Signal(f"{part}.eddy_voltage", "V", ((1.0, f"v({x}.x)"), (-1.0, f"v({x}.y)"), (-ladder.resistance, winding))),)
        if ladder.cells
        else ()
    )
    signals = (
        Signal(f"{part}.current", "A", ((1.0, winding),)),
        *eddies,
        Signal(f"{part}.flux", "Wb", ((FLUX_UNIT, f"v({x}.phi)"),)),
        Signal(f"{part}.voltage", "V", ((1.0, "v(bus)"), (-1.0, f"v({node})"))),
        Signal(f"{part}.core_voltage", "V", core),
        Signal(f"{part}.magnetising_current", "A", ((1.0, winding), *((-factor, vector) for factor, vector in beside))),
        *turn.signals,
    )
    return Emission(
        (text,),
        call(x, f"bus {node}", name, values) + turn.lines,
        signals,
        losses=(
            Resistive(f"{part}.copper", f"{part}.current", ladder.resistance),
            *(Product(f"{part}.copper", ((signal.name, f"{part}.current"),)) for signal in eddies),
            Ohmic(f"{part}.core", f"{part}.core_voltage", core_resistance),
            *((Product(f"{part}.core", ((f"{part}.core_voltage", f"{part}.magnetising_current"),)),) if hysteretic else ()),
            *turn.losses,
        ),
        stores=(
            *(() if hysteretic else (Magnetic(f"{part}.magnetising_current", f"{part}.flux"),)),
            Capacitive(f"{part}.voltage", choke.capacitance),
            *turn.stores,
        ),
    )


def _shorted_turn(choke: Choke, x: str, node: str) -> Emission:
    """The branch of a shorted turn beside the core of choke subcircuit `x`, if there is one."""
    short = choke.short
    if short is None:
        return Emission((), "", ())
    name, side = f"choke.{choke.side}.short_current", choke.side
    lines = (
        f"\n* a turn shorted to itself, as the winding sees it\nvturn_{side} {x}.y turn_{side} 0\n"
        f"rturn_{side} turn_{side} turnl_{side} {short.resistance:.9g}\nlturn_{side} turnl_{side} {node} {short.inductance:.9g}"
    )
    return Emission(
        (),
        lines,
        (Signal(name, "A", ((1.0, f"i(vturn_{side})"),)),),
        losses=(Resistive(f"choke.{side}.short", name, short.resistance),),
        stores=(Inductive((name,), ((short.inductance,),)),),
    )
