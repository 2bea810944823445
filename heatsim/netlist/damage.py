# SPDX-License-Identifier: GPL-3.0-or-later
"""Damaged parts as netlist: what a sound part's lines become. Without damage they stay as they are, letter by letter."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from heatsim.netlist.chokes import FLUX_UNIT, Emission
from heatsim.parts.choke import Choke
from heatsim.parts.curves import current_with_left
from heatsim.parts.damage import FILM_CURRENT, SIDES, Damage, SaturatingSteel
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.waves import Capacitive, Inductive, Magnetic, Ohmic, Product, Signal


def with_text(part: Emission, old: str, new: str, suffix: str) -> Emission:
    """A part whose own subcircuit, the last, has other lines and a name of its own."""
    *others, text = part.subcircuits
    name = next(line.split()[1] for line in text.splitlines() if line.startswith(".subckt "))
    assert old in text, f"{name} has no line {old}"
    changed = text.replace(old, new).replace(name, f"{name}_{suffix}")
    return replace(part, subcircuits=(*others, changed), lines=part.lines.replace(f" {name}", f" {name}_{suffix}"))


def with_more(part: Emission, line: str = "", **more: tuple[object, ...]) -> Emission:
    """A part with a further line, signals, losses and stores."""
    grown = {name: (*getattr(part, name), *values) for name, values in more.items()}
    return replace(part, lines=f"{part.lines}\n{line}" if line else part.lines, **grown)


RATE_FARAD = 1e-12
"""Capacitance [F] whose current tells how fast a choke's current changes; with 1 ohm it lags by a picosecond."""


def coupled_choke(part: Emission, heater: Heater, choke: Choke) -> Emission:
    """A choke part of whose flux is the other's: node phi holds all that links the winding, the integral of its voltage as ever;
    node own what its current makes of it, own = phi - M i of the other, which the curve is read with; node im the current.

    Both currents follow from both fluxes without a derivative, so that a run may begin from any fluxes. There is only one pair of
    currents while M^2 is below the product of the two inductances, as it is of any windings; so the other's current counts up to
    where they have fallen near that (`_reach`), which a heater at work stays below.
    """
    mutual, side = heater.mutual_inductance, choke.side
    if not mutual:
        return part
    x, other = f"xch_{side}", f"xch_{SIDES[1 - SIDES.index(side)]}"
    part = _reading_own_flux(part)
    line = (
        f"* flux that the other choke adds: own is what is left of phi\ngown_{side} 0 {x}.own {x}.phi 0 1\n"
        f"{_shared(heater, side, f'{other}.im')}\nrown_{side} {x}.own 0 1"
    )
    stores = (Inductive(tuple(f"choke.{each}.magnetising_current" for each in SIDES), ((0.0, mutual), (mutual, 0.0))),)
    part = with_more(part, line, stores=stores if side == SIDES[0] else ())
    return _own_rate(part, heater, choke) if isinstance(choke.curve, HystereticCurve) else _own_energy(part, side)


LEAST_OWN = 1.1
"""Least inductance of coupled chokes, geometric mean over M, down to which their currents count for each other."""


def _shared(heater: Heater, side: str, current: str) -> str:
    """Line that takes M times a current, on a node [A], off a choke's own flux."""
    other = heater.chokes[1 - SIDES.index(side)]
    factor, reach = heater.mutual_inductance / FLUX_UNIT, _reach(heater, other)
    if math.isinf(reach):
        return f"gmut_{side} xch_{side}.own 0 {current} 0 {factor:.9g}"
    return f"bmut_{side} xch_{side}.own 0 i={factor:.9g}*min(max(v({current}),-{reach:.9g}),{reach:.9g})"


def _reach(heater: Heater, choke: Choke) -> float:
    """Current [A] up to which a coupled choke has the inductance it needs, infinite for one that always has."""
    zero = math.sqrt(math.prod(each.curve.inductance_zero for each in heater.chokes))
    found = current_with_left(choke.curve, LEAST_OWN * abs(heater.mutual_inductance) / zero)
    return math.inf if found is None else found


