# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim ring`: what an unknown ring is, from a bench test."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from heatsim.cli.frame import EXIT_OK, add_command, add_shared, deliver

RING = "Identify an unknown ring: permeability, saturation, materials that fit, and files that other commands can read."


def add(commands: Any) -> None:
    """Add the command."""
    parser = add_command(commands, "ring", "identify an unknown ring from a bench test", RING)
    add_shared(parser, "FILE", help="bench test of the ring (TOML)")
    parser.add_argument("capture", metavar="CAPTURE", nargs="?", help="captured ramp (CSV) instead of the one FILE names")
    add_shared(parser, "--out", help="folder to write (default: results/<name of the file>)")
    add_shared(parser, "--json", "--quiet")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Identify, print, write."""
    from heatsim.report import ring as report
    from heatsim.scenario.ringtest import RingTest
    from heatsim.studies.ring import identify

    out = options.out or Path("results") / Path(options.file).stem
    result = identify(RingTest.from_file(options.file, options.capture))
    return deliver(
        options, EXIT_OK, lambda stream: report.show(result, stream), result.as_dict, lambda: report.write_folder(result, out)
    )
