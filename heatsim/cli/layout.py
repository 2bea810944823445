# SPDX-License-Identifier: GPL-3.0-or-later
"""How help is laid out: at any width, with examples that can be copied.

Running text is wrapped; an example that is too long goes on on the next line as a shell reads it, with a backslash. What stands in
quotation marks is never broken.
"""

from __future__ import annotations

import argparse
import re
import shutil
import textwrap
from collections.abc import Iterator
from typing import Any

WIDEST = 100
"""Columns of help on a wide terminal."""

NARROW = 60
"""Columns below which arguments are not put beside the name of the command."""

PART = re.compile(r"\[(?:[^\[\]]|\[[^\]]*\])*\]|\S+")
"""A part of the line of usage: all that is in brackets, or a word."""

UNIT = re.compile(r'(?:[^\s"]|"[^"]*")+')
"""What is not broken: a word, with all that is in quotation marks in it."""

COMMENT = re.compile(r"  (?P<command>\S.*?) {2,}(?P<comment>\S.*)")
"""An example with what it does beside it."""


class HelpLayout(argparse.HelpFormatter):
    """Descriptions are wrapped; lines that begin with two blanks are examples."""

    def __init__(self, prog: str, **options: Any) -> None:
        columns = shutil.get_terminal_size().columns
        super().__init__(prog, **{"width": min(columns, WIDEST) - 1} | options)

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        return "\n".join(line for block in _blocks(text) for line in _laid_out(block, max(width, 1), indent))

    def _split_lines(self, text: str, width: int) -> list[str]:
        return _wrapped(" ".join(text.split()), max(width, 1), "", "")

    def _format_usage(self, *arguments: Any) -> str:
        whole = super()._format_usage(*arguments)
        first, *words = PART.findall(" ".join(whole.split()))
        if self._width >= NARROW or first != "usage:":
            return whole
        parts = [part for word in words for part in ([word] if len(word) <= self._width - 8 else UNIT.findall(word))]
        return "\n".join(_joined(parts, self._width, f"{first} ", " " * 8)) + "\n\n"

    def format_help(self) -> str:
        """The help, nothing in it wider than the terminal unless it is a single unbreakable word."""
        lines = super().format_help().split("\n")
        return "\n".join(short for line in lines for short in _shortened(line, self._width))


def _blocks(text: str) -> Iterator[list[str]]:
    """Running text, examples and blank lines, each by itself."""
    running: list[str] = []
    for line in text.strip("\n").split("\n"):
        if line.strip() and not line.startswith("  "):
            running.append(line.strip())
            if not line.endswith(":"):
                continue
        if running:
            yield running
            running = []
        if not line.strip() or line.startswith("  "):
            yield [line.rstrip()]
    if running:
        yield running


def _laid_out(block: list[str], width: int, indent: str) -> Iterator[str]:
    """Lines of one block."""
    first = block[0]
    if not first:
        yield ""
    elif not first.startswith("  "):
        yield from _wrapped(" ".join(block), width, indent, indent)
    elif len(first) <= width:
        yield first
    elif found := COMMENT.fullmatch(first):
        yield from _command(found["command"], width)
        yield from _wrapped(found["comment"], width, " " * 6, " " * 6)
    else:
        yield from _command(first.strip(), width)


def _command(text: str, width: int) -> list[str]:
    """A command over as many lines as it takes, each but the last with a backslash; an option stays with its value if it can."""
    lines = _joined(_options(UNIT.findall(text), width - 6), width - 2, "  ", "    ")
    return [f"{line} \\" for line in lines[:-1]] + lines[-1:]


def _options(words: list[str], width: int) -> list[str]:
    """Words of a command, options joined with their values where both fit on a line."""
    found: list[str] = []
    for word in words:
        last = found[-1] if found else ""
        if last.startswith("-") and " " not in last and not word.startswith("-") and len(last) + 1 + len(word) <= width:
            found[-1] = f"{last} {word}"
        else:
            found.append(word)
    return found


def _wrapped(text: str, width: int, first: str, then: str) -> list[str]:
    return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=then, break_long_words=False, break_on_hyphens=False)


def _joined(words: list[str], width: int, first: str, then: str) -> list[str]:
    """Words put together on lines, none of them broken."""
    lines = [first + words[0]]
    for word in words[1:]:
        if len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(then + word)
    return lines


def _shortened(line: str, width: int) -> list[str]:
    """A line, in several where it is too long: what stands too far to the right is brought nearer; a command has been laid out."""
    if len(line) <= width or line.endswith(" \\"):
        return [line]
    indent = len(line) - len(line.lstrip())
    return _joined(UNIT.findall(line), width, " " * min(indent, 8), " " * min(indent + 2, 8))
