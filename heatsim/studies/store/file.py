# SPDX-License-Identifier: GPL-3.0-or-later
"""The database file of a store: opened, locked, written transaction by transaction, its faults told in words.

It is kept with a rollback journal (`TRUNCATE`) and `synchronous=FULL`: a transaction that has been committed survives a
killed process and a power cut, one that has not is rolled back by whoever opens the file next (SQLite, "Atomic commit in
SQLite", and PRAGMA synchronous). A write-ahead log would need one sync a commit instead of three, but it keeps part of
the data in a second file, does not work across machines that share a folder (SQLite, "Write-ahead logging", section
1.2), cannot be read from a read-only folder without a promise that nobody writes, and has a known fault, mended only in
releases later than those that Debian 12 and Python 3.11 bring, when two processes write and copy back at once (memory).

Nothing here may open the file other than through SQLite: closing a second handle to it would drop the locks of this
whole process (SQLite, "How to corrupt an SQLite database file", section 2.2).
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from heatsim.errors import InputError

APPLICATION = int.from_bytes(b"heat", "big")
"""Marks the file as ours, in the place SQLite has for it (PRAGMA application_id)."""

SCHEMA = 1
"""Version of the tables below; a file with a higher one is refused."""

PATIENCE = 60.0
"""Seconds to wait for a lock that another process holds."""

SLICE = 0.5
"""Seconds SQLite waits at a time, between which an interrupt gets through."""

TABLES = (
    "CREATE TABLE sweeps(number INTEGER PRIMARY KEY, digest TEXT NOT NULL UNIQUE, plan TEXT NOT NULL, started REAL NOT NULL)",
    "CREATE TABLE points(id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, case_name TEXT NOT NULL, fields TEXT NOT NULL)",
    "CREATE TABLE members(sweep INTEGER NOT NULL REFERENCES sweeps, place INTEGER NOT NULL,"
    " point INTEGER NOT NULL REFERENCES points, PRIMARY KEY(sweep, place), UNIQUE(sweep, point)) WITHOUT ROWID",
    "CREATE TABLE shapes(id INTEGER PRIMARY KEY, content TEXT NOT NULL UNIQUE)",
    "CREATE TABLE results(point INTEGER PRIMARY KEY REFERENCES points, outcome TEXT NOT NULL, outcome_detail TEXT NOT NULL,"
    " grade TEXT NOT NULL, headroom REAL, ends TEXT NOT NULL, method TEXT NOT NULL, wall_s REAL,"
    " waveforms INTEGER NOT NULL, stored REAL NOT NULL)",
    "CREATE TABLE contents(point INTEGER PRIMARY KEY REFERENCES results, shape INTEGER NOT NULL REFERENCES shapes,"
    " content BLOB NOT NULL)",
    "CREATE TABLE leases(point INTEGER PRIMARY KEY REFERENCES points, owner TEXT NOT NULL, until REAL NOT NULL,"
    " seconds REAL NOT NULL)",
)
"""sweeps: registered plans. points: a case with its fields, once however many sweeps have it. members: which points a
sweep has, and where. results: what became of a point, in short; contents: the rest of it, see `store_codec`, apart so
that counting results need not read them; shapes: names in the contents. leases: who is at a point, until when (time of
day, seconds).
"""


class Database:
    """An open database file. For one thread of one process; must not be carried over a fork."""

    def __init__(self, path: Path, create: bool) -> None:
        self.path = path
        self.writable = _writable(path, create)
        mode = ("rwc" if create else "rw") if self.writable else "ro"
        try:
            uri = f"{path.absolute().as_uri()}?mode={mode}"
            self._link = sqlite3.connect(uri, uri=True, timeout=SLICE, isolation_level=None)
        except sqlite3.Error as error:
            raise self._told(error) from None
        try:
            self._prepare(create)
        except BaseException:
            self._link.close()
            raise

    def close(self) -> None:
        """Close the file."""
        self._link.close()

    def rows(self, sql: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """All rows of one statement; waits for locks, raises InputError with the cause."""
        return list(self._patiently(lambda: self._link.execute(sql, values).fetchall()))

    def run(self, sql: str, values: Sequence[Any] = ()) -> int:
        """Run one statement; returns how many rows it changed."""
        return int(self._patiently(lambda: self._link.execute(sql, values).rowcount))

    def run_each(self, sql: str, many: Sequence[Sequence[Any] | Mapping[str, Any]]) -> int:
        """Run one statement for each of many; returns how many rows were changed. Inside `writing` only."""
        return int(self._patiently(lambda: self._link.executemany(sql, many).rowcount))

    @contextmanager
    def writing(self) -> Iterator[None]:
        """A transaction: nobody else writes meanwhile, and all of it is on disk at the end or nothing is."""
        if not self.writable:
            raise InputError.single(str(self.path), "cannot be written: the file or its folder is read-only", "", _WHERE_TO)
        self.run("BEGIN IMMEDIATE")
        try:
            yield
            self.run("COMMIT")
        except BaseException:
            if self._link.in_transaction:
                self._link.execute("ROLLBACK")
            raise

    def _patiently(self, work: Any) -> Any:
        """Result of `work`, tried again while another process has the file locked."""
        end = time.monotonic() + PATIENCE
        while True:
            try:
                return work()
            except sqlite3.Error as error:
                if _name(error).startswith("SQLITE_BUSY") and time.monotonic() < end:
                    continue
                raise self._told(error) from None

    def _prepare(self, create: bool) -> None:
        """Make the tables if there are none, refuse what is not ours."""
        if self._made() or create and self._empty() and self._make():
            return
        raise InputError.single(str(self.path), "is not a store of heatsim", "", "a file that a sweep or map has made")

    def _made(self) -> bool:
        """Whether the tables are there; InputError if they are of a later version."""
        (mark,), (version,) = self.rows("PRAGMA application_id")[0], self.rows("PRAGMA user_version")[0]
        if mark != APPLICATION:
            return False
        if version > SCHEMA:
            raise InputError.single(
                str(self.path), "was written by a later heatsim", f"version {version}", f"version {SCHEMA}; update heatsim"
            )
        self._settle()
        return True

    def _empty(self) -> bool:
        """Whether nothing is in the file; a text of a few bytes is no database to SQLite, and it would write over it."""
        return self.rows("SELECT count(*) FROM sqlite_master") == [(0,)] and self.path.stat().st_size == 0

    def _settle(self) -> None:
        """What SQLite asks for anew on every connection."""
        if self.writable:
            self.rows("PRAGMA journal_mode=TRUNCATE")
            self.run("PRAGMA synchronous=FULL")

    def _make(self) -> bool:
        """Make the tables, unless another process has just done so."""
        self._settle()
        with self.writing():
            if self._empty():
                for sql in TABLES:
                    self.run(sql)
                self.run(f"PRAGMA application_id={APPLICATION}")
                self.run(f"PRAGMA user_version={SCHEMA}")
        return self._made()

    def _told(self, error: sqlite3.Error) -> InputError:
        """A fault of the file in words: what it is and what to do."""
        what, then = _WORDS.get(_name(error)) or next(
            (words for name, words in _WORDS.items() if _name(error).startswith(name)), (f"cannot be used ({error})", "")
        )
        return InputError.single(str(self.path), what, "", then)


_AGAIN = "then run the same command again: finished points are kept"
_WHERE_TO = "a folder that may be written; a copy of the file and its .waves folder there goes on where it stood"
_WORDS = {
    "SQLITE_FULL": ("the disk is full", f"make room, {_AGAIN}"),
    "SQLITE_IOERR": ("cannot be read or written: the disk is full, over quota or faulty", f"make room, {_AGAIN}"),
    "SQLITE_BUSY": (f"another program has it locked for over {PATIENCE:.0f} s", f"end that program, {_AGAIN}"),
    "SQLITE_READONLY_ROLLBACK": ("was interrupted and must be written once before it can be read", _WHERE_TO),
    "SQLITE_READONLY": ("cannot be written: the file or its folder is read-only", _WHERE_TO),
    "SQLITE_CANTOPEN": ("cannot be opened: its folder cannot be written, or the disk is full", f"allow it, {_AGAIN}"),
    "SQLITE_NOTADB": ("is not a store of heatsim", "a file that a sweep or map has made"),
    "SQLITE_CORRUPT": ("is damaged", "put a copy of it back, or start with a new file"),
}


def _name(error: sqlite3.Error) -> str:
    """SQLite's name of an error."""
    return getattr(error, "sqlite_errorname", None) or ""


def _writable(path: Path, create: bool) -> bool:
    """Whether the file can be written, its folder made when it is to be created. InputError when that must be but cannot."""
    where = str(path)
    try:
        if path.is_dir():
            raise InputError.single(where, "is a folder", "", "a file")
        if not path.exists():
            if not create:
                raise InputError.single(where, "there is no such store", "", "a file that a sweep or map has made")
            path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError.single(where, f"cannot be reached or made ({error.strerror})", "", _WHERE_TO) from None
    able = os.access(path.parent, os.W_OK | os.X_OK) and (not path.exists() or os.access(path, os.W_OK))
    if create and not able:
        raise InputError.single(where, "cannot be written: the file or its folder is read-only", "", _WHERE_TO)
    return able


__all__ = ["APPLICATION", "PATIENCE", "SCHEMA", "Database"]
