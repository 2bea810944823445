# SPDX-License-Identifier: GPL-3.0-or-later
"""Matches made by hand for the report: half sines and a bump, every number invented for the test, no simulator.

The scenario is the demo that `scenarios/captures/distorted.csv` belongs to.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match import (
    CauseCandidate,
    CorrelatedPair,
    Cure,
    FittedQuantity,
    MatchResult,
    Measure,
    ReadingBeside,
    Record,
    Spread,
    Trace,
)

SCENARIO = Path(__file__).resolve().parents[3] / "scenarios" / "bench-heater-small-rings.toml"
FREQUENCY, PEAK, COUNT = 87_654.0, 130.0, 240

ESTIMATES = (
    FittedQuantity(
        "choke.right.strength_ratio", "inductance of the right choke, over the scenario's", 0.262, 0.243, 0.281, "ratio", 1.0, 0.97
    ),
    FittedQuantity(
        "choke.right.reach_ratio",
        "current at which the right choke gives way, over the scenario's",
        1.92,
        1.4,
        2.5,
        "ratio",
        1.0,
        0.45,
    ),
    FittedQuantity("gate.pull_up_ohm", "pull-up of the gates", 67.3, 63.2, 71.5, "ohm", 68.0, 0.08),
)
WEAKER = CauseCandidate(
    "one choke weaker than the other",
    "right choke weaker",
    0.9967,
    0.0,
    0.94,
    True,
    ESTIMATES,
    (CorrelatedPair(("choke.right.strength_ratio", "choke.right.reach_ratio"), -0.91),),
    "Even harmonics: the half in which the right choke charges is the shorter one.",
    "Measure both chokes with an LCR meter at 10 kHz, lifted at one end.",
    "Wind the right choke like the left one, 20 turns.",
)
SATURATING = CauseCandidate(
    "both chokes saturating",
    "both chokes saturate",
    0.0033,
    -5.71,
    2.4,
    True,
    ESTIMATES[2:],
    (),
    "Odd harmonics grow towards the end of each half.",
    "Scope a choke's current with a current probe.",
    "Use a larger ring.",
)
OTHERS = tuple(
    CauseCandidate(cause, "", 1e-9, log, misfit, simulated)
    for cause, log, misfit, simulated in (
        ("loose connection", -14.0, 5.2, True),
        ("shorted turn in choke or coil", -31.0, 7.9, True),
        ("none of these", -35.0, 9.0, False),
        ("heavy load", -60.0, 11.0, False),
        ("nothing wrong", -88.0, 15.0, True),
        ("gate ringing", -90.0, 15.1, False),
    )
)

RECORD = Record(
    "bench/distorted.csv",
    "loaded",
    42.0,
    {"CH1": "tank.voltage", "CH2": "drain.left.voltage"},
    Measure(FREQUENCY, 2.3),
    17.53,
    {"tank.voltage": 0.83, "drain.left.voltage": 0.41},
    None,
    {"tank.thd_ratio": Measure(0.0912, 2e-4), "tank.peak_voltage_v": Measure(141.3, 0.12)},
    ("CH1: multiplied by 100",),
    ("CH2: at its lowest value for 11 % of the time; <b>clipped</b> & cut",),
)
CURE = Cure(
    "right choke wound with 20 turns again",
    {"choke.right.turns": 20},
    {"tank.thd_ratio": 0.0915, "tank.peak_voltage_v": 141.0},
    {"tank.thd_ratio": 0.0241, "tank.peak_voltage_v": 133.0},
    True,
)


def trace(signal="tank.voltage", record=0, excess=1.0):
    """A sine (or a half sine for a drain) with a bump from the cause, and noise of the mean times `excess`."""
    phase = np.arange(COUNT) / COUNT
    sine = PEAK * np.sin(2 * np.pi * phase)
    sound = sine if signal.startswith("tank") else np.maximum(sine, 0.0)
    lift = 22.0 * np.exp(-(((phase - 0.3) / 0.09) ** 2))
    error = np.full(COUNT, 0.09)
    noise = 0.83 if signal.startswith("tank") else 0.41
    spread = excess * error * np.random.default_rng(7).normal(size=COUNT)
    return Trace(
        record, signal, "V", phase / FREQUENCY, sound + lift + spread, error, sound + lift, sound, noise, excess * 1.02 * noise
    )


def result(**changes):
    """The demo's match: right choke weaker, decided; `changes` to its fields."""
    whole = MatchResult(
        Scenario.from_file(SCENARIO),
        (RECORD,),
        (WEAKER, SATURATING, *OTHERS),
        (trace(), trace("drain.left.voltage")),
        "# fitted\n[choke.right]\nturns = 10\n",
        CURE,
        "ngspice-39",
        412,
        0,
        93.0,
    )
    return replace(whole, **changes)


CURRENT = ReadingBeside(
    "supply.mean_current = 8.2 A",
    "loaded",
    42.0,
    "supply.mean_current_a",
    "A",
    8.2,
    0.08,
    9.1,
    {WEAKER.cause: 8.16, SATURATING.cause: 8.6, "loose connection": 7.8},
)


def undecided():
    """Two causes that cannot be told apart."""
    second = replace(SATURATING, probability=0.24, log_evidence=-1.13)
    return result(candidates=(replace(WEAKER, probability=0.75), second, *OTHERS))


def outside():
    """A match whose nearest cause leaves too much, of a heater far from its scenario."""
    first, odd = replace(WEAKER, misfit=2.5), ("harmonic 3 of the tank voltage: 10.4 times what noise and model allow",)
    return result(candidates=(first, SATURATING, *OTHERS), cure=None, odd=odd, spread=Spread(1.34, (("capacitance", -2.2),)))


def led_by(cause, log_evidence=-6.2):
    """A match in which `cause` comes first, without anything to cure."""
    rest = tuple(
        replace(each, log_evidence=min(each.log_evidence, 0.0) + log_evidence, probability=1e-3)
        for each in (WEAKER, SATURATING, *OTHERS)
        if each.cause != cause
    )
    if cause == "none of these":
        rest = tuple(replace(each, misfit=each.misfit + 0.1) for each in rest)
    first = CauseCandidate(cause, "", 0.995, 0.0, 1.0, True)
    return result(candidates=(first, *rest), cure=None)
