# SPDX-License-Identifier: GPL-3.0-or-later
"""The simulator's messages -> one cause in plain words."""

from __future__ import annotations

import re
from collections.abc import Iterable

_CAUSES = (
    (re.compile(r"Timestep too small; time = ([-+.\deE]+).*?trouble with (?:node )?\"?([^\"\s]+)", re.IGNORECASE),
     "the time step became too small at {0} s, trouble at {1}"),
    (re.compile(r"timestep too small", re.IGNORECASE), "the time step became too small"),
    (re.compile(r"singular matrix:\s*check nodes?\s+([^\s]+)", re.IGNORECASE),
     "the equations are singular at node {0}"),
    (re.compile(r"unknown subckt:\s*(.*)", re.IGNORECASE), "a subcircuit is not defined: {0}"),
    (re.compile(r"Undefined parameter \[([^\]]*)\]", re.IGNORECASE), "a parameter is not defined: {0}"),
    (re.compile(r"no such function '([^']*)'", re.IGNORECASE), "a function does not exist: {0}"),
    (re.compile(r"(?:could not|can't|cannot) find (?:the )?(?:model|definition).*?([\w.]+)\s*$", re.IGNORECASE),
     "a model is not defined: {0}"),
    (re.compile(r"unable to find definition of model ([\w.]+)", re.IGNORECASE), "a model is not defined: {0}"),
    (re.compile(r"iteration limit reached|convergence failed|no convergence", re.IGNORECASE),
     "the iteration did not converge"),
    (re.compile(r"circuit not parsed|there aren't any circuits loaded", re.IGNORECASE),
     "the netlist could not be read"),
    (re.compile(r"^(?:stderr )?(?:fatal )?error:?\s*(.+)", re.IGNORECASE), "the simulator says: {0}"),
)


def cause(lines: Iterable[str]) -> str:
    """The most telling message of a run, in words; empty when none of them tells of a failure."""
    text = [line.removeprefix("stderr ").removeprefix("stdout ").strip() for line in lines]
    for pattern, words in _CAUSES:
        for line in text:
            found = pattern.search(line)
            if found:
                return words.format(*found.groups()).strip()
    return ""
