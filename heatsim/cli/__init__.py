# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line: parse, call, print, exit code. No physics, and nothing heavy imported before it is needed.

Exit codes: 0 done and holds, 1 done and something is short of what was asked, 2 bad input, 3 could not be simulated.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim import __version__
from heatsim.cli.batch import add_sweep
from heatsim.cli.map import add_map
from heatsim.cli.match import add_match
from heatsim.cli.shared import (
    EXIT_FAILS,
    EXIT_INPUT,
    EXIT_INTERRUPTED,
    EXIT_OK,
    EXIT_UNSOLVED,
    add_cases,
    add_output,
    add_override,
    load,
    make_folder,
    positive,
    write_json,
)
from heatsim.errors import HeatsimError, InputError, SetupError

if TYPE_CHECKING:
    from heatsim.studies.check import CheckResult

RING = "Identify an unknown ring: permeability, saturation, materials that fit, and files other commands read."
CAUTION = "Mains, stored charge, red-hot metal, strong fields: a simulation does not make a build safe. Follow local codes."


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    parser = _parser()
    options = parser.parse_args(arguments)
    try:
        return int(options.run(options))
    except InputError as error:
        for problem in error.problems:
            print(f"heatsim: {problem}", file=sys.stderr)
        return EXIT_INPUT
    except SetupError as error:
        print(f"heatsim: {error}", file=sys.stderr)
        return EXIT_UNSOLVED
    except HeatsimError as error:
        print(f"heatsim: {error}", file=sys.stderr)
        return EXIT_INPUT
    except KeyboardInterrupt:
        print("heatsim: interrupted", file=sys.stderr)
        return EXIT_INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()
        return EXIT_OK


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="heatsim",
        description="Will this self-oscillating induction heater hold? Find out before winding it.",
        epilog=f"Exit codes: 0 holds, 1 something fails or is marginal, 2 bad input, 3 not simulated. {CAUTION}",
    )
    parser.add_argument("--version", action="version", version=f"heatsim {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    check = _command(commands, "check", _check, "simulate the proposed build: verdict and report folder")
    check.add_argument("--out", type=Path, metavar="DIR", help="report folder (default: results/<name of the file>)")
    check.add_argument("--no-report", action="store_true", help="print the verdict, write no folder")
    check.add_argument("--jobs", type=positive, metavar="N", help="worker processes (default: one a core)")
    check.add_argument("--verbose", action="store_true", help="show the limits that hold as well")
    netlist = _command(commands, "netlist", _netlist, "write the netlist alone, to be run with plain ngspice")
    netlist.add_argument("--out", type=Path, metavar="DIR", help="folder for <case>.cir (default: standard output)")
    wind = _command(commands, "wind", _wind, "find turns, stack and wire from the rings and wire on hand", cases=False)
    wind.add_argument("--out", type=Path, metavar="DIR", help="folder for card and tables (default: results/<file>-wind)")
    wind.add_argument("--jobs", type=positive, metavar="N", help="worker processes (default: one a core)")
    ring = commands.add_parser("ring", help="identify an unknown ring from a bench test", description=RING)
    ring.add_argument("file", metavar="FILE", help="bench test of the ring (TOML)")
    ring.add_argument("capture", metavar="CAPTURE", nargs="?", help="captured ramp (CSV) instead of the one FILE names")
    ring.add_argument("--out", type=Path, metavar="DIR", help="folder to write (default: results/<name of the file>)")
    add_output(ring)
    ring.set_defaults(run=_ring)
    add_sweep(commands)
    add_map(commands)
    add_match(commands)
    schema = commands.add_parser("schema", help="print the JSON schema of scenario files, for completion in editors")
    schema.set_defaults(run=_schema)
    return parser


def _command(commands: Any, name: str, run: Any, text: str, cases: bool = True) -> argparse.ArgumentParser:
    """A command that takes a scenario file."""
    parser: argparse.ArgumentParser = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
    parser.add_argument("file", metavar="FILE", help="scenario file (TOML)")
    if cases:
        add_cases(parser)
    add_override(parser)
    add_output(parser)
    parser.set_defaults(run=run)
    return parser


def _check(options: argparse.Namespace) -> int:
    from heatsim.report.base import terminal
    from heatsim.studies.check import check

    scenario, names = load(options)
    hushed = options.quiet or options.json == "-"
    out = None if options.no_report else options.out or Path("results") / Path(options.file).stem
    if out is not None:
        make_folder(out)
    with terminal.progress(hushed, names) as progress:
        result = check(scenario, names, options.jobs, progress)
        if out is not None:
            from heatsim.report.check.folder import write_folder

            write_folder(result, out, progress.note)
    if options.json:
        write_json(options.json, result.as_dict())
    if not hushed:
        terminal.show(result, out, verbose=options.verbose)
    return _exit_code(result)


def _exit_code(result: CheckResult) -> int:
    if any(case.outcome in ("stalled", "unsolved") for case in result.cases):
        return EXIT_UNSOLVED
    return EXIT_OK if result.verdict == "holds" else EXIT_FAILS


def _netlist(options: argparse.Namespace) -> int:
    from heatsim.studies.check import case_deck

    scenario, names = load(options)
    decks = {name: case_deck(scenario, name) for name in names}
    if options.json:
        write_json(
            options.json,
            {
                "schema": "heatsim.netlist/1",
                "heatsim_version": __version__,
                "netlists": {name: deck.text for name, deck in decks.items()},
            },
        )
    elif options.out is None and len(decks) > 1:
        raise InputError.single(
            "--out", "is needed to write more than one case", ", ".join(decks), "--out DIR, or --case NAME for one"
        )
    for name, deck in decks.items():
        if options.out is not None:
            make_folder(options.out)
            (options.out / f"{name}.cir").write_text(deck.text, encoding="utf-8")
            if not options.quiet and options.json != "-":
                print(options.out / f"{name}.cir")
        elif not options.json:
            sys.stdout.write(deck.text)
    return EXIT_OK


def _wind(options: argparse.Namespace) -> int:
    from heatsim.report.base import terminal
    from heatsim.report.wind import show as shown
    from heatsim.studies.wind import build_yield, card, plain_result, wind

    scenario, _ = load(options)
    hushed = options.quiet or options.json == "-"
    out = options.out or Path("results") / f"{Path(options.file).stem}-wind"
    make_folder(out)
    count = scenario.tables.wind.confirm if scenario.tables.wind else 0
    names = [f"{case} on winding {k + 1}" for k in range(count) for case in scenario.cases]
    with terminal.progress(hushed, names) as progress:
        progress.note("estimating every winding")
        result = wind(scenario, options.jobs, progress)
        best = result.best
        proof = card(best, scenario) if best else None
        progress.note("varying the best winding")
        built = build_yield(result.scenario, best.candidate, result.duty) if best else None
        shown.write_folder(result, proof, built, out)
    if options.json:
        write_json(options.json, plain_result(result, proof, built))
    if not hushed:
        shown.show(result, proof, built, out)
    return EXIT_OK if best else EXIT_FAILS


def _ring(options: argparse.Namespace) -> int:
    from heatsim.report.ring import show as report
    from heatsim.scenario.ringtest import RingTest
    from heatsim.studies.ring import identify

    out = options.out or Path("results") / Path(options.file).stem
    result = identify(RingTest.from_file(options.file, options.capture))
    try:
        report.write(result, out)
    except OSError as error:
        raise InputError.single("--out", f"cannot be written to ({error.strerror})", out) from None
    if options.json:
        write_json(options.json, result.as_dict())
    if not options.quiet and options.json != "-":
        report.show(result, out)
    return EXIT_OK


def _schema(options: argparse.Namespace) -> int:
    from heatsim.scenario.scenario import json_schema

    print(json.dumps(json_schema(), indent=2))
    return EXIT_OK


if __name__ == "__main__":
    sys.exit(main())
