# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim explain`: what a limit, a measure, an outcome or a word means, and what moves it."""

from __future__ import annotations

import argparse
from typing import Any

from heatsim.cli.frame import EXIT_OK, add_command, add_shared, deliver

EXPLAIN = """Explain a limit, a measure, an outcome or a word: what it is, why it matters, which fields of the scenario move
it. Of a warning under a verdict, by some words of it in their order: what it means and what to do."""

EXAMPLES = """\
examples:
  heatsim explain                               all topics by group
  heatsim explain drain voltage                 a limit
  heatsim explain choke.left.ripple_current_a   a measure, by its key in results.json
  heatsim explain latched                       an outcome
  heatsim explain coil cooling is not judged    a warning
"""


def add(commands: Any) -> None:
    """Add the command."""
    parser = add_command(commands, "explain", "what a limit, a measure or a word means and what moves it", EXPLAIN, EXAMPLES)
    parser.add_argument(
        "name", nargs="*", metavar="NAME", help="limit, measure, outcome, word or warning; without one all are listed"
    )
    add_shared(parser, "--json", "--quiet")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print what a name stands for, or the list of topics."""
    from heatsim.errors import InputError
    from heatsim.report import explain as report
    from heatsim.report.base.advice import Advice, warnings_with
    from heatsim.report.base.topics import found, topics

    name = " ".join(options.name)
    warnings: tuple[Advice, ...] = ()
    chosen = topics()
    if name.strip():
        try:
            chosen = found(name)
        except InputError:
            chosen, warnings = (), warnings_with(name)
            if not warnings:
                raise
    return deliver(
        options,
        EXIT_OK,
        lambda stream: report.show(chosen, name, stream, warnings=warnings) if name.strip() else report.show_list(stream),
        lambda: report.as_data(chosen, warnings),
    )
