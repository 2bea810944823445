# SPDX-License-Identifier: GPL-3.0-or-later
"""Committed tables of results say which code made them; the release layer warns of those that other code made."""

from __future__ import annotations

import csv
import re
import warnings
from collections import Counter
from pathlib import Path

import pytest

from tests.support.deciding_code import ROOT, this_code

TABLES = {
    "tests/support/independent/cold_starts.csv": "python -m tests.support.independent.cold_starts",
    "tests/support/book/checks.csv": "python -m tests.support.book --all",
    "tests/support/robustness/counts.csv": "python -m tests.support.robustness",
    "tests/support/remedies_applied.csv": "python -m tests.support.remedies_applied",
    "heatsim/docs/verdicts.csv": "python -m tests.support.verdicts",
    "tests/benchmarks/RESULTS.md": "python -m tests.benchmarks",
}
"""Table -> the command that makes it anew. The matrix of `match` has a test of its own, which makes rows anew."""


def made_by(path: Path) -> Counter[str]:
    """Hashes of the code that made a table, with the number of rows of each."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".csv":
        return Counter(row["code"] for row in csv.DictReader(text.splitlines()))
    return Counter(re.findall(r"\bcode ([0-9a-f]{16})\b", text)[:1])


@pytest.mark.parametrize("name", TABLES)
def test_a_table_says_which_code_made_it(name: str) -> None:
    codes = made_by(ROOT / name)
    assert codes and all(re.fullmatch("[0-9a-f]{16}", code) for code in codes), codes


@pytest.mark.slow
@pytest.mark.parametrize("name", TABLES)
def test_a_table_of_other_code_is_told(name: str) -> None:
    codes = made_by(ROOT / name)
    other = codes.total() - codes[this_code()]
    if other:
        warnings.warn(f"{name}: made by other code; to make it anew: {TABLES[name]}", stacklevel=1)
    assert codes.total() > 0


def test_rows_of_two_codes_are_told_apart(tmp_path: Path) -> None:
    table = tmp_path / "table.csv"
    table.write_text("heater,code\n0,aaaaaaaaaaaaaaaa\n1,bbbbbbbbbbbbbbbb\n2,bbbbbbbbbbbbbbbb\n")
    assert made_by(table) == {"aaaaaaaaaaaaaaaa": 1, "bbbbbbbbbbbbbbbb": 2}
