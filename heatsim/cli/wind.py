# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim wind`: turns, stack and wire from the rings and wire on hand."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from heatsim.cli.frame import add_command, add_shared, deliver, hushed, load, notes

WIND = "Find turns, stack and wire from the rings and wire on hand."


def add(commands: Any) -> None:
    """Add the command."""
    parser = add_command(commands, "wind", "find turns, stack and wire from the rings and wire on hand", WIND)
    add_shared(parser, "FILE", "--set")
    add_shared(parser, "--out", help="folder for card and tables (default: results/<file>-wind)")
    add_shared(parser, "--jobs", "--json", "--quiet")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Find a winding, print it, write its card."""
    from heatsim.report import wind as report
    from heatsim.report.base import live
    from heatsim.studies.wind import build_yield, card, plain_result, wind

    scenario, _ = load(options)
    table = scenario.tables.wind
    if table is not None and table.highest_supply is not None and "supply.voltage" in dict(scenario.changes):
        notes(options, [f"wind.highest_supply = {table.highest_supply:g} V replaces supply.voltage; set it instead"])
    out = options.out or Path("results") / f"{Path(options.file).stem}-wind"
    count = table.confirm if table else 0
    names = [f"{case} on winding {k + 1}" for k in range(count) for case in scenario.cases]
    with live.progress(hushed(options), names) as progress:
        progress.note("estimating every winding")
        result = wind(scenario, options.jobs, progress)
        best = result.best
        proof = card(best, scenario) if best else None
        progress.note("varying the best winding")
        built = build_yield(result.scenario, best.candidate, result.duty) if best else None
    return deliver(
        options,
        result.exit_code,
        lambda stream: report.show(result, proof, built, stream),
        lambda: plain_result(result, proof, built),
        lambda: report.write_folder(result, proof, built, out),
    )
