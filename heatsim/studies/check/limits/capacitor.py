# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of the tank capacitors: current of each, and voltage."""

from __future__ import annotations

from heatsim.studies.check.limits import bank as along_bars
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit


def rms_current(case: JudgedCase) -> Limit:
    """Current of one capacitor of the bank against its rating; of the most loaded one where the bank's bars are given."""
    key, bank = "capacitor.rms_current_a", case.heater.capacitors
    if bank.rails is not None:
        return along_bars.rms_current(case, bank.rails)
    remedy = "Give the capacitor's current rating at this frequency (capacitors.current_rating)."
    if bank.current_rating:
        remedy = "Spread the same capacitance over more and smaller capacitors, or lower the supply voltage."
    cause, name = f"The tank's circulating current is shared by {bank.count} capacitors.", "current of one capacitor, rms"
    return Limit("capacitors", name, key, bank.current_rating, "A", "rating", bank.count, cause=cause, remedy=remedy)


def peak_voltage(case: JudgedCase) -> Limit:
    """Peak voltage of the bank against its rating; of the capacitor that bears most where the bank's bars are given."""
    if case.heater.capacitors.rails is not None:
        return along_bars.peak_voltage(case, case.heater.capacitors.rails)
    key, rating = "capacitor.peak_voltage_v", case.heater.capacitors.voltage_rating
    remedy = "Give the capacitor's voltage rating at this frequency (capacitors.voltage_rating)."
    if rating:
        remedy = "Lower the supply voltage, or use capacitors with a higher voltage rating."
    cause = "The capacitors see the whole tank voltage."
    return Limit("capacitors", "peak voltage", key, rating, "V", "rating", cause=cause, remedy=remedy)
