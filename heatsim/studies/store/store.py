# SPDX-License-Identifier: GPL-3.0-or-later
"""The store of sweeps and maps: one database file that keeps every finished point, whatever happens to who fills it.

A point is known by its key, a hash of its scenario and of what computes it, so several sweeps share what they have in
common, and a changed scenario or an upgrade has other points. Each result is written in a transaction of its own before
`put` returns. Processes that fill a store together claim points under leases, which run out by themselves when their
owner is gone. Waveforms of chosen points lie beside the file, in a folder of its name and `.waves`. A store may be
copied or moved, with that folder, while nobody has it open.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import Any

from heatsim.errors import InputError
from heatsim.studies.points import Point, PointResult
from heatsim.studies.store.codec import Coded, coded, decoded, fields_text, plain
from heatsim.studies.store.database import Database
from heatsim.studies.store.info import FAILED, SweepInfo
from heatsim.studies.store.table import Row, checked_format, table, units_in, write_table
from heatsim.studies.store.waveforms import Shelf, checked_key
from heatsim.waves import Waveforms

CHUNK = 1000
"""Rows read or written at a time, so that nobody waits long for the file."""


class Store:
    """An open store, for use in a `with` statement by one thread; other threads and processes open it themselves.

    Every method raises OutputError when the file cannot be written (disk full, read-only), and InputError when it cannot
    be used otherwise (locked by another program, damaged). Nothing of a result is then kept, everything before it is,
    and the call may be repeated.
    """

    def __init__(self, database: Database) -> None:
        self._base = database
        self._shelf = Shelf(database.path)
        self._sound = self._tidied = False

    @classmethod
    def open(cls, path: str | Path, create: bool = True) -> Store:
        """Open a store, or make one.

        create: make the file if there is none, and insist on being able to write; without it a store in a read-only
        place can still be read
        Raises InputError when it is missing, of a later version or something else, OutputError when it cannot be written.
        """
        return cls(Database(Path(path), create))

    def close(self) -> None:
        """Close the file."""
        self._base.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def begin(self, plan: Mapping[str, Any], points: Iterable[tuple[str, Point]]) -> int:
        """Register a sweep and its points with their keys; returns its number, the same again for the same plan.

        Points get their places in order, from 0. Points that the sweep has already stay where they are; others are
        added, behind the last when their place is taken, so a plan may grow. It is all the same to interrupt this and do
        it again. Raises ValueError for a key that is not letters, digits, dot, dash and underscore.
        """
        self._look_through()
        text = plain(plan, sort_keys=True)
        with self._base.writing():
            self._base.run(
                "INSERT OR IGNORE INTO sweeps(digest, plan, started) VALUES (?, ?, ?)", (_digest(text), text, time.time())
            )
            if not self._tidied:
                self._tidy()
        number = int(self._base.rows("SELECT number FROM sweeps WHERE digest = ?", (_digest(text),))[0][0])
        numbered = enumerate(points)
        while chunk := list(islice(numbered, CHUNK)):
            self._add(number, chunk)
        return number

    def _add(self, sweep: int, chunk: Sequence[tuple[int, tuple[str, Point]]]) -> None:
        """Points of a sweep at their places."""
        rows = [(checked_key(key), point.case, fields_text(point)) for _, (key, point) in chunk]
        with self._base.writing():
            self._base.run_each("INSERT OR IGNORE INTO points(key, case_name, fields) VALUES (?, ?, ?)", rows)
            self._base.run_each(
                "INSERT OR IGNORE INTO members SELECT :sweep, CASE WHEN EXISTS (SELECT 1 FROM members"
                " WHERE sweep = :sweep AND place = :place) THEN (SELECT max(place) + 1 FROM members"
                " WHERE sweep = :sweep) ELSE :place END, id FROM points WHERE key = :key",
                [{"sweep": sweep, "place": place, "key": key} for place, (key, _) in chunk],
            )

    def pending(self, sweep: int) -> list[tuple[int, str]]:
        """Place and key of every point without a result, in order; claimed or not."""
        self._known(sweep)
        found = self._base.rows(
            "SELECT place, key FROM members JOIN points ON id = members.point WHERE sweep = ? AND NOT EXISTS"
            " (SELECT 1 FROM results WHERE results.point = members.point) ORDER BY place",
            (sweep,),
        )
        if not all(isinstance(place, int) and isinstance(key, str) for place, key in found):
            raise self._base.damaged(f"the points of sweep {sweep}")
        return found

    def claim(self, sweep: int, keys: Sequence[str], owner: str, seconds: float) -> list[str]:
        """Lease points of a sweep; returns those of the keys that have no result and that nobody else is at, in order.

        owner: a name that nobody else uses
        seconds: how long the lease lasts unless claimed again before [s]. A lease is void too when it would last for twice
        as long as it was meant to, which tells of a clock that was set back
        """
        if not keys:
            return []
        self._known(sweep)
        about = {"sweep": sweep, "owner": owner, "now": time.time(), "seconds": seconds}
        with self._base.writing():
            return [key for key in dict.fromkeys(keys) if self._base.run(_CLAIM, about | {"key": key})]

    def release(self, owner: str) -> None:
        """Give back everything this owner has claimed."""
        with self._base.writing():
            self._base.run("DELETE FROM leases WHERE owner = ?", (owner,))

    def put(self, key: str, result: PointResult, keep_waveforms: bool = False) -> bool:
        """Store a result; False when the point has one, which stays. It is on disk when this returns, its lease over.

        keep_waveforms: write the waveforms beside the store, if the result has any. The state is not stored.
        Raises KeyError for a key of no registered point.
        """
        number, point, done = self._point(key)
        if done:
            return False
        waves = result.waveforms if keep_waveforms else None
        row, written = coded(key, point, result, waves is not None), False
        try:
            with self._base.writing():
                new = self._insert(number, row)
                if new and waves is not None:
                    written = True
                    self._shelf.write(key, waves)
                self._base.run("DELETE FROM leases WHERE point = ?", (number,))
        except BaseException:
            if written:
                self._shelf.discard(key)
            raise
        return new

    def _point(self, key: str) -> tuple[int, Point, bool]:
        """Number of a point, the point, and whether it has a result."""
        found = self._base.rows(
            "SELECT id, case_name, fields, results.point IS NOT NULL FROM points LEFT JOIN results ON results.point = id"
            " WHERE key = ?",
            (key,),
        )
        if not found:
            raise KeyError(f"no registered point {key}")
        number, case, fields, done = found[0]
        return number, Point(tuple((name, value) for name, value in json.loads(fields)), case), bool(done)

    def _insert(self, point: int, row: Coded) -> bool:
        """Write the rows of a result, unless there is one."""
        values = row._asdict() | {"point": point, "stored": time.time()}
        if not self._base.run(_INSERT, values):
            return False
        self._base.run("INSERT OR IGNORE INTO shapes(content) VALUES (:shape)", values)
        self._base.run("INSERT INTO contents SELECT :point, id, :content FROM shapes WHERE content = :shape", values)
        return True

    def _tidy(self) -> None:
        """Remove waveforms that no result has; inside `writing` only."""
        kept = self._base.rows("SELECT key FROM results JOIN points ON id = point WHERE waveforms")
        self._shelf.tidy({key for (key,) in kept})
        self._tidied = True

    def result(self, key: str) -> PointResult | None:
        """What became of a point, with its waveforms if they are kept; None when it has no result."""
        for row in self._base.rows(f"SELECT {_COLUMNS} FROM {_RESULTS} WHERE key = ?", (key,)):
            _, _, result, kept = self._read(row)
            return replace(result, waveforms=self._shelf.read(key)) if kept else result
        return None

    def waveforms(self, key: str) -> Waveforms | None:
        """The waveforms of a point, None when they are not kept. Raises InputError when the file is damaged."""
        found = self.result(key)
        return found.waveforms if found is not None else None

    def results(self, sweep: int | None = None) -> Iterator[Row]:
        """Key, point, result without waveforms, and whether waveforms are kept, of every point that has a result.

        In the sweep's order, or all of the store in the order they were registered. Results that come in meanwhile may
        be among them.
        """
        return (row for _, row in self._placed(sweep))

    def _placed(self, sweep: int | None) -> Iterator[tuple[int, Row]]:
        """The same with the places in the sweep, a thousand a statement so that nobody waits long."""
        self._look_through()
        place, source = "points.id", f"{_RESULTS} WHERE :sweep IS NULL"
        if sweep is not None:
            self._known(sweep)
            place, source = "place", f"{_RESULTS} JOIN members ON members.point = points.id WHERE sweep = :sweep"
        chunk = f"SELECT {place}, {_COLUMNS} FROM {source} AND {place} > :last ORDER BY {place} LIMIT {CHUNK}"
        last = -(2**63)
        while rows := self._base.rows(chunk, {"sweep": sweep, "last": last}):
            last = rows[-1][0]
            if not all(isinstance(number, int) and number >= 0 for number, *_ in rows):
                raise self._base.damaged("the places of points")
            yield from ((row[0], self._read(row[1:])) for row in rows)

    def _read(self, row: tuple[Any, ...]) -> Row:
        """One row of a result; InputError when it is damaged."""
        read = Coded(*row)
        try:
            return (read.key, *decoded(read), bool(read.waveforms))
        except ValueError as error:
            raise self._base.damaged(f"the result of point {read.key} ({error})") from None

    def sweeps(self) -> list[SweepInfo]:
        """Every sweep of the store, and how it stands."""
        self._look_through()
        return [
            self._info(number, started) for number, started in self._base.rows("SELECT number, started FROM sweeps ORDER BY number")
        ]

    def _info(self, number: int, started: float) -> SweepInfo:
        mine = "FROM members JOIN results USING (point) WHERE sweep = ?"
        total = self._base.rows("SELECT count(*) FROM members WHERE sweep = ?", (number,))[0][0]
        ((done, least, last),) = self._base.rows(f"SELECT count(*), min(headroom), max(stored) {mine}", (number,))
        outcomes, grades = (
            dict(self._base.rows(f"SELECT {what}, count(*) {mine} GROUP BY 1 ORDER BY 1", (number,)))
            for what in ("outcome", "grade")
        )
        failed = sum(outcomes.get(outcome, 0) for outcome in FAILED)
        try:
            if not all(isinstance(text, str) for text in (*outcomes, *grades)) or not isinstance(least, float | None):
                raise ValueError
            moments = _moment(started), None if last is None else _moment(last)
        except (TypeError, ValueError, OverflowError, OSError):
            raise self._base.damaged(f"the results of sweep {number}") from None
        return SweepInfo(number, self._plan(number), total, done, failed, outcomes, grades, least, *moments)

    def _plan(self, number: int) -> dict[str, Any]:
        """The plan of a sweep, as it was registered."""
        ((text, digest),) = self._base.rows("SELECT plan, digest FROM sweeps WHERE number = ?", (number,))
        if not isinstance(text, str) or _digest(text) != digest:
            raise self._base.damaged(f"the plan of sweep {number}")
        return dict(json.loads(text))

    def frame(self, sweep: int | None = None) -> Any:
        """A pandas DataFrame, one row a point that has a result: of one sweep by its place there, or of all of them.

        Columns: case; each varied field, in SI with the unit in the name when it holds quantities (`supply.voltage_v`),
        a percentage as ratio; outcome, outcome_detail, grade, headroom, ends, method, wall_s as in `PointResult`;
        waveforms: whether they are kept; key; every measure that is not a list. Empty where a point has no such value.
        """
        units: dict[str, str] = {}
        for (number,) in self._base.rows("SELECT number FROM sweeps ORDER BY number"):
            units |= units_in(self._plan(number)) if sweep in (None, number) else {}
        places: list[int] = []

        def rows() -> Iterator[Row]:
            for place, row in self._placed(sweep):
                places.append(place)
                yield row

        found = table(rows(), units)
        return found if sweep is None else found.set_index([places])

    def export(self, path: str | Path, sweep: int | None = None) -> int:
        """Write the frame as `.csv` or `.parquet`, whole or not at all; returns its number of rows.

        Raises InputError for another suffix and Parquet without pyarrow, OutputError for a place that cannot be written.
        """
        checked_format(Path(path))
        frame = self.frame(sweep)
        write_table(frame, Path(path))
        return len(frame)

    def check(self) -> list[str]:
        """Everything wrong with the store, in words: reads every result and all waveforms; nothing when it is sound."""
        found = self._base.faults()
        for row in self._base.rows("SELECT key, waveforms FROM results JOIN points ON id = point ORDER BY id"):
            found += self._faults(*row)
        return found

    def _faults(self, key: str, kept: bool) -> list[str]:
        """What is wrong with one point."""
        try:
            result = self.result(key)
        except InputError as error:
            return [str(error)]
        if kept and result is not None and result.waveforms is None:
            return [f"point {key}: its waveforms are gone from {self._shelf.folder}"]
        return []

    def _look_through(self) -> None:
        """InputError when the file is damaged, so that no row is lost without a word; once for each opening."""
        if not self._sound and (faults := self._base.faults(1)):
            raise self._base.damaged(faults[0])
        self._sound = True

    def _known(self, sweep: int) -> None:
        """InputError when there is no such sweep."""
        numbers = [number for (number,) in self._base.rows("SELECT number FROM sweeps ORDER BY number")]
        if sweep not in numbers:
            known = ", ".join(map(str, numbers)) or "none yet"
            raise InputError.single(self._base.shown, "has no such sweep", sweep, known)


_INSERT = (
    "INSERT OR IGNORE INTO results VALUES (:point, :outcome, :outcome_detail, :grade, :headroom, :ends, :method, :wall_s,"
    " :waveforms, :stored)"
)
_CLAIM = (
    "INSERT OR REPLACE INTO leases SELECT id, :owner, :now + :seconds, :seconds FROM points JOIN members ON members.point = id"
    " WHERE sweep = :sweep AND key = :key AND NOT EXISTS (SELECT 1 FROM results WHERE point = id) AND NOT EXISTS"
    " (SELECT 1 FROM leases WHERE point = id AND owner != :owner AND :now < until AND until < :now + 2 * seconds)"
)
_COLUMNS = (
    "key, case_name, fields, waveforms, outcome, outcome_detail, grade, headroom, ends, method, wall_s,"
    " shapes.content, contents.content"
)
_RESULTS = (
    "points JOIN results ON results.point = points.id LEFT JOIN contents ON contents.point = points.id"
    " LEFT JOIN shapes ON shapes.id = shape"
)


def _digest(text: str) -> str:
    """SHA-256 of a plan's text."""
    return hashlib.sha256(text.encode()).hexdigest()


def _moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def frame(path: str | Path, sweep: int | None = None) -> Any:
    """All results of a store, or of one sweep in it, as a pandas DataFrame; see `Store.frame`."""
    with Store.open(path, create=False) as store:
        return store.frame(sweep)
