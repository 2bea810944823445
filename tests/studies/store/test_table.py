# SPDX-License-Identifier: GPL-3.0-or-later
"""The store as tables: what pandas sees of a sweep, and what it reads back of the files written from it."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from heatsim.errors import InputError, OutputError
from heatsim.quantity import EXAMPLES, exact_quantity
from heatsim.studies.points import Point
from heatsim.studies.store.store import Store, frame
from heatsim.studies.store.table import SUFFIXES, units_in
from tests.support.stores import PLAN, filled, key, keyed, result


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "results" / "bench.sweeps"


def test_frame(path: Path) -> None:
    with Store.open(path) as store:
        sweep = filled(store, 7)
    found = frame(path, sweep)
    assert list(found.columns) == [
        "case",
        "supply.voltage_v",
        "choke.turns",
        "outcome",
        "outcome_detail",
        "grade",
        "headroom",
        "ends",
        "method",
        "wall_s",
        "waveforms",
        "key",
        "tank.frequency_hz",
        "startup.outcome",
        "gate.left.ringing_decay_s",
        "window.periods",
    ]
    assert found["supply.voltage_v"].tolist() == [20 + k / 100 for k in range(7)]
    assert found["choke.turns"].tolist() == [10, 11, 12, 13, 14, 15, 16]
    assert found["choke.turns"].dtype == np.int64
    assert found["tank.frequency_hz"].tolist()[:4] == [result(k).measures["tank.frequency_hz"] for k in range(4)]
    assert np.isnan(found["tank.frequency_hz"][4])
    assert found.loc[4, "outcome_detail"] == result(4).outcome_detail
    assert found["headroom"].dtype == found["gate.left.ringing_decay_s"].dtype == float
    assert found["key"].tolist() == [key(k) for k in range(7)]
    assert found["waveforms"].tolist() == [True, False, False, False, False, False, False]


def test_rows_of_a_sweep_bear_their_places_and_those_without_result_are_left_out(path: Path) -> None:
    with Store.open(path) as store:
        sweep = store.begin(PLAN, keyed(*range(1200)))
        assert len(store.frame(sweep)) == 0
        for number in (1100, 3, 700):
            store.put(key(number), result(number))
        assert store.frame(sweep).index.tolist() == [3, 700, 1100]
        assert store.frame().index.tolist() == [0, 1, 2]
        assert store.frame()["key"].tolist() == [key(3), key(700), key(1100)]


def test_fields_in_the_frame(path: Path) -> None:
    """Units by the plan, else by the text; mixed and wordy fields stay as they are; `load` is the share of the own case."""
    rows = [("full", "50 %", "81 nH", "T130", "4 V"), ("half", "20 %", "90 nH", "T157", 3)]
    points = [
        (case, Point(((f"case.{case}.workpiece.share", share), ("choke.al", al), ("ring", ring), ("mixed", mixed)), case))
        for case, share, al, ring, mixed in rows
    ]
    with Store.open(path) as store:
        sweep = store.begin({"groups": [[{"field": "load", "unit": "%"}, {"field": "choke.al", "unit": "H/turn2"}]]}, points)
        plain = store.begin({}, points)
        for name, _ in points:
            store.put(name, result(4))
        found, guessed = store.frame(sweep), store.frame(plain)
    assert list(found.columns[:5]) == ["case", "load_ratio", "choke.al_h_per_turn2", "ring", "mixed"]
    assert found["load_ratio"].tolist() == [0.5, 0.2]
    assert found["choke.al_h_per_turn2"].tolist() == [81e-9, 90e-9]
    assert found["ring"].tolist() == ["T130", "T157"]
    assert found["mixed"].tolist() == ["4 V", 3]
    assert guessed["choke.al_h"].tolist() == [81e-9, 90e-9]
    assert guessed["case.full.workpiece.share_ratio"].tolist()[0] == 0.5
    assert np.isnan(guessed["case.full.workpiece.share_ratio"][1])


@pytest.mark.parametrize("unit", EXAMPLES)
def test_every_unit_has_an_ending_and_is_recognised_by_itself(unit: str, path: Path) -> None:
    with Store.open(path) as store:
        store.begin({}, [("a", Point((("field", exact_quantity(0.25, unit)),), "c"))])
        store.put("a", result(4))
        column = store.frame().columns[1]
    twins = {"H/turn2": "H"}  # written alike
    assert column == f"field_{SUFFIXES[twins.get(unit, unit)]}"


def test_units_are_found_wherever_a_plan_has_them() -> None:
    plan = {"samples": {"fields": ({"field": "a.b", "unit": "F"}, {"field": "c", "unit": ""})}, "groups": [[{"field": 3}]]}
    assert units_in(plan) == {"a.b": "F"}


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_exported_tables_are_what_pandas_reads_back(path: Path, tmp_path: Path, suffix: str) -> None:
    """Against pandas' own readers: the same columns, kinds and values to the last digit."""
    file = tmp_path / f"table{suffix}"
    with Store.open(path) as store:
        sweep = filled(store, 40)
        wanted = store.frame(sweep)
        assert store.export(file, sweep) == 40
        back = pd.read_parquet(file) if suffix == ".parquet" else pd.read_csv(file)
        if suffix == ".csv":  # which has no empty text
            wanted = wanted.replace("", None)
        pd.testing.assert_frame_equal(back, wanted, check_exact=True, check_dtype=suffix == ".parquet")
        assert store.export(file) == 40  # over the old one
    assert [item.name for item in tmp_path.iterdir() if item.is_file()] == [file.name]


def test_export_says_what_it_needs(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Store.open(path) as store:
        filled(store, 2)
        with pytest.raises(InputError, match=r"table\.xls.*allowed: a file name in \.csv or \.parquet"):
            store.export(tmp_path / "table.xls")
        with pytest.raises(OutputError, match="cannot be written"):
            store.export(tmp_path / "no" / "table.csv")
        monkeypatch.setitem(sys.modules, "pyarrow", None)
        with pytest.raises(InputError, match=r"pip install 'heatsim\[parquet\]'"):
            store.export(tmp_path / "table.parquet")
    assert not list(tmp_path.glob("*table*"))