def _reading_own_flux(part: Emission) -> Emission:
    """Its subcircuit with node own in place of phi, but for what makes phi, and with its current on node im, too [A]."""
    lines = []
    for line in part.subcircuits[-1].splitlines():
        line = re.sub(r"^([bg]\w*) (?:y b|(b y)) ", lambda found: f"{found[1]} {'im 0' if found[2] else '0 im'} ", line)
        made = line.startswith(("gphi ", "cphi ", "rphi "))
        lines.append(line if made else re.sub(r"\bphi\b", "own", line))
        lines += ["rim im 0 1\ngim y b im 0 1"] if line.startswith("rphi ") else []
    name = next(line.split()[1] for line in lines if line.startswith(".subckt "))
    own = "\n".join(lines).replace(name, f"{name}_coupled")
    return replace(part, subcircuits=(*part.subcircuits[:-1], own), lines=part.lines.replace(f" {name}", f" {name}_coupled"))


def _own_energy(part: Emission, side: str) -> Emission:
    """What a choke stores by itself goes with its own flux."""
    name, current = f"choke.{side}.own_flux", f"choke.{side}.magnetising_current"
    kept = tuple(each for each in part.stores if each != Magnetic(current, f"choke.{side}.flux"))
    own = Signal(name, "Wb", ((FLUX_UNIT, f"v(xch_{side}.own)"),))
    return with_more(replace(part, stores=kept), signals=(own,), stores=(Magnetic(current, name),))


def _own_rate(part: Emission, heater: Heater, choke: Choke) -> Emission:
    """A hysteretic core goes by how fast its own flux changes, on node rate: the core's voltage less M di/dt of the other, which is
    held below pi V, because a run that begins from a state of other chokes begins with a step of current."""
    side, x, other = choke.side, f"xch_{choke.side}", f"xch_{SIDES[1 - SIDES.index(choke.side)]}"
    most = math.pi * heater.supply.voltage
    line = (
        f"crate_{side} {other}.im rate_{side} {RATE_FARAD:g}\nvrate_{side} rate_{side} 0 0\n"
        f"brate_{side} 0 {x}.rate i=v({x}.y,d_{side})-min(max(i(vrate_{side})*{heater.mutual_inductance / RATE_FARAD:.9g},"
        f"-{most:.9g}),{most:.9g})\nrrate_{side} {x}.rate 0 1"
    )
    *others, text = part.subcircuits
    core, current = f"choke.{side}.core", f"choke.{side}.magnetising_current"
    losses = tuple(
        Product(core, ((f"choke.{side}.own_voltage", current),)) if isinstance(each, Product) and each.part == core else each
        for each in part.losses
    )
    part = replace(part, subcircuits=(*others, text.replace("v(y,b)", "v(rate)")), losses=losses)
    return with_more(part, line, signals=(Signal(f"choke.{side}.own_voltage", "V", ((1.0, f"v({x}.rate)"),)),))


def damaged_switch(part: Emission, damage: Damage, side: str) -> Emission:
    """A bank with a leak from drain to ground at the chip; the ledger has its loss in the bank's own."""
    siemens = damage.drain_leakage[SIDES.index(side)]
    if not siemens:
        return part
    return with_more(part, f"* a drain that leaks to ground\nrleak_{side} xsw_{side}.dp 0 {1 / siemens:.9g}")


def damaged_gate(part: Emission, damage: Damage, side: str) -> Emission:
    """A gate network without its clamp, or with one that leaks."""
    siemens = damage.clamp_leakage[SIDES.index(side)]
    if siemens:
        line = f"* a clamp that leaks\nrclamp_{side} g_{side} 0 {1 / siemens:.9g}"
        loss = Ohmic(f"gate_drive.{side}", f"gate_drive.{side}.voltage", 1 / siemens)
        part = with_more(part, line, losses=(loss,))
    return part if damage.clamps else with_text(part, "dz 0 z dclamp", "* no clamp\nrz z 0 1e9", "bare")


def damaged_tank(part: Emission, heater: Heater) -> Emission:
    """A tank with what is wrong in it."""
    damage = heater.damage
    if damage.contact_drop:
        part = _film(part, damage.contact_drop, heater.tapped)
    if damage.voltage_coefficient:
        part = _bent(part, damage.voltage_coefficient, heater.capacitors.capacitance)
    if damage.steel is not None:
        part = _steel(part, damage.steel)
    if damage.coil_capacitance:
        part = _capacitance(part, heater)
    return part


