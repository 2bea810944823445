# SPDX-License-Identifier: GPL-3.0-or-later
"""Remedies in words, shared by terminal and page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heatsim.errors import printable
from heatsim.report.base.findings import comparison
from heatsim.report.base.words import percent, value_text
from heatsim.studies.remedy import Change, Remedies, Tried

HEADING = "Changes that would make it hold, simulated"

ENERGY = {"workpiece.power_w": "into the workpiece", "supply.power_w": "from the supply"}


@dataclass(frozen=True)
class Told:
    """One remedy: what to change, what each change needs, and what comes of it."""

    steps: tuple[str, ...]
    needs: tuple[str, ...]
    outcome: str


def told(remedies: Remedies) -> tuple[Told, ...]:
    """Every remedy found; without one the best that was simulated, which says what still does not hold."""
    if remedies.found:
        return tuple(_told(each, remedies) for each in remedies.found)
    return (_told(remedies.best, remedies),) if remedies.best else ()


def _told(tried: Tried, remedies: Remedies) -> Told:
    needs = tuple(f"{each.kind}: {each.cost}" for each in tried.changes if each.cost)
    tight, power = tried.tightest, _power(tried, remedies)
    if tight is None:
        return Told(_steps(tried.changes), needs, power)
    headroom = "" if tight[1].headroom is None else f", headroom {percent(tight[1].headroom)}"
    first = f"{comparison(tight[1])} (case {printable(tight[0])}{headroom})"
    lead = "Everything then holds; the tightest is" if tried.holds else "Still open:"
    return Told(_steps(tried.changes), needs, f"{lead} {first}. {power}".strip())


def _steps(changes: Sequence[Change]) -> tuple[str, ...]:
    return tuple(f"{each.words}." for each in changes)


def _power(tried: Tried, remedies: Remedies) -> str:
    """What becomes of the power, in the case with most of it; nothing where a case with it was not simulated."""
    if not tried.complete:
        return ""
    parts = []
    for key, words in ENERGY.items():
        before, after = remedies.before.get(key), tried.measure(key)
        if before is not None and after is not None:
            parts.append(f"{words} {value_text(after, 'W')} instead of {value_text(before, 'W')}")
    return f"Power: {', '.join(parts)}." if parts else ""


def summary(remedies: Remedies) -> str:
    """What was found and what ended the search, in a sentence or three."""
    if remedies.why_not:
        return remedies.why_not
    cases = "1 case" if remedies.simulations == 1 else f"{remedies.simulations} cases"
    count = f"{cases} simulated in {remedies.wall_s:.0f} s; {remedies.ended}."
    if not remedies.found:
        lead = "Nothing tried makes it hold. The best so far:" if remedies.best else "Nothing tried makes it hold."
        return f"{count} {lead}"
    if remedies.single:
        return f"{count} A single change is enough."
    return f"{count} No single change is enough; these together are."
