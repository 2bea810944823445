# SPDX-License-Identifier: GPL-3.0-or-later
"""Seventy-two random heaters, every remedy named for them applied: `python -m tests.support.remedies_applied [NUMBER ...]`.

At least sixty of them fail as drawn. Writes a row a heater into `remedies_applied.csv`, as soon as it is done. Called again it
goes on where it ended: rows that this code has made stay, others are made anew; numbers behind it make their rows anew whatever
they are. A search is bounded by simulated cases and runs on one process, so that a row is the same on every machine. Takes half a
minute of processor time a heater.
"""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import heatsim as hs
from heatsim.files import write_whole
from heatsim.scenario.scenario import Scenario
from heatsim.studies.remedy import find_remedies, fixed_text
from tests.support.deciding_code import this_code
from tests.support.failing import failing

HEATERS = 72

MOST, ENOUGH = 24, 2
"""Cases simulated for a heater at most, and remedies at which its search ends."""

TABLE = Path(__file__).with_suffix(".csv")
COLUMNS = ("heater", "verdict", "simulations", "ended", "applied", "remedies", "code")

Row = Mapping[str, str]


def tried(number: int, code: str) -> Row:
    """A heater as drawn, what its search came to, and the verdict of each remedy applied to its file."""
    scenario = failing(number)
    result = hs.check(scenario, jobs=1)
    found = find_remedies(result, jobs=1, seconds=None, most=MOST, enough=ENOUGH)
    texts = [fixed_text(scenario, remedy) for remedy in found.found]
    applied = [hs.check(Scenario.from_text(text, scenario.label, scenario.folder), jobs=1).verdict for text in texts]
    told = "; ".join(", ".join(change.words for change in remedy.changes) for remedy in found.found)
    values = (number, result.verdict, found.simulations, found.why_not or found.ended, " ".join(applied), told, code)
    return dict(zip(COLUMNS, map(str, values), strict=True))


def read(path: Path = TABLE) -> dict[int, Row]:
    """The rows of the table by their heater; none without a table."""
    if not path.exists():
        return {}
    return {int(row["heater"]): row for row in csv.DictReader(path.read_text("utf-8").splitlines())}


def write(rows: Mapping[int, Row], path: Path = TABLE) -> None:
    """The table whole, in the order of the heaters."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows[number] for number in sorted(rows))
    write_whole(path, text.getvalue())


def to_do(rows: Mapping[int, Row], code: str, wanted: Sequence[int] = ()) -> list[int]:
    """Heaters without a row of this code, or those that are wanted."""
    return list(wanted) or [number for number in range(HEATERS) if number not in rows or rows[number]["code"] != code]


def wrong(rows: Iterable[Row]) -> list[str]:
    """Heaters with a remedy that did not hold when it was applied."""
    return [row["heater"] for row in rows if any(verdict != "holds" for verdict in row["applied"].split())]


def main(numbers: Sequence[int]) -> int:
    """Make what is to be made, telling each; 1 if a remedy did not hold."""
    code = this_code()
    for number in to_do(read(), code, numbers):
        row = tried(number, code)
        write({**read(), number: row})
        sys.stdout.write(f"{number:2d}  {row['verdict']:8s} remedies applied: {row['applied'] or 'none found'}\n")
        sys.stdout.flush()
    return 1 if wrong(read().values()) else 0


if __name__ == "__main__":
    sys.exit(main([int(word) for word in sys.argv[1:]]))
