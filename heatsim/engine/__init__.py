# SPDX-License-Identifier: GPL-3.0-or-later
"""Deck in, waveforms out: the only room that knows the simulator. Importing it loads neither PySpice nor ngspice."""

from heatsim.engine.outcome import MEASURABLE, Attempt, Outcome, Run, Rung
from heatsim.engine.pool import run_deck, run_decks, run_on, simulators

__all__ = ["MEASURABLE", "Attempt", "Outcome", "Run", "Rung", "run_deck", "run_decks", "run_on", "simulators"]
