# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim map`: which limit ends the usable supply voltage at each load."""

from __future__ import annotations

import argparse
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim.cli.shared import (
    EXIT_FAILS,
    EXIT_INTERRUPTED,
    EXIT_OK,
    EXIT_UNSOLVED,
    add_output,
    add_override,
    add_workers,
    cluster,
    load,
    make_folder,
    positive,
    write_json,
)
from heatsim.errors import InputError

if TYPE_CHECKING:
    from heatsim.studies.map import MapResult
    from heatsim.studies.points.crew import Executor

MAP = """Find where a heater is usable: supply voltage against load, or any two fields, and which limit ends it where. Points are
put where they tell most; an interrupted map continues when the same command is run again. load is short for the share of
the workpiece."""

EXAMPLES = """examples:
  heatsim map heater.toml
  heatsim map heater.toml --against "load = 0 % to 150 %" --range "supply.voltage = 20 V to 60 V"
  heatsim map heater.toml --case idle --against "capacitors.count = 3 to 9" """


def add_map(commands: Any) -> None:
    """`heatsim map`."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "map",
        help="which limit ends the usable supply voltage at each load",
        description=MAP,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", metavar="FILE", help="scenario file (TOML)")
    parser.add_argument("--against", metavar='"FIELD = LOW to HIGH"', help='horizontal axis (default: "load = 0 %% to 100 %%")')
    parser.add_argument(
        "--range", metavar='"FIELD = LOW to HIGH"', help="vertical axis (default: half to one and a half times the supply voltage)"
    )
    parser.add_argument("--case", metavar="NAME", help="case to map (default: the first with a workpiece)")
    parser.add_argument("--accuracy", default="0.5 %", metavar="SHARE", help="of the boundary, as a share of each axis")
    parser.add_argument("--most", type=positive, metavar="N", help="begin no further column after N points (default: 600)")
    add_workers(parser)
    parser.add_argument("--store", type=Path, metavar="PATH", help="database file (default: points.db in the --out folder)")
    parser.add_argument("--out", type=Path, metavar="DIR", help="folder for picture and store (default: results/FILE-map)")
    add_override(parser)
    add_output(parser)
    parser.set_defaults(run=run_map)


def run_map(options: argparse.Namespace) -> int:
    """Map, draw, tell."""
    from heatsim.quantity import QuantityError, parse_quantity
    from heatsim.report.map import show as report
    from heatsim.studies.map import MOST_POINTS, operating_map
    from heatsim.studies.store import Store

    wanted_case = options.case
    options.case = None
    scenario, _ = load(options)
    try:
        accuracy = parse_quantity(options.accuracy, "%")
    except QuantityError as error:
        raise InputError.single("--accuracy", error.what, options.accuracy, error.allowed) from None
    out = options.out or Path("results") / f"{Path(options.file).stem}-map"
    make_folder(out)
    hushed = options.quiet or options.json == "-"
    store_file = options.store or out / "points.db"
    with report.watching(hushed) as watch, Store.open(store_file) as store, closing(_executor(options)) as executor:
        try:
            result = operating_map(
                scenario,
                options.against,
                options.range,
                executor,
                wanted_case,
                store,
                accuracy,
                options.most or MOST_POINTS,
                progress=watch,
            )
        except KeyboardInterrupt:
            report.say_interrupted(watch.latest, store_file)
            return EXIT_INTERRUPTED
    _leave(options, result, out, hushed)
    return _exit_code(result)


def _executor(options: argparse.Namespace) -> Executor:
    """Worker processes on this machine, or the cluster that is asked for."""
    from heatsim.studies.points.crew import Crew

    return cluster(options) or Crew(options.workers)


def _leave(options: argparse.Namespace, result: MapResult, out: Path, hushed: bool) -> None:
    """Folder, JSON and words of a finished map."""
    from heatsim.report.map import show as report

    try:
        report.write_folder(result, out)
    except OSError as error:
        raise InputError.single("--out", f"cannot be written to ({error.strerror})", out) from None
    if options.json:
        write_json(options.json, report.plain(result))
    if not hushed:
        report.show(result, out)


def _exit_code(result: MapResult) -> int:
    """1 when nothing is usable where the headline is told, or the scenario's own point is not; 3 when nothing could be
    simulated.
    """
    if not any(sample.rooms or sample.outcome in ("dead", "latched") for sample in result.evidence.samples):
        return EXIT_UNSOLVED
    own_fails = result.own is not None and bool(result.evidence.ends(result.own))
    return EXIT_FAILS if own_fails or result.answer.reference.start is None else EXIT_OK
