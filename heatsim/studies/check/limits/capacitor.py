# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of the tank capacitors: current of each, and voltage."""

from __future__ import annotations

from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit


def rms_current(case: JudgedCase) -> Limit:
    """Current of one capacitor of the bank against its rating."""
    key, bank = "capacitor.rms_current_a", case.heater.capacitors
    current = case.number(key) / bank.count
    remedy = "Give the capacitor's current rating at this frequency."
    if bank.current_rating and current > 0:
        needed = case.count_needed(bank.count, current, bank.current_rating)
        unit = format_quantity(bank.capacitance / needed, "F")
        remedy = f"Spread the same capacitance over {needed} capacitors of {unit}."
    cause, name = f"The tank's circulating current is shared by {bank.count} capacitors.", "current of one capacitor, rms"
    return Limit("capacitors", name, key, bank.current_rating, "A", "rating", bank.count, cause=cause, remedy=remedy)


def peak_voltage(case: JudgedCase) -> Limit:
    """Peak voltage of the bank against its rating."""
    key, rating = "capacitor.peak_voltage_v", case.heater.capacitors.voltage_rating
    remedy = "Give the capacitor's voltage rating at this frequency."
    if rating:
        remedy = case.lower_supply(key, rating, "capacitors of a higher voltage rating")
    cause = "The capacitors see the whole tank voltage."
    return Limit("capacitors", "peak voltage", key, rating, "V", "rating", cause=cause, remedy=remedy)
