# SPDX-License-Identifier: GPL-3.0-or-later
"""A heater's whole circuit for `nodal`, put together from the values of its parts; the package lists what it holds."""

from __future__ import annotations

import math

from heatsim.parts.choke import Choke
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.scenario.schema import ChokeTable
from tests.support.independent.circuit import mean_current
from tests.support.independent.cores import Walls, core_law, core_resistance, flux_law
from tests.support.independent.datasheet import Figures, figures
from tests.support.independent.laws import Answer, softplus
from tests.support.independent.nodal import GROUND, across
from tests.support.independent.solve import flux_at
from tests.support.independent.whole_bank import add_bars_and_bank
from tests.support.independent.whole_switches import add_bank, add_gate, gate_supply
from tests.support.independent.wiring import SIDES, Voltage, Whole

FLUX = 1e-4
"""Unit of flux linkage [Wb] among the unknowns."""


def whole(heater: Heater, tables: dict[str, ChokeTable], own: Figures | None = None, main: Voltage | None = None) -> Whole:
    """Of a heater.

    tables: of its chokes; own: law of a user's own model of a power MOSFET; main: voltage of the supply over time, without it it
    stands
    """
    made = Whole()
    add_supply(made, heater, main)
    for choke in heater.chokes:
        add_choke(made, heater, choke, tables[choke.side])
    supply = gate_supply(made, heater)
    for side, other in SIDES:
        add_bank(made, heater, side, own or figures(heater.switch))
        add_gate(made, heater, side, other, supply)
    add_bars_and_bank(made, heater)
    add_coil(made, heater)
    _start(made, heater)
    return made


def add_supply(made: Whole, heater: Heater, course: Voltage | None) -> None:
    """Source, leads, limit and reservoir."""
    circuit, supply, bus = made.circuit, heater.supply, made.node("bus")
    behavioural = supply.source is not None and supply.source.behavioural
    contact = 1e-4 if behavioural else 0.0
    lead = circuit.branch("lead", GROUND, bus, supply.resistance + contact, supply.inductance)
    circuit.drive(lead, course or (lambda _: supply.voltage))
    if behavioural:
        circuit.element([{lead: 1.0}], [{lead: 1.0}], [], one_way)
    limit = supply.limit
    if limit is not None:

        def drop(current: float, volts: float) -> Answer:
            share = volts / limit.knee_voltage - 1
            root = math.sqrt(share * share + 4e-4)
            allowed = limit.short_circuit + (limit.current - limit.short_circuit) * 0.5 * (share + 2 - root)
            soft, slope = softplus((current - allowed) / (0.01 * limit.current))
            slope *= 0.2 * supply.voltage / (0.01 * limit.current)
            bent = -0.5 * (limit.current - limit.short_circuit) * (1 - share / root) / limit.knee_voltage
            return (0.2 * supply.voltage * soft,), (slope, slope * bent), (), ()

        circuit.element([{lead: 1.0}, {bus: 1.0}], [{lead: 1.0}], [], drop)
    behind = made.node("reservoir")
    circuit.capacitor(bus, behind, supply.reservoir)
    circuit.resistor(behind, GROUND, supply.reservoir_resistance)
    made.show("supply.current", {lead: 1.0})
    made.show("bus.voltage", {bus: 1.0})


def one_way(current: float) -> Answer:
    """Voltage of a diode of 30 mV by its current; steep where it would flow back."""
    scale, least = 0.05 * 0.025865, 1e-9
    share = current / least
    if share > -0.5:
        return (scale * math.log1p(share),), (scale / (least + current),), (), ()
    slope = 2 * scale / least
    return (scale * math.log(0.5) + slope * (current + 0.5 * least),), (slope,), (), ()


def add_choke(made: Whole, heater: Heater, choke: Choke, table: ChokeTable) -> None:
    """From the bus to a drain, or to the tap: copper, core, its loss, winding capacitance, a shorted turn."""
    circuit, bus, side = made.circuit, made.node("bus"), choke.side
    end, inner = made.node("tap" if heater.tapped else f"d_{side}"), made.node(f"core_{side}")
    cells = heater.ladder(choke).cells
    current = circuit.branch(f"choke_{side}", bus, inner, choke.resistance + sum(cell.resistance for cell in cells))
    for k, cell in enumerate(cells):
        inside = circuit.unknown(f"copper_{side}_{k}")
        circuit.static(current, inside, -cell.resistance)
        circuit.static(inside, current, -cell.resistance)
        circuit.static(inside, inside, cell.resistance)
        circuit.dynamic(inside, inside, cell.inductance)
    circuit.capacitor(bus, end, choke.capacitance)
    circuit.resistor(inner, end, core_resistance(heater, choke))
    mean = mean_current(heater) / len(heater.chokes)
    if isinstance(choke.curve, HystereticCurve):
        _walls(made, choke.curve, side, inner, end, mean)
    else:
        law, flux = flux_law(choke, table), circuit.unknown(f"flux_{side}")
        circuit.dynamic(flux, flux, FLUX)
        circuit.static(flux, inner, -1.0)
        circuit.static(flux, end, 1.0)
        circuit.element([{flux: 1.0}], [across(inner, end)], [], core_law(law, FLUX))
        made.start[f"flux_{side}"] = flux_at(law, mean) / FLUX
    if choke.short is not None:
        circuit.branch(f"turn_{side}", inner, end, choke.short.resistance, choke.short.inductance)
    made.show(f"choke.{side}.current", {current: 1.0})
    made.start |= {f"choke_{side}": mean, f"core_{side}": heater.supply.voltage}
    made.start |= {f"copper_{side}_{k}": mean for k in range(len(cells))}


