# SPDX-License-Identifier: GPL-3.0-or-later
"""What a changed heater would measure, scaled from a simulated case by the ideal stage: good for ordering candidates only.

Voltages go with the supply, the bank's current with voltage, frequency and capacitance, currents with the ideal supply
current, distortion with 1/Q; a choke's peak, losses and temperature are worked out on its own curve (`heatsim.parts.duty`,
`heatsim.parts.thermal`) and corrected by what the same working-out misses of the simulated case. Conduction losses go with the
square of a device's current, losses of changing over with voltage and current. What is not named here stays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from heatsim.parts.choke import Choke
from heatsim.parts.duty import Duty, choke_period
from heatsim.parts.heater import Heater
from heatsim.parts.thermal import CEILING, Cooling, choke_heat
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import DESTROYED, CaseResult, case_limits, most_loaded, peak_key, temperature_measures
from heatsim.verdict import Finding, judge

Measures = dict[str, Any]


@dataclass(frozen=True)
class Working:
    """A choke at work: peak and rms current, ripple peak to peak [A]; temperature [°C], None without a balance."""

    peak: float
    rms: float
    ripple: float
    temperature: float | None


def predicted(known: CaseResult, scenario: Scenario, margin: float) -> tuple[Finding, ...]:
    """Findings that the case would have in a changed scenario, were its measures as predicted.

    known: the case simulated in another scenario
    margin: headroom asked for beyond the scenario's own [1]
    Raises InputError for a scenario that cannot be built.
    """
    heater = scenario.heater(known.name)
    chosen = scenario.case(known.name)
    measures = predicted_measures(known, heater, chosen.tables.heater.run)
    return judge(measures, case_limits(chosen, heater, measures), chosen.tables.heater.wanted_headroom + margin)


def predicted_measures(known: CaseResult, heater: Heater, run: float | None = None) -> Measures:
    """The measures of a case with its heater changed; run: from cold [s]."""
    was, found = known.heater, dict(known.measures)
    volts = heater.supply.voltage / was.supply.voltage
    bank = heater.capacitors.capacitance / was.capacitors.capacitance * heater.frequency / was.frequency
    current = heater.supply_current / was.supply_current
    factors = {
        "tank.peak_voltage_v": volts,
        "capacitor.peak_voltage_v": volts,
        "capacitor.rms_current_a": volts * bank,
        "supply.mean_current_a": current,
        "supply.power_w": volts * current,
        "tank.thd_ratio": was.quality / heater.quality,
    }
    for side in ("left", "right"):
        factors[f"drain.{side}.peak_voltage_v"] = factors[f"switch.{side}.turn_on_voltage_v"] = volts
    _scale(found, factors)
    _start(found, known.measures, was, heater, volts)
    _bank(found, was, heater, volts, volts * bank)
    swings = _chokes(known.measures, was, heater, current, found)
    shared = swings * was.switch.count / heater.switch.count
    for side in ("left", "right"):
        part = f"switch.{side}"
        apart = was.bank(side).count / heater.bank(side).count
        _scale(found, {f"{part}.peak_current_a": shared, f"{part}.conduction_loss_w": shared**2})
        _scale(found, {f"{part}.overlap_loss_w": volts * swings * apart, f"{part}.avalanche_loss_w": apart})
    return found | temperature_measures(heater, found, run) | _conductors(known, heater, {"tank": volts * bank}, current)


def _start(found: Measures, before: Mapping[str, Any], was: Heater, heater: Heater, volts: float) -> None:
    """Put in what the drains would reach at switch-on: what is beyond the steady state goes down with a slower rise."""
    slower = min(was.supply.rise_time / heater.supply.rise_time, 1.0)
    for side in ("left", "right"):
        peak, steady = before.get(peak_key(side)), before.get(f"drain.{side}.peak_voltage_v")
        if isinstance(peak, float) and isinstance(steady, float):
            found[peak_key(side)] = volts * (steady + max(peak - steady, 0.0) * slower)


def _conductors(known: CaseResult, heater: Heater, factors: Mapping[str, float], current: float) -> Measures:
    """Temperatures of the conductors and of the coil's water, their rises going with the square of the current."""
    found: Measures = {}
    for each in heater.conductors:
        found |= _warmed(known, f"conductor.{each.key}.temperature_c", heater.ambient, factors.get(each.carries, current))
    for key in ("coil.water_outlet_c", "coil.wall_temperature_c"):
        inlet = heater.water.inlet if heater.water else None
        found |= _warmed(known, key, heater.ambient if inlet is None else inlet, factors["tank"])
    return found


def _warmed(known: CaseResult, key: str, start: float, factor: float) -> Measures:
    """A temperature that rises from `start` [°C] with the square of a current; one without a balance stays."""
    warm = known.measures.get(key)
    return {key: start + (warm - start) * factor**2} if isinstance(warm, float) and warm < CEILING else {}


