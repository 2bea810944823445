# SPDX-License-Identifier: GPL-3.0-or-later
"""The simulator's messages -> one cause in plain words."""

from __future__ import annotations

import re
from collections.abc import Iterable

_CAUSES = tuple(
    (re.compile(pattern, re.IGNORECASE | re.MULTILINE), words)
    for pattern, words in (
        (r"unknown subckt:\s*(.+)", "a subcircuit is not defined: {0}"),
        (r"mismatch of \.subckt", "a subcircuit is not closed by .ends"),
        (r"undefined parameter \[([^\]]*)\]", "a parameter is not defined: {0}"),
        (r"no such function '([^']*)'", "a function does not exist: {0}"),
        (r"can't find model '([^']*)'", "a model is not defined: {0}"),
        (r"^error on line \d+ or its substitute:\n(.+)\n(.+)", "the line `{0}` could not be read: {1}"),
        (r"^fatal error:\s*(.+)", "the simulator says: {0}"),
        (r"^error:\s*(\S+ out of range for \S+)\n+in line (\S+)", "a formula fails at {1}: {0}"),
        (r"singular matrix:\s*check nodes?\s+(\S+)", "the equations are singular at node {0}"),
        (
            r"timestep too small; time = ([-+.\de]+).*?trouble with (?:node )?\"?([^\"\n]+)",
            "the time step became too small at {0} s, trouble at {1}",
        ),
        (r"timestep too small; time = ([-+.\de]+)", "the time step became too small at {0} s"),
        (r"iteration limit reached|convergence failed|no convergence", "the iteration did not converge"),
        (r"circuit not parsed|there aren't any circuits loaded", "the netlist could not be read"),
        (r"^(?:fatal )?error:?\s*(.+)", "the simulator says: {0}"),
    )
)
"""Tried from the top: what is wrong with the deck comes before what became of it."""

_STREAM = re.compile(r"^(?:stderr|stdout) ?", re.MULTILINE)


def cause(messages: Iterable[str]) -> str:
    """The most telling message of a run, in words; empty when none of them tells of a failure."""
    text = _STREAM.sub("", "\n".join(messages))
    for pattern, words in _CAUSES:
        found = pattern.search(text)
        if found:
            return words.format(*(group.strip() for group in found.groups()))
    return ""
