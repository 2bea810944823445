# SPDX-License-Identifier: GPL-3.0-or-later
"""The committed counts of what was tried: read, written, and as a section of the verification book."""

from __future__ import annotations

import csv
from dataclasses import asdict, dataclass, fields
from pathlib import Path

TABLE = Path(__file__).with_name("counts.csv")

WORDS = {
    "scenarios": ("mutated scenario files", "read, and every netlist written", "refused: what, where, given, allowed"),
    "catalogues": ("mutated catalogues", "read", "refused"),
    "ring_tests": ("mutated files of ring tests", "read", "refused"),
    "models": ("mutated model files (.model, .subckt)", "read, nothing in them but models", "refused"),
    "captures": ("mutated captures (text, WAV, NPZ, NPY, Parquet)", "read", "refused"),
    "stores": (
        "damaged stores",
        "all that was stored came back, but for waveform files that were taken away",
        "refused, naming the file",
    ),
    "outputs": (
        "system calls of an output failing, one at a time",
        "the output came out whole",
        "told, exit code 3; old file kept",
    ),
    "runs": ("simulations in one process", "run, memory and open files as before", ""),
}
"""What was tried, what "accepted" and what "refused" means for it."""


@dataclass(frozen=True)
class Row:
    """Counts of a kind. faults: trials that came to anything else."""

    kind: str
    tried: int
    accepted: int
    refused: int
    faults: int
    seed: int
    seconds: int
    code: str
    made: str


def read(path: Path = TABLE) -> list[Row]:
    """The committed table; empty before there is one."""
    if not path.exists():
        return []
    with path.open(newline="", encoding="utf-8") as file:
        rows = csv.DictReader(file)
        numbers = ("tried", "accepted", "refused", "faults", "seed", "seconds")
        return [Row(**(row | {name: int(row[name]) for name in numbers})) for row in rows]  # type: ignore[arg-type]


def write(rows: list[Row], path: Path = TABLE) -> None:
    """The same to the file, in the order of WORDS."""
    order = list(WORDS)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [each.name for each in fields(Row)], lineterminator="\n")
        writer.writeheader()
        writer.writerows(asdict(each) for each in sorted(rows, key=lambda each: order.index(each.kind)))


def section() -> str:
    """A section in Markdown; empty before anything was counted."""
    rows = read()
    if not rows:
        return ""
    intro = (
        "What heatsim makes of damaged input, failing disks and long use, as counts. Every trial must end as one of the two "
        "columns says, in 30 s of processor time and 600 MB at most, without a traceback, and nothing in a file is run. Anew: "
        "`python -m tests.support.robustness`."
    )
    lines = ["| Tried | Times | Accepted | Refused or told | Anything else | Seed | Made | Code |"]
    lines.append("| --- | ---: | ---: | ---: | ---: | ---: | --- | --- |")
    for row in rows:
        what, accepted, refused = WORDS[row.kind]
        cells = (
            *(what, f"{row.tried:,}", f"{row.accepted:,}: {accepted}", f"{row.refused:,}: {refused}" if refused else "-"),
            *(f"{row.faults:,}", str(row.seed), row.made, f"`{row.code}`"),
        )
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(["## Robustness in figures", "", intro, "", *lines])
