# SPDX-License-Identifier: GPL-3.0-or-later
"""Which starts from rest may be shortened, and which of them were too close to a limit for their coarse steps.

A shortened run (`heatsim.engine.steady`) shows the periodic state with the deck's own steps, but the start that leads to it with
coarse ones: its voltages are within some tenths of a per cent, the peak currents of its devices within some per cent, and at idle,
where edges are sharp, up to a third too high. So whatever rests on the start is simulated anew with the deck's own steps where it
does not plainly hold.
"""

from __future__ import annotations

from dataclasses import replace

from heatsim.engine.steady import LAST, shortened_run
from heatsim.measures.gather import SIDES, standard_error_key
from heatsim.measures.starting import device_peak
from heatsim.netlist.deck import Deck
from heatsim.parts.damage import Damage
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.limits import case_limits
from heatsim.studies.check.limits.start import STARTS, device_peak_key
from heatsim.studies.check.restart import overshoots
from heatsim.studies.check.result import CaseResult
from heatsim.waves import Waveforms

ROOM, CURRENT_ROOM = 0.1, 0.4
"""Headroom beyond what is wanted that a limit of the start needs, to be judged from coarse steps [1]; for currents of devices."""


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
    if case.outcome != "settled" or case.measures.get("startup.class") != STARTS or overshoots(case) or _ends_at_the_joint(case):
        return True
    limits = case_limits(scenario.case(case.name), case.heater, case.measures)
    rooms = {
        (limit.part, limit.name): case.wanted_headroom + (CURRENT_ROOM if limit.key.endswith("_a") else ROOM)
        for limit in limits
        if limit.key.startswith("startup.")
    }
    judged = [(each.headroom, rooms[each.part, each.limit]) for each in case.findings if (each.part, each.limit) in rooms]
    return any(headroom is not None and headroom < room for headroom, room in judged)


def _ends_at_the_joint(case: CaseResult) -> bool:
    """Whether what counts as the end of the start is only the step from its coarse periods to the others."""
    frequency, reached = case.measures.get("tank.frequency_hz"), case.measures.get("startup.time_s")
    if not isinstance(frequency, float) or not isinstance(reached, float) or case.waveforms is None:
        return False
    return reached > float(case.waveforms.time[-1]) - LAST / frequency


def coarse_errors(heater: Heater, waves: Waveforms, frequency: float) -> dict[str, float]:
    """Standard errors of a shortened start's peak currents of devices [A]: half of what coarse steps make of them where the
    periods are the same, before the joint and after it.

    frequency: of the tank [Hz]
    """
    span, end = LAST / frequency, float(waves.time[-1])
    parts = waves.between(end - 2 * span, end - span), waves.between(end - span, end)
    found = {}
    for side in SIDES:
        before, after = (device_peak(part, side, heater.bank(side).count) for part in parts)
        found[standard_error_key(device_peak_key(side))] = abs(after - before) / 2
    return found
