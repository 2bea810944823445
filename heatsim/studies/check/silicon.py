# SPDX-License-Identifier: GPL-3.0-or-later
"""Measures of the switches' warmth: what they lose and to what, and the temperatures that come of it."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from heatsim.measures.gather import SIDES
from heatsim.measures.silicon import BankLoss, Silicon, avalanche_energy, bank_loss, signals
from heatsim.parts.heater import Heater
from heatsim.parts.silicon import BankPower, SiliconHeat, Way, overdrive_at
from heatsim.parts.sink import CEILING, ThermalPath
from heatsim.scenario.schema import ScenarioTables
from heatsim.studies.check.result import Measured
from heatsim.waves import Waveforms

PARTS = ("conduction", "overlap", "diode", "avalanche", "gate")
"""Losses that a bank's is split into."""

DESTROYED_JUNCTION = math.nextafter(CEILING, math.inf)
"""Temperature [°C] stated for a junction that has no balance below the ceiling: it keeps no limit up to there."""


def silicon_measures(
    heater: Heater, waves: Waveforms, window: tuple[float, float], measures: Mapping[str, Measured], tables: ScenarioTables
) -> dict[str, Measured]:
    """Losses of each device, and its temperatures where the scenario says how it is cooled.

    window: start and end of whole periods [s]; measures: of the run
    Losses are those of the bank in the ledger over the number of its devices; temperatures are the worst device's.
    """
    found: dict[str, Measured] = {}
    steady = waves.only(name for side in SIDES for name in signals(side) if name in waves).between(*window)
    for side in SIDES:
        loss = bank_loss(steady, side, _silicon(heater, side))
        found |= _losses(loss, heater.bank(side).count, f"switch.{side}")
        found[f"switch.{side}.avalanche_energy_j"] = avalanche_energy(waves, side, heater.switch.voltage_rating)
    return found | temperature_measures(heater, {**measures, **found}, tables.heater.run)


def temperature_measures(heater: Heater, measures: Mapping[str, Measured], run: float | None) -> dict[str, Measured]:
    """Temperatures that the losses among the measures lead to, for ever and after a run [s]; empty where it is not known how the
    switches are cooled, or what they lose.
    """
    powers = _powers(heater, measures)
    if heater.silicon is None or not powers:
        return {}
    return {key: value for side in SIDES for key, value in _temperatures(heater.silicon, powers, side, run).items()}


def silicon_heat(heater: Heater, measures: Mapping[str, Measured]) -> dict[str, SiliconHeat]:
    """Balance and warm-up of the worst device of each side's bank; empty where it is not known how they are cooled, or what they
    lose.

    measures: of a run
    """
    powers = _powers(heater, measures)
    if heater.silicon is None or not powers:
        return {}
    return {side: Way.best(heater.silicon).heat(powers, side) for side in SIDES}


def _powers(heater: Heater, measures: Mapping[str, Measured]) -> dict[str, BankPower]:
    """What each side's bank loses, empty where that is not known of both."""
    powers = {side: power for side in SIDES if (power := _power(heater, side, measures)) is not None}
    return powers if len(powers) == len(SIDES) else {}


def _silicon(heater: Heater, side: str) -> Silicon:
    bank = heater.bank(side)
    inner = None if bank.user_model else bank.gate_resistance / bank.count
    return Silicon(bank.threshold, bank.voltage_rating, bank.diode_drop, inner)


def _losses(loss: BankLoss | None, count: int, part: str) -> dict[str, Measured]:
    found: dict[str, Measured] = {f"{part}.loss_w": None if loss is None else loss.total / count}
    return found | {f"{part}.{name}_loss_w": None if loss is None else getattr(loss, name) / count for name in PARTS}


def _power(heater: Heater, side: str, measures: Mapping[str, Measured]) -> BankPower | None:
    """What a bank loses; its channels change over at no more than their peak current, and the less it is the less they share."""
    bank, part = heater.bank(side), f"switch.{side}"
    values = [measures.get(f"{part}.{name}") for name in (*(f"{each}_loss_w" for each in PARTS), "peak_current_a")]
    known = [each for each in values if isinstance(each, float)]
    if len(known) < len(values):
        return None
    conduction, overlap, diode, avalanche, gate = (each * bank.count for each in known[:-1])
    overdrive = overdrive_at(known[-1], bank.transconductance, bank.transconductance_current)
    return BankPower(bank.count, conduction, overlap, avalanche, diode + gate, overdrive)


def _temperatures(path: ThermalPath, powers: Mapping[str, BankPower], side: str, run: float | None) -> dict[str, Measured]:
    """Temperatures of the worst device of a bank; see `heatsim.parts.silicon`."""
    best, part = Way.best(path), f"switch.{side}"
    heat = best.heat(powers, side)
    ends = [_stated(each.heat(powers, side)) for each in Way.ends(path)]
    found: dict[str, Measured] = {
        "junction_temperature_c": _stated(heat),
        "junction_temperature_low_c": min(ends),
        "junction_temperature_high_c": max(ends),
        "case_temperature_c": heat.case,
        "sink_temperature_c": heat.sink,
        "worst_device_loss_w": heat.loss,
        "on_resistance_ratio": heat.ratio,
        "heat_state": "runaway" if heat.junction is None else "balanced",
        "time_to_limit_s": heat.time_to(path.junction_limit),
    }
    if run is not None:
        found |= _after(path, powers[side], heat, run)
    return {f"{part}.{name}": value for name, value in found.items()}


def judged_junction(measures: Mapping[str, Measured], side: str) -> Measured:
    """Junction temperature [°C] at which a bank is judged: after its run, or what it comes to where the scenario states none."""
    part = f"switch.{side}"
    return measures.get(f"{part}.run_junction_temperature_c", measures.get(f"{part}.junction_temperature_c"))


def _stated(heat: SiliconHeat) -> float:
    return DESTROYED_JUNCTION if heat.junction is None else heat.junction


def _after(path: ThermalPath, power: BankPower, heat: SiliconHeat, run: float) -> dict[str, Measured]:
    """What they are after a run from cold, with the on-resistance then; None where the sink's heat capacity is not known."""
    if heat.warming is None:
        lost = heat.junction is None and heat.junctions is None
        return {"run_junction_temperature_c": DESTROYED_JUNCTION if lost else None, "run_sink_temperature_c": None}
    sink = heat.warming.temperature(run)
    at = Way.best(path, run).devices(power, np.array([sink]))
    junction, ratio = float(at.junction[0]), float(at.ratio[0])
    if sink >= heat.warming.ceiling or not math.isfinite(junction):
        return {"run_junction_temperature_c": DESTROYED_JUNCTION, "run_sink_temperature_c": sink, "on_resistance_ratio": None}
    return {"run_junction_temperature_c": junction, "run_sink_temperature_c": sink, "on_resistance_ratio": ratio}
