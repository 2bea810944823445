# SPDX-License-Identifier: GPL-3.0-or-later
"""The store of sweeps and maps: one database file that keeps every finished point, whatever happens to who fills it.

A point is known by its content hash, so several sweeps share what they have in common, and a changed scenario has other
points. Each result is written in a transaction of its own before `put` returns. Processes that fill a store together
claim points under leases, which run out by themselves when their owner is gone. Waveforms of chosen points lie beside
the file, in a folder of its name and `.waves`. A store may be copied or moved, with that folder, while nobody has it open.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import Any

from heatsim.errors import InputError
from heatsim.studies.points import Point, PointResult
from heatsim.studies.store.codec import Coded, coded, decoded, fields_text, plain, point_of
from heatsim.studies.store.file import Database
from heatsim.studies.store.table import Row, checked_format, table, units_in, write_table
from heatsim.studies.store.waves import Shelf, checked_key
from heatsim.waves import Waveforms

FAILED = ("stalled", "unsolved", "unbuildable")
"""Outcomes without a judged state; `SweepInfo.failed` counts them."""

CHUNK = 1000
"""Rows read or written at a time, so that nobody waits long for the file."""


@dataclass(frozen=True)
class SweepInfo:
    """How a sweep stands. plan: as it was registered; done: points with a result, the failed ones among them; failed:
    those without a judged state; outcomes, grades: how many results of each; least_headroom: [1], None without a number;
    started: first registered; last_put: when the latest of its results came in, None before the first.
    """

    number: int
    plan: Mapping[str, Any]
    total: int
    done: int
    failed: int
    outcomes: Mapping[str, int]
    grades: Mapping[str, int]
    least_headroom: float | None
    started: datetime
    last_put: datetime | None


class Store:
    """An open store, for use in a `with` statement by one thread; other threads and processes open it themselves.

    Every method raises InputError when the file cannot be used: disk full, read-only, locked by another program for a
    minute, damaged. Nothing of a result is then kept, everything before it is, and the call may be repeated.
    """

    def __init__(self, database: Database) -> None:
        self._base = database
        self._shelf = Shelf(database.path)

    @classmethod
    def open(cls, path: str | Path, create: bool = True) -> Store:
        """Open a store, or make one.

        create: make the file if there is none, and insist on being able to write; without it a store in a read-only
        place can still be read. Raises InputError when it is missing, read-only, of a later version or something else.
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
        text = plain(plan, sort_keys=True)
        digest = hashlib.sha256(text.encode()).hexdigest()
        with self._base.writing():
            self._base.run("INSERT OR IGNORE INTO sweeps(digest, plan, started) VALUES (?, ?, ?)", (digest, text, time.time()))
            self._tidy()
        number = int(self._base.rows("SELECT number FROM sweeps WHERE digest = ?", (digest,))[0][0])
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
        return [
            (int(place), str(key))
            for place, key in self._base.rows(
                "SELECT place, key FROM members JOIN points ON id = members.point WHERE sweep = ? AND NOT EXISTS"
                " (SELECT 1 FROM results WHERE results.point = members.point) ORDER BY place",
                (sweep,),
            )
        ]

    def claim(self, sweep: int, keys: Sequence[str], owner: str, seconds: float) -> list[str]:
        """Lease points; returns those of the keys that have no result and that nobody else is at, in order.

        owner: a name that nobody else uses; seconds: how long the lease lasts unless claimed again before. A lease is
        void too when it would last for twice as long as it was meant to, which tells of a clock that was set back.
        Raises KeyError for a key that the sweep does not have.
        """
        if not keys:
            return []
        self._known(sweep)
        with self._base.writing():
            now = time.time()
            free = [(point, key) for key in dict.fromkeys(keys) if (point := self._free(sweep, key, owner, now)) is not None]
            self._base.run_each(
                "INSERT OR REPLACE INTO leases VALUES (?, ?, ?, ?)", [(point, owner, now + seconds, seconds) for point, _ in free]
            )
        return [key for _, key in free]

    def _free(self, sweep: int, key: str, owner: str, now: float) -> int | None:
        """Number of the point if this owner may be at it."""
        found = self._base.rows(
            "SELECT id, results.point, owner, until, seconds FROM points JOIN members ON members.point = id AND sweep = ?"
            " LEFT JOIN results ON results.point = id LEFT JOIN leases ON leases.point = id WHERE key = ?",
            (sweep, key),
        )
        if not found:
            raise KeyError(f"sweep {sweep} has no point {key}")
        point, done, holder, until, seconds = found[0]
        taken = holder is not None and holder != owner and now < until < now + 2 * seconds
        return None if done is not None or taken else int(point)

    def release(self, owner: str) -> None:
        """Give back everything this owner has claimed."""
        with self._base.writing():
            self._base.run("DELETE FROM leases WHERE owner = ?", (owner,))

    def put(self, key: str, result: PointResult, keep_waveforms: bool = False) -> bool:
        """Store a result; False when the point has one, which stays. It is on disk when this returns, its lease over.

        keep_waveforms: write the waveforms beside the store, if the result has any. The state is not stored.
        Raises KeyError for a key of no registered point.
        """
        point, done = self._point(key)
        if done:
            return False
        row = coded(result)
        keep = keep_waveforms and result.waveforms is not None
        unfinished = self._shelf.write(key, result.waveforms) if keep and result.waveforms is not None else None
        try:
            with self._base.writing():
                new = self._insert(point, row, keep)
                if new and unfinished is not None:
                    self._shelf.finish(key, unfinished)
                self._base.run("DELETE FROM leases WHERE point = ?", (point,))
        finally:
            if unfinished is not None:
                self._shelf.discard(unfinished)
        return new

    def _insert(self, point: int, row: Coded, keep: bool) -> bool:
        """Write the rows of a result, unless there is one."""
        *told, shape, content = row
        if not self._base.run(f"INSERT OR IGNORE INTO results VALUES ({', '.join('?' * 10)})", (point, *told, keep, time.time())):
            return False
        self._base.run("INSERT OR IGNORE INTO shapes(content) VALUES (?)", (shape,))
        self._base.run("INSERT INTO contents SELECT ?, id, ? FROM shapes WHERE content = ?", (point, content, shape))
        return True

    def forget(self, sweep: int, outcomes: Iterable[str]) -> int:
        """Remove the results of a sweep's points with these outcomes, to have them evaluated again; returns how many.

        Other sweeps that share such a point lose its result too.
        """
        self._known(sweep)
        wanted = list(dict.fromkeys(outcomes))
        with self._base.writing():
            gone = self._base.rows(
                "SELECT point FROM members JOIN results USING (point) WHERE sweep = ?"
                f" AND outcome IN ({', '.join('?' * len(wanted))})",
                (sweep, *wanted),
            )
            for name in ("contents", "results"):
                self._base.run_each(f"DELETE FROM {name} WHERE point = ?", gone)
        with self._base.writing():  # not before the rows are gone for good
            self._tidy()
        return len(gone)

    def _tidy(self) -> None:
        """Remove waveforms that no result has; inside `writing` only."""
        kept = self._base.rows("SELECT key FROM results JOIN points ON id = point WHERE waveforms")
        self._shelf.tidy({key for (key,) in kept})

    def result(self, key: str) -> PointResult | None:
        """What became of a point, with its waveforms if they are kept; None when it has no result."""
        for row in self._base.rows(f"{_RESULTS} WHERE key = ?", (key,)):
            _, _, result, kept = self._read(row)
            return replace(result, waveforms=self._shelf.read(key)) if kept else result
        return None

    def waveforms(self, key: str) -> Waveforms | None:
        """The waveforms of a point, None when they are not kept. Raises InputError when the file is damaged."""
        kept = self._base.rows("SELECT 1 FROM results JOIN points ON id = point WHERE key = ? AND waveforms", (key,))
        return self._shelf.read(key) if kept else None

    def results(self, sweep: int | None = None) -> Iterator[Row]:
        """Key, point, result without waveforms, and whether waveforms are kept, of every point that has a result.

        In the sweep's order, or all of the store in the order they were registered. Results that come in meanwhile may
        be among them.
        """
        return (row for _, row in self._placed(sweep))

    def _placed(self, sweep: int | None) -> Iterator[tuple[int, Row]]:
        """The same with the places in the sweep, a thousand a statement so that nobody waits long."""
        column, source = "points.id", f"{_RESULTS} WHERE TRUE"
        if sweep is not None:
            self._known(sweep)
            source = f"{_RESULTS} JOIN members ON members.point = points.id WHERE sweep = ?"
            column = "place"
        chunk = f"{source.replace('SELECT', f'SELECT {column},', 1)} AND {column} > ? ORDER BY {column} LIMIT {CHUNK}"
        last = -1
        while rows := self._base.rows(chunk, (last,) if sweep is None else (sweep, last)):
            last = rows[-1][0]
            yield from ((row[0], self._read(row[1:])) for row in rows)

    def _read(self, row: tuple[Any, ...]) -> Row:
        """One row of a result; InputError when it is damaged."""
        key, case, fields, kept, *rest = row
        try:
            return key, point_of(case, fields), decoded(Coded(*rest)), bool(kept)
        except ValueError as error:
            raise InputError.single(
                str(self._base.path),
                f"the result of point {key} is damaged ({error})",
                "",
                "put a copy of the file back, or start with a new file",
            ) from None

    def sweeps(self) -> list[SweepInfo]:
        """Every sweep of the store, and how it stands."""
        return [self._info(*row) for row in self._base.rows("SELECT number, plan, started FROM sweeps ORDER BY number")]

    def _info(self, number: int, plan: str, started: float) -> SweepInfo:
        mine = "FROM members JOIN results USING (point) WHERE sweep = ?"
        total = self._base.rows("SELECT count(*) FROM members WHERE sweep = ?", (number,))[0][0]
        ((done, least, last),) = self._base.rows(f"SELECT count(*), min(headroom), max(stored) {mine}", (number,))
        outcomes, grades = (
            dict(self._base.rows(f"SELECT {what}, count(*) {mine} GROUP BY 1 ORDER BY 1", (number,)))
            for what in ("outcome", "grade")
        )
        failed = sum(outcomes.get(outcome, 0) for outcome in FAILED)
        return SweepInfo(
            number,
            json.loads(plan),
            total,
            done,
            failed,
            outcomes,
            grades,
            least,
            _moment(started),
            None if last is None else _moment(last),
        )

    def frame(self, sweep: int | None = None) -> Any:
        """A pandas DataFrame, one row a point that has a result: of one sweep by its place there, or of all of them.

        Columns: case; each varied field, in SI with the unit in the name when it holds quantities (`supply.voltage_v`),
        a percentage as ratio; outcome, outcome_detail, grade, headroom, ends, method, wall_s as in `PointResult`;
        waveforms: whether they are kept; key; every measure that is not a list. Empty where a point has no such value.
        """
        units: dict[str, str] = {}
        for number, plan in self._base.rows("SELECT number, plan FROM sweeps"):
            units |= units_in(json.loads(plan)) if sweep in (None, number) else {}
        places: list[int] = []

        def rows() -> Iterator[Row]:
            for place, row in self._placed(sweep):
                places.append(place)
                yield row

        found = table(rows(), units)
        return found if sweep is None else found.set_index([places])

    def export(self, path: str | Path, sweep: int | None = None) -> int:
        """Write the frame as `.csv` or `.parquet`, whole or not at all; returns its number of rows.

        Raises InputError for another suffix, a place that cannot be written, and Parquet without pyarrow.
        """
        checked_format(Path(path))
        frame = self.frame(sweep)
        write_table(frame, Path(path))
        return len(frame)

    def check(self) -> list[str]:
        """Everything wrong with the store, in words: reads every result and all waveforms; nothing when it is sound."""
        found = [f"database: {told}" for (told,) in self._base.rows("PRAGMA integrity_check") if told != "ok"]
        broken = self._base.rows("PRAGMA foreign_key_check")
        found += [f"table {name}, row {row}: refers to a row of {other} that is not there" for name, row, other, _ in broken]
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

    def _point(self, key: str) -> tuple[int, bool]:
        """Number of a point, and whether it has a result."""
        found = self._base.rows(
            "SELECT id, results.point IS NOT NULL FROM points LEFT JOIN results ON results.point = id WHERE key = ?", (key,)
        )
        if not found:
            raise KeyError(f"no registered point {key}")
        return int(found[0][0]), bool(found[0][1])

    def _known(self, sweep: int) -> None:
        """InputError when there is no such sweep."""
        numbers = [number for (number,) in self._base.rows("SELECT number FROM sweeps ORDER BY number")]
        if sweep not in numbers:
            told = ", ".join(map(str, numbers)) or "none yet"
            raise InputError.single(str(self._base.path), "has no such sweep", sweep, told)


_RESULTS = (
    "SELECT key, case_name, fields, waveforms, outcome, outcome_detail, grade, headroom, ends, method, wall_s,"
    " shapes.content, contents.content FROM points JOIN results ON results.point = points.id"
    " JOIN contents ON contents.point = points.id JOIN shapes ON shapes.id = shape"
)


def _moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def frame(path: str | Path, sweep: int | None = None) -> Any:
    """All results of a store, or of one sweep in it, as a pandas DataFrame; see `Store.frame`."""
    with Store.open(path, create=False) as store:
        return store.frame(sweep)


__all__ = ["FAILED", "Store", "SweepInfo", "frame"]
