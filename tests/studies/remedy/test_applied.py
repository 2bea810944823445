# SPDX-License-Identifier: GPL-3.0-or-later
"""The committed table of random heaters: what was named for them holds, and an interrupted run goes on where it ended."""

from __future__ import annotations

from pathlib import Path

from tests.support import remedies_applied as table


def row(number: int, applied: str, code: str) -> table.Row:
    values = (str(number), "fails", "9", "enough was found", applied, "Lower it, by hand", code)
    return dict(zip(table.COLUMNS, values, strict=True))


def test_every_remedy_of_the_table_holds_when_applied() -> None:
    rows = table.read()
    assert set(rows) == set(range(table.HEATERS))
    assert sum(each["verdict"] != "holds" for each in rows.values()) >= 60
    assert table.wrong(rows.values()) == []
    for each in rows.values():
        assert (each["remedies"] == "") == (each["applied"] == "")
        assert int(each["simulations"]) <= table.MOST
        assert each["applied"] or each["ended"]


def test_a_remedy_that_does_not_hold_is_told() -> None:
    rows = [row(3, "holds", "a"), row(5, "holds marginal", "a"), row(7, "", "a")]
    assert table.wrong(rows) == ["5"]


def test_rows_of_this_code_stay_and_others_are_made_anew(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    table.write({2: row(2, "holds", "new"), 0: row(0, "holds", "old")}, path)
    rows = table.read(path)
    assert list(rows) == [0, 2] and rows[2] == row(2, "holds", "new")
    assert table.to_do(rows, "new") == [0, 1, *range(3, table.HEATERS)]
    assert table.to_do(rows, "new", [2]) == [2]
    assert table.read(tmp_path / "none.csv") == {}
