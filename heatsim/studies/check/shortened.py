# SPDX-License-Identifier: GPL-3.0-or-later
"""Which starts from rest may be shortened, and which of them were too close to a limit for their coarse steps.

A shortened run (`heatsim.engine.steady`) shows the periodic state with the deck's own steps, but the start that leads to it with
coarse ones: its voltages are within some tenths of a per cent, the peak currents of its devices within three. So whatever rests on
the start is simulated anew with the deck's own steps where it does not plainly hold.
"""

from __future__ import annotations

from dataclasses import replace

from heatsim.engine.steady import shortened_run
from heatsim.netlist.deck import Deck
from heatsim.parts.damage import Damage
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.limits import case_limits
from heatsim.studies.check.limits.start import STARTS
from heatsim.studies.check.restart import overshoots
from heatsim.studies.check.result import CaseResult

ROOM = 0.1
"""Headroom beyond what is wanted that a limit of the start needs, to be judged from coarse steps [1]."""


def shortened(deck: Deck, paused: Deck, heater: Heater) -> Deck:
    """The deck, to end in the periodic state that the start leads to, where that can be all there is to it: on a sound heater whose
    supply neither ripples, limits, bounces nor swings slowly. Any other deck as it is.
    """
    supply = heater.supply
    source, rule = supply.source, deck.settle
    plain = source is None or source.limit is None and source.bridge is None and not source.bounce_time
    sound = heater.damage == Damage()
    return replace(deck, paused=paused) if plain and sound and not supply.ripple and not rule.watch else deck


def too_close(scenario: Scenario, case: CaseResult) -> bool:
    """Whether a shortened run has to be simulated anew, until all is at rest and with the deck's own steps."""
    if not shortened_run(case.attempts):
        return False
    if case.outcome != "settled" or case.measures.get("startup.class") != STARTS or overshoots(case):
        return True
    limits = case_limits(scenario.case(case.name), case.heater, case.measures)
    start = {(limit.part, limit.name) for limit in limits if limit.key.startswith("startup.")}
    judged = [each for each in case.findings if (each.part, each.limit) in start]
    return any(each.headroom is not None and each.headroom < case.wanted_headroom + ROOM for each in judged)
