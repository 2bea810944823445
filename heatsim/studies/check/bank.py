# SPDX-License-Identifier: GPL-3.0-or-later
"""Measures of a capacitor bank along two bars: what each capacitor carries, how warm it gets, resonances inside the bank.

The circuit is simulated with the bank as one capacitance with one inductance; the harmonics of its current are divided over the
capacitors afterwards. That leaves out how resonances inside the bank change the harmonics, which matters where one lies near a
harmonic that carries current (`worst_hit`), and the loss in the bars.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from heatsim.measures.basics import rms
from heatsim.measures.harmonics import HIGHEST, coefficients
from heatsim.parts.bank import Division, TankCurrents, divided, resonances, terminal_inductance, worst_hit
from heatsim.parts.heater import Heater
from heatsim.parts.rails import CONNECTIONS, Rails, places
from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.bank import BY_CONNECTION
from heatsim.studies.check.result import CaseResult, Measured
from heatsim.waves import Waveforms

FELT = 0.02
"""Share [1] of the most loaded capacitor's current by which a resonance on a harmonic must raise it to be told."""

LOST = 0.02
"""Share [1] of the supply's power that the bars may lose unsaid."""

SHIFT = 0.01
"""Share [1] of the tank frequency by which the bars may move it unsaid."""


def bank_measures(heater: Heater, steady: Waveforms, periods: int, measures: Mapping[str, Measured]) -> dict[str, Measured]:
    """Keys `capacitor.*` of a bank along bars, none without bars.

    steady: exactly `periods` periods; measures: of the run, with the bank's peak voltage
    Those of the worst capacitor include the tolerance of its capacitance, which draws as much more current; others do not.
    """
    bank, rails = heater.capacitors, heater.capacitors.rails
    if rails is None:
        return {}
    currents = tank_currents(heater, steady, periods)
    division = divided(bank, rails, currents)
    each, more = division.rms, 1 + rails.tolerance
    uneven, peak = float(each.max() / each.mean()), measures.get("capacitor.peak_voltage_v")
    found: dict[str, Measured] = {}
    for number, current in enumerate(each.tolist(), start=1):
        found[f"capacitor.{number}.rms_current_a"] = current
        found[f"capacitor.{number}.temperature_c"] = _temperature(heater, rails, current)
    worst = float(each.max())
    found["capacitor.worst_rms_current_a"] = more * worst
    found["capacitor.worst_peak_voltage_v"] = peak * uneven * rails.voltage_share if isinstance(peak, float) else None
    found["capacitor.worst_temperature_c"] = _temperature(heater, rails, math.sqrt(more) * worst)
    found["capacitor.worst_share_ratio"] = uneven
    found |= {BY_CONNECTION[way]: divided(bank, rails, currents, way).rms.tolist() for way in CONNECTIONS}
    return found | _bars(heater, rails, currents, division, measures.get("loss.capacitor_bars_w"))


def _bars(heater: Heater, rails: Rails, currents: TankCurrents, division: Division, booked: Measured) -> dict[str, Measured]:
    """Loss and inductance of the bars, and resonances; booked: their loss in the simulated circuit [W], None where not known."""
    lost = booked if isinstance(booked, float) else division.rails_loss
    inner = resonances(heater.capacitors, rails, currents.frequency)
    hit, worst = worst_hit(heater.capacitors, rails, currents, division), float(division.rms.max())
    felt = hit if hit is not None and hit.current > (1 + FELT) * worst else None
    return {
        "capacitor.rails_loss_w": lost,
        "capacitor.rails_inductance_h": terminal_inductance(heater.capacitors, rails, currents.frequency),
        "capacitor.inner_resonance_hz": float(inner[0]) if inner.size else None,
        "capacitor.near_resonance_hz": felt.frequency if felt else None,
        "capacitor.near_resonance_current_a": (1 + rails.tolerance) * felt.current if felt else None,
    }


