# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether a choke can be wound: copper in the hole of its ring, and the hole left. A measured choke is wound already."""

from __future__ import annotations

from heatsim.parts.choke import Choke, Core
from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit

PRACTICE = " (common practice, no source)"


def copper_fill(case: JudgedCase, choke: Choke) -> Limit | None:
    """Copper's share of the ring's hole against what a hand can lay; None for a choke that was measured."""
    core = _to_be_wound(case, choke)
    if core is None:
        return None
    own = "choke_copper_fill" in case.limits.model_fields_set
    bore, wires = core.winding.former(core.ring).inner_diameter, core.winding.turns * core.winding.strands
    return Limit(
        f"choke.{choke.side}",
        "windability, copper fill",
        f"choke.{choke.side}.copper_fill_ratio",
        case.limits.choke_copper_fill,
        "ratio",
        "builder" if own else "common practice",
        wanted=0.0,
        cause=f"{wires} wires of {format_quantity(core.winding.diameter, 'm')} through a {format_quantity(bore, 'm')} hole are "
        f"more copper than can be wound by hand{'' if own else PRACTICE}.",
        remedy="Use a larger ring, fewer turns, thinner wire or fewer strands.",
    )


def hole_left(case: JudgedCase, choke: Choke) -> Limit | None:
    """Hole left in the wound ring against what the scenario wants left, or what the last turn needs to be drawn through.

    All strands of a turn pass the hole together, so it must be no smaller than their bundle.
    """
    core = _to_be_wound(case, choke)
    if core is None:
        return None
    wind, thread = case.scenario.tables.wind, core.winding.threaded
    wanted = wind.free_bore if wind is not None else 0.0
    needs = f"the strands of one turn together are {format_quantity(thread, 'm')} thick{PRACTICE}"
    builder = wanted >= thread
    return Limit(
        f"choke.{choke.side}",
        "windability, hole left",
        f"choke.{choke.side}.hole_left_m",
        max(wanted, thread),
        "m",
        "builder" if builder else "common practice",
        lower=True,
        wanted=0.0,
        cause=f"The last turns cannot be threaded: {'less hole is left than wind.free_bore asks for' if builder else needs}.",
        remedy="Use a larger ring, fewer turns, thinner wire or fewer strands.",
    )


def _to_be_wound(case: JudgedCase, choke: Choke) -> Core | None:
    """Ring and winding of a choke that is still to be wound."""
    return choke.core if case.scenario.tables.choke[choke.side].measured is None else None
