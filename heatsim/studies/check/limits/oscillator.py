# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether the heater oscillates and settles at all: the finding that needs no number."""

from __future__ import annotations

import math

from heatsim.engine import Run
from heatsim.parts.gate import GateDrive
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.studies.check.limits import drive
from heatsim.verdict import Finding, Grade

BROKEN_DOWN = 0.98
"""Share of the switches' voltage rating from which a drain of a heater that does not oscillate counts as broken down."""

LATE = 0.2
"""Share of a run, at its end, in which that is looked for: what the start leaves is over by then."""

OUTCOMES: dict[str, tuple[Grade, str, str]] = {
    "settled": ("holds", "", ""),
    "drifting": (
        "unknown",
        "The run was still moving at the longest time allowed, so its numbers are not final.",
        "Raise `longest` in [simulate].",
    ),
    "dead": ("fails", "It does not oscillate: the gates never reach a state that keeps the tank going.", drive.DEAD),
    "latched": ("fails", "Both sides conduct and stay on: the choke currents rise and the tank does not swing.", drive.LATCHED),
    "stalled": (
        "unknown",
        "The simulation did not finish.",
        "Raise `time_limit` in [simulate] or run it on a less busy machine; if the time step collapsed, damp strays that ring "
        "far above the tank frequency.",
    ),
    "unsolved": ("unknown", "The simulator could not solve the circuit.", "Look for extreme values in the file."),
}
"""Outcome of a run -> grade, cause and remedy."""


def outcome_finding(
    outcome: str, detail: str, over_voltage: tuple[str, str] | None = None, gate: GateDrive | None = None
) -> Finding:
    """The finding for the outcome of a run; detail: what the simulator said, in plain words; over_voltage: see there; gate: the
    drive that a remedy speaks of."""
    grade, cause, remedy = OUTCOMES[outcome]
    remedy = drive.remedy(remedy, gate) if gate else remedy
    if over_voltage:
        cause, remedy = over_voltage
    elif detail and grade != "holds":
        cause = f"{cause} {detail[0].upper()}{detail[1:]}.".replace("..", ".")
    return Finding("oscillator", "starts and settles", None, None, "", None, grade, "estimate", cause, remedy)


def over_voltage(run: Run, heater: Heater) -> tuple[str, str] | None:
    """Cause and remedy where a run without oscillation has its switches broken down at the end; None otherwise.

    A heater that latches for want of gate drive has its drains near ground, far below the rating.
    """
    if run.outcome not in ("dead", "latched") or run.waveforms is None:
        return None
    waves, rating = run.waveforms, heater.switch.voltage_rating
    late = waves.time >= waves.time[-1] - LATE * waves.duration
    drain = max(float(waves[f"drain.{side}.voltage"][late].max()) for side in ("left", "right"))
    if drain < BROKEN_DOWN * rating:
        return None
    volts, rated = format_quantity(heater.supply.voltage, "V"), format_quantity(rating, "V")
    most = format_quantity(rating / math.pi, "V")
    return (
        f"Over-voltage: on a supply of {volts} the drains rise to {format_quantity(drain, 'V')}, but the switches are rated "
        f"{rated}. Beyond that they break down, conduct whatever their gates do, and are destroyed; the heater does not oscillate.",
        f"Lower the supply: the drains reach pi times its voltage, so {rated} switches can take less than {most}; or use "
        "MOSFETs with a higher voltage rating.",
    )
