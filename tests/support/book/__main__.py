# SPDX-License-Identifier: GPL-3.0-or-later
"""Make the verification book: python -m tests.support.book [--all] [--page] [--processes N] [TEST ...]

Runs the tests that hold a number against something outside heatsim, writes what they noted into checks.csv beside this file and
the page heatsim/docs/verification.md: some minutes on two cores. --all: also those marked slow, most of an hour; otherwise
their lines of the committed table stay. TEST: these files or tests alone. --page: the page alone, from the committed tables.
"""

from __future__ import annotations

import argparse
import datetime
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.support.book import records
from tests.support.book.note import FOLDER
from tests.support.book.page import PAGE, page
from tests.support.deciding_code import ROOT, this_code
from tests.support.robustness.table import section


def files() -> list[str]:
    """Test files that note checks."""
    found = (path for path in sorted((ROOT / "tests").glob("*/**/test_*.py")) if "support" not in path.parts)
    return [str(path.relative_to(ROOT)) for path in found if "from tests.support.book import" in path.read_text("utf-8")]


def noted(tests: list[str], folder: Path, *options: str) -> list[records.Record]:
    """What the tests of some files note; ends where one of them fails."""
    code, day = this_code(), datetime.datetime.now(datetime.UTC).date().isoformat()
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *options, *tests]
    surroundings = {**os.environ, FOLDER: str(folder), "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, cwd=ROOT, env=surroundings, check=False)
    if done.returncode:
        raise SystemExit("a check failed: nothing is written")
    return records.gathered(folder, code, day)


def merged(old: list[records.Record], new: list[records.Record]) -> list[records.Record]:
    """New lines, and the old ones of tests that were not run."""
    run = {each.test for each in new}
    return sorted([*new, *(each for each in old if each.test not in run)], key=lambda each: each.key)


def write_page() -> None:
    """From the committed tables."""
    PAGE.parent.mkdir(parents=True, exist_ok=True)
    PAGE.write_text(page(records.read(), section()), encoding="utf-8")


def main() -> None:
    """As the module says."""
    parser = argparse.ArgumentParser(prog="python -m tests.support.book", description=__doc__)
    parser.add_argument("--all", action="store_true", help="also the tests marked slow")
    parser.add_argument("--page", action="store_true", help="the page alone")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("tests", nargs="*", help="these alone")
    asked = parser.parse_args()
    if not asked.page:
        options = ["-n", str(asked.processes), *([] if asked.all else ["-m", "not slow"])]
        with tempfile.TemporaryDirectory() as folder:
            new = noted(asked.tests or files(), Path(folder), *options)
        old = records.read() if records.TABLE.exists() else []
        records.write(new if asked.all and not asked.tests else merged(old, new))
    write_page()


if __name__ == "__main__":
    main()
