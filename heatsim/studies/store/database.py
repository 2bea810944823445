# SPDX-License-Identifier: GPL-3.0-or-later
"""The database file of a store: made whole, written transaction by transaction, its faults put in words.

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
import stat
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from heatsim.errors import HeatsimError, InputError, OutputError
from heatsim.files import make_folder, reason, replacing, shown_path

APPLICATION = int.from_bytes(b"heat", "big")
"""Marks the file as ours, in the place SQLite has for it (PRAGMA application_id)."""

SCHEMA = 2
"""Version of what is written (PRAGMA user_version). Files of version 1, whose results have no checksums, are read and gone on
with; they become version 2 when something is written. A later version is refused."""

SYNCHRONOUS = "FULL"
"""How long a commit waits for the disk (PRAGMA synchronous): until all of it is there."""

PATIENCE = 30.0
"""Seconds SQLite waits for a lock that another process holds."""

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
sweep has, and where. results: what became of a point, in short; contents: the rest of it, see `codec`, apart so
that counting results need not read them; shapes: names in the contents. leases: who is at a point, until when (time of
day, seconds).
"""


class Database:
    """An open database file. For one thread of one process; must not be carried over a fork."""

    def __init__(self, path: Path, create: bool) -> None:
        self.path, self.shown = path, shown_path(path)
        self.writable = _writable(path, create)
        try:
            uri = f"{path.absolute().as_uri()}?mode={'rw' if self.writable else 'ro'}"
            self._link = sqlite3.connect(uri, uri=True, timeout=PATIENCE, isolation_level=None)
        except sqlite3.Error as error:
            raise self._fault(error) from None
        try:
            self.version = self._opened()
        except BaseException:
            self._link.close()
            raise

    def close(self) -> None:
        """Close the file."""
        self._link.close()

    def rows(self, sql: str, values: Sequence[Any] | Mapping[str, Any] = ()) -> list[tuple[Any, ...]]:
        """All rows of one statement."""
        try:
            return self._link.execute(sql, values).fetchall()
        except (sqlite3.Error, UnicodeError, MemoryError) as error:
            raise self._fault(error) from None

    def run(self, sql: str, values: Sequence[Any] | Mapping[str, Any] = ()) -> int:
        """Run one statement; returns how many rows it changed."""
        return self.run_each(sql, [values]) if values else len(self.rows(sql))

    def run_each(self, sql: str, many: Sequence[Sequence[Any] | Mapping[str, Any]]) -> int:
        """Run one statement for each of many; returns how many rows were changed. Inside `writing` only."""
        try:
            return self._link.executemany(sql, many).rowcount
        except (sqlite3.Error, UnicodeError, MemoryError) as error:
            raise self._fault(error) from None

    @contextmanager
    def writing(self) -> Iterator[None]:
        """A transaction: nobody else writes meanwhile, and all of it is on disk at the end or nothing is."""
        if not self.writable:
            raise OutputError(f"{self.shown}: {READ_ONLY}; allowed: {WHERE_TO}")
        self.run("BEGIN IMMEDIATE")
        try:
            if self.version < SCHEMA:
                self.run(f"PRAGMA user_version={SCHEMA}")
            yield
            self.run("COMMIT")
        except BaseException:
            if self._link.in_transaction:
                self._link.execute("ROLLBACK")
            raise
        self.version = SCHEMA

    def faults(self, most: int = 100) -> list[str]:
        """What SQLite finds wrong with the file, in words; reads all of it."""
        found = [f"database: {fault}" for (fault,) in self.rows(f"PRAGMA integrity_check({most})") if fault != "ok"]
        broken = self.rows("PRAGMA foreign_key_check")
        return found + [f"table {name}, row {row}: refers to a row of {other} that is not there" for name, row, other, _ in broken]

    def damaged(self, what: str) -> InputError:
        """The error of a file that holds what it cannot hold."""
        return InputError.single(self.shown, f"is damaged: {what}", "", PUT_BACK)

    def _opened(self) -> int:
        """The version of the file, which is set up for writing; InputError when it is not ours."""
        (mark,), (version,) = self.rows("PRAGMA application_id")[0], self.rows("PRAGMA user_version")[0]
        if mark != APPLICATION or version < 1:
            raise InputError.single(self.shown, NOT_OURS, "", OURS)
        if version > SCHEMA:
            raise InputError.single(
                self.shown, "was written by a later heatsim", f"version {version}", f"version {SCHEMA}; update heatsim"
            )
        if {sql for (sql,) in self.rows("SELECT sql FROM sqlite_master WHERE type = 'table'")} != set(TABLES):
            raise self.damaged("it does not have the tables of a store")
        if self.writable:
            self.rows("PRAGMA journal_mode=TRUNCATE")
            self.rows(f"PRAGMA synchronous={SYNCHRONOUS}")
        return int(version)

    def _fault(self, error: Exception) -> HeatsimError:
        """A fault of the file in words: what it is and what to do."""
        name = getattr(error, "sqlite_errorname", None) or ""
        for start, sort, what, then in _WORDS:
            if name.startswith(start):
                return (
                    InputError.single(self.shown, what, "", then)
                    if sort is InputError
                    else OutputError(_told(self.shown, what, then))
                )
        return self.damaged(str(error))


