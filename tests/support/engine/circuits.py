# SPDX-License-Identifier: GPL-3.0-or-later
"""Small decks with numbers of our own, for the tests of the engine."""

from __future__ import annotations

from collections.abc import Mapping

from heatsim.netlist.deck import Deck, SettleRule, Transient
from heatsim.waves import Signal

HEATER = """\
* supply: rises in 150 us, lead and reservoir
Vsup emf 0 PWL(0 0 150u {supply:g})
Rlead emf lead 12m
Llead lead bus 0.4u
Rres bus res 18m
Cres res 0 330u
* feed chokes, linear
Rcl bus cl 9m
Lcl cl dl {left:g}
Rcr bus cr 9m
Lcr cr dr {right:g}
* tank: capacitor bank, work coil with the workpiece in its series resistance
Ctank dl dr 1.5u
Lcoil dl tap 2u
Rcoil tap dr {coil:g}
* switches and gate network
Vgate gs 0 PWL(0 0 20u {gate:g})
Ml dl gl 0 0 bank
Mr dr gr 0 0 bank
Rpl gs gl 180
Rpr gs gr 180
Rdl gl 0 10k
Rdr gr 0 10k
Dzl 0 gl clamp
Dzr 0 gr clamp
Dfl gl dr fast
Dfr gr dl fast
.model bank VDMOS(nchan Vto=3.6 Kp=45 Rd=6m Rs=2m Rg=1.5 Cgs=3.4n Cgdmax=1.6n Cgdmin=0.12n A=0.6
+ Cjo=1.3n Is=2e-11 N=1.1 Rb=4m Tt=90n BV=260 mtriode=1)
.model clamp D(BV=15 Ibv=1m Is=1e-12 Rs=0.6 Cjo=150p)
.model fast D(Is=4e-9 N=1.6 Rs=0.08 Cjo=45p Tt=12n BV=400)
"""

RULE = SettleRule(
    section="tank.voltage",
    watched=("tank.voltage", "choke.left.current", "choke.right.current", "supply.current"),
    tolerance=2e-3,
    periods=8,
    first=0.8e-3,
    again=0.3e-3,
    limit=12e-3,
    quiet=5.0,
)

SIGNALS = (
    Signal("tank.voltage", "V", ((1.0, "v(dl)"), (-1.0, "v(dr)"))),
    Signal("drain.left.voltage", "V", ((1.0, "v(dl)"),)),
    Signal("drain.right.voltage", "V", ((1.0, "v(dr)"),)),
    Signal("gate.left.voltage", "V", ((1.0, "v(gl)"),)),
    Signal("gate.right.voltage", "V", ((1.0, "v(gr)"),)),
    Signal("choke.left.current", "A", ((1.0, "i(lcl)"),)),
    Signal("choke.right.current", "A", ((1.0, "i(lcr)"),)),
    Signal("coil.current", "A", ((1.0, "i(lcoil)"),)),
    Signal("supply.current", "A", ((-1.0, "i(vsup)"),)),
    Signal("supply.voltage", "V", ((1.0, "v(emf)"),)),
    Signal("gate_supply.current", "A", ((-1.0, "i(vgate)"),)),
    Signal("gate_supply.voltage", "V", ((1.0, "v(gs)"),)),
    Signal("bus.voltage", "V", ((1.0, "v(bus)"),)),
)

OPTIONS = {"method": "gear", "maxord": "2", "reltol": "1e-3"}


def heater(
    supply: float = 40.0,
    gate: float = 12.0,
    coil: float = 0.1,
    left: float = 100e-6,
    right: float = 94e-6,
    max_step: float = 100e-9,
    options: Mapping[str, str] = OPTIONS,
    rule: SettleRule = RULE,
) -> Deck:
    """Two linear feed chokes, two switches cross-coupled by diodes, a tank near 90 kHz."""
    circuit = HEATER.format(supply=supply, gate=gate, coil=coil, left=left, right=right)
    return Deck("test heater", circuit, Transient(rule.first, max_step, max_step), rule, SIGNALS, options=dict(options))


RING = """\
L1 a b {inductance:g}
R1 b 0 {resistance:g}
C1 a 0 {capacitance:g} IC={volts:g}
Rbig a 0 1e9
"""


def small(
    circuit: str,
    signals: Mapping[str, str],
    stop: float = 1e-4,
    max_step: float = 2e-8,
    quiet: float = 1e-3,
    options: Mapping[str, str] | None = None,
    limit: float | None = None,
) -> Deck:
    """A deck of a few parts; signals: name -> vector, the first of them the section and the only one watched."""
    named = tuple(Signal(name, "A" if vector.startswith("i(") else "V", ((1.0, vector),)) for name, vector in signals.items())
    rule = SettleRule(named[0].name, (named[0].name,), 2e-3, 4, stop, stop / 4, limit or stop, quiet)
    return Deck(
        "small deck",
        circuit,
        Transient(stop, max_step, max_step),
        rule,
        named,
        options=dict(options or {"method": "trap", "reltol": "1e-4"}),
    )


def ring_down(
    inductance: float = 10e-6, capacitance: float = 100e-9, resistance: float = 0.5, volts: float = 10.0, **more: float
) -> Deck:
    """A charged capacitor let go into a coil with resistance."""
    circuit = RING.format(inductance=inductance, capacitance=capacitance, resistance=resistance, volts=volts)
    return small(circuit, {"ring.voltage": "v(a)", "ring.current": "i(l1)"}, **more)  # type: ignore[arg-type]
