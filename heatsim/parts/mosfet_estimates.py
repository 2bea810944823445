# SPDX-License-Identifier: GPL-3.0-or-later
"""What a datasheet does not print, estimated from what it does: one function a figure, each with its rule and band.

The rules are common practice, no source; their numbers were set on the generic classes of the catalogue, and the bands are wider
than what these need: a factor either way, within which the figure of most devices lies. Nothing that is given is touched.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields

from heatsim.parts.mosfet_model import channel
from heatsim.parts.switch import Origin, Switch

Figures = Mapping[str, float]
"""Field of [switch] -> SI value, of those that are known."""

Estimated = tuple[float, float, str] | None
"""Value [SI], band (a factor), rule in words; None where what it rests on is not known either."""

USUAL: dict[str, tuple[float, float]] = {
    "on_gate_voltage": (10.0, 0.0),
    "gate_rating": (20.0, 0.0),
    "capacitance_voltage": (25.0, 0.0),
    "gate_resistance": (1.5, 2.5),
    "diode_drop": (1.0, 1.3),
    "diode_current": (20.0, 0.0),
    "recovery_time": (150e-9, 4.0),
}
"""Field -> usual value [SI] and its band, 0 for a condition of measurement: taken where nothing is given."""

CAPACITANCE_VOLTAGE = 25.0
"""Drain voltage [V] at which the shares below hold; elsewhere they go with the root of the voltage, an abrupt junction."""

OUTPUT_SHARE, OUTPUT_BAND = 0.12, 2.5
"""Output over input capacitance."""

REVERSE_SHARE, REVERSE_BAND, REVERSE_BAND_HIGH, HIGH_VOLTAGE = 0.35, 2.0, 3.0, 300.0
"""Reverse capacitance over the mean one of the drain's fall, Qgd/V; wider above HIGH_VOLTAGE [V], where charge-compensated devices
fall more steeply."""

PLATEAU_SHARE, LEAST_PLATEAU, CHARGE_BAND = 0.85, 0.15, 1.6
"""Gate-drain charge over what Ciss Von leaves of the whole gate charge, and over the whole at the least."""

OVERDRIVE, OVERDRIVE_BAND, PLATEAU_BAND = 1.3, 1.8, 1.5
"""Gate voltage over the square law's threshold at the transconductance's current [V]."""

TEST_SHARE, TEST_BAND = 0.6, 1.6
"""Current at which a datasheet tests, over the current rating."""

RATED_LOSS, RATED_BAND = 120.0, 2.0
"""Loss in the hot on-resistance at the current rating [W], what a case kept at 25 °C takes away; band of the current."""


def rated_current(known: Figures) -> Estimated:
    """Current rating [A] by the loss that a cold case takes away: I = sqrt(P/Rds(on)). For test currents alone, never a rating."""
    if "on_resistance" not in known:
        return None
    rule = f"{RATED_LOSS:g} W in the hot on-resistance, what a cold case takes away"
    return math.sqrt(RATED_LOSS / known["on_resistance"]), RATED_BAND, rule


def on_resistance(known: Figures) -> Estimated:
    """On-resistance [ohm] by the same rule turned round: R = P/I^2. Only beside a user's model, which has its own."""
    if "current_rating" not in known:
        return None
    rule = f"{RATED_LOSS:g} W at the current rating, what a cold case takes away"
    return RATED_LOSS / known["current_rating"] ** 2, RATED_BAND**2, rule


def transconductance_current(known: Figures) -> Estimated:
    """Current [A] of transconductance and gate-charge test: a share of the current rating, else of the one estimated."""
    if "current_rating" in known:
        return TEST_SHARE * known["current_rating"], TEST_BAND, f"{TEST_SHARE:g} of the current rating"
    if (rated := rated_current(known)) is None:
        return None
    return TEST_SHARE * rated[0], TEST_BAND * RATED_BAND, f"{TEST_SHARE:g} of the current that comes to {rated[2]}"


def transconductance(known: Figures) -> Estimated:
    """Transconductance [S] at its current I: that at which the model's gate stands on the plateau given, else 2 I/u of the square
    law with the usual overdrive u."""
    current = known["transconductance_current"]
    usual = 2 * current / OVERDRIVE
    if "plateau_voltage" not in known:
        return usual, OVERDRIVE_BAND, f"square law, 2 I/u with {OVERDRIVE:g} V over the threshold at its current"
    low, high = math.log(usual / 30), math.log(usual * 10)
    for _ in range(50):
        middle = (low + high) / 2
        switch = draft({**known, "transconductance": math.exp(middle)})
        above = channel(switch).plateau(current) > known["plateau_voltage"]
        low, high = (middle, high) if above else (low, middle)
    return math.exp((low + high) / 2), PLATEAU_BAND, "square law through threshold and plateau voltage"


def output_capacitance(known: Figures) -> Estimated:
    """Output capacitance [F]: a share of the input capacitance, above the reverse capacitance where that is known."""
    if "input_capacitance" not in known:
        return None
    share = OUTPUT_SHARE * _towards_25_volts(known)
    least = 1.5 * known.get("reverse_capacitance", 0.0)
    rule = f"{OUTPUT_SHARE:g} of the input capacitance at {CAPACITANCE_VOLTAGE:g} V"
    return max(share * known["input_capacitance"], least), OUTPUT_BAND, rule


