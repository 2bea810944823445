# SPDX-License-Identifier: GPL-3.0-or-later
"""What the engine refuses to load, whoever wrote the deck.

ngspice runs commands it finds in a netlist: in `.control` blocks, and also in comment lines that start with `*#` or
behind a title of `*ng_script`; `.include` and `.lib` read any file. Decks of ours hold none of this and no text of the
user's; this is the second lock, not the first.
"""

from __future__ import annotations

import re
from functools import lru_cache

DIRECTIVES = frozenset(".subckt .ends .model .param .option .options .tran .save .meas .measure .end .ic .temp".split())
"""What a deck may contain besides parts and comments."""

COMMANDS = frozenset(
    "bg_run cd codemodel destroy echo edit exit load quit reset resume run rusage set setcirc shell "
    "source snload snsave strcmp system unset wrdata write wrs2p".split()
)
"""Simulator commands that could be taken for the name of a part."""

_TITLE = re.compile(r"\* [A-Za-z0-9 ._,+-]+")
_PART = re.compile(r"[bcdefghijklmqrsvwx]\w*", re.ASCII)


class DeckRefused(ValueError):
    """A deck holds something that is no part, comment or known directive."""


def check_deck(text: str) -> None:
    """Raise DeckRefused, naming the line, unless `text` is a title, parts, comments, DIRECTIVES and one `.end`."""
    lines = text.split("\n")
    if not _TITLE.fullmatch(lines[0]):
        raise DeckRefused("line 1 is not a plain title")
    ended = started = False
    for number, line in enumerate(lines[1:], start=2):
        fault = _fault(line, started) or ("something follows .end" if ended and line.strip() else "")
        if fault:
            raise DeckRefused(f"line {number}: {fault}")
        ended = ended or line.strip().lower() == ".end"
        started = started or bool(line.strip()) and not line.lstrip().startswith("*")
    if not ended:
        raise DeckRefused("the deck has no .end")


@lru_cache(maxsize=4096)
def _fault(line: str, started: bool) -> str:
    """What is wrong with one line after the title, or nothing. `started`: a part or directive stands before it."""
    if not line.replace("\t", " ").isprintable() or "\\" in line:
        return "a control character or backslash"
    words = line.split()
    if not words:
        return ""
    first = words[0].lower()
    if first.startswith("*"):
        return "a comment that would be run as a command" if "#" in first or first.startswith("*ng_") else ""
    if first.startswith("+"):
        return "" if started else "a continuation of nothing"
    if first.startswith("."):
        return "" if first in DIRECTIVES else f"a directive that is not allowed: {first[:40]}"
    if first in COMMANDS or not _PART.fullmatch(first):
        return f"neither part nor directive: {first[:40]}"
    return ""
