# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim check A B ...`: each build checked, and all of them side by side."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from heatsim.cli.ahead import loading, simulators_ahead
from heatsim.cli.frame import deliver, hushed, load, notes
from heatsim.errors import InputError, Problem
from heatsim.files import shown_path

if TYPE_CHECKING:
    from heatsim.scenario.scenario import Scenario
    from heatsim.studies.check import Comparison, Troubles

Asked = tuple["Scenario", tuple[str, ...]]
"""A scenario with the names of the wanted cases."""


def run_several(options: argparse.Namespace) -> int:
    """Check every file, compare, print, write."""
    if options.fix is not None:
        raise InputError.single("--fix", "goes with one FILE only", shown_path(options.fix), "a single scenario to mend")
    with simulators_ahead(options, len(options.file)):
        comparison = _simulated(options)
    from heatsim.report.check import beside_dict, show, show_beside

    def tell(stream: TextIO) -> None:
        for result in comparison.results:
            show(result, options.verbose, stream)
            stream.write("\n")
        show_beside(comparison, options.verbose, stream)

    if not options.no_remedies and any(verdict != "holds" for verdict in comparison.verdicts):
        notes(options, ["changes that would hold are searched for with one FILE only"])
    return deliver(options, comparison.exit_code, tell, lambda: beside_dict(comparison), lambda: _written(options, comparison))


def _simulated(options: argparse.Namespace) -> Comparison:
    """Every file read, checked and compared."""
    from heatsim.studies.check import Troubles, build_names

    asked = Troubles(options.hot_day, options.fan_failure, options.pump_failure)
    return _compared(options, _loaded(options, asked), build_names(options.file), asked)


def _loaded(options: argparse.Namespace, asked: Troubles) -> list[Asked]:
    """Every scenario with its cases; InputError with the problems of all files."""
    found: list[Asked] = []
    problems: list[Problem] = []
    for file in options.file:
        try:
            scenario, names = load(argparse.Namespace(**vars(options) | {"file": file}), options.case)
            asked.require_hotter(scenario)
            for name in names:
                scenario.heater(name)
            found.append((scenario, names))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(*problems)
    return found


def _compared(options: argparse.Namespace, wanted: Sequence[Asked], builds: Sequence[str], asked: Troubles) -> Comparison:
    """All cases of all files simulated at once, and compared."""
    from heatsim.report.base.live import progress
    from heatsim.studies.check import check_several, compared, with_troubles

    told = [f"{name} of {build}" for build, (_, names) in zip(builds, wanted, strict=True) for name in names]
    scenario, (case, *_) = wanted[0]
    drawn = None if options.no_report else partial(scenario.heater, case)
    with progress(hushed(options), told) as watch:
        results = check_several(wanted, options.jobs, loading(watch, len(told), options.jobs, drawn))
    troubled = []
    for result, (_, names) in zip(results, wanted, strict=True):
        with progress(hushed(options), names) as watch:
            troubled.append(with_troubles(result, asked, options.jobs, watch))
    return compared(troubled, builds)


def _written(options: argparse.Namespace, comparison: Comparison) -> list[Path]:
    """The comparison's page, and the folder of each build beside it."""
    from heatsim.report.base.live import progress
    from heatsim.report.check import write_beside, write_folder

    if options.no_report:
        return []
    first, *others = comparison.names
    out = options.out or Path("results") / f"{first}-beside-{others[0] if len(others) == 1 else f'{len(others)}-others'}"
    with progress(hushed(options)) as watch:
        folders = [
            path
            for name, result in zip(comparison.names, comparison.results, strict=True)
            for path in write_folder(result, out / name, watch.note, png=options.png)
        ]
        return [*write_beside(comparison, out, watch.note, options.png), *folders]
