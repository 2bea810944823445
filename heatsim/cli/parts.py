# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim parts`: what the catalogues hold."""

from __future__ import annotations

import argparse
from typing import Any

from heatsim.cli.frame import add_command, add_shared, deliver

PARTS = "List rings, core materials, metals, wire gauges and MOSFETs that scenarios may name, with where their figures are from."
EXAMPLES = """examples:
  heatsim parts                             everything
  heatsim parts fe-si-al 60                 what has both words
  heatsim parts --kind wire 14              a wire gauge
  heatsim parts --near "40 x 24 x 14.5 mm"  which ring on the bench is this?"""


def add(commands: Any) -> None:
    """Add the command."""
    parser = add_command(commands, "parts", "list rings, materials, metals, wire and MOSFETs to choose from", PARTS, EXAMPLES)
    parser.add_argument("words", metavar="WORD", nargs="*", help="all must be in the name, the kind, or what it is")
    parser.add_argument("--kind", metavar="KIND", help="only rings, materials, metals, wire, devices, capacitors or pads")
    parser.add_argument("--catalogue", metavar="FILE", help="add the parts of a catalogue file of your own (TOML)")
    parser.add_argument("--near", metavar="SIZE", help='rings nearest to "outer x inner x height", such as "40 x 24 x 14.5 mm"')
    add_shared(parser, "--json", "--quiet")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Find and print."""
    from heatsim.report import parts as report
    from heatsim.studies.parts import find_parts

    result = find_parts(*options.words, kind=options.kind, catalogue=options.catalogue, near=options.near, options=True)
    return deliver(options, result.exit_code, lambda stream: report.show(result, stream), result.as_dict)
