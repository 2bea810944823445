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
    title, _, rest = text.partition("\n")
    if not _TITLE.fullmatch(title):
        raise DeckRefused("line 1 is not a plain title")
    first, started, ended = 2, False, False
    for block in rest.split("\n\n"):
        place, fault, started, ended = _first_fault(block, started, ended)
        if fault:
            raise DeckRefused(f"line {first + place}: {fault}")
        first += block.count("\n") + 2
    if not ended:
        raise DeckRefused("the deck has no .end")


@lru_cache(maxsize=64)
def _first_fault(block: str, started: bool, ended: bool) -> tuple[int, str, bool, bool]:
    """Place and words of the first fault in lines without a blank one between, words empty without a fault; then whether a part or
    directive, and whether `.end`, stands before what follows them. Kept, for the same blocks come again in deck after deck.
    """
    for place, line in enumerate(block.split("\n")):
        fault = _fault(line, started) or ("something follows .end" if ended and line.strip() else "")
        if fault:
            return place, fault, started, ended
        ended = ended or line.strip().lower() == ".end"
        started = started or bool(line.strip()) and not line.lstrip().startswith("*")
    return 0, "", started, ended


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
