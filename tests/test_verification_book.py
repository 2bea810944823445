# SPDX-License-Identifier: GPL-3.0-or-later
"""The verification book: what a check notes, that all reference values are in it, and that its page is its table's."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.support.book import CLOSED, known, listed
from tests.support.book import __main__ as command
from tests.support.book.note import FOLDER
from tests.support.book.page import NEAR, PAGE, difference, escaped, page, tolerance
from tests.support.book.records import Record, gathered, read, write
from tests.support.book.tables import TABLES, identities, unchecked
from tests.support.deciding_code import ROOT
from tests.support.robustness.table import section

SOME = ("tests/physics/test_conductor.py", "tests/physics/test_eddy.py", "tests/parts/test_choke_by_hand.py")
"""Quick test files whose lines are made anew."""


@pytest.fixture(scope="module")
def book() -> list[Record]:
    """The committed table."""
    return read()


@pytest.fixture
def notes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in which checks are noted."""
    monkeypatch.setenv(FOLDER, str(tmp_path / "notes"))
    return tmp_path / "notes"


def lines(folder: Path) -> list[dict[str, object]]:
    return [json.loads(line) for path in folder.glob("*.jsonl") for line in path.read_text("utf-8").splitlines()]


def test_every_list_of_the_references_is_in_the_book() -> None:
    from tests.support import references, references_heating

    named = {name for module in (references, references_heating) for name in vars(module) if name.isupper()}
    assert named == set(TABLES) and len(list(identities())) > 440


def test_every_value_of_the_references_is_checked_or_says_why_not(book: list[Record]) -> None:
    wanted = {identity for identity, _, _ in identities()}
    missing = sorted(wanted - {each.row for each in book})
    assert not missing, f"no test holds heatsim against {missing[:5]}"
    assert all(len(why) > 30 and name.split(".")[0] in TABLES for name, why in unchecked())


def test_no_check_is_beyond_its_tolerance_and_each_says_where_its_value_comes_from(book: list[Record]) -> None:
    assert len(book) > 1000
    assert all(each.used <= 1.0 + 1e-9 and (each.rel or each.abs or each.used == 0.0) for each in book)
    assert all(each.quantity and each.unit and each.source and each.provenance for each in book)


def test_every_file_that_notes_checks_has_lines(book: list[Record]) -> None:
    assert set(command.files()) == {each.file for each in book}


def test_the_page_is_that_of_the_tables(book: list[Record]) -> None:
    assert PAGE.read_text(encoding="utf-8") == page(book, section()), "python -m tests.support.book --page"


def test_a_value_within_its_tolerance_is_equal_and_one_beyond_is_not() -> None:
    assert 1.009 == known(1.0, "x", "y", CLOSED, rel=0.01) != 1.011
    assert known(1e-9, "x", "y", CLOSED, rel=0.01) != 1e-9 * 1.02, "no absolute tolerance hides a small number"
    assert np.array([1.0, 2.0]) == known([1.0, 2.1], "x", "y", CLOSED, abs=0.11)
    assert np.array([1.0, 2.0]) != known([1.0, 2.1], "x", "y", CLOSED, abs=0.09)
    with pytest.raises(AssertionError):
        known(1.0, "x", "y", "hearsay", rel=0.1)


def test_nothing_is_noted_unless_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FOLDER, raising=False)
    monkeypatch.chdir(tmp_path)
    assert known(1.0, "x", "y", CLOSED, rel=0.1) == 1.05
    assert not list(tmp_path.iterdir())


def test_a_check_notes_what_it_compared_and_of_many_numbers_the_worst(notes: Path) -> None:
    assert np.array([1.0, 2.06, 3.0]) == known([1.0, 2.0, 3.0], "three lengths", "a rule", CLOSED, unit="m", rel=0.1)
    (line,) = lines(notes)
    assert (line["expected"], line["obtained"], line["values"], line["rel"]) == (2.0, 2.06, 3, 0.1)
    assert line["used"] == pytest.approx(0.3) and "three lengths" in str(line["quantity"])
    assert "test_a_check_notes" in str(line["test"]) and "(call)" not in str(line["test"])


