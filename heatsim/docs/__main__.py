# SPDX-License-Identifier: GPL-3.0-or-later
"""`python -m heatsim.docs`: build the documentation into `results/docs`, or into the folder that is named."""

import argparse
import sys
from pathlib import Path

from heatsim.docs.build import TARGET, build

parser = argparse.ArgumentParser(prog="docs", description="Build the documentation site.")
parser.add_argument("folder", nargs="?", type=Path, default=TARGET, help="where to build it (default: results/docs)")
sys.exit(build(parser.parse_args().folder))
