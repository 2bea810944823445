# SPDX-License-Identifier: GPL-3.0-or-later
"""Reads a netlist's calls of subcircuits back as numbers: a parser of its own, written from SPICE's rules.

A line that begins with + goes on with the one before; * begins a comment; names and values are not case-sensitive; a call is
X<name> nodes... subcircuit key=value..., and a number may end in a scale factor (ngspice manual, 2.1.2 and 2.1.3).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

SCALES = {"t": 1e12, "g": 1e9, "meg": 1e6, "k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12, "f": 1e-15, "": 1.0}
_NUMBER = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?)(meg|[tgkmunpf])?[a-z]*$")


@dataclass(frozen=True)
class Call:
    """A subcircuit called: its outer nodes, its name and the values given."""

    nodes: tuple[str, ...]
    subcircuit: str
    values: dict[str, float]


def number(text: str) -> float:
    """A value with its scale factor; letters after that mean nothing."""
    found = _NUMBER.match(text.lower())
    assert found, f"no number: {text}"
    return float(found[1]) * SCALES[found[2] or ""]


def logical_lines(text: str) -> list[str]:
    """Comments left out, continuations put behind what they go on with."""
    lines: list[str] = []
    for line in text.splitlines():
        bare = line.split(";", 1)[0].strip().lower()
        if not bare or bare.startswith("*"):
            continue
        if bare.startswith("+"):
            lines[-1] += " " + bare[1:].strip()
        else:
            lines.append(bare)
    return lines


def calls(text: str) -> dict[str, Call]:
    """All calls of the circuit itself, by their names; those within subcircuits are not its own."""
    found, depth = {}, 0
    for line in logical_lines(text):
        depth += line.startswith(".subckt") - line.startswith(".ends")
        if line.startswith("x") and not depth:
            words = line.split()
            given = [word for word in words if "=" in word]
            plain = [word for word in words if "=" not in word]
            pairs = (word.split("=", 1) for word in given)
            found[plain[0]] = Call(tuple(plain[1:-1]), plain[-1], {key: number(value) for key, value in pairs})
    return found


def body(text: str, subcircuit: str) -> list[str]:
    """The lines of a subcircuit's definition."""
    lines = logical_lines(text)
    start = next(place for place, line in enumerate(lines) if line.split()[:2] == [".subckt", subcircuit])
    end = next(place for place in range(start, len(lines)) if lines[place].startswith(".ends"))
    return lines[start + 1 : end]


def table(line: str) -> list[tuple[float, float]]:
    """Pairs of a piecewise linear source: b... i=pwl(v(x), x1,y1, x2,y2 ...)."""
    inside = line[line.index("pwl(") + 4 : line.rindex(")")]
    numbers = [number(each.strip()) for each in inside.split(",")[1:]]
    return list(zip(numbers[::2], numbers[1::2], strict=True))