def test_a_listed_value_brings_unit_source_tolerance_and_identity(notes: Path) -> None:
    row = ("R20", 20.0, 10.0, 7.0, 43.551722, 33.631711, 1464.7189, 43.55, 33.63, 1465, 1e-6, 1e-3)
    assert listed("RING_IEC", "path", row) == 43.551722
    assert listed("RING_IEC", "area_printed", "R20") == 33.65
    first, second = sorted(lines(notes), key=lambda each: str(each["row"]), reverse=True)
    assert (first["row"], first["unit"], first["rel"]) == ("RING_IEC[1].path", "mm", 1e-6)
    assert (second["row"], second["provenance"]) == ("RING_IEC[1].area_printed", "memory")
    for wrong in (lambda: listed("RING_IEC", "path", "R21"), lambda: listed("RING_IEC", "path")):
        with pytest.raises(AssertionError, match="rows begin with"):
            wrong()


def test_a_check_made_twice_is_one_line_with_its_worst(notes: Path, tmp_path: Path) -> None:
    for found in (1.01, 1.05, 1.02):
        assert found == known(1.0, "x", "y", CLOSED, rel=0.1)
    (record,) = gathered(notes, "0" * 16, "2026-01-01")
    assert (record.obtained, record.values, record.used) == ("1.05", 3, 0.5)
    write([record], tmp_path / "table.csv")
    assert read(tmp_path / "table.csv") == [record]


def test_old_lines_stay_of_tests_that_were_not_run(book: list[Record]) -> None:
    old, (again, *_) = book[:5], book[3:]
    new = [again]
    merged = command.merged(old, new)
    assert {each.key for each in merged} >= {each.key for each in old if each.test != again.test} and again in merged


@pytest.mark.parametrize(
    ("expected", "obtained", "rel", "off", "allowed"),
    [("2", "2.02", 0.05, "+1 %", "5 %"), ("0", "0.01", 0.0, "+0.01", "0.5"), ("1+1j", "1+1.1j", 0.2, "7.1 %", "20 %")],
)
def test_differences_are_told_as_tolerances_are(expected: str, obtained: str, rel: float, off: str, allowed: str) -> None:
    words = {"test": "tests/x/test_y.py::test_z", "quantity": "q", "unit": "m", "source": "s", "provenance": CLOSED}
    one = Record(
        **words,
        expected=expected,
        obtained=obtained,
        rel=rel,
        abs=0.0 if rel else 0.5,
        used=0.1,
        values=1,
        row="",
        code="c",
        made="d",
    )
    assert (difference(one), tolerance(one)) == (off, allowed)


def test_a_page_marks_what_is_near_its_tolerance_and_keeps_its_columns(book: list[Record]) -> None:
    text = page(book)
    near = sum(each.used > NEAR for each in book)
    assert text.count("| ▲ ") == 2 * near  # in the list on top and at its place
    tables = [line for line in text.splitlines() if line.startswith("| ") and "; *" in line]
    assert len(tables) == len(book) + near
    assert all(line.replace("\\|", "").count("|") == 7 for line in tables)
    assert escaped("a|b_c*d") == "a\\|b\\_c\\*d"


@pytest.mark.slow
def test_lines_come_out_again(book: list[Record], tmp_path: Path) -> None:
    """Within a hundredth of the tolerance, or rounding: of files drawn with the table's own code as the dice."""
    file = random.Random(book[0].code).choice(SOME)
    surroundings = {**os.environ, FOLDER: str(tmp_path / "notes"), "PYTHONPATH": str(ROOT)}
    run = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-n", "0", "-m", "not slow", file]
    assert subprocess.run(run, cwd=ROOT, env=surroundings, capture_output=True, timeout=300).returncode == 0
    again = {each.key: each for each in gathered(tmp_path / "notes", "", "")}
    before = {each.key: each for each in book if each.file == file}
    assert len(before) > 5 and set(before) == set(again)
    for key, one in again.items():
        allowed = max(one.abs, one.rel * abs(complex(one.expected)))
        assert abs(complex(one.obtained) - complex(before[key].obtained)) <= max(
            0.01 * allowed, 2e-9 * abs(complex(one.expected))
        ), key
