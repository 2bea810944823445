# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim netlist`: the netlist alone, for plain ngspice."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim import __version__
from heatsim.cli.frame import EXIT_OK, add_command, add_shared, hushed, load, print_text, write_json, writing
from heatsim.errors import InputError
from heatsim.files import make_folder, shown_path, write_whole

if TYPE_CHECKING:
    from heatsim.parts.heater import Heater

NETLIST = "Write the netlist alone, to be run with plain ngspice."


def add(commands: Any) -> None:
    """Add the command."""
    parser = add_command(commands, "netlist", "write the netlist alone, to be run with plain ngspice", NETLIST)
    add_shared(parser, "FILE", "--case", "--set")
    add_shared(parser, "--out", help="folder for <case>.cir (default: standard output)")
    parser.add_argument(
        "--picture", action="store_true", help="also write the circuit with its values, <case>-circuit.svg and .png; needs --out"
    )
    add_shared(parser, "--json", "--quiet")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Write the netlists of the wanted cases."""
    from heatsim.studies.check import case_deck

    scenario, names = load(options, options.case)
    heaters = {name: scenario.heater(name) for name in names}
    texts = {name: case_deck(scenario, name, heater).text for name, heater in heaters.items()}
    if options.picture and options.out is None:
        raise InputError.single("--picture", "needs a folder to write to", "", "--out DIR")
    if not options.json and options.out is None and len(texts) > 1:
        raise InputError.single(
            "--out", "is needed to write more than one case", ", ".join(texts), "--out DIR, or --case NAME for one"
        )
    write_json(options, {"schema": "heatsim.netlist/1", "heatsim_version": __version__, "netlists": texts})
    if options.out is not None:
        writing(options)
        folder = make_folder(options.out)
        written = [write_whole(folder / f"{name}.cir", text) for name, text in texts.items()]
        if options.picture:
            written += [path for name, text in texts.items() for path in _picture(folder, name, heaters[name], text)]
        if not hushed(options):
            print_text("".join(f"{shown_path(path)}\n" for path in written))
    elif not options.json:
        print_text("".join(texts.values()))
    return EXIT_OK


def _picture(folder: Path, case: str, heater: Heater, netlist: str) -> list[Path]:
    """The circuit of a case as files."""
    from heatsim.report.base.plain import write_files
    from heatsim.report.circuit import circuit_picture

    content, _ = circuit_picture(heater, netlist, f"{case}-circuit", f"Circuit, case {case}")
    return write_files(folder, content)
