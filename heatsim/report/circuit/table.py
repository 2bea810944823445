# SPDX-License-Identifier: GPL-3.0-or-later
"""Which symbol of the picture stands for which element of a netlist. What is not in the table is said to be missing."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

METER = ""
"""Stands for an element that only measures, a source of 0 V or a probe: it is not drawn."""

MISSING = "missing"
"""Stands for an element that no symbol is drawn for."""

_SOURCE = {"vdc": "supply", "vac": "supply", "vs": METER, "rs": "supply.resistance", "ls": "supply.inductance"}
_RESERVOIR = {"cres": "supply.reservoir", "vc": METER, "resr": "supply.reservoir_resistance"}
_LIMITED = dict.fromkeys(("bsen", "blim", "bover", "bsrc", "dout"), "supply") | {"vs": METER, "bcon": "supply.contact"}

_CHOKE = dict.fromkeys(
    "cw rcu rcore gphi cphi rphi bi gi gih gip ghp rh ghl ghe ch bl rl bs rs bd rd be ce re".split(), "choke.{side}"
) | {"vs": METER}

_AT_GATE = {"vup": METER, "rup": "pull_up.{side}", "rdown": "pull_down.{side}", "vz0": METER, "dz": "clamp.{side}"}
_AT_GATE |= {"vd0": METER, "dd": "diode.{side}"}
_DRIVER = dict.fromkeys("cin din bcmp rlag clag bshare bsource bsink qsource rsource qsink rsink".split(), "driver.{side}")

_BANK = {"ld": "drain_lead.{side}", "rld": "drain_lead.{side}", "vd": METER, "vg": METER, "lg": "gate_loop.{side}"}
_BANK |= {"rg": "gate_resistor.{side}", "vspread": "switch.{side}"}

_TANK = {
    "vc": METER,
    "resr": "capacitor_resistance",
    "lesl": "capacitor_inductance",
    "cbank": "capacitors",
    "vl": METER,
    "vr": METER,
}
_TANK |= {"lcoil": "coil", "rcoil": "coil_resistance", "llead": "coil_lead", "rlead": "coil_lead_resistance"}
_TANK |= {"lw": "workpiece", "rw": "workpiece", "vw": METER, "kcw": "workpiece", "k1w": "workpiece", "k2w": "workpiece"}
_HALVES = {"lhalf1": "coil.left", "lhalf2": "coil.right", "khh": "coil.right"}
_HALVES |= {f"llead{k}": f"coil_lead.{side}" for k, side in ((1, "left"), (2, "right"))}
_HALVES |= {f"rlead{k}": f"coil_resistance.{side}" for k, side in ((1, "left"), (2, "right"))}

SUBCIRCUITS: Mapping[str, Mapping[str, str]] = {
    r"hs_supply(_mains)?": _SOURCE | _RESERVOIR,
    r"hs_supply_limited": _SOURCE | _RESERVOIR | _LIMITED,
    r"hs_hiccup": dict.fromkeys("bover bt ct boff coff bss css bset".split(), "supply"),
    r"hs_choke_[a-z]+": _CHOKE,
    r"hs_gate_drive": _AT_GATE,
    r"hs_(gate_driver|totem_pole)": _AT_GATE | _DRIVER | {"vdr": METER, "vo": METER},
    r"hs_(switch|user)_bank": _BANK,
    r"hs_stray": {"vs": METER, "l1": "bar.{side}", "r1": "bar.{side}"},
    r"hs_tank(_tapped)?": _TANK | _HALVES,
}
"""Name of a subcircuit of the library -> its elements -> symbol; `{side}` is that of the call."""

TOP = {
    "vgate": "gate_supply",
    "vripple": "supply",
    "vwanted": "supply",
    "vcontact": "supply.contact",
    "evtank": METER,
    **{f"{kind}source_{side}": f"source_lead.{side}" for kind in "lr" for side in ("left", "right")},
}
"""Elements of the deck itself."""


def drawn(netlist: str) -> dict[str, tuple[str, ...]]:
    """Symbol -> elements of a netlist that it stands for, written as call and element: "xsupply ls"."""
    found: dict[str, list[str]] = {}
    for name, symbol in _elements(netlist):
        found.setdefault(symbol, []).append(name)
    return {symbol: tuple(names) for symbol, names in found.items()}


def _elements(netlist: str) -> Iterator[tuple[str, str]]:
    """Every element, those inside of calls among them, with its symbol."""
    bodies, top = _read(netlist)
    for words in top:
        body = next((word for word in words[1:] if word in bodies), None) if words[0].startswith("x") else None
        if body is None:
            yield words[0], TOP.get(words[0], MISSING)
            continue
        side = words[0].rpartition("_")[2]
        for element in bodies[body]:
            yield f"{words[0]} {element}", _symbol(body, element).format(side=side)


def _symbol(subcircuit: str, element: str) -> str:
    """Symbol of an element of a subcircuit, whose name may end in the side it was written for."""
    base = re.sub("_(left|right|centre)$", "", subcircuit)
    known = next((table for pattern, table in SUBCIRCUITS.items() if re.fullmatch(pattern, base)), {})
    if base.startswith("hs_choke") and re.fullmatch("[frcg]e[0-9]+", element):
        return "choke.{side}"  # a cell of the ladder that the copper is
    if re.fullmatch("hs_(switch|user)_bank", base) and re.fullmatch("[mx][0-9]+", element):
        return "switch.{side}"
    return known.get(element, MISSING)


def _read(netlist: str) -> tuple[dict[str, list[str]], list[list[str]]]:
    """Names of the elements of each subcircuit, and the words of every line outside of these."""
    bodies: dict[str, list[str]] = {}
    top: list[list[str]] = []
    inside: list[str] = []
    for line in netlist.splitlines()[1:]:
        words = line.lower().split()
        if not words or words[0][0] in "*+":
            continue
        if words[0] == ".subckt":
            inside.append(words[1])
            bodies[words[1]] = []
        elif words[0] == ".ends":
            inside.pop()
        elif words[0][0] == ".":
            continue
        elif inside:
            bodies[inside[-1]].append(words[0])
        else:
            top.append(words)
    return bodies, top
