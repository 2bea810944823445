# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim check`: the verdict on a build, remedies, and a report folder."""

from __future__ import annotations

import argparse
import time
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim.cli.ahead import loading, simulators_ahead
from heatsim.cli.check_several import run_several
from heatsim.cli.frame import add_command, add_shared, deliver, hushed, load, notes, positive
from heatsim.errors import InputError, shortened
from heatsim.files import shown_path, write_whole
from heatsim.quantity import QuantityError, parse_quantity

if TYPE_CHECKING:
    from heatsim.report.base.aside import Aside
    from heatsim.studies.check import CheckResult
    from heatsim.studies.remedy import Remedies

CHECK = """Simulate the proposed build: verdict and report folder. For a build that does not hold, changes are searched for after
which it does; each that is named was simulated as a whole. Several files are checked each, and compared with the first: which
fields differ, and what that does to limits, measures and waveforms. Changes are searched for with one file only."""


def add(commands: Any) -> None:
    """Add the command."""
    parser = add_command(commands, "check", "simulate the proposed build: verdict and report folder", CHECK)
    add_shared(parser, "FILE", nargs="+", help="scenario file (TOML); several are compared with the first")
    add_shared(parser, "--case", "--set")
    text = "report folder (default: results/<name of the file>); of several files each has its own in it"
    add_shared(parser, "--out", help=text)
    parser.add_argument("--no-report", action="store_true", help="print the verdict, write no folder")
    parser.add_argument("--png", action="store_true", help="also write each picture of the report as PNG")
    parser.add_argument("--no-remedies", action="store_true", help="do not search for changes that would hold")
    text = "search for remedies at most this long (default: 40); the search also ends after 40 simulated cases"
    parser.add_argument("--remedy-time", type=positive, default=40, metavar="SECONDS", help=text)
    parser.add_argument("--fix", type=Path, metavar="PATH", help="write the scenario with the first remedy in it")
    text = "also judge it on a hot day, by default at 40 °C"
    parser.add_argument("--hot-day", nargs="?", type=_celsius, const=40.0, metavar="TEMPERATURE", help=text)
    parser.add_argument("--fan-failure", action="store_true", help="also judge it with every fan standing still")
    parser.add_argument("--pump-failure", action="store_true", help="also tell how long the coil lasts without water")
    add_shared(parser, "--jobs")
    parser.add_argument("--verbose", action="store_true", help="show the limits that hold as well")
    add_shared(parser, "--json", "--quiet")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Check one file, or several side by side."""
    if len(options.file) > 1:
        return run_several(options)
    options.file = options.file[0]
    return _run_one(options)


def _run_one(options: argparse.Namespace) -> int:
    """Check, search for remedies, print, write."""
    _check_fix(options)
    out = None if options.no_report else options.out or Path("results") / Path(options.file).stem
    from heatsim.report.base.aside import Aside

    with simulators_ahead(options) as simulators, Aside() as aside:
        result, remedies = _checked(options, out, aside)
        simulators.end()
        from heatsim.report.check import show, whole_dict

        return deliver(
            options,
            result.exit_code,
            lambda stream: show(result, options.verbose, stream, remedies=remedies),
            lambda: whole_dict(result, remedies),
            lambda: _written(options, result, remedies, out, aside),
        )


def _written(
    options: argparse.Namespace, result: CheckResult, remedies: Remedies | None, out: Path | None, aside: Aside
) -> list[Path]:
    """The report folder and the file of `--fix`."""
    from heatsim.report.base.live import progress
    from heatsim.report.check import write_folder

    written = _fixed(options, result, remedies)
    if out is None:
        return written
    with progress(hushed(options)) as watch:
        return [*write_folder(result, out, watch.note, remedies, options.png, aside), *written]


def _checked(options: argparse.Namespace, out: Path | None, aside: Aside) -> tuple[CheckResult, Remedies | None]:
    """All that is simulated: the cases, remedies, and what fails around the heater."""
    from heatsim.report.base.live import progress
    from heatsim.studies.check import Troubles, check, with_troubles
    from heatsim.studies.remedy import in_line

    scenario, names = load(options, options.case)
    asked = Troubles(options.hot_day, options.fan_failure, options.pump_failure)
    asked.require_hotter(scenario)
    drawn = None if out is None else partial(scenario.heater, names[0])
    if drawn is not None:
        aside.split_off()
    with progress(hushed(options), names) as watch:
        result = check(scenario, names, options.jobs, loading(watch, len(names), options.jobs, drawn, aside))
    remedies = _remedies(options, result, out)
    with progress(hushed(options), names) as watch:
        return with_troubles(in_line(result, remedies), asked, options.jobs, watch), remedies


def _check_fix(options: argparse.Namespace) -> None:
    """Refuse a `--fix` that cannot be meant."""
    if options.fix is None:
        return
    if options.no_remedies:
        raise InputError.single("--fix", "goes without --no-remedies", options.fix, "one of the two")
    if options.fix.exists() and Path(options.file).exists() and options.fix.samefile(options.file):
        raise InputError.single("--fix", "is the scenario file itself", shown_path(options.fix), "the name of another file")


def _remedies(options: argparse.Namespace, result: CheckResult, out: Path | None) -> Remedies | None:
    """What would hold; None where nothing is amiss, or nobody would see it."""
    from heatsim.report.base.live import progress
    from heatsim.studies.remedy import find_remedies

    seen = not options.quiet or options.json or options.fix or out is not None
    if options.no_remedies or not seen or result.verdict == "holds":
        return None
    ends = time.monotonic() + options.remedy_time
    with progress(hushed(options)) as watch:
        watch.note("looking for remedies", ends)
        return find_remedies(
            result,
            options.jobs,
            lambda count: watch.note(f"looking for remedies, {count} cases simulated", ends),
            float(options.remedy_time),
        )


def _fixed(options: argparse.Namespace, result: CheckResult, remedies: Remedies | None) -> list[Path]:
    """The file of `--fix`; none where there is nothing to write in it, which is said."""
    from heatsim.studies.remedy import fixed_text

    if options.fix is None:
        return []
    if remedies is None or not remedies.found:
        why = "it holds as it is" if remedies is None else "no change was found that holds"
        notes(options, [f"{shown_path(options.fix)} is not written: {why}"])
        return []
    return [write_whole(options.fix, fixed_text(result.scenario, remedies.found[0]))]


def _celsius(text: str) -> float:
    """A temperature [°C] of the air round a heater."""
    try:
        value = parse_quantity(text, "°C")
    except QuantityError as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    if not 0 <= value <= 60:
        raise argparse.ArgumentTypeError(f"must be within 0 °C and 60 °C, not {shortened(text, 40)!r}")
    return value
