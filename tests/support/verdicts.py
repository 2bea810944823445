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
from heatsim.report.check.words import verdict_sentence
from tests.support.deciding_code import ROOT, this_code

TARGET = ROOT / "heatsim" / "docs" / "verdicts.csv"
COLUMNS = ("scenario", "verdict", "sentence", "simulator", "code")


def scenarios() -> list[Path]:
    """Every scenario that can be checked; rings are bench tests of another form."""
    return sorted(path for path in (ROOT / "scenarios").rglob("*.toml") if path.parent.name != "rings")


def rows() -> dict[str, dict[str, str]]:
    """The table by scenario, as written."""
    if not TARGET.exists():
        return {}
    with TARGET.open(encoding="utf-8", newline="") as handle:
        return {row["scenario"]: row for row in csv.DictReader(handle)}


def checked(path: Path) -> dict[str, str]:
    """The row of a scenario."""
    result = hs.check(hs.load(path), jobs=1)
    name = path.relative_to(ROOT / "scenarios").as_posix()
    told = (name, result.verdict, verdict_sentence(result), result.simulator_version, this_code())
    return dict(zip(COLUMNS, told, strict=True))


def write(found: dict[str, dict[str, str]]) -> None:
    """The table, its rows by name."""
    with TARGET.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(found[name] for name in sorted(found))


def main() -> None:
    """Make every row anew that other code made."""
    found = rows()
    for path in scenarios():
        name = path.relative_to(ROOT / "scenarios").as_posix()
        if name not in found or found[name]["code"] != this_code():
            found[name] = checked(path)
            write(found)
            sys.stderr.write(f"{name}: {found[name]['verdict']}\n")


if __name__ == "__main__":
    main()
