# SPDX-License-Identifier: GPL-3.0-or-later
"""Commands that evaluate many operating points: `heatsim sweep`."""

from __future__ import annotations

import argparse
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim.cli.shared import (
    EXIT_FAILS,
    EXIT_INTERRUPTED,
    EXIT_OK,
    EXIT_UNSOLVED,
    add_cases,
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
    from heatsim.studies.sweep import SweepResult

SWEEP = """Evaluate many variants of one heater, into a store that survives any interruption. Run the same command again to
continue. Ranges: "supply.voltage = 24 V to 60 V in 20", "choke.turns = 14 to 24 by 2"; lists: "switch.count = 1, 2, 3";
load is short for the share of the workpiece: "load = 0 % to 100 % in 10"."""

EXAMPLES = """examples:
  heatsim sweep heater.toml --vary "supply.voltage = 24 V to 60 V in 20" --vary "load = 0 % to 100 % in 20" --plot
  heatsim sweep heater.toml --tolerance "capacitors.capacitance = 5 %" --tolerance "switch.threshold = 0.5 V" --samples 256
  heatsim sweep --status results/heater-sweep/points.db
  heatsim sweep --store results/heater-sweep/points.db --export points.csv --plot"""


def add_sweep(commands: Any) -> None:
    """`heatsim sweep`."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "sweep",
        help="evaluate many variants: ranges, lists, tolerances; resumable",
        description=SWEEP,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", metavar="FILE", nargs="?", help="scenario file (TOML)")
    _add_plan(parser)
    _add_run(parser)
    _add_results(parser)
    add_output(parser)
    parser.set_defaults(run=sweep)


def _add_plan(parser: argparse.ArgumentParser) -> None:
    """What is varied."""
    group = parser.add_argument_group("what is varied")
    group.add_argument("--vary", action="append", default=[], metavar='"FIELD = VALUES"', help="an axis; several span a grid")
    group.add_argument("--in-step", action="store_true", help="the axes go side by side, value by value, not as a grid")
    group.add_argument(
        "--tolerance", action="append", default=[], metavar='"FIELD = BAND"', help="vary round the nominal value, e.g. 5 %%"
    )
    group.add_argument("--samples", type=positive, default=64, metavar="N", help="tolerance samples (default: 64)")
    group.add_argument("--seed", type=int, default=1, metavar="N", help="of the samples (default: 1)")
    group.add_argument(
        "--spread",
        choices=("uniform", "normal"),
        default="uniform",
        help="of the samples in the band; normal: the band is three standard deviations",
    )
    add_cases(group)
    add_override(group)


def _add_run(parser: argparse.ArgumentParser) -> None:
    """How it is run."""
    group = parser.add_argument_group("how it is run")
    group.add_argument("--store", type=Path, metavar="PATH", help="database file (default: points.db in the --out folder)")
    add_workers(group)
    group.add_argument(
        "--keep",
        default="worst 5",
        metavar="RULE",
        help='waveforms to keep: none, all, failing, "every N", "worst N" (default: worst 5)',
    )


def _add_results(parser: argparse.ArgumentParser) -> None:
    """What becomes of the results."""
    group = parser.add_argument_group("what becomes of the results")
    group.add_argument("--out", type=Path, metavar="DIR", help="folder for store and pictures (default: results/FILE-sweep)")
    group.add_argument("--status", metavar="STORE", type=Path, help="show what a store holds, and nothing else")
    group.add_argument("--export", type=Path, metavar="FILE", help="write all points as .csv or .parquet")
    group.add_argument("--plot", action="store_true", help="draw the picture that fits the sweep, as PNG and SVG")
    group.add_argument(
        "--output", action="append", default=[], metavar="MEASURE", help="draw this instead; may be given more than once"
    )
    group.add_argument("--sweep", type=positive, metavar="N", help="which sweep of the store (default: the last)")


def sweep(options: argparse.Namespace) -> int:
    """Run, resume, show, export or draw a sweep."""
    if options.status is not None:
        return _status(options)
    if options.vary or options.tolerance:
        return _run(options)
    if options.export or options.plot:
        return _from_store(options)
    raise InputError.single("sweep", "has nothing to vary", allowed='--vary "supply.voltage = 24 V to 60 V in 20"')


def _run(options: argparse.Namespace) -> int:
    from heatsim.report.sweep import show as report
    from heatsim.studies.sweep import SweepPlan
    from heatsim.studies.sweep import sweep as run_sweep

    if options.file is None:
        raise InputError.single("FILE", "is missing", allowed="the scenario file that is varied")
    scenario, _ = load(options)
    plan = SweepPlan.read(
        scenario,
        options.vary,
        options.tolerance,
        options.case,
        in_step=options.in_step,
        samples=options.samples,
        seed=options.seed,
        spread=options.spread,
    )
    store, hushed = _store(options), options.quiet or options.json == "-"
    make_folder(_out(options))
    with _plain_warnings(), report.watching(hushed) as watch:
        executor = cluster(options)
        try:
            result = run_sweep(scenario, plan, store, executor, options.workers, options.keep, watch)
        except KeyboardInterrupt:
            report.say_interrupted(watch.latest, store)
            return EXIT_INTERRUPTED
        finally:
            if executor is not None:
                executor.close()
    files = _write(options, store, result.number)
    if options.json:
        write_json(options.json, result.as_dict())
    if not hushed:
        report.show(result, files)
    return _exit_code(result)


def _exit_code(result: SweepResult) -> int:
    """As a check's, over all points; some points without a result are something that is not as wanted."""
    if result.progress.failed == result.progress.total:
        return EXIT_UNSOLVED
    return EXIT_OK if set(result.grades) <= {"holds"} else EXIT_FAILS


@contextmanager
def _plain_warnings() -> Iterator[None]:
    """Warnings as lines of ours."""
    with warnings.catch_warnings():
        warnings.showwarning = lambda message, *_: print(f"heatsim: {message}", file=sys.stderr)
        yield


def _status(options: argparse.Namespace) -> int:
    from heatsim.report.sweep import show as report
    from heatsim.studies.store import Store

    with Store.open(options.status, create=False) as store:
        sweeps = store.sweeps()
    if options.json:
        write_json(options.json, report.status_data(options.status, sweeps))
    if not options.quiet and options.json != "-":
        report.show_store(options.status, sweeps)
    return EXIT_OK


def _from_store(options: argparse.Namespace) -> int:
    """Export or draw what a store holds already."""
    if options.store is None and options.file is None:
        raise InputError.single("--store", "is missing", allowed="the database file of a sweep")
    for path in _write(options, _store(options), options.sweep):
        if not options.quiet:
            print(path)
    return EXIT_OK


def _write(options: argparse.Namespace, path: Path, number: int | None) -> list[Path]:
    """Table and pictures of a sweep in a store, by default the last one."""
    from heatsim.studies.store import Store

    written: list[Path] = []
    if not options.export and not options.plot:
        return written
    with Store.open(path, create=False) as store:
        sweeps = {told.number: told for told in store.sweeps()}
        chosen = sweeps.get(number or max(sweeps, default=0))
        if chosen is None:
            raise InputError.single("--sweep", "is not in the store", number or "", ", ".join(map(str, sweeps)) or "no sweep yet")
        if options.plot and "map" in chosen.plan:
            raise InputError.single("--plot", "is not for a map", f"sweep {chosen.number}", "heatsim map FILE draws it again")
        if options.export:
            store.export(options.export, chosen.number)
            written.append(options.export)
        if options.plot:
            written += _draw(options, chosen, store.frame(chosen.number))
    return written


def _draw(options: argparse.Namespace, chosen: Any, frame: Any) -> list[Path]:
    from heatsim.report.sweep.pictures import draw, save

    figure = draw(chosen.plan, frame, options.output)
    make_folder(_out(options))
    paths = [_out(options) / f"sweep-{chosen.number}{suffix}" for suffix in (".png", ".svg")]
    for path in paths:
        save(figure, path)
    return paths


def _out(options: argparse.Namespace) -> Path:
    """Folder for store and pictures."""
    if options.out is not None:
        return Path(options.out)
    from heatsim.studies.sweep import default_store

    return Path(options.store).parent if options.file is None else default_store(options.file).parent


def _store(options: argparse.Namespace) -> Path:
    """The database file."""
    return Path(options.store) if options.store is not None else _out(options) / "points.db"
