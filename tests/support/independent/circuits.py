# SPDX-License-Identifier: GPL-3.0-or-later
"""Heaters that are computed by hand, and one that comes close to the ideal stage."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from heatsim.parts.choke import Choke
from heatsim.parts.curves import LinearCurve
from heatsim.parts.heater import Heater
from heatsim.parts.mosfet_model import miller_voltage
from heatsim.scenario.scenario import Scenario
from tests.support.independent.drawn import Drawn

FOLDER = Path(__file__).resolve().parents[3] / "scenarios"


def bench(case: str = "loaded", file: str = "bench-heater", **changes: object) -> Heater:
    """A demo heater with some fields changed."""
    named = {name.replace("__", "."): value for name, value in changes.items()}
    return Scenario.from_file(FOLDER / f"{file}.toml").change(named).heater(case)


def measured(**fields: str) -> dict[str, str]:
    """Both chokes known from the bench only."""
    return {"inductance": "60 uH", "resistance": "8 mohm", **fields}


CIRCUITS = {
    drawn.name: drawn
    for drawn in (
        Drawn("soft", {}),
        Drawn("small rings", {}, "bench-heater-small-rings"),
        Drawn("one choke", {"heater.topology": "one-choke"}),
    )
}
"""Those computed by hand and by ngspice."""


def near_ideal(topology: str, inductance: float, resistance: float, voltage: float = 150.0) -> Heater:
    """A heater close to the ideal stage: linear chokes of `inductance` [H], the coil's series `resistance` [ohm] the only
    loss of note, switches that open and close within a few volts of zero at a drain peak of hundreds."""
    h = bench("idle", heater__topology=topology)
    switch = replace(
        h.switch,
        count=1,
        on_resistance=5e-3,
        threshold=2.0,
        transconductance=100.0,
        transconductance_current=50.0,
        input_capacitance=600e-12,
        output_capacitance=100e-12,
        reverse_capacitance=10e-12,
        gate_drain_charge=3e-9,
        gate_drain_charge_voltage=100.0,
        gate_resistance=0.1,
        voltage_rating=2000.0,
        threshold_spread=0.02,
        drain_inductance=1e-9,
        recovery_time=1e-9,
    )
    switch = replace(switch, miller_voltage=miller_voltage(switch))
    gate = replace(
        h.gate,
        supply_voltage=6.0,
        pull_up=47.0,
        pull_down=1e5,
        clamp_voltage=12.0,
        clamp_capacitance=20e-12,
        resistor=3.0,
        inductance=1e-10,
        diode_drop=0.5,
        diode_capacitance=10e-12,
        diode_recovery=1e-9,
        diode_rating=2000.0,
    )
    supply = replace(
        h.supply, voltage=voltage, resistance=1e-3, inductance=2e-8, reservoir=100e-6, reservoir_resistance=2e-2, rise_time=3e-4
    )
    chokes = tuple(
        Choke(choke.side, LinearCurve(inductance, inductance / 60), 1e-4, 1e-12, 25.0, None, None, "unknown") for choke in h.chokes
    )
    return replace(
        h,
        supply=supply,
        chokes=chokes,
        switch=switch,
        gate=gate,
        bus_inductance=4e-9,
        capacitors=replace(h.capacitors, unit=2e-6, count=1, resistance=1e-5, inductance=1e-9),
        coil=replace(h.coil, inductance=2e-6, resistance=resistance, lead_inductance=1e-10, lead_resistance=1e-5),
    )