def _walls(made: Whole, curve: HystereticCurve, side: str, inner: int, end: int, mean: float) -> None:
    circuit, core = made.circuit, Walls(curve)
    x, m = circuit.unknown(f"field_{side}", 0.1), circuit.unknown(f"walls_{side}", 0.1)
    circuit.dynamic(x, x, 1.0)
    circuit.dynamic(m, m, 1.0)
    circuit.element([{x: 1.0}, {m: 1.0}], [across(inner, end)], [], core.current)
    circuit.element([{x: 1.0}, {m: 1.0}, across(inner, end)], [{x: 1.0}, {m: 1.0}], [], core.flow)
    made.start[f"field_{side}"] = core.field_at(mean)
    made.start[f"walls_{side}"] = 1 / math.tanh(made.start[f"field_{side}"]) - 1 / made.start[f"field_{side}"]


def reflected(heater: Heater) -> tuple[float, float, float]:
    """Coil's own inductance [H], and mutual inductance [H] and resistance [ohm] of a branch of 1 uH that stands for the workpiece.

    At the expected frequency the branch adds (w M)^2/(R2 + j w L2) to the coil's r + j w L1, and both together are r' + j w L'. L1
    is the empty coil's unless the added reactance is less negative than the resistance is positive: then L1 makes them alike.
    """
    w, coil, piece = 2 * math.pi * heater.frequency, heater.coil, heater.workpiece
    assert piece is not None
    resistance = piece.resistance - coil.resistance
    reactance = max(w * (coil.inductance - piece.inductance), resistance)
    lifted = piece.inductance + reactance / w
    square = w * 1e-6 * (resistance**2 + reactance**2) / reactance
    return lifted, math.sqrt(square) / w, square * resistance / (resistance**2 + reactance**2)


def add_coil(made: Whole, heater: Heater) -> None:
    """Coil with its leads, in halves where it is tapped, and workpiece."""
    circuit, coil = made.circuit, heater.coil
    left, right = made.node("t_left"), made.node("t_right")
    own, mutual, load = (coil.inductance, 0.0, 1.0) if heater.workpiece is None else reflected(heater)
    ohms, leads = coil.resistance + coil.lead_resistance, coil.lead_inductance
    if heater.tapped:
        tap, half = made.node("tap"), own / (2 * (1 + heater.half_coupling))
        ends = (("coil", left, tap), ("coil_right", tap, right))
        windings = [circuit.branch(name, a, b, ohms / 2, half + leads / 2) for name, a, b in ends]
        circuit.mutual(*windings, heater.half_coupling * half)
    else:
        windings = [circuit.branch("coil", left, right, ohms, own + leads)]
    if heater.workpiece is not None:
        work = circuit.branch("work", GROUND, GROUND, load, 1e-6)
        for each in windings:
            circuit.mutual(each, work, mutual / len(windings))
        made.show("workpiece.current", {work: 1.0})
    made.show("coil.current", {windings[0]: 1.0})
    made.show("tank.voltage", across(left, right))


def _start(made: Whole, heater: Heater) -> None:
    """The ideal stage where the coil's current passes nil: left drain at pi times the supply, right switch on."""
    volts, current, gate = heater.supply.voltage, mean_current(heater), heater.gate
    high, top = math.pi * volts, min(gate.clamp_voltage, volts if gate.from_main else gate.supply_voltage)
    made.start |= {"lead": current, "bus": volts, "down_right": current, "bank": current / 2}
    along = [name for name in made.circuit.names if name.startswith(("plate", "left_")) and "bar" not in name]
    made.start |= dict.fromkeys(("d_left", "drain_left", "channel_drain_left", "t_left", *along), high)
    made.start |= {name: current / 2 / heater.capacitors.count for name in made.circuit.names if name.startswith("bank_")}
    made.start |= {f"{name}_right": top for name in ("node", "gate", "chip", "zener", "fast", "input", "up", "sink")}
    if heater.tapped:
        made.start |= {
            "tap": high / 2,
            "core_centre": high / 2,
            "coil": -current / 2,
            "coil_right": current / 2,
            "bar_right": -current,
        }
    else:
        made.start |= {"bar_left": current / 2, "bar_right": -current / 2}
