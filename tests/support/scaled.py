# SPDX-License-Identifier: GPL-3.0-or-later
"""A heater with all its impedances another size, or all its times: the same circuit to a law of similarity."""

from __future__ import annotations

from dataclasses import replace

from heatsim.parts.curves import LinearCurve
from heatsim.parts.heater import Heater
from heatsim.parts.mosfet_model import miller_voltage


def scaled(heater: Heater, impedance: float = 1.0, time: float = 1.0) -> Heater:
    """Resistances times k, inductances times k m, capacitances times m/k, currents over k, times times m; voltages as they are.

    impedance: k; time: m. What a heater takes from models with constants of their own stays: saturation currents of diodes.
    """
    k, ln, cap = impedance, impedance * time, time / impedance
    s, w, g, bank, coil = heater.supply, heater.switch, heater.gate, heater.capacitors, heater.coil
    switch = replace(
        w,
        on_resistance=w.on_resistance * k,
        transconductance=w.transconductance / k,
        transconductance_current=w.transconductance_current / k,
        input_capacitance=w.input_capacitance * cap,
        output_capacitance=w.output_capacitance * cap,
        reverse_capacitance=w.reverse_capacitance * cap,
        gate_drain_charge=w.gate_drain_charge * cap,
        gate_resistance=w.gate_resistance * k,
        diode_current=w.diode_current / k,
        recovery_time=w.recovery_time * time,
        drain_inductance=w.drain_inductance * ln,
        source_inductance=w.source_inductance * ln,
    )
    gate = replace(
        g,
        supply_delay=g.supply_delay * time,
        supply_rise=g.supply_rise * time,
        pull_up=g.pull_up * k,
        pull_down=g.pull_down * k,
        clamp_capacitance=g.clamp_capacitance * cap,
        resistor=g.resistor * k,
        inductance=g.inductance * ln,
        diode_capacitance=g.diode_capacitance * cap,
        diode_recovery=g.diode_recovery * time,
    )
    supply = replace(
        s,
        rise_time=s.rise_time * time,
        resistance=s.resistance * k,
        inductance=s.inductance * ln,
        reservoir=s.reservoir * cap,
        reservoir_resistance=s.reservoir_resistance * k,
    )
    chokes = []
    for choke in heater.chokes:
        assert isinstance(choke.curve, LinearCurve)
        curve = LinearCurve(choke.curve.inductance_zero * ln, choke.curve.inductance_air * ln)
        chokes.append(replace(choke, curve=curve, resistance=choke.resistance * k, capacitance=choke.capacitance * cap))
    piece = heater.workpiece
    return replace(
        heater,
        supply=supply,
        chokes=tuple(chokes),
        switch=replace(switch, miller_voltage=miller_voltage(switch)),
        gate=gate,
        capacitors=replace(bank, unit=bank.unit * cap, resistance=bank.resistance * k, inductance=bank.inductance * ln),
        coil=replace(
            coil,
            inductance=coil.inductance * ln,
            resistance=coil.resistance * k,
            lead_inductance=coil.lead_inductance * ln,
            lead_resistance=coil.lead_resistance * k,
        ),
        workpiece=piece and replace(piece, inductance=piece.inductance * ln, resistance=piece.resistance * k),
        bus_inductance=heater.bus_inductance * ln,
        stray_corner=heater.stray_corner / time,
    )
