# SPDX-License-Identifier: GPL-3.0-or-later
"""Errors a person can act on.

Every error that is the fault of the input carries four facts: where it is, what is wrong, what was given and what
is allowed. The command line prints them and exits with code 2. Nothing else in heatsim exits the process.
An output that cannot be written raises OutputError, exit code 3.
A simulation that fails is not an error but a result with a cause (see `heatsim.engine`).
Messages quote what a user's files and arguments say, so all of them pass through `printable`.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass


def printable(text: str) -> str:
    """The text on one line, safe to print: white space becomes a blank, any other control character a replacement sign."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else " " if sign.isspace() else "\N{REPLACEMENT CHARACTER}" for sign in text)


def shortened(text: str, most: int = 300) -> str:
    """The text, its middle left out when it has more than `most` signs."""
    half = most // 2 - 2
    return text if len(text) <= most else f"{text[:half]}...{text[-half:]}"


def known_names(name: str, known: Iterable[str]) -> str:
    """Names there are, for the `allowed` of a problem; where one is near to the `name` given, it is asked for first."""
    known = list(known)
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    return (f"did you mean {close[0]}? Known: " if close else "") + ", ".join(known)


class HeatsimError(Exception):
    """Base of every error heatsim raises on purpose."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong with an input.

    where: file, line and field as far as known; what: the fault in plain words; given: the text or value found
    (empty if nothing was); allowed: what would have been accepted, or the next step.
    """

    where: str
    what: str
    given: str = ""
    allowed: str = ""

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.given:
            text += f"; given {shortened(self.given)}"
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        return printable(text)


class InputError(HeatsimError, ValueError):
    """The input cannot be used; `problems` lists every fault found, not only the first."""

    def __init__(self, *problems: Problem) -> None:
        self.problems = tuple(dict.fromkeys(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))

    @classmethod
    def single(cls, where: str, what: str, given: object = "", allowed: str = "") -> InputError:
        """An error with one problem."""
        return cls(Problem(where, what, str(given), allowed))


class SetupError(HeatsimError, RuntimeError):
    """Something heatsim needs is not installed; the message says what to install."""


class NotRunningError(HeatsimError, RuntimeError):
    """A heater that a study has to see running does not run, or could not be simulated (`simulated` False)."""

    def __init__(self, text: str, simulated: bool) -> None:
        super().__init__(text)
        self.simulated = simulated


class OutputError(HeatsimError, OSError):
    """What was found cannot be written where it was to go; nothing half-written is left."""

    @classmethod
    def at(cls, where: str, why: str) -> OutputError:
        """An error at one path."""
        return cls(f"{where}: cannot be written ({why}); allowed: a place that may be written to, with room left")

    def __str__(self) -> str:
        return printable(str(self.args[0])) if self.args else ""
