# SPDX-License-Identifier: GPL-3.0-or-later
"""A heater as a netlist that plain ngspice runs: one emitter a part, on the model library in `netlists/`.

Writes decks and runs nothing. `make_deck` is in `generate`, `Deck` in `deck`: the engine imports that alone, and no parts.
"""
