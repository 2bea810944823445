# SPDX-License-Identifier: GPL-3.0-or-later
"""Commands on a terminal of a given width: what they say while they work is never cut, nor longer than a line."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import subprocess
import sys
import termios
from pathlib import Path

import pytest
from rich.cells import cell_len

from tests.cli.conftest import QUICK
from tests.support.layers import quick_of

CONTROL = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]")
"""Sequences that move the cursor, wipe lines and colour."""

BAR = re.compile(r"^[━─]{10,}  ")

PARTS = re.compile(
    r"case loaded|\d\.\d\d of \d\.\d\d ms|(at most )?(\d+ min )?\d+ s left|[012] of 2 points|[\d.]+ a second"
    r"|least headroom [+−][\d.]+ %|supply: mean current|supply voltage 4[02] V \(loaded\)|(writing|drawing) [a-z ]+"
)
"""All that may be said, each of it whole."""


def on_a_terminal(columns: int, tmp_path: Path, *arguments: str) -> tuple[int, list[str]]:
    """The exit code of a command, and every line it drew on its standard error, a terminal of so many columns."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    surroundings = {name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES", "NO_COLOR")}
    with (tmp_path / "stdout").open("wb") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", "heatsim", *arguments],
            stdin=theirs,
            stdout=out,
            stderr=theirs,
            env=surroundings | {"TERM": "xterm-256color"},
            cwd=tmp_path,
        )
    os.close(theirs)
    drawn = b""
    while True:
        try:
            got = os.read(ours, 65536)
        except OSError:  # the other end is closed
            break
        if not got:
            break
        drawn += got
    os.close(ours)
    lines = re.split(r"[\r\n]+", CONTROL.sub("", drawn.decode()))
    return process.wait(timeout=60), [line.rstrip() for line in lines if line.strip()]


def cut(lines: list[str]) -> list[str]:
    """What was said and is none of the parts."""
    return [part for line in lines for part in BAR.sub("", line).split(" · ") if not PARTS.fullmatch(part)]


@pytest.mark.parametrize("columns", quick_of([40, 80], 40))
def test_a_check_says_how_far_it_is_in_whole_words(columns, sound, tmp_path) -> None:
    code, lines = on_a_terminal(columns, tmp_path, "check", sound, *QUICK, "--no-report")
    assert code == 0 and lines
    assert max(map(cell_len, lines)) <= columns
    assert cut(lines) == []
    assert any("case loaded" in line for line in lines) and any(line.endswith(" ms") for line in lines)


@pytest.mark.parametrize("columns", quick_of([40, 80], 40))
def test_a_sweep_says_how_far_it_is_in_whole_words(columns, sound, tmp_path) -> None:
    store = str(tmp_path / "points.db")
    code, lines = on_a_terminal(
        columns, tmp_path, "sweep", sound, *QUICK, "--vary", "supply.voltage = 40 V, 42 V", "--store", store
    )
    assert code == 0 and any("of 2 points" in line for line in lines)
    assert max(map(cell_len, lines)) <= columns
    assert cut(lines) == []


def test_quiet_draws_nothing(sound, tmp_path) -> None:
    assert on_a_terminal(80, tmp_path, "check", sound, *QUICK, "--no-report", "--quiet") == (0, [])
