# SPDX-License-Identifier: GPL-3.0-or-later
"""Tank, strays towards it and workpiece as netlist."""

from __future__ import annotations

import math

from heatsim.netlist.chokes import Emission
from heatsim.netlist.library import call, subcircuit
from heatsim.parts.heater import Heater
from heatsim.parts.tank import SECONDARY, CoupledBranch
from heatsim.waves import Capacitive, Inductive, Ohmic, Resistive, Signal

IDLE = CoupledBranch(0.0, SECONDARY, 1.0, 1e-6)
"""A workpiece branch so weakly coupled that it takes less than a microwatt."""


def emit_tank(heater: Heater) -> Emission:
    """Capacitor bank, coil and workpiece between nodes t_left and t_right (and tap)."""
    coil, bank = heater.coil, heater.capacitors
    branch = heater.branch or IDLE
    inductance = branch.primary or coil.inductance
    values = {
        "c": bank.capacitance,
        "esr": bank.resistance + bank.rails_resistance,
        "esl": bank.inductance,
        "rcoil": coil.resistance,
        "llead": coil.lead_inductance,
        "rlead": coil.lead_resistance,
        "lw": branch.secondary,
        "rw": branch.resistance,
    }
    whole = (_tapped if heater.tapped else _plain)(heater, inductance, branch, values)
    signals = (
        Signal("tank.voltage", "V", ((1.0, "v(vtank)"),)),
        Signal("capacitor.current", "A", ((1.0, "i(v.xtank.vc)"),)),
        Signal("capacitor.voltage", "V", ((1.0, "v(xtank.c3)"), (-1.0, "v(t_right)"))),
        Signal("coil.current", "A", ((1.0, "i(v.xtank.vl)"),)),
        Signal("workpiece.current", "A", ((1.0, "i(v.xtank.vw)"),)),
        *whole.signals,
    )
    probe = "* what a differential probe on the tank sees\nevtank vtank 0 t_left t_right 1"
    return Emission(
        whole.subcircuits,
        f"{whole.lines}\n{probe}",
        signals,
        losses=(
            Resistive("capacitors", "capacitor.current", bank.resistance),
            *([Resistive("capacitor_bars", "capacitor.current", bank.rails_resistance)] if bank.rails else []),
            Resistive("workpiece", "workpiece.current", branch.resistance),
            *whole.losses,
        ),
        stores=(
            Capacitive("capacitor.voltage", bank.capacitance),
            Inductive(("capacitor.current",), ((bank.inductance,),)),
            *whole.stores,
        ),
    )


def _plain(heater: Heater, inductance: float, branch: CoupledBranch, values: dict[str, float]) -> Emission:
    coil = heater.coil
    mutual = branch.coupling * math.sqrt(inductance * branch.secondary)
    matrix = (inductance + coil.lead_inductance, -mutual), (-mutual, branch.secondary)  # its probe points out of its dot
    store = Inductive(("coil.current", "workpiece.current"), matrix)
    line = call("xtank", "t_left t_right", "hs_tank", {**values, "lcoil": inductance, "kw": branch.coupling})
    losses = (Resistive("coil", "coil.current", coil.resistance), Resistive("leads", "coil.current", coil.lead_resistance))
    return Emission((subcircuit("tank.lib", "hs_tank"),), line, (), losses=losses, stores=(store,))


def _tapped(heater: Heater, inductance: float, branch: CoupledBranch, values: dict[str, float]) -> Emission:
    """Halves Lh with 2 Lh (1+kh) = L, and khw = k sqrt((1+kh)/2), so that the whole coil couples with k."""
    coil, kh = heater.coil, heater.half_coupling
    half = inductance / (2 * (1 + kh))
    khw = branch.coupling * math.sqrt((1 + kh) / 2)
    between, mutual = kh * half, khw * math.sqrt(half * branch.secondary)
    own = half + coil.lead_inductance / 2
    store = Inductive(
        ("coil.current", "coil.right_current", "workpiece.current"),
        ((own, between, -mutual), (between, own, -mutual), (-mutual, -mutual, branch.secondary)),
    )
    line = call("xtank", "t_left tap t_right", "hs_tank_tapped", {**values, "lhalf": half, "kh": kh, "khw": khw})
    extra = (Signal("coil.right_current", "A", ((1.0, "i(v.xtank.vr)"),)),)
    losses = tuple(
        Resistive(part, current, resistance / 2)
        for part, resistance in (("coil", coil.resistance), ("leads", coil.lead_resistance))
        for current in ("coil.current", "coil.right_current")
    )
    return Emission((subcircuit("tank.lib", "hs_tank_tapped"),), line, extra, losses=losses, stores=(store,))


def emit_bars(heater: Heater) -> Emission:
    """Stray inductance between each drain node and the tank."""
    lossy = 2 * math.pi * heater.stray_corner * heater.bus_inductance
    lines, signals, losses, values = [], [], [], {"l": heater.bus_inductance, "fc": heater.stray_corner}
    for side in ("left", "right"):
        lines.append(call(f"xbar_{side}", f"d_{side} t_{side}", "hs_stray", values))
        signals.append(Signal(f"stray.bar.{side}.voltage", "V", ((1.0, f"v(d_{side})"), (-1.0, f"v(t_{side})"))))
        losses.append(Ohmic("strays", f"stray.bar.{side}.voltage", lossy))
    return Emission((subcircuit("stray.lib", "hs_stray"),), "\n".join(lines), tuple(signals), losses=tuple(losses))
