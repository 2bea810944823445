# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line, one file a command on the frame they share: parse, call a study, print, exit code.

No physics and no decisions, and nothing heavy is imported before it is needed.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Sequence

from heatsim import __version__
from heatsim.cli import check, completion, explain, heat, match, netlist, new, parts, ring, schema, sweep, tolerance, wind
from heatsim.cli import map as map_command
from heatsim.cli.frame import Parser, run

CAUTION = "Mains, stored charge, red-hot metal, strong fields: a simulation does not make a build safe. Follow local codes."


OBJECTS = 10_000
"""New objects after which Python looks for cycles among them."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code. Without arguments it is the program itself, with those of the command line.

    Python looks through all objects for cycles of them again and again while libraries load, and once more when it ends, which
    takes up to half a second of processor time and finds next to nothing in a program that ends soon.
    """
    if arguments is not None:
        return run(whole_parser(), arguments)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # for matrices as small as here threads cost more than they bring
    gc.set_threshold(OBJECTS)
    try:
        return run(whole_parser(), None)
    finally:
        gc.freeze()


def whole_parser() -> Parser:
    """The parser of all commands."""
    parser = Parser(
        prog="heatsim",
        description="Will this self-oscillating induction heater hold? Find out before winding it.",
        epilog=f"Exit codes: 0 holds, 1 something fails or is marginal, 2 bad input, 3 not simulated or not written. {CAUTION}",
    )
    parser.add_argument("--version", action="version", version=f"heatsim {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for command in (new, check, netlist, wind, heat, ring, sweep, map_command, tolerance, match, parts, explain, schema):
        command.add(commands)
    completion.add(commands, parser)
    return parser


__all__ = ["main"]
