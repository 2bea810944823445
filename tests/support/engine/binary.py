# SPDX-License-Identifier: GPL-3.0-or-later
"""The same deck under the plain `ngspice` program, as a cross-check of the shared session.

`ngspice -b -r FILE` writes a raw file: text lines up to `Binary:`, then for each time point all variables as
little-endian 64-bit floats (ngspice manual, "raw file format"). The reader is ours; PySpice's is not used.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from heatsim.engine.guard import check_deck
from heatsim.engine.log import cause
from heatsim.engine.pool import simulator_variables
from heatsim.engine.session import vector_name
from heatsim.engine.simulate import CLOSE, combine
from heatsim.errors import HeatsimError, SetupError
from heatsim.netlist.deck import Deck
from heatsim.tasks.process import environment
from heatsim.waves import Array, Waveforms


class BinaryFailed(HeatsimError, RuntimeError):
    """The plain program did not bring the deck to its end; the message tells why."""


@dataclass(frozen=True)
class Raw:
    """One plot of a raw file: its title and name, and variable name -> samples, shape (points,), in file order."""

    title: str
    plot: str
    vectors: dict[str, Array]


def run_binary(deck: Deck, time_limit: float = 60.0) -> Waveforms:
    """Run the deck to `deck.transient.stop` and return its signals.

    time_limit: wall clock [s]. Raises SetupError without the program, DeckRefused for decks the guard refuses and
    BinaryFailed with the cause when the program is late, stops early or leaves a vector out.
    """
    program = shutil.which("ngspice")
    if program is None:
        raise SetupError("the ngspice program is missing (Debian, Ubuntu: sudo apt install ngspice)")
    check_deck(deck.text)
    with tempfile.TemporaryDirectory(prefix="heatsim-") as name:
        folder = Path(name)
        (folder / "deck.cir").write_text(deck.text, encoding="utf-8")
        messages = _call([program, "-b", "-r", "out.raw", "deck.cir"], folder, time_limit)
        raw = folder / "out.raw"
        if not raw.exists() or not raw.stat().st_size:
            raise BinaryFailed(cause(messages) or f"no raw file: {messages[-1:]}")
        return _signals(deck, read_raw(raw), messages)


def _call(command: list[str], folder: Path, time_limit: float) -> list[str]:
    """Lines the program wrote."""
    try:
        done = subprocess.run(
            command,
            cwd=folder,
            env=environment(folder, simulator_variables()),
            stdin=subprocess.DEVNULL,
            text=True,
            capture_output=True,
            timeout=time_limit,
            errors="replace",
        )
    except subprocess.TimeoutExpired:
        raise BinaryFailed(f"not done after {time_limit:g} s") from None
    return (done.stdout + done.stderr).splitlines()


def _signals(deck: Deck, raw: Raw, messages: list[str]) -> Waveforms:
    """The deck's signals from the vectors of a raw file."""
    time = raw.vectors["time"]
    if time.size < 2 or time[-1] < deck.transient.stop * CLOSE:
        raise BinaryFailed(cause(messages) or f"the simulation stopped at {time[-1:]} s without saying why")
    found = {vector: _find(raw, vector) for vector in deck.vectors}
    missing = [vector for vector, samples in found.items() if samples is None]
    if missing:
        raise BinaryFailed(f"the circuit has no {', '.join(missing)}")
    keep = np.append(True, time[1:] > np.maximum.accumulate(time)[:-1])
    vectors = {vector: samples[keep] for vector, samples in found.items() if samples is not None}
    return combine(deck.signals, time[keep], vectors, "plain ngspice, cold start")


def _find(raw: Raw, vector: str) -> Array | None:
    """A saved vector under any of the names the program gives it: v(x), i(x), x, x#branch."""
    names = (vector, vector_name(vector), f"i({vector_name(vector).removesuffix('#branch')})")
    return next((raw.vectors[name] for name in names if name in raw.vectors), None)


def read_raw(path: Path) -> Raw:
    """First plot of a binary raw file with real vectors. ValueError says what is not as expected."""
    data = path.read_bytes()
    head, mark, body = data.partition(b"Binary:\n")
    if not mark:
        raise ValueError(f"{path.name}: no binary section")
    text = head.decode("utf-8", "replace")
    fields = dict(re.findall(r"^([A-Z][\w. ]*):[ \t]*(.*)$", text, re.MULTILINE))
    count, points = int(fields["No. Variables"]), int(fields["No. Points"])
    if "complex" in fields.get("Flags", ""):
        raise ValueError(f"{path.name}: complex vectors, not a transient analysis")
    names = [line.split()[1].lower() for line in text.partition("\nVariables:")[2].splitlines() if line.strip()]
    if len(names) != count or len(body) < 8 * count * points:
        raise ValueError(f"{path.name}: {count} variables of {points} points announced, the file holds less")
    table = np.frombuffer(body, dtype="<f8", count=count * points).reshape(points, count)
    return Raw(
        fields.get("Title", ""),
        fields.get("Plotname", ""),
        {name: np.ascontiguousarray(table[:, k]) for k, name in enumerate(names)},
    )
