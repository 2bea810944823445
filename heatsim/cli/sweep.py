# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim sweep`: many variants of one heater, in a store that survives any interruption."""

from __future__ import annotations

import argparse
import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim.cli import frame
from heatsim.cli.stored import say_replaced
from heatsim.errors import HeatsimError, InputError
from heatsim.files import shown_path

if TYPE_CHECKING:
    from heatsim.scenario.scenario import Scenario
    from heatsim.studies.sweep import SweepPlan

SWEEP = """Evaluate many variants of one heater, into a store that survives any interruption. Run the same command again to
continue. Ranges: "supply.voltage = 24 V to 60 V in 20", "choke.turns = 14 to 24 by 2"; lists: "switch.count = 1, 2, 3";
load is short for the share of the workpiece: "load = 0 % to 100 % in 10"."""

EXAMPLES = """examples:
  heatsim sweep heater.toml --vary "supply.voltage = 24 V to 60 V in 20" --vary "load = 0 % to 100 % in 20" --plot
  heatsim sweep heater.toml --tolerance "capacitors.capacitance = 5 %" --tolerance "switch.threshold = 0.5 V" --samples 256
  heatsim sweep --status results/heater-sweep/points.db
  heatsim sweep --store results/heater-sweep/points.db --export points.csv --plot"""


def add(commands: Any) -> None:
    """Add the command."""
    parser = frame.add_command(commands, "sweep", "evaluate many variants: ranges, lists, tolerances; resumable", SWEEP, EXAMPLES)
    frame.add_shared(parser, "FILE", nargs="?")
    _add_plan(parser)
    _add_run(parser)
    _add_results(parser)
    frame.add_shared(parser, "--json", "--quiet")
    parser.set_defaults(run=run, again=frame.CONTINUE)


def _add_plan(parser: argparse.ArgumentParser) -> None:
    """What is varied."""
    group = parser.add_argument_group("what is varied")
    group.add_argument("--vary", action="append", default=[], metavar='"FIELD = VALUES"', help="an axis; several span a grid")
    group.add_argument("--in-step", action="store_true", help="step all axes together, value by value, instead of as a grid")
    group.add_argument(
        "--tolerance", action="append", default=[], metavar='"FIELD = BAND"', help="vary around the nominal value, e.g. 5 %%"
    )
    group.add_argument("--samples", type=frame.positive, default=64, metavar="N", help="tolerance samples (default: 64)")
    group.add_argument("--seed", type=int, default=1, metavar="N", help="random seed of the samples (default: 1)")
    group.add_argument(
        "--spread",
        choices=("uniform", "normal"),
        default="uniform",
        help="distribution of the samples in the band; normal: the band is three standard deviations",
    )
    frame.add_shared(group, "--case", "--set")


def _add_run(parser: argparse.ArgumentParser) -> None:
    """How it is run."""
    group = parser.add_argument_group("how it is run")
    frame.add_shared(group, "--store", "--jobs", "--cluster")
    group.add_argument(
        "--keep",
        default="worst 5",
        metavar="RULE",
        help='waveforms to keep: none, all, failing, "every N", "worst N" (default: worst 5)',
    )


def _add_results(parser: argparse.ArgumentParser) -> None:
    """What becomes of the results."""
    group = parser.add_argument_group("what becomes of the results")
    frame.add_shared(group, "--out", help="folder for page, pictures and store (default: results/FILE-sweep)")
    group.add_argument("--status", metavar="STORE", type=Path, help="only show what a store holds")
    group.add_argument("--export", type=Path, metavar="FILE", help="write all points as .csv or .parquet")
    group.add_argument("--plot", action="store_true", help="write the picture that fits the sweep as PNG and SVG beside the page")
    group.add_argument(
        "--output", action="append", default=[], metavar="MEASURE", help="draw this instead; may be given more than once"
    )
    group.add_argument("--sweep", type=frame.positive, metavar="N", help="which sweep of the store (default: the last)")


def run(options: argparse.Namespace) -> int:
    """Run, resume, show, export or draw a sweep."""
    if options.status is not None:
        return _status(options)
    if options.vary or options.tolerance:
        return _run(options)
    if options.export or options.plot:
        return _from_store(options)
    raise InputError.single("sweep", "has nothing to vary", allowed='--vary "supply.voltage = 24 V to 60 V in 20"')


