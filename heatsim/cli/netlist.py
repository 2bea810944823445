# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim netlist`: the netlist alone, for plain ngspice."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from heatsim import __version__
from heatsim.cli.frame import EXIT_OK, add_command, add_shared, hushed, load, print_text, write_json, writing
from heatsim.errors import InputError
from heatsim.files import make_folder, shown_path, write_whole

NETLIST = "Write the netlist alone, to be run with plain ngspice."


def add(commands: Any) -> None:
    """Add the command."""
    parser = add_command(commands, "netlist", "write the netlist alone, to be run with plain ngspice", NETLIST)
    add_shared(parser, "FILE", "--case", "--set")
    add_shared(parser, "--out", help="folder for <case>.cir (default: standard output)")
    add_shared(parser, "--json", "--quiet")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Write the netlists of the wanted cases."""
    from heatsim.studies.check import case_deck

    scenario, names = load(options, options.case)
    texts = {name: case_deck(scenario, name).text for name in names}
    if not options.json and options.out is None and len(texts) > 1:
        raise InputError.single(
            "--out", "is needed to write more than one case", ", ".join(texts), "--out DIR, or --case NAME for one"
        )
    write_json(options, {"schema": "heatsim.netlist/1", "heatsim_version": __version__, "netlists": texts})
    if options.out is not None:
        writing(options)
        _to_folder(options, make_folder(options.out), texts)
    elif not options.json:
        print_text("".join(texts.values()))
    return EXIT_OK


def _to_folder(options: argparse.Namespace, folder: Path, texts: dict[str, str]) -> None:
    written = [write_whole(folder / f"{name}.cir", text) for name, text in texts.items()]
    if not hushed(options):
        print_text("".join(f"{shown_path(path)}\n" for path in written))