def tank_currents(heater: Heater, steady: Waveforms, periods: int) -> TankCurrents:
    """Harmonics of the currents of capacitors and coil; steady: exactly `periods` periods."""
    orders = min(HIGHEST, (steady.time.size - 1) // (2 * periods))
    far = "coil.right_current" if heater.tapped else "coil.current"
    bank, left, right = (
        coefficients(steady.time, steady[name], periods, orders) / math.sqrt(2)
        for name in ("capacitor.current", "coil.current", far)
    )
    rest = rms(steady.time, steady["capacitor.current"]) ** 2 - float(np.sum(np.abs(bank) ** 2))
    return TankCurrents(periods / steady.duration, bank, left, right, math.sqrt(max(rest, 0.0)))


def _temperature(heater: Heater, rails: Rails, current: float) -> float | None:
    """Of the hottest spot of a capacitor [°C] at its rms current [A]; the resistance is the one that the circuit has."""
    if rails.thermal_resistance is None:
        return None
    resistance = heater.capacitors.count * heater.capacitors.resistance / rails.in_series
    return heater.ambient + rails.thermal_resistance * resistance * current**2


def bank_cautions(case: CaseResult) -> Iterator[str]:
    """What the numbers of a bank along bars do not say by themselves."""
    rails, frequency = case.heater.capacitors.rails, case.measures.get("tank.frequency_hz")
    if rails is None or not isinstance(frequency, float):
        return
    if rails.beyond_rating(frequency):
        ends = " to ".join(format_quantity(rails.rating[end][0], "Hz") for end in (0, -1))
        yield (
            f"The tank's {format_quantity(frequency, 'Hz')} lies outside of capacitors.rails.rating, {ends}: "
            "the capacitors are judged by its nearest end."
        )
    yield from _other_inductance(case, frequency)
    yield from _drains_elsewhere(case.heater, rails, frequency)
    lost, power = (case.measures.get(key) for key in ("capacitor.rails_loss_w", "supply.power_w"))
    if isinstance(lost, float) and isinstance(power, float) and lost > LOST * power:
        yield (
            f"The bars of the capacitor bank lose {format_quantity(lost, 'W')}, {100 * lost / power:.2g} % of what the supply "
            "gives. Use wider bars or connect the coil elsewhere."
        )
    hit, current = (case.measures.get(f"capacitor.near_resonance_{name}") for name in ("hz", "current_a"))
    if isinstance(hit, float) and isinstance(current, float):
        where = f"{format_quantity(hit, 'Hz')}, lies near harmonic {round(hit / frequency)} of the tank"
        yield (
            f"A resonance inside the capacitor bank, {where}: right on it a capacitor would carry up to "
            f"{format_quantity(current, 'A')}. The simulated circuit treats the bank as one piece and does not show it. "
            "Bring the capacitors closer together, or measure."
        )


def _other_inductance(case: CaseResult, frequency: float) -> Iterator[str]:
    """The circuit has another inductance of the bank than its bars come to."""
    found, given = case.measures.get("capacitor.rails_inductance_h"), case.heater.capacitors.inductance
    if not isinstance(found, float):
        return
    if abs(found - given) > 2 * SHIFT * case.heater.tank_inductance:
        yield (
            f"The bank with its bars comes to {format_quantity(found, 'H')} at the coil's terminals, and the circuit was simulated "
            f"with capacitors.inductance, {format_quantity(given, 'H')}: the tank's frequency and its currents are off. "
            f"Give the inductance found."
        )


def _drains_elsewhere(heater: Heater, rails: Rails, frequency: float) -> Iterator[str]:
    """The bars between drains and coil, which the circuit does not have.

    Against an integration with every capacitor along its bars, the supply's current comes out 0.8, 1.8 and 8.4 % too high where
    these bars are 0.9, 2.4 and 9 % of the tank's inductance, and drain peaks up to 2.8 % too low
    (tests/independent/test_whole_circuit.py).
    """
    count = heater.capacitors.count
    ends = zip(places(rails.coil, count), places(rails.drains or rails.coil, count), strict=True)
    between = sum(abs(coil - drain) for coil, drain in ends) / 2 * rails.segment_inductance(frequency)
    share = between / heater.tank_inductance
    if share > SHIFT:
        yield (
            f"The drains connect to the bars elsewhere than the coil: between them lie {format_quantity(between, 'H')}, "
            f"{100 * share:.2g} % of the tank's inductance. The circuit is simulated with both at one place: its currents come out "
            "too high by up to as many per cent, drain peaks by some per cent too low. Connect both at the same place."
        )
