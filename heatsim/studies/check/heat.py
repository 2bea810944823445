# SPDX-License-Identifier: GPL-3.0-or-later
"""Measures of a choke's warmth: losses, the temperature it comes to, how it warms up, how long it may run."""

from __future__ import annotations

import math
from collections.abc import Mapping

from heatsim.parts.choke import Choke
from heatsim.parts.heater import Heater
from heatsim.parts.thermal import CEILING, ChokeHeat, Cooling, choke_heat
from heatsim.parts.warmup import Warming, binder_life
from heatsim.physics.spectrum import without_drift
from heatsim.scenario.schema import ScenarioTables
from heatsim.studies.check.result import Measured
from heatsim.waves import Waveforms

WARM_UP_TIMES = tuple(5.0 * 2.0 ** (k / 2) for k in range(24))
"""Times from cold [s] of the warm-up curve: 5 s to 4 h."""

DESTROYED = math.nextafter(CEILING, math.inf)
"""Temperature [°C] stated for a choke that has no balance below the ceiling: it keeps no limit up to there."""


def heat_of_period(choke: Choke, heater: Heater, period: Waveforms, measures: Mapping[str, Measured]) -> ChokeHeat:
    """Losses and temperature of a choke from its flux and current of one period.

    measures: of the run, with its energy balance, whose copper loss is the one that counts
    """
    part = f"choke.{choke.side}"
    cooling = Cooling(ambient_c=heater.ambient, air_speed=heater.air_speed)
    flux, current = (without_drift(period.time, period[f"{part}.{name}"]) for name in ("flux", "current"))
    booked = measures.get(f"loss.{part}.copper_w")
    copper = booked if isinstance(booked, float) else None
    return choke_heat(choke, period.time, flux, current, cooling, heater.ladder(choke), copper)


def heat_measures(
    choke: Choke, heater: Heater, period: Waveforms, measures: Mapping[str, Measured], tables: ScenarioTables
) -> dict[str, Measured]:
    """What a choke's flux and current of one period lead to.

    measures: of the run, with its energy balance, whose copper loss is the one that counts
    A settled state has next to no drift over a period, which is taken out; one that still moves shows its loss of the moment.
    """
    part, heat = f"choke.{choke.side}", heat_of_period(choke, heater, period, measures)
    found: dict[str, Measured] = {
        "copper_loss_w": heat.copper_w,
        "copper_dc_loss_w": heat.copper_dc_w,
        "copper_ac_loss_w": heat.copper_ac_w,
        "copper_hot_loss_w": heat.hot_copper_w,
        "core_loss_w": heat.core_w,
        "temperature_c": DESTROYED if heat.state == "destroyed" else heat.temperature_c,
        "temperature_low_c": heat.band_c[0],
        "temperature_high_c": heat.band_c[1],
        "heat_state": heat.state,
        "heat_cause": heat.dominant,
        "current_density_a_per_m2": None,
        "flux_density_swing_t": heat.swing_t,
    }
    found |= _warm_up(heat.warming, tables)
    return {f"{part}.{name}": value for name, value in (found | _ageing(choke, found)).items()}


def _warm_up(warming: Warming | None, tables: ScenarioTables) -> dict[str, Measured]:
    """The warm-up curve, times to the limit and to destruction, the longest run from cold that holds with the wanted
    headroom, and a run with the rest it needs before the next: the scenario's own, or half of the longest.
    """
    names = ("warm_up_c", "run_temperature_c", "time_to_limit_s", "time_to_destruction_s", "longest_run_s", "run_s", "rest_s")
    found: dict[str, Measured] = dict.fromkeys(names)
    if warming is None:
        return found
    limit, run = tables.limits.choke_temperature, tables.heater.run
    holds = limit * (1 - tables.heater.wanted_headroom)
    longest = warming.time_to(holds)
    found["warm_up_c"] = warming.temperatures(WARM_UP_TIMES)
    found["time_to_limit_s"], found["time_to_destruction_s"] = warming.time_to(limit), warming.time_to(CEILING)
    found["longest_run_s"] = longest
    if run is not None:
        reached = warming.temperature(run)
        found["run_temperature_c"] = DESTROYED if reached >= CEILING else reached
    pattern = None if longest is None else warming.pattern(longest / 2 if run is None else run, holds)
    if pattern is not None:
        found["run_s"], found["rest_s"] = pattern.run, pattern.rest
    return found


def judged_temperature(measures: Mapping[str, Measured], part: str = "") -> Measured:
    """Temperature [°C] at which a choke is judged: after its run, or what it comes to where the scenario states none.

    part: head of the measures' keys, such as "choke.left."
    """
    after = measures.get(f"{part}run_temperature_c")
    return measures.get(f"{part}temperature_c") if after is None else after


def _ageing(choke: Choke, found: Mapping[str, Measured]) -> dict[str, Measured]:
    """Time for which a powder core's binder lasts at the temperature the choke comes to; None for a core without one."""
    limit = choke.core.material.ageing_limit_c if choke.core else None
    warmest = judged_temperature(found)
    return {"binder_life_s": None if limit is None or not isinstance(warmest, float) else binder_life(warmest, limit)}
