# SPDX-License-Identifier: GPL-3.0-or-later
"""`wind`: turns, stack and wire for the chokes, from what lies in the drawer.

`wind` estimates every combination, ranks them and simulates the best few; `card` says how to make the best one;
`build_yield` whether the second one will hold as well.
"""

from heatsim.parts.duty import ChokeEstimate, Duty, duty_of, estimate
from heatsim.studies.wind.card import Card, card, plain_candidate, plain_result
from heatsim.studies.wind.study import WhatIf, WindingCandidate, WindResult, ring_or_turns, wind, wound_changes
from heatsim.studies.wind.tolerance import YieldResult, build_yield, wilson

__all__ = [
    "Card",
    "ChokeEstimate",
    "Duty",
    "WhatIf",
    "WindResult",
    "WindingCandidate",
    "YieldResult",
    "build_yield",
    "card",
    "duty_of",
    "estimate",
    "plain_candidate",
    "plain_result",
    "ring_or_turns",
    "wilson",
    "wind",
    "wound_changes",
]