def gate_drain_charge(known: Figures) -> Estimated:
    """Gate-drain charge [C]: what the input capacitance leaves of the whole gate charge, else by the reverse capacitance."""
    if "gate_charge" in known and "input_capacitance" in known:
        whole = known["gate_charge"]
        left = PLATEAU_SHARE * (whole - known["input_capacitance"] * known["on_gate_voltage"])
        rule = f"{PLATEAU_SHARE:g} of what the input capacitance leaves of the whole gate charge"
        return max(left, LEAST_PLATEAU * whole), CHARGE_BAND, rule
    if "reverse_capacitance" not in known:
        return None
    mean = known["reverse_capacitance"] / _towards_25_volts(known) / REVERSE_SHARE
    rule = f"the drain's fall times a mean reverse capacitance {1 / REVERSE_SHARE:.2g} times that at {CAPACITANCE_VOLTAGE:g} V"
    return mean * known["gate_drain_charge_voltage"], _reverse_band(known), rule


def reverse_capacitance(known: Figures) -> Estimated:
    """Reverse capacitance [F] by the gate-drain charge, below half the output capacitance."""
    if "gate_drain_charge" not in known:
        return None
    value = REVERSE_SHARE * known["gate_drain_charge"] / known["gate_drain_charge_voltage"] * _towards_25_volts(known)
    rule = f"{REVERSE_SHARE:g} of the mean one in the gate-drain charge, at {CAPACITANCE_VOLTAGE:g} V"
    most = 0.5 * min(known[name] for name in ("input_capacitance", "output_capacitance") if name in known)
    return min(value, most), _reverse_band(known), rule


def _reverse_band(known: Figures) -> float:
    return REVERSE_BAND_HIGH if known["voltage_rating"] > HIGH_VOLTAGE else REVERSE_BAND


def _towards_25_volts(known: Figures) -> float:
    return math.sqrt((CAPACITANCE_VOLTAGE + 0.8) / (known["capacitance_voltage"] + 0.8))


RULES: tuple[tuple[str, Callable[[Figures], Estimated]], ...] = (
    ("transconductance_current", transconductance_current),
    ("transconductance", transconductance),
    ("gate_drain_charge", gate_drain_charge),
    ("output_capacitance", output_capacitance),
    ("reverse_capacitance", reverse_capacitance),
)
"""What can be estimated, in the order in which one rests on another."""

NEEDED = ("voltage_rating", "on_resistance", "threshold", "input_capacitance")
"""Figures that every datasheet prints and nothing stands in for; beside them reverse capacitance, gate-drain or gate charge."""

CHARGES = ("reverse_capacitance", "gate_drain_charge", "gate_charge")

USUAL_THRESHOLD = (3.5, 1.6, "3.5 V, between logic level and high voltage")
"""Threshold [V], band and rule beside a user's subcircuit that does not tell it; for the timing of the gates alone."""


def missing(known: Figures, own_model: bool) -> tuple[str, ...]:
    """Fields without which a device cannot be built. own_model: whether a model file of the user's is given."""
    if own_model:
        lost = [] if "on_resistance" in known or "current_rating" in known else ["on_resistance"]
        return (*(["voltage_rating"] if "voltage_rating" not in known else []), *lost)
    without = () if any(name in known for name in CHARGES) else ("reverse_capacitance",)
    return (*(name for name in NEEDED if name not in known), *without)


def with_usual(known: Figures, names: tuple[str, ...]) -> tuple[dict[str, float], list[Origin]]:
    """The figures with the usual values of those that are not known, and where these come from."""
    taken = [name for name in names if name not in known]
    return {**known, **{name: USUAL[name][0] for name in taken}}, [
        Origin(name, "assumed", "the usual value", USUAL[name][1]) for name in taken
    ]


def completed(known: Figures) -> tuple[dict[str, float], tuple[Origin, ...]]:
    """All figures of the netlist's model, those that are not known taken or estimated, and where these come from.

    known: with all that `missing` asks for
    """
    found, origins = with_usual(known, tuple(USUAL))
    if "gate_drain_charge_voltage" not in known:
        found["gate_drain_charge_voltage"] = found["voltage_rating"] / 2
        origins.append(Origin("gate_drain_charge_voltage", "assumed", "half the voltage rating"))
    if "threshold_current" not in known:
        found["threshold_current"] = 0.0
        origins.append(Origin("threshold_current", "assumed", "the threshold read as that of the square law"))
    for name, rule in RULES:
        if name not in found and (estimate := rule(found)) is not None:
            found[name], band, words = estimate
            origins.append(Origin(name, "estimate", words, band))
    return found, tuple(origins)


def draft(known: Figures) -> Switch:
    """A single device of these figures, 0 for what is not among them, which a user's own model or a later step stands in for."""
    whole = {"count": 1, "current_rating": None, "threshold_spread": 0.0, "drain_inductance": 0.0, "miller_voltage": 1.0}
    plain = {each.name: 0.0 for each in fields(Switch) if each.default is MISSING} | whole
    return Switch(**plain | {name: value for name, value in known.items() if name in plain})  # type: ignore[arg-type]
