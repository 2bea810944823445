# SPDX-License-Identifier: GPL-3.0-or-later
"""`python -m tests.benchmarks`: run all benchmarks, print the ratios, rewrite RESULTS.md and its pictures."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.page import summary, write
from tests.benchmarks.results import FULL, QUICK, benchmark


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument(
        "--quick", action="store_true", help="two circuits, two turns, small sweeps; does not rewrite the page unless told where to"
    )
    parser.add_argument("--out", type=Path, help="folder of the page, else where it belongs")
    options = parser.parse_args(arguments)
    folder = options.out or (None if options.quick else Path(__file__).parent)
    folder = folder.resolve() if folder else None
    with tempfile.TemporaryDirectory(prefix="heatsim-") as empty:
        os.chdir(empty)  # the simulator looks for start-up files where it is started
        results = benchmark(QUICK if options.quick else FULL, lambda text: _tell(text))
        os.chdir("/")
    sys.stdout.write("\n".join(summary(results)) + "\n")
    if folder:
        sys.stdout.write(f"\n{write(results, folder)}\n")
    return 0


def _tell(text: str) -> None:
    """One line of progress."""
    sys.stderr.write(f"{text}\n")


if __name__ == "__main__":
    sys.exit(main())
