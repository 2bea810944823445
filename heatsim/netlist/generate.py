# SPDX-License-Identifier: GPL-3.0-or-later
"""Heater -> Deck: the whole netlist, commented, with timing, saved vectors and energy ledger."""

from __future__ import annotations

import re

from heatsim.netlist.chokes import Emission, emit_choke
from heatsim.netlist.damage import coupled_choke, damaged_gate, damaged_switch, damaged_tank
from heatsim.netlist.deck import FAST_RIPPLE, Deck, SettleRule, Transient
from heatsim.netlist.gate import emit_gate, emit_gate_supply
from heatsim.netlist.movement import moving_tank
from heatsim.netlist.power import emit_supply, emit_switch
from heatsim.netlist.slow import difference_time, perturbation_sources, slow_states, slowest_mode
from heatsim.netlist.tank import emit_bars, emit_tank
from heatsim.parts.heater import Heater
from heatsim.parts.tank import Movement
from heatsim.waves import Ledger

OPTIONS = {"method": "gear", "maxord": "2", "reltol": "1e-3"}
"""Gear's second order damps the numerical ringing that the trapezoidal rule shows at switching edges."""

QUIET_SHARE = 1.0
"""A tank peak below this share of the supply voltage is no oscillation worth the name; a healthy stage reaches pi."""

PAUSED_PERIODS = 300
"""End of a paused circuit's run, in periods: further than any search goes."""

REST_TIMES = 9.0
"""Slowest time constants of the supply after which what is left of its being switched on counts as gone: charging swings
by several times the mean current, and exp(-9) = 0.01 %."""

LONGEST_EXTENSION = 50e-3
"""Most that a run is lengthened for the supply's ripple or resonance beyond `longest` [s]."""

RIPPLE_CYCLES = 1.25
"""Periods of the ripple that are watched: one, and a quarter that is compared with the period before."""

LATCH_FACTOR = 2.0
"""Without oscillation, a choke current above this many times the ideal stage's mean means that a side stays on."""


def make_deck(
    heater: Heater,
    title: str,
    steps_per_period: int = 200,
    longest: float = 12e-3,
    paused: bool = False,
    movement: Movement | None = None,
) -> Deck:
    """The netlist of one case.

    title: any text, made safe here
    steps_per_period: largest step is the expected period over this
    longest: end of a run that does not settle [s], after everything is switched on; see `_settle_rule`
    paused: for `heatsim.engine.shooting`: supplies stand at their voltage from the start, without ripple, and sources
    that perturb the slow states are added
    movement: of the workpiece in the run; when to look at it is then for the caller to say
    """
    sections = _sections(heater, paused, movement)
    sections += [("sources that perturb the slow states, zero otherwise", perturbation_sources(heater))] if paused else []
    texts = dict.fromkeys(text for _, part in sections for text in part.subcircuits)
    body = [f"\n* {heading}\n{part.lines}" for heading, part in sections]
    parts = [part for _, part in sections]
    settle = _settle_rule(heater, longest)
    period = 1 / heater.frequency
    step = period / steps_per_period
    start = settle.first - 20 * period
    return Deck(
        title=re.sub(r"[^A-Za-z0-9 ._,+-]", " ", title)[:80].strip() or "heater",
        circuit=_preamble(heater) + "\n\n" + "\n\n".join(texts) + "\n" + "\n".join(body),
        transient=Transient(PAUSED_PERIODS * period if paused else settle.first, step, step),
        settle=settle,
        signals=tuple(signal for part in parts for signal in part.signals),
        ledger=Ledger(
            tuple(entry for part in parts for entry in part.sources),
            tuple(entry for part in parts for entry in part.losses),
            tuple(entry for part in parts for entry in part.stores),
        ),
        measures=measure_lines(start, settle.first, heater),
        options=OPTIONS,
        period=period,
        slow=slow_states(heater),
        slowest_mode=slowest_mode(heater),
        every=paused,
    )


def _sections(heater: Heater, paused: bool, movement: Movement | None) -> list[tuple[str, Emission]]:
    nodes = {"left": "d_left", "right": "d_right", "centre": "tap"}
    found = [("supply", emit_supply(heater.supply, paused))]
    for choke in heater.chokes:
        heading = f"choke, {choke.side}: {1e6 * choke.curve.inductance_zero:.3g} uH at zero current"
        part = emit_choke(choke, nodes[choke.side], heater.core_resistance(choke), heater.ladder(choke))
        found.append((heading, coupled_choke(part, heater, choke)))
    for side in ("left", "right"):
        bank = emit_switch(heater.bank(side), heater.gate, side, heater.stray_corner)
        found.append((f"switch bank, {side}", damaged_switch(bank, heater.damage, side)))
    if not heater.gate.from_main:
        found.append(("gate supply", emit_gate_supply(heater.gate, paused)))
    for side in ("left", "right"):
        found.append((f"gate network, {side}", damaged_gate(emit_gate(heater.gate, side), heater.damage, side)))
    tank = damaged_tank(emit_tank(heater), heater)
    tank = tank if movement is None else moving_tank(tank, heater, movement)
    return [*found, ("bars from the drains to the tank", emit_bars(heater)), ("tank", tank)]


