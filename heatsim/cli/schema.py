# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim schema`: the JSON schema of scenario files."""

from __future__ import annotations

import argparse
import json
from typing import Any

from heatsim.cli.frame import EXIT_OK, print_text

SCHEMA = "print the JSON schema of scenario files, for completion in editors"


def add(commands: Any) -> None:
    """Add the command."""
    commands.add_parser("schema", help=SCHEMA).set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the schema."""
    from heatsim.scenario.scenario import json_schema

    print_text(json.dumps(json_schema(), indent=2) + "\n")
    return EXIT_OK
