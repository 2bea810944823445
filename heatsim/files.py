# SPDX-License-Identifier: GPL-3.0-or-later
"""Files at the edge: read within a bound, written whole or not at all, symbolic links not followed where it matters."""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from heatsim.errors import InputError, OutputError, Problem, printable, shortened

CHUNK = 1 << 20
"""Bytes read at a time."""


def read_bounded(path: Path, largest: int, kind: str) -> bytes:
    """The content of a regular file.

    path: file, named by the user
    largest: most bytes it may hold [B]
    kind: what it should be, for the message ("a scenario file in TOML")
    Raises InputError when it is missing, a folder, a device, a pipe or larger; the size is looked at before anything is
    read, and no more than `largest` bytes are read from a file that grows.
    """
    shown = shown_path(path)
    try:
        handle = os.open(
            path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
        )
    except (OSError, ValueError) as error:
        raise InputError.single(shown, f"cannot be read ({reason(error)})", allowed=kind) from None
    try:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            raise InputError.single(shown, f"is {_sort(status.st_mode)}, not a file", allowed=kind)
        data = b"" if status.st_size > largest else _upto(handle, largest)
    except OSError as error:
        raise InputError.single(shown, f"cannot be read ({reason(error)})", allowed=kind) from None
    finally:
        os.close(handle)
    size = max(status.st_size, len(data))
    if size > largest:
        raise InputError.single(shown, "is too long", f"{size} bytes", f"{kind} of at most {largest} bytes")
    return data


def read_named(path: Path, largest: int, kind: str, place: str = "") -> bytes:
    """The same of a file that another file may name.

    place: file, line and field that name it, told beside its own; empty when the user names it directly
    """
    try:
        return read_bounded(path, largest, kind)
    except InputError as error:
        if not place:
            raise
        found = (Problem(place, f"{shown_path(path)} {p.what}", p.given, p.allowed) for p in error.problems)
        raise InputError(*found) from None


def _upto(handle: int, largest: int) -> bytes:
    """At most one byte more than `largest`."""
    parts, left = [], largest + 1
    while left > 0 and (part := os.read(handle, min(CHUNK, left))):
        parts.append(part)
        left -= len(part)
    return b"".join(parts)


def _sort(mode: int) -> str:
    """What stands in a file's place, in words."""
    sorts = ((stat.S_ISDIR, "a folder"), (stat.S_ISFIFO, "a pipe"), (stat.S_ISCHR, "a device"), (stat.S_ISBLK, "a device"))
    return next((words for test, words in sorts if test(mode)), "a socket or the like")


def shown_path(path: Path | str) -> str:
    """A path for messages: undecodable bytes and control characters replaced, at most 300 characters."""
    text = os.fsencode(str(path)).decode("utf-8", "replace") if "\0" not in str(path) else str(path)
    return shortened(printable(text))


def reason(error: Exception) -> str:
    """Why the system refused, in its own words."""
    return getattr(error, "strerror", None) or str(error)


@contextmanager
def replacing(path: Path, only_new: bool = False, private: bool = False) -> Iterator[BinaryIO]:
    """A stream to a new file that takes the place of `path` when the body ends well, and is gone when it does not.

    only_new: take no other file's place; OutputError when there is one by then
    private: nobody but the user may read or write it
    The new file has a name of its own, made by nobody else and no link, in the same folder. A device or a pipe, such as
    /dev/stdout, is written to and not replaced. Raises OutputError.
    """
    name = ""
    try:
        if _is_special(path):
            with os.fdopen(os.open(path, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0)), "wb") as stream:
                os.set_blocking(stream.fileno(), True)
                yield stream
            return
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:60]}.", suffix=".part")
        with os.fdopen(handle, "wb") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, 0o600 if private else 0o666 & ~_umask())
        _name_new(name, path) if only_new else os.replace(name, path)
    except (OSError, ValueError) as error:
        _forget(name)
        raise OutputError.at(shown_path(path), reason(error)) from None
    except BaseException:
        _forget(name)
        raise


def _name_new(name: str, path: Path) -> None:
    """Give a finished file its name; FileExistsError when that is taken."""
    try:
        os.link(name, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        if os.path.lexists(path):
            raise
        os.rename(name, path)
    else:
        os.unlink(name)


def write_whole(path: Path, content: str | bytes) -> Path:
    """Write a file whole and return its path; raises OutputError when it cannot be written. A symbolic link in its place is
    replaced, never followed."""
    with replacing(path) as stream:
        stream.write(content if isinstance(content, bytes) else content.encode("utf-8", "replace"))
    return path


def make_folder(path: Path) -> Path:
    """Make a folder with those above it; raises OutputError when that is not possible."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise OutputError.at(shown_path(path), reason(error)) from None
    return path


def _is_special(path: Path) -> bool:
    """Whether a device, a pipe or a socket stands there, be it behind a link."""
    try:
        mode = path.stat().st_mode
    except (OSError, ValueError):
        return False
    return not (stat.S_ISREG(mode) or stat.S_ISDIR(mode))


def _forget(name: str) -> None:
    with contextlib.suppress(OSError):
        os.unlink(name)


def _umask() -> int:
    """The mask of this process, without changing it for longer than two calls take."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


__all__ = ["make_folder", "read_bounded", "read_named", "reason", "replacing", "shown_path", "write_whole"]