def _told(shown: str, what: str, then: str) -> str:
    return f"{shown}: {what}; allowed: {then}"


_AGAIN = "then run the same command again: finished points are kept"
WHERE_TO = "a folder that may be written; a copy of the file and its .waves folder there goes on where it stood"
READ_ONLY = "cannot be written: the file or its folder is read-only"
NOT_OURS, OURS = "is not a store of heatsim", "a file that a sweep or map has made"
PUT_BACK = "put a copy of it back, or start with a new file"
_WORDS = (
    ("SQLITE_FULL", OutputError, "the disk is full", f"make room, {_AGAIN}"),
    ("SQLITE_IOERR", OutputError, "cannot be read or written: the disk is full, over quota or faulty", f"make room, {_AGAIN}"),
    ("SQLITE_BUSY", InputError, "another program has it locked for long", f"end that program, {_AGAIN}"),
    ("SQLITE_READONLY_ROLLBACK", InputError, "was interrupted and must be written once before it can be read", WHERE_TO),
    ("SQLITE_READONLY", OutputError, READ_ONLY, WHERE_TO),
    ("SQLITE_CANTOPEN", OutputError, "cannot be opened: its folder cannot be written, or the disk is full", f"allow it, {_AGAIN}"),
    ("SQLITE_NOTADB", InputError, NOT_OURS, OURS),
)
"""SQLite's name of an error, how it ends the program, what it is and what to do; any other tells of a damaged file."""


def _writable(path: Path, create: bool) -> bool:
    """Whether the file can be written; it is made if it is to be and is not there."""
    shown, there = shown_path(path), True
    try:
        status = path.stat()
    except FileNotFoundError:
        there = False
    except (OSError, ValueError) as error:
        raise InputError.single(shown, f"cannot be reached ({reason(error)})", "", OURS) from None
    if there and not stat.S_ISREG(status.st_mode):
        raise InputError.single(shown, "is a folder" if stat.S_ISDIR(status.st_mode) else "is not a file", "", "a file")
    if there and status.st_size < 512:  # the smallest database SQLite makes; it would take less for a new one
        raise InputError.single(shown, f"{NOT_OURS}, or was cut short", f"{status.st_size} bytes", f"{OURS}; {PUT_BACK}")
    if not there and not create:
        raise InputError.single(shown, "there is no such store", "", OURS)
    if not there:
        make_folder(path.parent)
    able = os.access(path.parent, os.W_OK | os.X_OK) and (not there or os.access(path, os.W_OK))
    if create and not able:
        raise OutputError(_told(shown, READ_ONLY, WHERE_TO))
    if not there:
        _make(path)
    return able


def _make(path: Path) -> None:
    """Make the file with its tables. It gets its name when it is complete, and only if nobody has been faster: an empty
    file is never a new store, but one that was cut off."""
    with closing(sqlite3.connect(":memory:")) as link:
        marks = (f"PRAGMA application_id={APPLICATION}", f"PRAGMA user_version={SCHEMA}")
        link.executescript(";".join((*TABLES, *marks)))
        content = link.serialize()
    try:
        with replacing(path, only_new=True) as stream:
            stream.write(content)
    except OutputError:
        if not path.exists():
            raise
