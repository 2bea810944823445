# SPDX-License-Identifier: GPL-3.0-or-later
"""One answer never asks for more and for less of the same part of the gate drive."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from heatsim.studies.check.limits.drive import INSTEAD, LOWERED, MOVES, SIZES, Moves
from heatsim.studies.check.result import CaseResult
from heatsim.verdict import Finding


def moves_of(remedy: str) -> Iterator[tuple[str, int]]:
    """Which way a remedy moves parts of the gate drive: part, and 1 for more of it or -1 for less."""
    for words, moves in (*MOVES.items(), *LOWERED.items()):
        if words in remedy:
            yield from moves.items()


def agreed(cases: Sequence[CaseResult], simulated: Moves | None = None) -> tuple[CaseResult, ...]:
    """The cases with remedies that do not pull one part of the gate drive both ways.

    simulated: which way parts were moved in a simulation that held; beside it, what starts a heater was simulated

    What was simulated stands, and what asks for the opposite gives way to it. Where nothing was, it is said that the limits pull
    both ways.
    """
    told = [finding.remedy for case in cases for finding in case.findings if finding.grade != "holds"]
    known = {part: way for remedy in told for words, moves in LOWERED.items() if words in remedy for part, way in moves.items()}
    known |= simulated or {}
    asked = {move for remedy in told for move in moves_of(remedy)} | set(known.items())
    torn = [part for part in SIZES if {(part, 1), (part, -1)} <= asked]
    return tuple(replace(case, findings=tuple(_settled(each, torn, known) for each in case.findings)) for case in cases)


def _settled(finding: Finding, torn: Sequence[str], known: Mapping[str, int]) -> Finding:
    """A finding whose remedy gives way where it must."""
    if finding.grade == "holds":
        return finding
    for part, way in moves_of(finding.remedy):
        if part in torn and known.get(part) != way:
            return replace(finding, remedy=_instead(part, way, part in known))
    return finding


def _instead(part: str, way: int, decided: bool) -> str:
    less, more = SIZES[part]
    if decided:
        return f"Do not use a {more if way > 0 else less} {part}: simulation shows that the opposite helps. Use {INSTEAD[part]}."
    return f"The limits pull the {part} both ways: some want it {more}, some {less}. Use {INSTEAD[part]}."


__all__ = ["agreed", "moves_of"]
