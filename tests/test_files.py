# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading within a bound and writing whole: what stands in a file's place, how much it holds, where links lead."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from heatsim.errors import InputError, OutputError
from heatsim.files import make_folder, read_bounded, replacing, shown_path, write_whole

KIND = "a text"


def test_a_file_within_the_bound_is_read(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"12345")
    assert read_bounded(tmp_path / "a", 5, KIND) == b"12345"


def test_what_is_no_file_or_too_long_is_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "long").write_bytes(b"123456")
    with (tmp_path / "sparse").open("wb") as stream:
        stream.truncate(30_000_000_000)
    began = time.monotonic()
    for name, words in (
        ("pipe", "a pipe"),
        ("long", "6 bytes"),
        ("sparse", "30000000000 bytes"),
        ("", "a folder"),
        ("none", "No such"),
    ):
        with pytest.raises(InputError, match=words):
            read_bounded(tmp_path / name, 5, KIND)
    for special in ("/dev/zero", "a\0b", "x" * 5000):
        with pytest.raises(InputError):
            read_bounded(Path(special), 5, KIND)
    assert time.monotonic() - began < 5


def test_a_file_is_written_whole_and_links_are_not_followed(tmp_path: Path) -> None:
    (tmp_path / "victim").write_text("mine")
    for link in ("out", "out.part"):
        (tmp_path / link).symlink_to(tmp_path / "victim")
    write_whole(tmp_path / "out", "new")
    assert (tmp_path / "out").read_text() == "new" and not (tmp_path / "out").is_symlink()
    assert (tmp_path / "victim").read_text() == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out", "out.part", "victim"]


def test_devices_and_pipes_are_written_to_and_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "null").symlink_to("/dev/null")
    write_whole(tmp_path / "null", "gone")
    assert (tmp_path / "null").is_symlink()
    reading, writing = os.pipe()
    write_whole(Path(f"/dev/fd/{writing}"), "through")
    os.close(writing)
    assert os.read(reading, 100) == b"through"
    os.close(reading)
    (tmp_path / "full").symlink_to("/dev/full")
    os.mkfifo(tmp_path / "unread")
    for name, words in (("full", "No space left"), ("unread", "cannot be written")):
        with pytest.raises(OutputError, match=words):
            write_whole(tmp_path / name, "lost")
    assert (tmp_path / "full").is_symlink() and len(list(tmp_path.iterdir())) == 3


def test_a_body_that_fails_leaves_nothing(tmp_path: Path) -> None:
    write_whole(tmp_path / "out", b"old")
    with pytest.raises(RuntimeError), replacing(tmp_path / "out") as stream:
        stream.write(b"half")
        raise RuntimeError
    assert [path.read_bytes() for path in tmp_path.iterdir()] == [b"old"]


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    for place in (tmp_path / "folder", tmp_path / "none" / "out", Path("/proc/out")):
        with pytest.raises(OutputError, match="cannot be written"):
            write_whole(place, "new")
    with pytest.raises(OutputError):
        make_folder(Path("/proc/folder"))
    assert [path.name for path in tmp_path.iterdir()] == ["folder"]


def test_a_new_file_has_the_rights_of_the_mask(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_whole(tmp_path / "out", "new")
    finally:
        os.umask(before)
    assert (tmp_path / "out").stat().st_mode & 0o777 == 0o640


def test_a_path_in_a_message_holds_no_control_characters() -> None:
    told = shown_path(os.fsdecode(b"a\x1b[31m\xff") + "y" * 900)
    assert told.isprintable() and len(told) <= 300


def test_a_new_file_takes_no_other_one_s_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for links in (True, False):
        if not links:  # a file system that has no hard links
            monkeypatch.setattr(os, "link", lambda *_: os.chmod(tmp_path / "none", 0))
        path = tmp_path / f"new-{links}"
        with replacing(path, only_new=True) as stream:
            stream.write(b"first")
        with pytest.raises(OutputError), replacing(path, only_new=True) as stream:
            stream.write(b"second")
        assert path.read_bytes() == b"first"
    assert len(list(tmp_path.iterdir())) == 2
