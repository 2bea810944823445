# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether the heater oscillates and settles at all: the finding that needs no number."""

from __future__ import annotations

from heatsim.verdict import Finding, Grade

OUTCOMES: dict[str, tuple[Grade, str, str]] = {
    "settled": ("holds", "", ""),
    "drifting": (
        "unknown",
        "The run was still moving at the longest time allowed, so its numbers are not final.",
        "Raise `longest` in [simulate]; a supply that ripples never settles.",
    ),
    "dead": (
        "fails",
        "It does not oscillate: the gates never reach a state that keeps the tank going.",
        "Raise the gate supply, lower the pull-up, or lighten the load.",
    ),
    "latched": (
        "fails",
        "Both sides conduct and stay on: the chokes' currents rise without the tank swinging.",
        "Let the supply rise faster or switch it on after the gate supply is up; lighten the load; fit a fuse or breaker that "
        "acts on the supply.",
    ),
    "stalled": (
        "unknown",
        "The simulation did not finish.",
        "Raise `time_limit` in [simulate], or damp strays that ring far above the tank frequency.",
    ),
    "unsolved": ("unknown", "The simulator could not solve the circuit.", "Look for extreme values in the file."),
}
"""Outcome of a run -> grade, cause and remedy."""


def outcome_finding(outcome: str, detail: str) -> Finding:
    """The finding for the outcome of a run; detail: what the simulator said, in plain words."""
    grade, cause, remedy = OUTCOMES[outcome]
    if detail and grade != "holds":
        cause = f"{cause} {detail[0].upper()}{detail[1:]}.".replace("..", ".")
    return Finding("oscillator", "starts and settles", None, None, "", None, grade, "estimate", cause, remedy)
