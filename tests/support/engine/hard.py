# SPDX-License-Identifier: GPL-3.0-or-later
"""Circuits that ngspice 39 cannot solve as given: chokes with a hard knee, strays and models without mercy.

The values come from a random search; they mean nothing but trouble.
"""

from __future__ import annotations

from dataclasses import replace

from heatsim.netlist.deck import Deck, Transient
from tests.support.engine.circuits import OPTIONS, RULE, SIGNALS, small

CIRCUIT = """\
Vsup emf 0 PWL(0 0 {rise:g} 40)
Rlead emf lead 12m
Llead lead bus {lead:g}
Rres bus res {esr:g}
Cres res 0 330u
* chokes in flux form: the flux node carries the linkage times {scale:g}
Rcl bus xl 9m
Bpl 0 fl I=v(xl,dl)*{scale:g}
Cfl fl 0 1 IC=0
Bll xl dl I={left}
Bpr 0 fr I=v(bus,dr)*{scale:g}
Cfr fr 0 1 IC=0
Blr bus dr I={right}
Ctank dl dr 1.5u
Lcoil dl tap 2u
Rcoil tap dr 0.1
Vgate gs 0 PWL(0 0 20u 12)
Ml dl gil 0 0 bank
Mr dr gir 0 0 bank
Lgl gl gil {gate:g}
Lgr gr gir {gate:g}
Rpl gs gl 180
Rpr gs gr 180
Rdl gl 0 10k
Rdr gr 0 10k
Dzl 0 gl clamp
Dzr 0 gr clamp
Dfl gl dr fast
Dfr gr dl fast
.model bank VDMOS(nchan Vto=3.6 Kp=45 Rd=6m Rs=2m Rg={rg:g} Cgs=3.4n Cgdmax={cgd:g} Cgdmin=0.12n A={a:g}
+ Cjo=1.3n Is=2e-11 N=1.1 Rb=4m Tt=90n BV=260 mtriode=1)
.model clamp D(BV=15 Ibv=1m Is=1e-12 Rs={zrs:g} Cjo=150p)
.model fast D(Is=4e-9 N={n:g} Rs={drs:g} Cjo={cjo:g} Tt=90n BV=400)
"""


def power(slope: float, current: float, knee: float, exponent: int) -> str:
    """A choke whose current rises with a high power of its flux."""
    return f"v(F)/{slope:g} + {current:g}*sgn(v(F))*(abs(v(F))/{knee:g})^{exponent}"


def corner(slope: float, knee: float, air: float) -> str:
    """A choke with a sharp corner."""
    return f"v(F)/{slope:g} + (max(v(F),{knee:g})-{knee:g})/{air:g} + (min(v(F),-{knee:g})+{knee:g})/{air:g}"


def hard(curve: str, max_step: float, options: dict[str, str], **values: float) -> Deck:
    """A heater of trouble, for a few periods."""
    circuit = CIRCUIT.format(left=curve.replace("F", "fl"), right=curve.replace("F", "fr"), **values)
    rule = replace(RULE, watched=("tank.voltage", "supply.current"), first=1.5e-4, again=1e-5, limit=1.6e-4)
    signals = tuple(signal for signal in SIGNALS if not signal.name.startswith("choke"))
    return Deck("hard heater", circuit, Transient(1.5e-4, max_step, max_step), rule, signals, options=options)


def clipped() -> Deck:
    """A square wave on a coil that ends in an unlimited exponential: half the step will do."""
    circuit = """\
Vs s 0 PULSE(-702.061 702.061 0 1n 1n 50u 100u)
Rs s a 0.0157846
Ls a b 1.55571e-06
B2 b 0 I=0.000115373*(exp(v(b)/0.545858)-exp(-v(b)/0.545858))
"""
    return small(circuit, {"x": "v(a)"}, stop=1e-3, max_step=1e-6, options=dict(OPTIONS))


def cornered() -> Deck:
    """A corner: damped integration will do."""
    return hard(
        corner(0.38081, 7.6162, 9.37752e-4),
        3e-7,
        {},
        rise=1e-6,
        lead=8.887e-8,
        esr=9.086e-4,
        scale=6346.83,
        gate=9.733e-9,
        rg=0.002194,
        cgd=1.187e-9,
        a=0.1198,
        zrs=0.004298,
        n=1.6,
        drs=8.815e-4,
        cjo=0,
    )


def steepest() -> Deck:
    """A forty-first power: looser tolerances will do."""
    return hard(
        power(0.10057, 10, 1.0057, 41),
        5e-8,
        dict(OPTIONS),
        rise=1.5e-4,
        lead=1.199e-8,
        esr=0.00106,
        scale=1676.17,
        gate=3.536e-9,
        rg=0.002776,
        cgd=3.737e-10,
        a=1.81,
        zrs=0.00569,
        n=0.2,
        drs=0.003335,
        cjo=4.5e-11,
    )
