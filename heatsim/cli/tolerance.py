# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim tolerance`: how many heaters built of parts within their tolerances keep every limit."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from heatsim.cli import frame
from heatsim.cli.stored import say_replaced, studying

TOLERANCE = """Find which share of heaters built of parts within their tolerances keeps every limit, what the worst of them is
like, and which part it hangs on, each with its error. Heaters are simulated where they tell most: some tens of them instead of
hundreds by chance. An interrupted study continues when the same command is run again."""

EXAMPLES = """examples:
  heatsim tolerance heater.toml "capacitors.capacitance = 5 %" "switch.threshold = 0.5 V"
  heatsim tolerance heater.toml "supply.voltage = 10 %" --case loaded --error "1 %" """


def add(commands: Any) -> None:
    """Add the command."""
    parser = frame.add_command(
        commands, "tolerance", "how many heaters hold, built of parts within their tolerances", TOLERANCE, EXAMPLES
    )
    frame.add_shared(parser, "FILE")
    parser.add_argument("bands", nargs="+", metavar="BAND", help='FIELD = BAND to either side: "supply.voltage = 5 %%"')
    frame.add_shared(parser, "--case", help="only this case; may be given more than once (default: all, and all must hold)")
    text = "distribution of parts in their bands; normal: the band is three standard deviations"
    parser.add_argument("--spread", choices=("uniform", "normal"), default="uniform", help=text)
    parser.add_argument("--samples", type=frame.positive, metavar="N", help="heaters simulated at the most (default: 128)")
    parser.add_argument(
        "--error", metavar="SHARE", default="2 %", help="error of the share that holds, at which it ends early (default: 2 %%)"
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="random seed of the samples (default: 1)")
    frame.add_shared(parser, "--jobs", "--cluster", "--store")
    frame.add_shared(parser, "--out", help="folder for page, picture and store (default: results/FILE-tolerance)")
    frame.add_shared(parser, "--set", "--json", "--quiet")
    parser.set_defaults(run=run, again=frame.CONTINUE)


def run(options: argparse.Namespace) -> int:
    """Sample, print, draw."""
    from heatsim.report import tolerance as report
    from heatsim.studies.tolerance import MOST, tolerance

    scenario, names = frame.load(options, options.case)
    error = frame.share("--error", options.error)
    fields = [text.partition("=")[0].strip() for text in options.bands]
    say_replaced(options, scenario, fields, names)
    out = options.out or Path("results") / f"{Path(options.file).stem}-tolerance"
    path = options.store or out / "points.db"
    with studying(options, report, path) as (watch, store, pool):
        law, most = options.spread, options.samples or MOST
        result = tolerance(scenario, options.bands, pool, options.case, law, options.seed, most, error, store, watch)
    return frame.deliver(
        options,
        result.exit_code,
        lambda stream: report.show(result, stream),
        lambda: report.plain(result),
        lambda: report.write_folder(result, out),
    )
