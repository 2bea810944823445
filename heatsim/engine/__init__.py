# SPDX-License-Identifier: GPL-3.0-or-later
"""Deck in, waveforms out: the only room that knows the simulator. Importing it loads neither PySpice nor ngspice."""

from heatsim.engine.outcome import Attempt, Outcome, Run, Rung
from heatsim.engine.pool import Pool, run_deck, run_decks

__all__ = ["Attempt", "Outcome", "Pool", "Run", "Rung", "run_deck", "run_decks"]
