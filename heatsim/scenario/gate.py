# SPDX-License-Identifier: GPL-3.0-or-later
"""The gate network from its table, with the checks that need more than one field. No physics."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.parts.gate import GateDrive, GateRatings, IntegratedDriver, TotemPole
from heatsim.scenario.problems import Fault
from heatsim.scenario.schema import DriverTable, GateTable, ScenarioTables

INPUT_LOW, INPUT_HIGH, DELAY, GAIN = 1.0, 2.0, 30e-9, 100.0
"""Thresholds [V] and delay [s] of an integrated driver and current gain [1] of a totem pole that are not given. Estimates, from
memory: logic inputs switch between 0.8 and 2.4 V, delays are 10 to 60 ns, gains 50 to 250."""

DIODE_RATING = 600.0
"""Reverse voltage [V] at which a coupling diode breaks down whose rating is not given; an assumption."""

OF_ONE_KIND = {"totem-pole": ("current_gain",), "integrated": ("input_low", "input_high", "delay")}
"""Fields of a driver that only this kind has."""


def gate_faults(tables: ScenarioTables, threshold: float) -> Iterator[Fault]:
    """What contradicts itself: (whether it does, path of the field, what is wrong, given, allowed).

    threshold: of the switches, which the gates must pass [V]
    """
    yield from _supply_faults(tables.gate)
    yield from _driver_faults(tables.gate)
    yield from _level_faults(tables, threshold)


def build_gate(gate: GateTable) -> GateDrive:
    """The gate network of a bank from a table without faults."""
    driver, main = used_driver(gate), gate.supply == "main"
    return GateDrive(
        supply_voltage=0.0 if main else gate.supply_voltage or 0.0,
        supply_delay=0.0 if main else gate.supply_delay,
        supply_rise=0.0 if main else gate.supply_rise,
        pull_up=gate.pull_up,
        pull_down=gate.pull_down,
        clamp_voltage=gate.clamp_voltage,
        clamp_capacitance=gate.clamp_capacitance,
        resistor=gate.resistor,
        inductance=gate.inductance,
        diode_drop=gate.diode_drop,
        diode_capacitance=gate.diode_capacitance,
        diode_recovery=gate.diode_recovery,
        diode_rating=gate.diode_rating or DIODE_RATING,
        from_main=main,
        driver=_driver(driver) if driver else None,
        ratings=GateRatings(
            gate.pull_up_rating,
            gate.clamp_rating,
            gate.pull_down_rating,
            gate.resistor_rating,
            gate.diode_loss_rating,
            driver.loss_rating if driver else None,
            gate.diode_rating,
            driver.voltage_rating if driver else None,
        ),
    )


def used_driver(gate: GateTable) -> DriverTable | None:
    """The driver, None where the gates are pulled up without one."""
    return gate.driver if gate.drive == "push-pull" else None


def _thresholds(driver: DriverTable) -> tuple[float, float]:
    return driver.input_low or INPUT_LOW, driver.input_high or INPUT_HIGH


def _driver(table: DriverTable) -> TotemPole | IntegratedDriver:
    output = table.source_resistance, table.sink_resistance, table.source_current, table.sink_current, table.input_capacitance
    if table.kind == "totem-pole":
        return TotemPole(*output, table.current_gain or GAIN)
    return IntegratedDriver(*output, *_thresholds(table), table.delay or DELAY)


def _supply_faults(gate: GateTable) -> Iterator[Fault]:
    """A regulated supply needs a voltage."""
    allowed = 'a voltage, or supply = "main" for gates that hang on the main supply'
    yield gate.supply == "regulated" and gate.supply_voltage is None, ("gate", "supply_voltage"), "is missing", "", allowed


def _driver_faults(gate: GateTable) -> Iterator[Fault]:
    """drive = push-pull needs [gate.driver]; each kind of driver has fields of its own."""
    driver = gate.driver
    if driver is None:
        fault, allowed = "is missing for gate.drive = push-pull", "a table [gate.driver] with its kind, resistances and currents"
        yield gate.drive == "push-pull", ("gate", "driver"), fault, "", allowed
        return
    for kind, fields in OF_ONE_KIND.items():
        for field in fields if kind != driver.kind else ():
            given = getattr(driver, field) is not None
            yield given, ("gate", "driver", field), f"does not go with kind = {driver.kind}", "", f"kind = {kind}"
    low, high = _thresholds(driver)
    above = f"above input_low, {low:g} V"
    yield high <= low, ("gate", "driver", "input_high"), "must be above input_low", f"{high:g} V", above


def _level_faults(tables: ScenarioTables, threshold: float) -> Iterator[Fault]:
    """The gates must be able to come on."""
    gate = tables.gate
    late, above = "must be above the switch threshold", f"above {threshold:g} V"
    main = gate.supply == "main"
    supply = tables.supply.voltage if main else gate.supply_voltage
    field = ("supply", "voltage") if main else ("gate", "supply_voltage")
    yield supply is not None and supply <= threshold, field, late, "", above
    yield gate.clamp_voltage <= threshold, ("gate", "clamp_voltage"), late, "", above
    driver = used_driver(gate)
    if driver is None:
        never, pull_up = "must be larger than pull_up, or the gate never rises", f"above {gate.pull_up:g} ohm"
        yield gate.pull_down <= gate.pull_up, ("gate", "pull_down"), never, "", pull_up
    elif driver.kind == "integrated" and supply is not None:
        high, fault = _thresholds(driver)[1], "must be above the driver's input_high, or its output never rises"
        yield supply <= high, field, fault, "", f"above {high:g} V"
