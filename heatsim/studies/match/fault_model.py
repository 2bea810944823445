# SPDX-License-Identifier: GPL-3.0-or-later
"""What a cause and a fault model are, and the causes' names."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from heatsim.studies.match.parameters import ModelParameters

SATURATING, WEAKER = "both chokes saturating", "one choke weaker than the other"
GATE_RINGING, GATE_DRIVE = "gate ringing", "late or weak gate drive"
LOAD, SUPPLY = "heavy load", "supply ripple or foldback"
CAPACITOR, TURN = "tank capacitor failing or bank unequal", "shorted turn in choke or coil"
CONNECTION, PROBE, NOTHING = "loose connection", "probe or scope", "nothing wrong"
OPEN, THRESHOLDS, CLAMP, LEAKY = "one device of a bank open", "unequal thresholds", "missing or leaky clamp", "leaky drain"
INTERMITTENT, STEEL, TAP = "intermittent contact", "saturating workpiece", "wrong coil tap"
RESONANCE, BENT = "second resonance of leads", "voltage-dependent capacitors"
SLOW_DIODES, COUPLED = "slow gate diodes", "coupled feed chokes"
LOOSE_LEAD = "loose lead between coil and bank"
"""Name of a fault model, also behind a contact that comes and goes."""

HEAVIER, AT_ITS_KNEE = "workpiece heavier", "steel at its knee"
"""Names of fault models."""

RARE = (OPEN, THRESHOLDS, CLAMP, LEAKY, INTERMITTENT, STEEL, TAP, RESONANCE, BENT, SLOW_DIODES, COUPLED)
"""Causes that a bench meets less often."""

CAUSES = (NOTHING, SATURATING, WEAKER, GATE_RINGING, GATE_DRIVE, LOAD, SUPPLY, CAPACITOR, TURN, CONNECTION, PROBE, *RARE)

LOAD_OFF = 0.03
"""Discrepancy of what moves the tank to another frequency, where coil and workpiece are known by a law alone; an estimate."""


Values = tuple[float, ...]
"""Of a fault's parameters [SI]."""


@dataclass(frozen=True)
class FaultParameter:
    """A quantity that a fault is about.

    key, label, unit: as in `FittedQuantity`
    mild, bad: ends of its range [SI], mild being nearer to nothing wrong
    even: spread evenly instead of logarithmically
    """

    key: str
    label: str
    unit: str
    mild: float
    bad: float
    even: bool = False

    def value(self, u: float) -> float:
        """Value at a place in the range, 0 mild to 1 bad."""
        if self.even:
            return self.mild + u * (self.bad - self.mild)
        return self.mild * math.exp(u * math.log(self.bad / self.mild))


@dataclass(frozen=True)
class FaultModel:
    """One way in which a cause shows.

    name, cause: in words
    parameters: none to two
    changes: of the model parameters, from values of `parameters`
    replaces: nuisance parameters that the fault's own parameters stand for
    discrepancy: share of its effect on the lines by which the model may be off
    grid: points along the parameters, where the usual ones are too few
    sides: how many models are the same but for the side, this one among them; together they are as likely as any other
    """

    name: str
    cause: str
    parameters: tuple[FaultParameter, ...]
    changes: Callable[[Values], ModelParameters]
    replaces: tuple[str, ...] = ()
    discrepancy: float = 0.012
    grid: tuple[int, ...] | None = None
    sides: int = 1


def ratio(key: str, label: str, mild: float, bad: float, even: bool = False) -> FaultParameter:
    """A parameter over what the scenario says."""
    return FaultParameter(f"{key}_ratio", label, "ratio", mild, bad, even)