def _film(part: Emission, drop: float, tapped: bool) -> Emission:
    lead = "rlead1 l1 l2" if tapped else "rlead l1 l2"
    film = f"* oxide film\nbfilm l1 lf v={drop:.9g}*tanh(i(vl)/{FILM_CURRENT:g})\n{lead.split()[0]} lf l2"
    signal = Signal("coil.film_voltage", "V", ((1.0, "v(xtank.l1)"), (-1.0, "v(xtank.lf)")))
    loss = Product("leads", ((signal.name, "coil.current"),))
    return with_more(with_text(part, lead, film, "film"), signals=(signal,), losses=(loss,))


def _bent(part: Emission, coefficient: float, farad: float) -> Emission:
    """The bank as a straight capacitance, whose voltage w is the charge over C, in series with what is added, b w^3."""
    lines = (
        "* capacitance that falls with voltage: the straight one, and what it takes more\n"
        f"cbank c3 c4 {{c}}\nbbank c4 tr v={coefficient:.9g}*v(c3,c4)*v(c3,c4)*v(c3,c4)"
    )
    charge = Signal("capacitor.charge", "C", ((farad, "v(xtank.c3)"), (-farad, "v(xtank.c4)")))
    kept = tuple(each for each in part.stores if each != Capacitive("capacitor.voltage", farad))
    part = replace(part, stores=(*kept, Magnetic("capacitor.voltage", charge.name)))  # integral of v dq, as of i d(flux)
    return with_more(with_text(part, "cbank c3 tr {c}", lines, "bent"), signals=(charge,))


def _steel(part: Emission, steel: SaturatingSteel) -> Emission:
    """Its flux stands on node phis in units of the knee's."""
    lines = (
        "rcoil l4 st {rcoil}\n* steel whose flux gives way: phis is the flux over that at the knee\n"
        f"rsteel st tr {steel.resistance:.9g}\nvsteel st su 0\n"
        f"bsteel su tr i={steel.knee / 2:.9g}*v(phis)*(1+v(phis)*v(phis)*v(phis)*v(phis))\n"
        f"gphis 0 phis st tr {1 / steel.knee_flux:.9g}\ncphis phis 0 1\nrphis phis 0 1e12"
    )
    signals = (
        Signal("workpiece.steel_current", "A", ((1.0, "i(v.xtank.vsteel)"),)),
        Signal("workpiece.steel_flux", "Wb", ((steel.knee_flux, "v(xtank.phis)"),)),
        Signal("workpiece.steel_voltage", "V", ((1.0, "v(xtank.st)"), (-1.0, "v(t_right)"))),
    )
    loss = Ohmic("workpiece", "workpiece.steel_voltage", steel.resistance)
    store = Magnetic("workpiece.steel_current", "workpiece.steel_flux")
    return with_more(with_text(part, "rcoil l4 tr {rcoil}", lines, "steel"), signals=signals, losses=(loss,), stores=(store,))


def _capacitance(part: Emission, heater: Heater) -> Emission:
    """Across the coil, with leads that are lossy above the strays' corner; the ledger books the leads' current as the coil's, which
    differ by the capacitance's own."""
    farad, ohms = heater.damage.coil_capacitance, 2 * math.pi * heater.stray_corner * heater.coil.lead_inductance
    line = (
        f"* capacitance across the coil behind its leads\nccoil xtank.l3 t_right {farad:.9g}\nrccoil xtank.l2 xtank.l3 {ohms:.9g}"
    )
    signals = (
        Signal("stray.lead.voltage", "V", ((1.0, "v(xtank.l2)"), (-1.0, "v(xtank.l3)"))),
        Signal("coil.voltage", "V", ((1.0, "v(xtank.l3)"), (-1.0, "v(t_right)"))),
    )
    loss, store = Ohmic("strays", "stray.lead.voltage", ohms), Capacitive("coil.voltage", farad)
    return with_more(part, line, signals=signals, losses=(loss,), stores=(store,))
