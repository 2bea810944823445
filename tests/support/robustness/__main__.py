# SPDX-License-Identifier: GPL-3.0-or-later
"""Robustness in figures: python -m tests.support.robustness [KIND ...] [--count N] [--seed N] [--number N] [--so-far]
    [--folder FOLDER]

Mutated scenarios, catalogues, ring tests, models and captures (15,000 together), 500 damaged stores, every system call of an
output failing in turn, 2,000 runs in one process. It goes on where it ended: what each trial came to is kept in FOLDER
(build/robustness), a line a trial. When all trials of a kind are done its counts go into counts.csv beside this file, which the
verification book shows. --number repeats one trial of a kind and tells what it came to. --so-far counts the trials that were made
and makes no more. Exit code 1 when anything else came than acceptance or a clear refusal.
"""

from __future__ import annotations

import argparse
import datetime
import json
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

from tests.support.deciding_code import ROOT, this_code
from tests.support.robustness.table import Row, read, write
from tests.support.robustness.trial import KINDS, module, one, outcomes

BATCH = 2000
"""Trials a process makes, but for those that must be in one."""


def say(line: str) -> None:
    """A line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def total(kind: str) -> int:
    """Trials of a kind."""
    found = module(kind)
    if hasattr(found, "COUNT"):
        return int(found.COUNT)
    with tempfile.TemporaryDirectory() as folder:
        return int(found.count(Path(folder)))


def progress(kind: str, seed: int, folder: Path) -> Path:
    """Where the trials of a kind are kept; other code begins anew."""
    return folder / f"{kind}-{seed}-{this_code()}.jsonl"


def done(path: Path) -> list[dict[str, Any]]:
    """Trials that were made before."""
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()] if path.exists() else []


def carry_on(kind: str, seed: int, count: int, folder: Path) -> Row:
    """Make the trials that are left, and count all."""
    path, begun = progress(kind, seed, folder), time.monotonic()
    before = done(path)[:count]
    if kind == "runs" and len(before) < count:
        path.unlink(missing_ok=True)  # all of them in one process
        before = []
    found, at, batch = before, len(before), count if kind in ("runs", "outputs") else BATCH
    while at < count:
        with path.open("a", encoding="utf-8") as file:
            for each in outcomes(kind, seed, at, min(batch, count - at)):
                file.write(json.dumps(each) + "\n")
                file.flush()
                found.append(each)
        at = len(found)
        say(f"{kind}: {at} of {count} {dict(Counter(each['outcome'] for each in found))}")
    for each in found:
        if each["outcome"] == "fault":
            say(f"{kind} {each['number']}: {each['told']}")
    counts = Counter(each["outcome"] for each in found)
    day = datetime.datetime.now(datetime.UTC).date().isoformat()
    seconds = round(time.monotonic() - begun)
    return Row(kind, len(found), counts["accepted"], counts["refused"], counts["fault"], seed, seconds, this_code(), day)


def repeat(kind: str, seed: int, number: int) -> None:
    """One trial."""
    with tempfile.TemporaryDirectory() as folder:
        found = one(kind, seed, number, module(kind).prepare(Path(folder)))
    say(f"{found['outcome']}\n{found['told']}")


def main() -> int:
    """As the module says."""
    parser = argparse.ArgumentParser(prog="python -m tests.support.robustness", description=__doc__)
    parser.add_argument("kinds", nargs="*", choices=[[], *KINDS], default=[], metavar="KIND", help=", ".join(KINDS))
    parser.add_argument("--count", type=int, help="trials of each kind; counts.csv is left as it is")
    parser.add_argument("--seed", type=int, default=20_311)
    parser.add_argument("--number", type=int)
    parser.add_argument("--so-far", action="store_true")
    parser.add_argument("--folder", type=Path, default=ROOT / "build" / "robustness")
    asked = parser.parse_args()
    if asked.number is not None:
        repeat(asked.kinds[0], asked.seed, asked.number)
        return 0
    asked.folder.mkdir(parents=True, exist_ok=True)
    faults = 0
    for kind in asked.kinds or KINDS:
        there = len(done(progress(kind, asked.seed, asked.folder)))
        count = there if asked.so_far else asked.count or total(kind)
        if not count:
            continue
        row = carry_on(kind, asked.seed, count, asked.folder)
        faults += row.faults
        if not asked.count:
            write([row, *(each for each in read() if each.kind != kind)])
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
