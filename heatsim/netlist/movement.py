# SPDX-License-Identifier: GPL-3.0-or-later
"""A workpiece that leaves the coil of a running heater, or is put in: what the tank's lines become.

Node `in` of the tank is 1 with the workpiece in and 0 without. The branch that stands for it (`heatsim.parts.tank.coupled_branch`)
has the conductance in/R2, so that no current flows in it once the workpiece is gone, and the coil is left with its own inductance
L1 of that branch. Where a magnetic workpiece had put flux into it, L1 is above the empty coil's L0; then the share (1 - in)(L1 -
L0)/L1 of the coil's current goes past it, and with L1 L0/L1 = L0 the terminals see the empty coil.

The flux linkage of the coil keeps Faraday's law all the while, v = d(L i + M iw)/dt, so it does not jump: the coil's current does
what is left to do. Held to be exact with the workpiece in and out; on the way between them the course of L, M and R is a ramp.
"""

from __future__ import annotations

from dataclasses import replace

from heatsim.errors import InputError
from heatsim.netlist.chokes import Emission
from heatsim.netlist.damage import with_more, with_text
from heatsim.parts.heater import Heater
from heatsim.parts.tank import Movement
from heatsim.waves import Product, Signal

BRANCH = "rw w1 w2 {rw}"
"""Line of the branch's resistance in either tank of the library."""


def moving_tank(part: Emission, heater: Heater, movement: Movement) -> Emission:
    """A loaded tank whose workpiece moves. Raises InputError for a heater without one that can."""
    branch = heater.branch
    if branch is None or heater.damage.steel is not None:
        what = "there is no workpiece that could be moved" if branch is None else "steel that saturates is part of the coil"
        raise InputError.single("workpiece", what, "", "a case with a workpiece known by the coil's inductance and resistance")
    before, after = (1, 0) if movement.leaves else (0, 1)
    flux = 1 - heater.coil.inductance / (branch.primary or heater.coil.inductance)
    lines = [
        f"* workpiece that {'leaves' if movement.leaves else 'is put in'}: v(in) is 1 with it in, 0 without",
        f"vin in 0 pwl(0 {before} {movement.at:.12g} {before} {movement.over:.12g} {after})",
        f"brw w1 w2 i=v(in)*v(w1,w2)/{branch.resistance:.9g}",
    ]
    around = (("bflux1 l3 tap", "vl"), ("bflux2 tap l5", "vr")) if heater.tapped else (("bflux l3 l4", "vl"),)
    lines += [f"{name} i={flux:.9g}*(1-v(in))*i({current})" for name, current in around if flux]
    text = "\n".join(lines)
    signals = (Signal("workpiece.voltage", "V", ((1.0, "v(xtank.w1)"),)), Signal("workpiece.share", "", ((1.0, "v(xtank.in)"),)))
    kept = tuple(loss for loss in part.losses if loss.part != "workpiece")
    loss = Product("workpiece", (("workpiece.voltage", "workpiece.current"),))
    return with_more(with_text(replace(part, losses=kept), BRANCH, text, "moving"), signals=signals, losses=(loss,))
