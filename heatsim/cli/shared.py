# SPDX-License-Identifier: GPL-3.0-or-later
"""What the commands share: exit codes, options, the scenario with its overrides, files to write."""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim.errors import InputError

if TYPE_CHECKING:
    from heatsim.scenario.scenario import Scenario
    from heatsim.studies.points.crew import Executor

EXIT_OK, EXIT_FAILS, EXIT_INPUT, EXIT_UNSOLVED, EXIT_INTERRUPTED = 0, 1, 2, 3, 130


def add_override(parser: argparse._ActionsContainer) -> None:
    """`--set`."""
    parser.add_argument(
        "--set", action="append", default=[], metavar="FIELD=VALUE", help='override a field, e.g. --set "supply.voltage=38 V"'
    )


def add_cases(parser: argparse._ActionsContainer) -> None:
    """`--case`."""
    parser.add_argument("--case", action="append", metavar="NAME", help="only this case; may be given more than once")


def add_output(parser: argparse.ArgumentParser) -> None:
    """`--json` and `--quiet`."""
    parser.add_argument("--json", metavar="PATH", help="write the result as JSON; - for standard output")
    parser.add_argument("--quiet", action="store_true", help="print nothing but errors")


def add_workers(parser: argparse._ActionsContainer) -> None:
    """`--workers` and `--cluster`."""
    parser.add_argument("--workers", type=positive, metavar="N", help="worker processes (default: one a core)")
    parser.add_argument("--cluster", metavar="ADDRESS", help="run on a Dask cluster instead; needs heatsim[cluster]")


def cluster(options: argparse.Namespace) -> Executor | None:
    """The cluster of `--cluster`, if one is asked for."""
    if options.cluster is None:
        return None
    if options.workers is not None:
        raise InputError.single("--workers", "goes without --cluster", options.workers, "the cluster's own workers are used")
    from heatsim.studies.points.cluster import ClusterExecutor

    return ClusterExecutor(options.cluster)


def positive(text: str) -> int:
    """A whole number from 1."""
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"must be a whole number from 1, not {text!r}")
    return int(text)


def load(options: argparse.Namespace) -> tuple[Scenario, tuple[str, ...]]:
    """The scenario with its overrides, and the names of the wanted cases."""
    from heatsim.scenario.scenario import Scenario

    scenario = Scenario.from_file(options.file)
    for item in options.set:
        field, equals, value = item.partition("=")
        if not equals:
            raise InputError.single("--set", "needs FIELD=VALUE", item, '"supply.voltage=38 V"')
        value = value.strip()
        scenario = scenario.change({field.strip(): int(value) if re.fullmatch(r"-?\d+", value) else value})
    names = tuple(getattr(options, "case", None) or scenario.cases)
    for name in names:
        scenario.case(name)
    return scenario, names


def make_folder(folder: Path) -> None:
    """Make the folder of `--out`."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError.single("--out", f"cannot be made a folder ({error.strerror})", folder) from None


def write_json(path: str, content: dict[str, Any]) -> None:
    """Write to the path of `--json`."""
    from heatsim.report.base.plain import as_json

    text = as_json(content)
    if path == "-":
        sys.stdout.write(text + "\n")
        return
    try:
        Path(path).write_text(text + "\n", encoding="utf-8")
    except OSError as error:
        raise InputError.single("--json", f"cannot be written ({error.strerror})", path) from None