def _settle_rule(heater: Heater, longest: float) -> SettleRule:
    """When to look and for how long.

    Times are counted from `start`, when all delays and rises are over. What the supply does slowly is waited for beyond
    `longest`: its ripple and its own resonance or time constant, but no more than LONGEST_EXTENSION. A supply quicker than
    the tank changes nothing.
    """
    period, supply = 1 / heater.frequency, heater.supply
    start = max(supply.on_time, heater.gate.supply_delay + heater.gate.supply_rise)
    ripple = 1 / supply.ripple_frequency if supply.ripple else 0.0
    slow_time, swing = supply.slow_mode(heater.supply_current / supply.voltage)
    slow = max(40 * period, 2 * heater.quality * period, 400e-6)
    fast = 2 * (ripple + (FAST_RIPPLE + 2) * period) if ripple else 0.0
    cycles = swing + (RIPPLE_CYCLES * ripple if ripple > FAST_RIPPLE * period else fast)
    late = max(cycles, slow_time) > slow
    cycles = cycles if late or ripple else 0.0
    difference = difference_time(heater)
    limit = start + max(longest, min(slow + cycles + REST_TIMES * slow_time, LONGEST_EXTENSION) if late else 0.0)
    first = min(supply.on_time + heater.gate.supply_delay + heater.gate.supply_rise + slow + cycles, limit)
    currents = tuple(f"choke.{choke.side}.current" for choke in heater.chokes)
    watched = ("tank.voltage", *currents, "supply.current")
    return SettleRule(
        section="tank.voltage",
        watched=watched,
        tolerance=2e-3,
        periods=10,
        first=first,
        again=max(20 * period, 0.25 * (slow + cycles)),
        limit=limit,
        quiet=QUIET_SHARE * heater.supply.voltage,
        latch_current=LATCH_FACTOR * heater.supply_current / len(heater.chokes),
        start=start,
        ripple_period=ripple,
        swing_period=swing,
        slow_time=slow_time,
        watch=cycles,
        difference=currents if difference else (),
        difference_time=difference,
    )


def measure_lines(start: float, stop: float, heater: Heater, periods: int = 10) -> str:
    """`.meas` lines that print frequency, peaks and mean supply current under plain ngspice.

    start, stop: window, at least periods + 2 long and ending with the run [s]
    periods: number that the frequency is taken over

    Periods are counted where the work coil's current rises through zero. It is the integral of the tank's voltage, so it
    crosses once a period however the voltage is distorted. In a tapped coil the halves are added: the choke's current
    flows through them in opposite directions.
    """
    window = f"from={start:.9g} to={stop:.9g}"
    coil = "par('i(v.xtank.vl)+i(v.xtank.vr)')" if heater.tapped else "i(v.xtank.vl)"
    lines = [
        "* printed by plain ngspice at the end of the run",
        f".meas tran cross_first when {coil}=0 rise=1 td={start:.9g}",
        f".meas tran cross_last when {coil}=0 rise={periods + 1} td={start:.9g}",
        f".meas tran tank_frequency_hz param='{periods}/(cross_last-cross_first)'",
        f".meas tran tank_peak_v max v(vtank) {window}",
        *(f".meas tran drain_{side}_peak_v max v(xsw_{side}.dp) {window}" for side in ("left", "right")),
        f".meas tran supply_mean_a avg i(v.xsupply.vs) {window}",
        *(f".meas tran choke_{choke.side}_peak_a max i(v.xch_{choke.side}.vs) {window}" for choke in heater.chokes),
    ]
    return "\n".join(lines)


def _preamble(heater: Heater) -> str:
    kind = "one choke to the centre tap of the coil" if heater.tapped else "two feed chokes"
    gates = "; inputs of the drivers: xgate_left.in, xgate_right.in" if heater.gate.driver else ""
    gates += "" if heater.gate.from_main else "; vgs: gate supply"
    load = "idle" if heater.workpiece is None else f"with workpiece ({heater.workpiece.basis})"
    return (
        f"* self-oscillating current-fed push-pull stage, {kind}, {load}\n"
        f"* supply {heater.supply.voltage:g} V, tank {1e6 * heater.capacitors.capacitance:.4g} uF and "
        f"{1e6 * heater.loaded_inductance:.4g} uH with leads, expected near {heater.frequency / 1e3:.4g} kHz, "
        f"Q {heater.quality:.3g}\n"
        f"* nodes: bus; d_left, d_right: drains; t_left, t_right: tank; g_left, g_right: gate nodes{gates}\n"
        "* run it with: ngspice -b <this file>"
    )