def _bank(found: Measures, was: Heater, heater: Heater, volts: float, current: float) -> None:
    """Put in what the most loaded capacitor along two bars would bear; volts, current: factors on the bank's."""
    before, after, most = was.capacitors.rails, heater.capacitors.rails, most_loaded(found)
    if before is None or after is None or before.coil not in most:
        return
    uneven = most[after.coil] / most[before.coil]
    each = current * uneven * was.capacitors.count / heater.capacitors.count
    _scale(found, dict.fromkeys(("capacitor.worst_rms_current_a", "capacitor.near_resonance_current_a"), each))
    _scale(found, {"capacitor.worst_peak_voltage_v": volts * uneven})
    warm = found.get("capacitor.worst_temperature_c")
    if isinstance(warm, float):
        found["capacitor.worst_temperature_c"] = heater.ambient + (warm - was.ambient) * each**2


def _scale(measures: Measures, factors: Mapping[str, float]) -> None:
    for key, factor in factors.items():
        if isinstance(measures.get(key), float):
            measures[key] *= factor


def _chokes(before: Mapping[str, Any], was: Heater, heater: Heater, current: float, found: Measures) -> float:
    """Put in what the chokes would measure; returns the factor on the peak current through a side."""
    old_peaks = new_peaks = 0.0
    seen: list[tuple[Choke, Choke, float, tuple[Working, Working]]] = []
    for old, new in zip(was.chokes, heater.chokes, strict=True):
        part = f"choke.{new.side}"
        mean = before.get(f"{part}.mean_current_a")
        if not isinstance(mean, float):
            continue
        alike = (each for each in seen if _same(each[0], old) and _same(each[1], new) and abs(each[2] - mean) < 0.02 * abs(mean))
        pair = next((each[3] for each in alike), None) or (_working(old, was, mean), _working(new, heater, mean * current))
        seen.append((old, new, mean, pair))
        peak = float(before[f"{part}.peak_current_a"] or 0.0) * pair[1].peak / pair[0].peak
        old_peaks, new_peaks = old_peaks + abs(mean) + pair[0].ripple / 2, new_peaks + abs(mean) * current + pair[1].ripple / 2
        found |= _choke_measures(part, before, was, heater, new, pair, peak, mean * current)
    return new_peaks / old_peaks if old_peaks else 1.0


def _same(one: Choke, other: Choke) -> bool:
    """Whether two chokes differ in their side alone; by identity where curves cannot be compared."""
    if one.core is None or other.core is None:
        return False
    return one.core == other.core and one.resistance == other.resistance


def _working(choke: Choke, heater: Heater, mean: float) -> Working:
    duty = Duty(heater.supply.voltage, heater.frequency, mean, heater.tapped, heater.ambient)
    time, flux, current = choke_period(choke, duty)
    temperature: float | None = None
    if choke.core is not None:
        heat = choke_heat(choke, time, flux, current, Cooling(ambient_c=heater.ambient, air_speed=heater.air_speed))
        temperature = DESTROYED if heat.state == "destroyed" else heat.temperature_c
    rms = float(np.sqrt(np.mean(current[:-1] ** 2)))
    return Working(float(np.abs(current).max()), rms, float(np.ptp(current)), temperature)


def _choke_measures(
    part: str,
    before: Mapping[str, Any],
    was: Heater,
    heater: Heater,
    new: Choke,
    pair: tuple[Working, Working],
    peak: float,
    mean: float,
) -> Measures:
    """Measures of one choke; a temperature is corrected where both the simulated and the worked-out one found a balance."""
    own = [side for side in was.chokes if f"choke.{side.side}" == part]
    rms = float(before.get(f"{part}.rms_current_a") or 0.0) * pair[1].rms / pair[0].rms
    warm, simulated = pair[1].temperature, before.get(f"{part}.temperature_c")
    if warm is not None and warm < CEILING and own and isinstance(simulated, float) and simulated < CEILING:
        worked = pair[0].temperature
        if worked is not None and heater.ambient < worked < CEILING:
            warm = heater.ambient + (warm - heater.ambient) * (simulated - was.ambient) / (worked - was.ambient)
    after, winding = before.get(f"{part}.run_temperature_c"), new.core.winding if new.core else None
    if after is not None and warm is not None and isinstance(simulated, float) and simulated > was.ambient:
        after = heater.ambient + (after - was.ambient) * (warm - heater.ambient) / (simulated - was.ambient)
    return {
        f"{part}.copper_fill_ratio": winding.copper_fill(new.core.ring) if winding and new.core else None,
        f"{part}.hole_left_m": winding.fill(new.core.ring).free_diameter if winding and new.core else None,
        f"{part}.mean_current_a": mean,
        f"{part}.rms_current_a": rms,
        f"{part}.peak_current_a": peak,
        f"{part}.inductance_remaining_ratio": float(new.curve.inductance(peak)) / new.curve.inductance_zero,
        f"{part}.temperature_c": warm,
        f"{part}.run_temperature_c": after,
        f"{part}.current_density_a_per_m2": rms / new.copper_area if new.copper_area else None,
    }
