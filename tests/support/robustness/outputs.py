# SPDX-License-Identifier: GPL-3.0-or-later
"""Every system call of an output failing in turn: the old file or the whole new one, one message, nothing left behind.

A process that has its results ready is attached to by strace, which lets the n-th call of a sort fail, and only then writes. The
sorts are those that writing a file or a folder of files takes; each number up to the last that a clean output makes is one trial.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import signal
import subprocess
import sys
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np

from heatsim.cli import main
from heatsim.errors import OutputError
from heatsim.files import write_whole
from heatsim.waves import Waveforms
from tests.support.deciding_code import ROOT

CALLS = (
    "openat",
    "write",
    "fsync",
    "close",
    "chmod",
    "rename",
    "unlink",
    "mkdir",
    "newfstatat",
    "lseek",
    "umask",
    "fcntl",
    "ioctl",
)
ERRORS = {"openat": "EMFILE", "write": "ENOSPC", "fsync": "EIO", "close": "EIO", "mkdir": "EROFS"}
SCENARIO = str(ROOT / "scenarios" / "bench-heater.toml")
OLD, NEW = "old content\n" * 400, "new content\n" * 20_000
LEFT, UNREAD = 3, 2
"""Exit codes of a command whose output could not be written, and whose input could not be read."""


def one_file(folder: Path) -> int:
    """A file in the place of another."""
    try:
        write_whole(folder / "file.txt", NEW)
    except OutputError as error:
        sys.stderr.write(f"heatsim: {error}\n")
        return LEFT
    return 0


def netlists(folder: Path) -> int:
    """A command that writes a folder of files."""
    return main(["netlist", SCENARIO, "--out", str(folder / "netlists")])


def waveforms(folder: Path) -> int:
    """Waveforms as a file."""
    time = np.linspace(0.0, 1e-5, 4001)
    try:
        Waveforms(time, {"tank.voltage": np.sin(time)}, {"tank.voltage": "V"}, "made up").save_npz(folder / "waves.npz")
    except OutputError as error:
        sys.stderr.write(f"heatsim: {error}\n")
        return LEFT
    return 0


OUTPUTS: dict[str, Callable[[Path], int]] = {"one file": one_file, "netlists": netlists, "waveforms": waveforms}
WHOLE: dict[str, dict[str, bytes]] = {}


def prepare(folder: Path) -> tuple[Path, list[tuple[str, str, int]]]:
    """Where outputs go, and the trials: output, sort of call, which of them fails."""
    if not shutil.which("strace"):
        raise SystemExit("strace is needed: sudo apt install strace")
    trials = []
    for name in OUTPUTS:
        place = fresh(folder)
        OUTPUTS[name](place)  # what is loaded once is loaded
        WHOLE[name] = contents(place)
        _, _, seen = written(name, fresh(folder), "trace=" + ",".join(CALLS))
        counts = Counter(re.findall(r"(?m)^(?:\d+ +)?(\w+)\(", seen))
        trials += [(name, call, at) for call in CALLS for at in range(1, counts[call] + 1)]
    return folder, trials


def fresh(folder: Path) -> Path:
    """An empty place but for an old file."""
    shutil.rmtree(folder / "place", ignore_errors=True)
    (folder / "place").mkdir()
    (folder / "place" / "file.txt").write_text(OLD)
    return folder / "place"


def contents(place: Path) -> dict[str, bytes]:
    """All files below a folder."""
    return {str(path.relative_to(place)): path.read_bytes() for path in sorted(place.rglob("*")) if path.is_file()}


def same_arrays(one: bytes, other: bytes | None) -> bool:
    """Whether two NPZ files hold the same; a stream that cannot be sought in gives other bytes."""
    if other is None or not zipfile.is_zipfile(io.BytesIO(one)):
        return False
    found, wanted = np.load(io.BytesIO(one)), np.load(io.BytesIO(other))
    return found.files == wanted.files and all(np.array_equal(found[key], wanted[key]) for key in wanted.files)


def written(name: str, place: Path, *expressions: str) -> tuple[int, str, str]:
    """Write an output in a process that strace watches; its exit code, what it said, what strace saw."""
    ear, mouth = os.pipe()
    go, said = place.parent / "go", place.parent / "said"
    go.unlink(missing_ok=True)
    child = os.fork()
    if not child:
        os.close(ear)
        _child(name, place, said)
    os.close(mouth)
    os.close(ear)
    os.waitpid(child, os.WUNTRACED)
    options = [word for expression in expressions for word in ("-e", expression)]
    log = place.parent / "strace.txt"
    with subprocess.Popen(["strace", "-f", "-qq", "-o", str(log), *options, "-p", str(child)], stderr=subprocess.PIPE) as tracer:
        _await_tracer(child)
        os.kill(child, signal.SIGCONT)
        _, status = os.waitpid(child, 0)
        tracer.wait(timeout=20)
    return os.waitstatus_to_exitcode(status), said.read_text("utf-8", "replace"), log.read_text("utf-8", "replace")


def _child(name: str, place: Path, said: Path) -> None:
    """Stop, and write when told to go on; never returns."""
    code = 99
    try:
        handle = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
        os.dup2(handle, 1)
        os.dup2(handle, 2)
        os.kill(os.getpid(), signal.SIGSTOP)
        code = OUTPUTS[name](place)
        sys.stdout.flush()
        sys.stderr.flush()
    except BaseException:
        import traceback

        os.write(2, traceback.format_exc().encode())
    finally:
        os._exit(code)


def _await_tracer(child: int) -> None:
    """Until strace holds the process."""
    import time

    for _ in range(2000):
        if not re.search(r"(?m)^TracerPid:\s+0$", Path(f"/proc/{child}/status").read_text()):
            return
        time.sleep(0.005)
    raise TimeoutError("strace does not attach")


def attempt(number: int, seed: int, prepared: tuple[Path, list[tuple[str, str, int]]]) -> str:
    """One call fails. Every file is the old one or the whole new one, and nothing else is there."""
    folder, trials = prepared
    if number >= len(trials):
        return "none"
    name, call, at = trials[number]
    place = fresh(folder)
    before = contents(place)
    code, said, _ = written(name, place, f"trace={call}", f"inject={call}:error={ERRORS.get(call, 'EIO')}:when={at}")
    what = f"{name}, {call} number {at}: exit code {code}: {said[-700:]}"
    assert (code in (0, LEFT) or (code == UNREAD and "cannot be read" in said)) and "Traceback" not in said, what
    found = contents(place)
    for file, content in found.items():
        if file.endswith(".part"):
            assert call in ("unlink", "rename"), f"left behind: {file}; {what}"
        else:
            whole = content in (before.get(file), WHOLE[name].get(file)) or same_arrays(content, WHOLE[name].get(file))
            assert whole, f"half a file: {file}; {what}"
    if code == 0:
        assert {file for file in found if not file.endswith(".part")} == set(WHOLE[name]), f"a file is missing; {what}"
    return "accepted" if code == 0 else "refused"


def count(folder: Path) -> int:
    """How many trials there are."""
    return len(prepare(folder)[1])
