# SPDX-License-Identifier: GPL-3.0-or-later
"""The retry ladder: what to change, in order, when the simulator cannot solve a deck."""

from __future__ import annotations

from heatsim.engine.outcome import Rung
from heatsim.netlist.deck import Deck

LADDER = (
    Rung("as given"),
    Rung("half the step", max_step_factor=0.5),
    Rung("more iterations", {"itl4": "100", "itl1": "500"}, 0.5),
    Rung("looser tolerances", {"itl4": "100", "reltol": "3e-3", "abstol": "1e-9", "vntol": "1e-5"}, 0.5),
    Rung("small capacitance at every node", {"itl4": "100", "reltol": "3e-3", "abstol": "1e-9", "vntol": "1e-5",
                                             "cshunt": "1e-12", "gmin": "1e-10"}, 0.5),
)
"""Each rung starts from the deck as given. The last adds 1 pF from every node to ground, far below any real stray."""


def climb(deck: Deck, rung: Rung) -> Deck:
    """The deck with a rung's changes."""
    step = deck.transient.max_step * rung.max_step_factor
    return deck.with_options(max_step=step, **dict(rung.options))
