# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim map`: which limit ends the usable supply voltage at each load."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from heatsim.cli import frame
from heatsim.cli.stored import say_replaced, studying

MAP = """Find where a heater is usable: supply voltage against load, or any two fields, and which limit decides where. Points are
put where they tell most; an interrupted map continues when the same command is run again. load is short for the share of
the workpiece."""

EXAMPLES = """examples:
  heatsim map heater.toml
  heatsim map heater.toml --against "load = 0 % to 150 %" --range "supply.voltage = 20 V to 60 V"
  heatsim map heater.toml --case idle --against "capacitors.count = 3 to 9" """


def add(commands: Any) -> None:
    """Add the command."""
    parser = frame.add_command(commands, "map", "which limit ends the usable supply voltage at each load", MAP, EXAMPLES)
    frame.add_shared(parser, "FILE")
    parser.add_argument("--against", metavar='"FIELD = LOW to HIGH"', help='horizontal axis (default: "load = 0 %% to 100 %%")')
    parser.add_argument(
        "--range", metavar='"FIELD = LOW to HIGH"', help="vertical axis (default: half to one and a half times the supply voltage)"
    )
    frame.add_shared(parser, "--case", action="store", help="case to map (default: the first with a workpiece)")
    parser.add_argument("--accuracy", default="0.5 %", metavar="SHARE", help="accuracy of the boundary, as a share of each axis")
    parser.add_argument("--most", type=frame.positive, metavar="N", help="start no new column after N points (default: 600)")
    frame.add_shared(parser, "--jobs", "--cluster", "--store")
    frame.add_shared(parser, "--out", help="folder for picture and store (default: results/FILE-map)")
    frame.add_shared(parser, "--set", "--json", "--quiet")
    parser.set_defaults(run=run, again=frame.CONTINUE)


def run(options: argparse.Namespace) -> int:
    """Map, print, draw."""
    from heatsim.report import map as report
    from heatsim.studies.map import MOST_POINTS, operating_map

    scenario, names = frame.load(options, options.case and [options.case])
    accuracy = frame.share("--accuracy", options.accuracy)
    fields = (text.partition("=")[0].strip() for text in (options.against, options.range or "supply.voltage =") if text)
    say_replaced(options, scenario, fields, names)
    out = options.out or Path("results") / f"{Path(options.file).stem}-map"
    path = options.store or out / "points.db"
    with studying(options, report, path) as (watch, store, pool):
        axes, most = (options.against, options.range), options.most or MOST_POINTS
        result = operating_map(scenario, *axes, pool, options.case, store, accuracy, most, progress=watch)
    return frame.deliver(
        options,
        result.exit_code,
        lambda stream: report.show(result, stream),
        lambda: report.plain(result),
        lambda: report.write_folder(result, out),
    )