def _run(options: argparse.Namespace) -> int:
    from heatsim.report import sweep as report
    from heatsim.studies.sweep import sweep

    if options.file is None:
        raise InputError.single("FILE", "is missing", allowed="the scenario file that is varied")
    scenario, _ = frame.load(options, options.case)
    plan = _plan(options, scenario)
    store = _store(options)
    try:
        with (
            report.watching(frame.hushed(options)) as watch,
            frame.folder_of(options, store, lambda: report.done_words(watch.latest)),
            frame.pool_of(options) as pool,
        ):
            result = sweep(scenario, plan, store, pool, keep=options.keep, progress=watch)
    except KeyboardInterrupt:
        _page_so_far(options, store, scenario, plan)
        raise
    return frame.deliver(
        options,
        result.exit_code,
        lambda stream: report.show(result, stream),
        result.as_dict,
        lambda: _write(options, store, result.number),
    )


def _page_so_far(options: argparse.Namespace, path: Path, scenario: Scenario, plan: SweepPlan) -> None:
    """The page of an interrupted sweep, where it has points; what keeps it from being written is no matter now."""
    from heatsim.report.base.plain import plain
    from heatsim.report.sweep.folder import write_folder
    from heatsim.studies.store import Store
    from heatsim.studies.sweep import described

    with contextlib.suppress(HeatsimError, OSError), Store.open(path, create=False) as store:
        wanted = plain(described(scenario, plan))
        for number in (told.number for told in store.sweeps() if told.done and told.plan == wanted):
            page = write_folder(store, path, number, _out(options), options.output)[0]
            options.again = f"{options.again} What is done so far: {shown_path(page)}."


def _plan(options: argparse.Namespace, scenario: Scenario) -> SweepPlan:
    """What is varied; says what that replaces in the file and on the command line."""
    from heatsim.studies.sweep import SweepPlan

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
    fields = {axis.field.in_case(case) for axis in plan.axes for case in plan.cases}
    frame.notes(
        options, (f"{name}, which is varied, replaces --set {name} = {value}" for name, value in scenario.changes if name in fields)
    )
    say_replaced(options, scenario, sorted(fields), plan.cases)
    return plan


def _status(options: argparse.Namespace) -> int:
    from heatsim.report import sweep as report
    from heatsim.studies.store import Store

    with Store.open(options.status, create=False) as store:
        sweeps = store.sweeps()
    return frame.deliver(
        options,
        frame.EXIT_OK,
        lambda stream: report.show_store(options.status, sweeps, stream),
        lambda: report.status_data(options.status, sweeps),
    )


def _from_store(options: argparse.Namespace) -> int:
    """Export or draw what a store holds already."""
    if options.store is None and options.file is None:
        raise InputError.single("--store", "is missing", allowed="the database file of a sweep")
    frame.say_written(options, _write(options, _store(options), options.sweep))
    return frame.EXIT_OK


def _write(options: argparse.Namespace, path: Path, number: int | None) -> list[Path]:
    """Write table, page and pictures of a sweep in a store, by default the last one; returns their names."""
    from heatsim.studies.store import Store

    written: list[Path] = []
    with Store.open(path, create=False) as store:
        sweeps = {told.number: told for told in store.sweeps()}
        chosen = sweeps.get(number or max(sweeps, default=0))
        if chosen is None:
            raise InputError.single("--sweep", "is not in the store", number or "", ", ".join(map(str, sweeps)) or "no sweep yet")
        other = next((name for name in ("map", "tolerance") if name in chosen.plan), "")
        if options.plot and other:
            allowed = f"heatsim {other} FILE draws it again"
            raise InputError.single("--plot", f"is not for a {other}", f"sweep {chosen.number}", allowed)
        if options.export:
            store.export(options.export, chosen.number)
            written.append(options.export)
        if options.plot or options.vary or options.tolerance:
            from heatsim.report.sweep.folder import write_folder

            written += write_folder(store, path, chosen.number, _out(options), options.output, options.plot)
    return written


def _out(options: argparse.Namespace) -> Path:
    """Folder for store and pictures."""
    if options.out is not None:
        return Path(options.out)
    from heatsim.studies.sweep import default_store

    return Path(options.store).parent if options.file is None else default_store(options.file).parent


def _store(options: argparse.Namespace) -> Path:
    """The database file."""
    return Path(options.store) if options.store is not None else _out(options) / "points.db"
