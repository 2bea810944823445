# SPDX-License-Identifier: GPL-3.0-or-later
"""A supply with a current limit or a bouncing contact as netlist."""

from __future__ import annotations

import math
from itertools import accumulate

from heatsim.netlist.chokes import Emission
from heatsim.netlist.library import call, subcircuit
from heatsim.parts.source import CurrentLimit, Source
from heatsim.parts.switch import Supply
from heatsim.waves import Capacitive, Inductive, Product, Resistive, Signal

OPEN = math.log(1e4 / 1e-4)
"""Logarithm of an open contact's resistance, 10 kohm, over that of a closed one, 0.1 mohm."""

PARTING = 20e-6
"""Time in which a contact makes or breaks [s]; the arc that takes up the leads' energy is over in less (estimate)."""

SOFTNESS = 0.2
"""`ks` of the library's current limit."""


def emit_source(supply: Supply, source: Source, paused: bool) -> Emission:
    """Source with its limit and contact, leads and reservoir up to node bus.

    paused: at its voltage from the start, without ripple and bounce; what would hiccup is held at its limit
    """
    limit = source.limit
    values = {"v": supply.voltage, "rs": supply.resistance, "ls": supply.inductance, "c": supply.reservoir}
    values |= {"esr": supply.reservoir_resistance, "ks": SOFTNESS if limit else 0.0}
    values |= {"ilim": limit.current, "isc": limit.short_circuit, "vknee": limit.knee_voltage} if limit else {}
    wanted, controller = _wanted(supply, limit, paused)
    contact = "dc 0" if paused or not source.bounce else f"pwl({_contact(source)})"
    tripped = (Signal("supply.shut_off", "V", ((1.0, "v(supply_off)"),)),) if controller else ()
    signals = (
        Signal("supply.voltage", "V", ((1.0, "v(xsupply.e)"),)),
        Signal("supply.current", "A", ((1.0, "i(v.xsupply.vs)"),)),
        Signal("supply.wanted_voltage", "V", ((1.0, "v(supply_set)"),)),
        Signal("contact.voltage", "V", ((1.0, "v(xsupply.x)"), (-1.0, "v(xsupply.y)"))),
        *tripped,
        *bus_signals(supply),
    )
    names = ("hs_supply_limited", "hs_hiccup") if controller else ("hs_supply_limited",)
    lines = (*wanted, f"vcontact supply_con 0 {contact}")
    return Emission(
        tuple(subcircuit("supply_source.lib", name) for name in names),
        "\n".join([*lines, call("xsupply", "bus supply_set supply_con supply_sen", "hs_supply_limited", values)]),
        signals,
        sources=(Product("supply", (("supply.voltage", "supply.current"),)),),
        losses=(
            Resistive("supply", "supply.current", supply.resistance),
            Product("supply", (("contact.voltage", "supply.current"),)),
            reservoir_loss(supply),
        ),
        stores=supply_stores(supply),
    )


def bus_signals(supply: Supply) -> tuple[Signal, ...]:
    """Voltage of the bus, and the reservoir across it, behind a source of any kind."""
    return (
        Signal("bus.voltage", "V", ((1.0, "v(bus)"),)),
        Signal("reservoir.current", "A", ((1.0, "i(v.xsupply.vc)"),)),
        Signal("reservoir.voltage", "V", ((1.0, "v(bus)"), (-supply.reservoir_resistance, "i(v.xsupply.vc)"))),
    )


def reservoir_loss(supply: Supply) -> Resistive:
    """In the reservoir's series resistance."""
    return Resistive("reservoir", "reservoir.current", supply.reservoir_resistance)


def supply_stores(supply: Supply) -> tuple[Capacitive | Inductive, ...]:
    """Reservoir, and inductance of source and leads."""
    return Capacitive("reservoir.voltage", supply.reservoir), Inductive(("supply.current",), ((supply.inductance,),))


def _wanted(supply: Supply, limit: CurrentLimit | None, paused: bool) -> tuple[tuple[str, ...], bool]:
    """Lines that set the voltage wanted on node supply_set, and whether a controller does."""
    if paused:
        return (f"vwanted supply_set 0 dc {supply.voltage:.9g}",), False
    lines: tuple[str, ...] = (f"vripple supply_set supply_mean sin(0 {supply.ripple / 2:.9g} {supply.ripple_frequency:.9g} "
                              f"{supply.rise_time:.9g})",) if supply.ripple else ()  # fmt: skip
    node = "supply_mean" if supply.ripple else "supply_set"
    if limit is None or limit.form != "hiccup":
        return (*lines, f"vwanted {node} 0 pwl(0 0 {supply.rise_time:.9g} {supply.voltage:.9g})"), False
    values = {"v": supply.voltage, "tr": supply.rise_time, "ilim": limit.current}
    values |= {"trip": limit.trip_delay, "retry": limit.retry_time}
    return (*lines, call("xhiccup", f"{node} supply_sen supply_off", "hs_hiccup", values)), True


def _contact(source: Source) -> str:
    """Logarithm of the contact's resistance over time, piece by piece."""
    ends = list(accumulate(length for _, length in source.bounce))
    states = [made for made, _ in source.bounce] + [True]
    points = [(0.0, 0.0 if states[0] else OPEN)]
    for end, before, after in zip(ends, states[:-1], states[1:], strict=True):
        points += [(end, 0.0 if before else OPEN), (end + PARTING, 0.0 if after else OPEN)]
    return " ".join(f"{time:.9g} {value:.6g}" for time, value in points)
