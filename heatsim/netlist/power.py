# SPDX-License-Identifier: GPL-3.0-or-later
"""Supply and switch banks as netlist."""

from __future__ import annotations

import math
from functools import lru_cache

from heatsim.netlist.chokes import Emission
from heatsim.netlist.library import call, subcircuit
from heatsim.netlist.source import bus_signals, emit_source, reservoir_loss, supply_stores
from heatsim.parts.gate import GateDrive
from heatsim.parts.mosfet_model import vdmos_parameters
from heatsim.parts.switch import Supply, Switch
from heatsim.waves import Inductive, Ohmic, Product, Resistive, Signal


def emit_supply(supply: Supply, paused: bool = False) -> Emission:
    """Source, leads and reservoir up to node bus. paused: at its voltage from the start and without ripple."""
    if supply.source is not None and supply.source.behavioural:
        return emit_source(supply, supply.source, paused)
    mains = supply.source is not None and supply.source.bridge is not None
    name, delay = ("hs_supply_mains", {"td": supply.on_time}) if mains else ("hs_supply", {})
    values = {
        "v": supply.voltage,
        "tr": supply.rise_time,
        **({"v0": supply.voltage} if paused else {}),
        "rs": supply.resistance,
        "ls": supply.inductance,
        "c": supply.reservoir,
        "esr": supply.reservoir_resistance,
        "vrip": 0.0 if paused else supply.ripple / 2,
        "frip": supply.ripple_frequency,
        **delay,
    }
    signals = (
        Signal("supply.voltage", "V", ((1.0, "v(xsupply.src)"),)),
        Signal("supply.current", "A", ((1.0, "i(v.xsupply.vs)"),)),
        *bus_signals(supply),
    )
    return Emission(
        (subcircuit("supply_source.lib" if mains else "supply.lib", name),),
        call("xsupply", "bus", name, values),
        signals,
        sources=(Product("supply", (("supply.voltage", "supply.current"),)),),
        losses=(Resistive("supply", "supply.current", supply.resistance), reservoir_loss(supply)),
        stores=supply_stores(supply),
    )


def _user_bank(switch: Switch, side: str) -> tuple[str, str]:
    """A bank made of the user's own model: same strays and gate resistors round it as in the library's bank."""
    name = f"hs_user_bank_{side}"
    lines = [
        f"* bank of {switch.count} devices of the user's model {switch.user_name}",
        "* vto: this bank's share of the threshold spread, as a source in the gate lead",
        f".subckt {name} d gb s n=1 rgx=4.7 lgx=15n ld=5n fc=10meg vto=0",
        "ld d dx {ld}",
        "rld d dx {2*3.14159265*fc*ld}",
        "vd dx dp 0",
        "vg gb g1 0",
        "lg g1 g2 {lgx/n}",
        "rg g2 g3 {rgx/n}",
        "vspread g3 gp {vto}",
    ]
    letter = "x" if switch.user_subcircuit else "m"
    nodes = "dp gp s s" if letter == "m" and f".model {switch.user_name} nmos" in switch.user_model else "dp gp s"
    lines += [f"{letter}{k} {nodes} {switch.user_name}" for k in range(1, switch.count + 1)]
    return name, "\n".join([*lines, f".ends {name}"])


def _source_lead(switch: Switch, side: str, corner: float) -> tuple[str, Emission]:
    """Node of a bank's sources, and what lies between it and ground: the devices' leads in parallel, lossy above `corner`."""
    inductance = switch.source_inductance / switch.count
    if not inductance:
        return "0", Emission((), "", ())
    node, voltage = f"s_{side}", f"stray.source.{side}.voltage"
    resistance = 2 * math.pi * corner * inductance
    lines = f"* the devices' source leads\nlsource_{side} {node} 0 {inductance:.9g}\nrsource_{side} {node} 0 {resistance:.9g}"
    signals = (Signal(voltage, "V", ((1.0, f"v({node})"),)),)
    return node, Emission((), lines, signals, losses=(Ohmic("strays", voltage, resistance),))


@lru_cache(maxsize=64)
def emit_switch(switch: Switch, gate: GateDrive, side: str, corner: float) -> Emission:
    """One bank; half of the threshold spread is added on the left and taken off on the right."""
    x, part = f"xsw_{side}", f"switch.{side}"
    outer = {"n": float(switch.count), "rgx": gate.resistor, "lgx": gate.inductance, "ld": switch.drain_inductance, "fc": corner}
    texts: tuple[str, ...]
    shift = (0.5 if side == "left" else -0.5) * switch.threshold_spread
    if switch.user_model:
        name, text = _user_bank(switch, side)
        texts, values = (switch.user_model, text), outer | {"vto": shift}
    else:
        model = vdmos_parameters(switch, shift)
        renamed = {"n": "nn", "m": "mj"}
        inner = {renamed.get(key, key): value for key, value in model.items() if key not in ("ibv", "eg")}
        name, texts, values = "hs_switch_bank", (subcircuit("switch_bank.lib", "hs_switch_bank"),), outer | inner
    source, lead = _source_lead(switch, side, corner)
    below = ((-1.0, f"v({source})"),) if lead.lines else ()
    signals = (
        Signal(f"drain.{side}.voltage", "V", ((1.0, f"v({x}.dp)"), *below)),
        Signal(f"gate.{side}.voltage", "V", ((1.0, f"v({x}.gp)"), *below)),
        Signal(f"{part}.current", "A", ((1.0, f"i(v.{x}.vd)"),)),
        Signal(f"gate.{side}.current", "A", ((1.0, f"i(v.{x}.vg)"),)),
        Signal(f"stray.drain.{side}.voltage", "V", ((1.0, f"v(d_{side})"), (-1.0, f"v({x}.dp)"))),
        *lead.signals,
    )
    pairs = ((f"drain.{side}.voltage", f"{part}.current"), (f"gate.{side}.voltage", f"gate.{side}.current"))
    return Emission(
        texts,
        "\n".join([call(x, f"d_{side} g_{side} {source}", name, values), *lead.lines.splitlines()]),
        signals,
        losses=(
            Product(part, pairs),
            Resistive(
                f"gate_drive.{side}",
                f"gate.{side}.current",
                gate.resistor / switch.count,
                told=f"gate.{side}.resistor_loss_w",
                pieces=switch.count,
            ),
            Ohmic("strays", f"stray.drain.{side}.voltage", 2 * math.pi * corner * switch.drain_inductance),
            *lead.losses,
        ),
        stores=(Inductive((f"gate.{side}.current",), ((gate.inductance / switch.count,),)),),
    )
