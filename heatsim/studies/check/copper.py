# SPDX-License-Identifier: GPL-3.0-or-later
"""Measures of conductors and of the coil's water: what the currents and losses of a run make of them.

What a conductor loses is part of what the ledger books for supply, leads or switches, told apart here and not added to it.
"""

from __future__ import annotations

from collections.abc import Mapping

from heatsim.measures.basics import rms
from heatsim.parts.conductor import Conductor, Joint, Warm
from heatsim.parts.heater import Heater
from heatsim.parts.section import Load
from heatsim.parts.thermal import CEILING
from heatsim.physics.spectrum import periodic_spectrum, without_drift
from heatsim.studies.check.heat import DESTROYED
from heatsim.studies.check.result import Measured
from heatsim.waves import Waveforms


def conductor_measures(heater: Heater, steady: Waveforms, period: Waveforms) -> dict[str, Measured]:
    """Resistance, loss and temperature of every conductor.

    steady: whole periods, for the rms current; period: one of them, for its harmonics
    """
    found: dict[str, Measured] = {}
    for each in heater.conductors:
        current = rms(steady.time, steady[each.signal])
        spectrum = periodic_spectrum(period.time, without_drift(period.time, period[each.signal]))
        warm = each.warm(Load.of(spectrum, current))
        found |= {f"conductor.{each.key}.{name}": value for name, value in _of(each, warm, current).items()}
    return found


def _of(each: Conductor | Joint, warm: Warm, current: float) -> dict[str, Measured]:
    """A joint without its bars has a loss and no temperature; what has no balance counts as destroyed."""
    known = isinstance(each, Conductor) or each.bars is not None
    low, high = warm.band
    return {
        "rms_current_a": current,
        "resistance_ohm": warm.resistance,
        "resistance_direct_ohm": warm.resistance_direct,
        "resistance_tank_ohm": warm.resistance_tank,
        "inductance_h": each.inductance,
        "loss_w": warm.loss,
        "temperature_c": (DESTROYED if warm.temperature is None else warm.temperature) if known else None,
        "temperature_low_c": (CEILING if low is None else low) if known else None,
        "temperature_high_c": (CEILING if high is None else high) if known else None,
        "area_m2": each.area if isinstance(each, Conductor) else None,
        "area_needed_m2": warm.area_needed,
        "chart_rise_k": warm.chart_rise,
    }


def water_measures(heater: Heater, measures: Mapping[str, Measured], caught: float | None = None) -> dict[str, Measured]:
    """The coil's water with the heat that the ledger books for coil and leads, and what the coil catches of the workpiece's.

    caught: that heat [W]; a share of the workpiece's power where it is not known
    """
    circuit = heater.water
    booked = [measures.get(key) for key in ("loss.coil_w", "loss.leads_w")]
    losses = [each for each in booked if isinstance(each, float)]
    if circuit is None or len(losses) < len(booked):
        return {}
    piece = measures.get("workpiece.power_w")
    share = circuit.workpiece_share * (piece if isinstance(piece, float) else 0.0)
    found = circuit.circulation(sum(losses) + (share if caught is None else caught))
    return {
        "coil.water_heat_w": found.heat,
        "coil.water_flow_m3_per_s": found.flow,
        "coil.water_flow_wanted_m3_per_s": found.flow_wanted,
        "coil.water_inlet_c": found.inlet,
        "coil.water_outlet_c": found.outlet,
        "coil.water_rise_k": found.outlet - found.inlet,
        "coil.wall_temperature_c": found.wall,
        "coil.boiling_temperature_c": found.boiling,
        "coil.boiling_margin_k": found.boiling - found.wall,
        "coil.pressure_drop_pa": found.drop,
        "coil.dry_time_s": found.dry,
    }
