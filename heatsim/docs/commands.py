# SPDX-License-Identifier: GPL-3.0-or-later
"""The help of each command as the parser writes it, for the pages."""

from __future__ import annotations

import argparse
from functools import cache
from unittest.mock import patch

from heatsim.cli import whole_parser

WIDTH = "88"
"""Columns of the help on pages."""


@cache
def parser() -> argparse.ArgumentParser:
    """The parser of all commands."""
    return whole_parser()


def commands() -> dict[str, argparse.ArgumentParser]:
    """Each command's parser by its name."""
    subparsers = next(each for each in parser()._actions if isinstance(each, argparse._SubParsersAction))
    return dict(subparsers.choices)


def help_pages() -> dict[str, str]:
    """The help of each command, as a text to be shown."""
    with patch.dict("os.environ", {"COLUMNS": WIDTH, "NO_COLOR": "1"}):
        return {f"commands/_{name}.txt": each.format_help() for name, each in commands().items()}
