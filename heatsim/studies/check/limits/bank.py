# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of a capacitor bank along two bars, each of its most loaded capacitor; tolerances of capacitance are included."""

from __future__ import annotations

from collections.abc import Mapping

from heatsim.parts.rails import CONNECTIONS, Rails
from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit

BY_CONNECTION = {each: f"capacitor.{each.replace(' ', '_')}.currents_a" for each in CONNECTIONS}
"""How the coil connects -> key of the capacitors' currents were it so."""

CURRENT, KEY = "current of the most loaded capacitor, rms", "capacitor.worst_rms_current_a"

BETTER = 0.02
"""Share [1] by which another connection must lower the current of the most loaded capacitor to be worth naming."""

OFF = 0.1
"""Share [1] of the tank's inductance by which that of the bank may be off; frequency and currents are then off by a twentieth."""

WAYS = {
    "same end": "Connect both ends of the coil at one end of the bars.",
    "opposite ends": "Connect the coil at opposite ends of the bars.",
    "middle": "Connect the coil in the middle of the bars.",
}


def rms_current(case: JudgedCase, rails: Rails) -> Limit:
    """Current of the most loaded capacitor against its rating at the tank frequency; one that seems to hold is not judged where
    something speaks against it.
    """
    frequency = case.number("tank.frequency_hz")
    rated = rails.rated_current(frequency if frequency > 0 else case.heater.frequency)
    allowed, unknown = case.heater.capacitors.current_rating if rated is None else rated, ""
    settle = "" if allowed else "Give the capacitor's current rating by frequency (capacitors.rails.rating)."
    if allowed and not case.number(KEY) > allowed and (doubt := _doubt(case, allowed)):
        allowed, (unknown, settle) = None, doubt
    basis = "estimate" if rails.segment.basis == "estimate" or rails.beyond_rating(frequency) else "rating"
    cause, remedy = _cause(case, rails), _remedy(case, rails)
    return Limit("capacitors", CURRENT, KEY, allowed, "A", basis, cause=cause, remedy=remedy, unknown=unknown, settle=settle)


def _doubt(case: JudgedCase, allowed: float) -> tuple[str, str] | None:
    """Why a current that seems to hold may not, and what settles it; None where nothing speaks against it."""
    if case.number("capacitor.near_resonance_current_a") > allowed:
        return (
            "a resonance inside the bank lies near a harmonic, and right on it the current would be too high",
            "Bring the capacitors closer together, so that their resonances rise, or measure their currents.",
        )
    if abs(case.number("capacitor.rails_inductance_h") - case.heater.capacitors.inductance) > OFF * case.heater.tank_inductance:
        return (
            "the circuit was simulated with another inductance of the bank than its bars have",
            "Give capacitors.inductance as the bars make it.",
        )
    return None


def _cause(case: JudgedCase, rails: Rails) -> str:
    currents = case.measures.get(BY_CONNECTION[rails.coil])
    found = "The bars between the capacitors make their shares uneven."
    if isinstance(currents, list) and currents:
        least, most = (format_quantity(each(currents), "A") for each in (min, max))
        number = 1 + currents.index(max(currents))
        found = f"With the coil connected at {_place(rails)} the capacitors carry {least} to {most}, number {number} the most."
    return f"{found} A capacitance at the upper edge of its tolerance draws {100 * rails.tolerance:.3g} % more."


def _place(rails: Rails) -> str:
    return {"same end": "the same end of both bars", "opposite ends": "opposite ends of the bars"}.get(
        rails.coil, "the middle of the bars"
    )


def _remedy(case: JudgedCase, rails: Rails) -> str:
    best = best_connection(case.measures, rails)
    closer = (
        "Bring the capacitors closer together or the bars nearer to each other, or spread the capacitance over more capacitors."
    )
    return closer if best is None else f"{WAYS[best]} Or b{closer[1:]}"


def most_loaded(measures: Mapping[str, object]) -> dict[str, float]:
    """Way of connecting the coil -> current of its most loaded capacitor [A], tolerance left out."""
    lists = {way: measures.get(key) for way, key in BY_CONNECTION.items()}
    return {way: max(each) for way, each in lists.items() if isinstance(each, list) and each}


def best_connection(measures: Mapping[str, object], rails: Rails) -> str | None:
    """The way of connecting the coil with the least current in the most loaded capacitor; None where the present one is about as
    good.
    """
    most = most_loaded(measures)
    best = min(most, key=lambda way: most[way], default=None)
    return best if best and rails.coil in most and most[best] < (1 - BETTER) * most[rails.coil] else None


def peak_voltage(case: JudgedCase, rails: Rails) -> Limit:
    """Peak voltage of the capacitor that bears most against its rating."""
    rating = case.heater.capacitors.voltage_rating
    series = f", and of {rails.in_series} in series one takes the most" if rails.in_series > 1 else ""
    return Limit(
        "capacitors",
        "peak voltage of one capacitor",
        "capacitor.worst_peak_voltage_v",
        rating,
        "V",
        "rating",
        cause=f"The hardest-worked position in the bank sees more than the bank's mean voltage{series}.",
        remedy="Lower the supply voltage, or use more capacitors in series or ones with a higher voltage rating."
        if rating
        else "Give the capacitor's voltage rating at this frequency (capacitors.voltage_rating).",
    )


def temperature(case: JudgedCase) -> Limit | None:
    """Hottest spot of the most loaded capacitor; None for a bank without bars."""
    rails = case.heater.capacitors.rails
    if rails is None:
        return None
    names = {"thermal_resistance": rails.thermal_resistance, "temperature_limit": rails.temperature_limit}
    missing = [f"capacitors.rails.{name}" for name, value in names.items() if value is None]
    return Limit(
        "capacitors",
        "temperature of the warmest capacitor",
        "capacitor.worst_temperature_c",
        None if missing else rails.temperature_limit,
        "°C",
        "estimate",
        cause="Its share of the current heats the most loaded capacitor this far above the air.",
        remedy="Blow air over the capacitors, use ones with a lower loss factor, or spread the capacitance over more of them.",
        unknown="how warm a capacitor gets is not known" if missing else "",
        settle=f"Give {' and '.join(missing)}." if missing else "",
    )
