# SPDX-License-Identifier: GPL-3.0-or-later
"""The verdict on every scenario of the repository, for the documentation's gallery; run as a module it writes the table.

    python -m tests.support.verdicts

Each is checked as `heatsim check` does it. It goes on where it ended; the last column says which code made a row.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import heatsim as hs
from heatsim.docs.scenarios import SCENARIOS, VERDICTS, group_of, scenario_files, verdicts
from heatsim.report.check.words import verdict_sentence
from tests.support.deciding_code import this_code

COLUMNS = ("scenario", "verdict", "sentence", "simulator", "code")


def scenarios() -> list[Path]:
    """Every scenario that can be checked; rings are bench tests of another form."""
    return [path for path in scenario_files() if group_of(path) != "rings"]


def name_of(path: Path) -> str:
    """Of a scenario in the table."""
    return path.relative_to(SCENARIOS).as_posix()


def checked(path: Path) -> dict[str, str]:
    """The row of a scenario."""
    result = hs.check(hs.load(path), jobs=1)
    told = (name_of(path), result.verdict, verdict_sentence(result), result.simulator_version, this_code())
    return dict(zip(COLUMNS, told, strict=True))


def write(found: dict[str, dict[str, str]]) -> None:
    """The table, its rows by name."""
    with VERDICTS.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(found[name] for name in sorted(found))


def main() -> None:
    """Make every row anew that other code made."""
    found = verdicts()
    for path in scenarios():
        name = name_of(path)
        if name not in found or found[name]["code"] != this_code():
            found[name] = checked(path)
            write(found)
            sys.stderr.write(f"{name}: {found[name]['verdict']}\n")


if __name__ == "__main__":
    main()
