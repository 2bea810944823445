# SPDX-License-Identifier: GPL-3.0-or-later
"""A heater with all its impedances another size, or all its times: the same circuit to a law of similarity."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from heatsim.parts.curves import LinearCurve
from heatsim.parts.heater import Heater
from heatsim.parts.mosfet_model import miller_voltage


def scaled(heater: Heater, impedance: float = 1.0, time: float = 1.0) -> Heater:
    """Resistances times k, inductances times k m, capacitances times m/k, currents over k, times times m; voltages as they are.

    impedance: k; time: m. What a heater takes from models with constants of their own stays: saturation currents of diodes.
    """
    factors = (impedance, impedance * time, time / impedance, 1 / impedance, time)

    def part(
        made: Any, ohms: str = "", henries: str = "", farads: str = "", amperes: str = "", seconds: str = "", **more: Any
    ) -> Any:
        """A part with the fields that are named multiplied, and others replaced. amperes: also siemens; farads: also coulombs."""
        named = zip((ohms, henries, farads, amperes, seconds), factors, strict=True)
        return replace(made, **{name: getattr(made, name) * factor for names, factor in named for name in names.split()}, **more)

    switch = part(
        heater.switch,
        ohms="on_resistance gate_resistance",
        henries="drain_inductance source_inductance",
        farads="input_capacitance output_capacitance reverse_capacitance gate_drain_charge",
        amperes="transconductance transconductance_current diode_current",
        seconds="recovery_time",
    )
    return part(
        heater,
        henries="bus_inductance",
        stray_corner=heater.stray_corner / time,
        switch=replace(switch, miller_voltage=miller_voltage(switch)),
        supply=part(heater.supply, "resistance reservoir_resistance", "inductance", "reservoir", seconds="rise_time"),
        chokes=tuple(part(each, "resistance", "", "capacitance", curve=_curve(each.curve, factors[1])) for each in heater.chokes),
        gate=part(
            heater.gate,
            "pull_up pull_down resistor",
            "inductance",
            "clamp_capacitance diode_capacitance",
            seconds="supply_delay supply_rise diode_recovery",
        ),
        capacitors=part(heater.capacitors, "resistance", "inductance", "unit"),
        coil=part(heater.coil, "resistance lead_resistance", "inductance lead_inductance"),
        workpiece=heater.workpiece and part(heater.workpiece, "resistance", "inductance"),
    )


def _curve(curve: object, factor: float) -> LinearCurve:
    """The straight curve of a choke with its inductances multiplied."""
    assert isinstance(curve, LinearCurve)
    return LinearCurve(curve.inductance_zero * factor, curve.inductance_air * factor)
