# SPDX-License-Identifier: GPL-3.0-or-later
"""The values beside each symbol of the circuit, in engineering units, as the netlist has them."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.parts.choke import Choke
from heatsim.parts.gate import IntegratedDriver
from heatsim.parts.heater import Heater
from heatsim.report.base.words import value_text as q

Lines = tuple[str, ...]

SIDES = ("left", "right")

NO_LOSS = 1e6
"""Resistance [ohm] from which on one beside a core stands for no loss."""

CLOSED = 1e-4
"""Resistance of a closed contact [ohm], as in `netlists/supply_source.lib`."""


def values(heater: Heater) -> dict[str, Lines]:
    """Symbol -> its lines: name and values."""
    found = {**dict(_supply(heater)), **dict(_tank(heater)), **dict(_gates(heater))}
    for choke in heater.chokes:
        found[f"choke.{choke.side}"] = _choke(heater, choke)
    for side in SIDES:
        found |= dict(_bank(heater, side))
    return found


def _supply(heater: Heater) -> Iterator[tuple[str, Lines]]:
    supply, source = heater.supply, heater.supply.source
    name = {"battery": "battery", "rectifier": "transformer and bridge", "switch mode": "switch-mode supply"}
    kind = name[source.kind] if source else "DC supply"
    rise = (f"up in {q(supply.rise_time, 's')}",) if supply.rise_time else ()
    ripple = (f"ripple {q(supply.ripple, 'V')} p-p, {q(supply.ripple_frequency, 'Hz')}",) if supply.ripple else ()
    yield "supply", (f"{kind} {q(supply.voltage, 'V')}", *rise, *ripple, *_limit(heater))
    yield "supply.resistance", (q(supply.resistance, "ohm"),)
    yield "supply.inductance", (q(supply.inductance, "H"),)
    yield "supply.reservoir", ("reservoir", q(supply.reservoir, "F"))
    yield "supply.reservoir_resistance", (q(supply.reservoir_resistance, "ohm"),)
    if source and source.behavioural:
        bounces = (f"bounces {q(source.bounce_time, 's')}",) if source.bounce else ()
        yield "supply.contact", ("contact", q(CLOSED, "ohm"), *bounces)
    if source and (source.fuse_rating is not None or source.fuse_i2t is not None):
        rating = (q(source.fuse_rating, "A"),) if source.fuse_rating is not None else (q(source.fuse_i2t, "A2s"),)
        yield "supply.fuse", ("fuse, not simulated", *rating)
    gate = heater.gate
    if not gate.from_main:
        late = (f"on after {q(gate.supply_delay, 's')}",) if gate.supply_delay else ()
        yield "gate_supply", ("gate supply", f"{q(gate.supply_voltage, 'V')}, up in {q(gate.supply_rise, 's')}", *late)


def _limit(heater: Heater) -> Lines:
    """How the supply limits its current."""
    limit = heater.supply.limit
    if limit is None:
        return ()
    less = f", {q(limit.short_circuit, 'A')} shorted" if limit.short_circuit != limit.current else ""
    hiccup = f", again after {q(limit.retry_time, 's')}" if limit.form == "hiccup" else ""
    return (f"{limit.form} limit {q(limit.current, 'A')}{less}{hiccup}",)


def _choke(heater: Heater, choke: Choke) -> Lines:
    core = heater.core_resistance(choke)
    loss = f"core {q(core, 'ohm')}" if core < NO_LOSS else "no core loss"
    copper = heater.ladder(choke).resistance
    head = f"{choke.side} choke" if choke.side != "centre" else "choke"
    return f"{head} {q(choke.curve.inductance_zero, 'H')}, {q(choke.capacitance, 'F')}", f"copper {q(copper, 'ohm')}, {loss}"


def _bank(heater: Heater, side: str) -> Iterator[tuple[str, Lines]]:
    bank, gate = heater.bank(side), heater.gate
    what = bank.user_name or bank.device or "MOSFET"
    figures = (f"{q(bank.on_resistance, 'ohm')} on,", f"{q(bank.voltage_rating, 'V')}") if bank.on_resistance else ()
    each = " each" if bank.count > 1 else ""
    lead = (f"source lead {q(bank.source_inductance, 'H')}{each}",) if bank.source_inductance else ()
    yield f"switch.{side}", (f"{side} bank", f"{bank.count} × {what}", *figures, *lead)
    yield f"drain.{side}", (f"{side} drain",)
    yield f"drain_lead.{side}", (f"lead {q(bank.drain_inductance, 'H')}",)
    yield f"gate_resistor.{side}", (f"{q(gate.resistor, 'ohm')}{each}",)
    yield f"gate_loop.{side}", (f"{q(gate.inductance, 'H')}{each}",)
    yield f"gate.{side}", (f"{side} gate",)
    yield f"bar.{side}", (q(heater.bus_inductance, "H"),)


def _gates(heater: Heater) -> Iterator[tuple[str, Lines]]:
    gate, driver = heater.gate, heater.gate.driver
    for side in SIDES:
        yield f"pull_up.{side}", (f"pull-up {q(gate.pull_up, 'ohm')}",)
        yield f"pull_down.{side}", (q(gate.pull_down, "ohm"),)
        yield f"clamp.{side}", (f"clamp {q(gate.clamp_voltage, 'V')}", q(gate.clamp_capacitance, "F"))
    yield "diode", (f"diodes {q(gate.diode_drop, 'V')}", f"at 1 A, {q(gate.diode_capacitance, 'F')}", q(gate.diode_rating, "V"))
    if driver is not None:
        source = f"{q(driver.source_resistance, 'ohm')} {q(driver.source_current, 'A')}"
        sink = f"{q(driver.sink_resistance, 'ohm')} {q(driver.sink_current, 'A')}"
        last = f"input {q(driver.input_capacitance, 'F')}"
        if isinstance(driver, IntegratedDriver):
            last = f"{last}, {q(driver.low, 'V')}/{q(driver.high, 'V')}, {q(driver.delay, 's')}"
        kind = "integrated" if isinstance(driver, IntegratedDriver) else "totem pole"
        yield "driver", (f"drivers: {kind}", f"source {source}", f"sink {sink}", last)


def _tank(heater: Heater) -> Iterator[tuple[str, Lines]]:
    coil, bank = heater.coil, heater.capacitors
    branch, halves, each_half = (heater.branch, 2, " each") if heater.tapped else (heater.branch, 1, "")
    yield "tank", ("tank, expected", f"{q(heater.frequency, 'Hz')}")
    yield "coil_lead", (f"{q(coil.lead_inductance / halves, 'H')}{each_half}",)
    yield "coil_lead_resistance", (q(coil.lead_resistance, "ohm"),)
    resistance = (coil.resistance + coil.lead_resistance) / 2 if heater.tapped else coil.resistance
    yield "coil_resistance", (f"{q(resistance, 'ohm')}{each_half}",)
    primary = (branch.primary if branch else 0.0) or coil.inductance
    kh = heater.half_coupling
    half = (f"2 × {q(primary / (2 * (1 + kh)), 'H')}, coupled {kh:.3g}",) if heater.tapped else ()
    yield "coil", (f"work coil {q(primary, 'H')}", *half)
    each = f"{bank.count} × {q(bank.unit, 'F')} = {q(bank.capacitance, 'F')}" if bank.count > 1 else q(bank.capacitance, "F")
    yield "capacitors", (f"capacitors {each}", *_rails(heater))
    yield "capacitor_resistance", (q(bank.resistance + bank.rails_resistance, "ohm"),)
    yield "capacitor_inductance", (q(bank.inductance, "H"),)
    yield "workpiece", _workpiece(heater)
    if branch is not None:
        yield "workpiece_branch", (q(branch.secondary, "H"), f"k = {branch.coupling:.3g}", q(branch.resistance, "ohm"))


def _workpiece(heater: Heater) -> Lines:
    piece = heater.workpiece
    if piece is None:
        return ("no workpiece: idle",)
    return "workpiece: coil with it in", f"{q(piece.inductance, 'H')}, {q(piece.resistance, 'ohm')}"


def _rails(heater: Heater) -> Lines:
    """How the bank stands along its bars."""
    bank, rails = heater.capacitors, heater.capacitors.rails
    if rails is None:
        return ()
    where = {"same end": "at one end", "opposite ends": "at opposite ends", "middle": "in the middle", "far end": "at the far end"}
    series = f", {rails.in_series} in series at each place" if rails.in_series > 1 else ""
    drains = f", drains {where[rails.drains]}" if rails.drains else ""
    return (f"coil connects {where[rails.coil]}{drains}{series}", f"bars {q(bank.rails_resistance, 'ohm')} of it all")
