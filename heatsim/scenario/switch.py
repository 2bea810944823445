# SPDX-License-Identifier: GPL-3.0-or-later
"""The switch of a scenario: its own figures, over those of a device of the catalogue, over those read from the user's own model
file, and what is missing estimated."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from heatsim.errors import InputError
from heatsim.parts.catalogue import Catalogue
from heatsim.parts.device import Device
from heatsim.parts.mosfet_estimates import (
    RULES,
    USUAL,
    USUAL_THRESHOLD,
    Figures,
    completed,
    draft,
    missing,
    on_resistance,
    with_usual,
)
from heatsim.parts.mosfet_model import miller_voltage, on_state_resistance
from heatsim.parts.switch import DatasheetCurves, Origin, Switch
from heatsim.scenario.figures import curves_of, figures_of
from heatsim.scenario.models import UserModel, read_user_model
from heatsim.scenario.problems import Fault, missing_field, refuse
from heatsim.scenario.schema import ScenarioTables, SwitchTable
from heatsim.scenario.source import Where

BESIDE_MODEL = ("on_gate_voltage", "gate_rating", "diode_drop")
"""Figures that limits need beside a user's own model and that have a usual value."""

SHARING = ("transconductance_current", "transconductance")
"""Figures by which devices of unlike thresholds share their current; beside a user's own model no wave rests on them."""


def refuse_missing(tables: ScenarioTables, where: Where) -> None:
    """InputError for every figure without which the switch cannot be built, where neither device nor model file may have it."""
    table = tables.switch
    if table.device is None and table.model_file is None:
        _refuse_missing(figures_of(table), False, where)


def build_switch(table: SwitchTable, known: Catalogue, folder: Path, where: Where) -> Switch:
    """The switch with every figure, and where those come from that the scenario does not give.

    folder: where relative file names start; where: turns the path of a field into its place
    Raises InputError for what is missing or contradicts, a device that the catalogue does not have, a faulty model file.
    """
    refuse(where, [((table.model_file is None) != (table.model is None), ("switch", "model"), *_TOGETHER)])
    own, user = figures_of(table), UserModel()
    device = known.device(table.device, where("switch", "device")) if table.device else None
    if table.model_file is not None and table.model is not None:
        user = read_user_model(folder / table.model_file, table.model, where("switch", "model_file"))
    read, origins = _read(own, device, user)
    _refuse_missing(read, bool(user.text), where)
    found, more = _beside_model(read) if user.text else completed(read)
    switch = replace(
        draft(found),
        count=table.count,
        current_rating=found.get("current_rating"),
        threshold_spread=table.threshold_spread,
        pulse_current=table.pulse_current,
        i2t=table.i2t,
        drain_inductance=table.drain_inductance,
        source_inductance=table.source_inductance,
        user_model=user.text,
        user_name=user.name,
        user_subcircuit=user.subcircuit,
        device=device.name if device else "",
        origins=(*origins, *more),
        curves=_curves(table, device, read),
    )
    refuse(where, _faults(switch, own, device, where))
    return switch if "miller_voltage" in found or user.text else replace(switch, miller_voltage=miller_voltage(switch))


_TOGETHER = ("goes together with model_file", "", "both or neither")


def _read(own: Figures, device: Device | None, user: UserModel) -> tuple[dict[str, float], list[Origin]]:
    """Figures that stand somewhere, the scenario's own first, and where the others stand."""
    found, origins = dict(own), list[Origin]()
    if device is not None:
        words = f"device {device.name} of the catalogue"
        taken = {name: value for name, value in device.figures.items() if name not in found}
        found |= taken
        origins += [Origin(name, device.provenance, words) for name in taken]
    if "vto" in user.parameters and "threshold" not in found:
        found["threshold"] = user.parameters["vto"]
        origins.append(Origin("threshold", "model file", "vto of its transistor model, the square law's own threshold"))
    if {"kp", "vto"} <= user.parameters.keys() and not user.subcircuit and "on_resistance" not in found:
        gate = found.get("on_gate_voltage", USUAL["on_gate_voltage"][0])
        found["on_resistance"] = on_state_resistance(user.parameters, gate)
        origins.append(Origin("on_resistance", "model file", "its parameters at that gate voltage"))
    return found, origins


def _beside_model(known: Figures) -> tuple[dict[str, float], tuple[Origin, ...]]:
    """The figures that limits and measures need beside a user's own model; the others are its own."""
    found, origins = with_usual(known, BESIDE_MODEL)
    if "threshold" not in found:
        found["threshold"], band, words = USUAL_THRESHOLD
        origins.append(Origin("threshold", "estimate", words, band))
    if "on_resistance" not in found and (estimate := on_resistance(found)) is not None:
        found["on_resistance"], band, words = estimate
        origins.append(Origin("on_resistance", "estimate", words, band))
    for name, rule in (each for each in RULES if each[0] in SHARING and each[0] not in found):
        if (estimate := rule(found)) is not None:
            found[name], band, words = estimate
            origins.append(Origin(name, "assumed", f"{words}; for how devices share their current, the model has its own", band))
    return found, tuple(origins)


def _curves(table: SwitchTable, device: Device | None, read: Figures) -> DatasheetCurves:
    """The scenario's own points, else the device's."""
    points = curves_of(table.curves) if table.curves or device is None else device.curves
    return replace(points, plateau_voltage=read.get("plateau_voltage", 0.0), gate_charge=read.get("gate_charge", 0.0))


def _refuse_missing(known: Figures, own_model: bool, where: Where) -> None:
    if lost := missing(known, own_model):
        raise InputError(*(missing_field(ScenarioTables, ("switch", name), where) for name in lost))


def _faults(switch: Switch, own: Figures, device: Device | None, where: Where) -> Iterator[Fault]:
    """What contradicts within the switch, as `refuse` takes it; of a device's own figure at the field that names the device."""
    on, threshold, least = switch.on_gate_voltage, switch.threshold, min(switch.output_capacitance, switch.input_capacitance)
    small, below = "must be smaller than output_capacitance and input_capacitance", f"below {1e12 * least:.4g} pF"
    plateau, between = switch.curves.plateau_voltage, "must lie between threshold and on_gate_voltage"
    above, beside = switch.gate_drain_charge_voltage > switch.voltage_rating, not switch.user_model
    outside = bool(plateau) and not threshold < plateau < on
    for wrong, field, what, allowed in (
        (beside and switch.reverse_capacitance >= least, "reverse_capacitance", small, below),
        (threshold >= on, "threshold", "must be below on_gate_voltage", f"below {on:g} V"),
        (above, "gate_drain_charge_voltage", "must not be above voltage_rating", f"up to {switch.voltage_rating:g} V"),
        (outside, "plateau_voltage", between, f"{threshold:g} V to {on:g} V"),
    ):
        of_device = device is not None and field in device.figures and field not in own
        yield wrong, ("switch", "device" if of_device else field), f"its {field} {what}" if of_device else what, "", allowed
    rows = switch.curves.capacitance
    of_device = device is not None and rows == device.curves.capacitance
    for number, (volts, *row) in enumerate(rows):
        what, given, allowed = f"{small}, at {volts:g} V", f"{1e12 * row[2]:.4g} pF", f"below {1e12 * min(row[:2]):.4g} pF"
        path = ("switch", "device") if of_device else ("switch", "curves", "capacitance", str(number))
        yield row[2] >= min(row[:2]), path, f"its reverse_capacitance {what}" if of_device else what, given, allowed
