# SPDX-License-Identifier: GPL-3.0-or-later
"""Deck in, waveforms out: the only room that knows the simulator."""

from heatsim.engine.outcome import Attempt, Outcome, Run, Rung

__all__ = ["Attempt", "Outcome", "Run", "Rung"]
