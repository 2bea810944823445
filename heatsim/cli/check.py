# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim check`: the verdict on a build, and a report folder."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from heatsim.cli.frame import add_jobs, add_out, add_output, add_scenario, deliver, hushed, load

CHECK = "Simulate the proposed build: verdict and report folder."


def add(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("check", help="simulate the proposed build: verdict and report folder", description=CHECK)
    add_scenario(parser)
    add_out(parser, "report folder (default: results/<name of the file>)")
    parser.add_argument("--no-report", action="store_true", help="print the verdict, write no folder")
    add_jobs(parser)
    parser.add_argument("--verbose", action="store_true", help="show the limits that hold as well")
    add_output(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Check, print, write."""
    from heatsim.report.base.terminal import progress
    from heatsim.report.check import show, write_folder
    from heatsim.studies.check import check

    scenario, names = load(options, options.case)
    out = None if options.no_report else options.out or Path("results") / Path(options.file).stem
    with progress(hushed(options), names) as watch:
        result = check(scenario, names, options.jobs, watch)

    def write() -> list[Path]:
        if out is None:
            return []
        with progress(hushed(options)) as watch:
            return write_folder(result, out, watch.note)

    return deliver(options, result.exit_code, lambda stream: show(result, options.verbose, stream), result.as_dict, write)
