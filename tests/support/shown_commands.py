# SPDX-License-Identifier: GPL-3.0-or-later
"""Command lines in texts, and whether the parser takes them."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
from collections.abc import Iterator

from heatsim.docs.commands import commands, parser


def command_lines(text: str) -> Iterator[str]:
    """Every command line of heatsim in the blocks of a text of Markdown, joined where it goes on: indented, or after a prompt."""
    for line in _joined(text).splitlines():
        found = re.match(rf"(?:\$ |    ){START}(.*)$", line)
        if found:
            yield found[1].partition(" > ")[0].strip()


def mentions(text: str) -> Iterator[str]:
    """Every command that the sentences of a text of Markdown name in code marks; its file may be left out there."""
    yield from (found.strip() for found in re.findall(rf"`{START}([^`]+)`", _joined(text)))


START = r"(?:\.venv/bin/|python3 )?(?=heatsim(?:/bootstrap\.py)? )"
"""What may stand before a command line of heatsim."""


def _joined(text: str) -> str:
    return re.sub(r" *\\\n\s*", " ", text)


def fault_of(line: str, mentioned: bool = False) -> str:
    """Why a line is no command line, empty if it is one. mentioned: its file may be left out."""
    program, *arguments = shlex.split(line, comments=True)
    if program.endswith("bootstrap.py") and arguments[:1] in (["test"], ["release"], ["setup"], ["docs"]):
        return ""
    if mentioned and len(arguments) == 1 and arguments[0] in commands():
        return ""
    told = _refused(arguments)
    return _refused([*arguments, "FILE"]) if mentioned and "required: FILE" in told else told


def _refused(arguments: list[str]) -> str:
    """What the parser says against arguments, empty for nothing."""
    said = io.StringIO()
    with contextlib.redirect_stderr(said), contextlib.redirect_stdout(said):
        try:
            parser().parse_args(arguments)
        except SystemExit as end:
            return "" if end.code == 0 else said.getvalue().strip().splitlines()[-1]
    return ""
