# SPDX-License-Identifier: GPL-3.0-or-later
"""One simulator in one process, through PySpice's shared ngspice session. The only file that imports PySpice.

What PySpice 1.5 needs from us, each point tested: the library's real name before the first instance; stderr notes are no
failures; the circuit before must be gone before the next is loaded, or a refused deck would silently run the old one; a
simulator that asks to be detached is never used again; no start-up files from the working or home folder. Success is
judged by what came out: time reached, vectors present, all finite.
"""

from __future__ import annotations

import ctypes.util
import logging
import os
import re
import tempfile
from collections.abc import Callable
from typing import Any

import numpy as np

from heatsim.engine.log import cause
from heatsim.errors import SetupError
from heatsim.netlist.deck import Deck
from heatsim.waves import Array

DIRECTIVES = frozenset(".subckt .ends .model .param .option .options .tran .save .meas .measure .end .ic .temp".split())
"""What a deck may contain besides parts; everything else, control blocks and includes above all, is refused."""

INSTALL = "the simulator library is missing: install libngspice (Debian, Ubuntu: sudo apt install libngspice0; macOS: brew " \
          "install libngspice) or set NGSPICE_LIBRARY_PATH to it"


class DeckRefused(ValueError):
    """A deck holds something that is not a part or a known directive."""


def check_deck(text: str) -> None:
    """Raise DeckRefused unless every line is a comment, a part or one of DIRECTIVES."""
    for number, line in enumerate(text.splitlines()[1:], start=2):
        words = line.split()
        if not words or words[0].startswith(("*", "+")):
            continue
        first = words[0].lower()
        if first.startswith("."):
            if first not in DIRECTIVES:
                raise DeckRefused(f"line {number} has a directive that is not allowed: {first}")
        elif not re.match(r"^[bcdefghijklmqrsvwx][a-z0-9_]*$", first):
            raise DeckRefused(f"line {number} is neither part nor directive: {first[:40]}")


def vector_name(vector: str) -> str:
    """Name in the simulator of a saved vector: v(node) -> node, i(source) -> source#branch."""
    inner = vector[2:-1]
    return f"{inner}#branch" if vector.startswith("i(") else inner


def find_library() -> str:
    """Name or path of libngspice; SetupError says what to install."""
    found = os.environ.get("NGSPICE_LIBRARY_PATH") or ctypes.util.find_library("ngspice")
    if not found:
        raise SetupError(INSTALL)
    return found


def isolate() -> None:
    """Empty working and home folder, one thread: nothing outside the deck may change a run."""
    folder = tempfile.mkdtemp(prefix="heatsim-")
    os.environ.update(HOME=folder, OMP_NUM_THREADS="1")
    os.chdir(folder)


class Session:
    """A simulator that runs one deck after the other. One per process."""

    def __init__(self) -> None:
        logging.getLogger("PySpice").setLevel(logging.CRITICAL)
        library = find_library()
        from PySpice.Spice.NgSpice.Shared import NgSpiceShared, ffi

        self._ffi = ffi
        self._started = False

        NgSpiceShared.LIBRARY_PATH = library
        NgSpiceShared._logger.setLevel(logging.CRITICAL)
        session = self

        class Listening(NgSpiceShared):  # type: ignore[misc]
            """Keeps messages and clears the flags PySpice raises for harmless ones."""

            def send_char(self, message: str, ngspice_id: int) -> int:
                session.messages.append(message)
                self._error_in_stdout = self._error_in_stderr = None
                return 0

            def send_stat(self, message: str, ngspice_id: int) -> int:
                session._on_status(message)
                return 0

            @staticmethod
            def _exit(status: int, *_: Any) -> int:
                session.poisoned = True
                return status

        self.messages: list[str] = []
        self.poisoned = False
        self.on_percent: Callable[[float], None] = lambda percent: None
        try:
            self._ngspice = Listening.new_instance()
        except OSError as error:
            raise SetupError(f"{INSTALL} ({error})") from None

    @property
    def version(self) -> str:
        """Such as ngspice-39."""
        return f"ngspice-{self._ngspice.ngspice_version}"

    def _on_status(self, message: str) -> None:
        found = re.search(r"([\d.]+)\s*%", message)
        if found:
            self.on_percent(float(found.group(1)))

    def _try(self, action: Callable[[], Any]) -> None:
        """Run a simulator call; what PySpice raises is kept as a message, judging comes later."""
        try:
            action()
        except (NameError, ValueError) as error:
            self.messages.append(f"note: {error}")

    def load(self, deck: Deck) -> None:
        """Forget everything before, then load the deck. Raises DeckRefused for decks with foreign directives."""
        check_deck(deck.text)
        self._try(lambda: self._ngspice.exec_command("destroy all"))
        self._try(lambda: self._ngspice.exec_command("remcirc"))
        self.messages.clear()
        self._started = False
        self._try(lambda: self._ngspice.load_circuit(deck.text))

    def advance(self, to: float | None) -> bool:
        """Run on until `to` [s], or to the end; False when nothing of this deck has been simulated."""
        if to is not None:
            self._try(lambda: self._ngspice.exec_command(f"stop when time > {to:.12g}"))
        before = self.reached
        self._try(lambda: self._ngspice.exec_command("resume" if self._started else "run"))
        self._started = True
        if to is not None:
            self._try(lambda: self._ngspice.exec_command("delete all"))
        return self.reached > before

    def _vector(self, name: str) -> Array | None:
        """Samples of one vector of this deck's transient so far, copied; None when there is none."""
        plot = str(self._ngspice.last_plot)
        if not self._started or not plot.startswith("tran"):
            return None
        info = self._ngspice._ngspice_shared.ngGet_Vec_Info(f"{plot}.{name}".encode())
        if info == self._ffi.NULL or info.v_realdata == self._ffi.NULL or info.v_length < 1:
            return None
        return np.frombuffer(self._ffi.buffer(info.v_realdata, info.v_length * 8), dtype=np.float64).copy()

    @property
    def reached(self) -> float:
        """Simulated time reached [s]."""
        time = self._vector("time")
        return 0.0 if time is None else float(time[-1])

    def vectors(self, wanted: tuple[str, ...]) -> tuple[Array, dict[str, Array]] | None:
        """Time and the wanted vectors with repeated instants dropped; None when one is missing or not finite."""
        time = self._vector("time")
        if time is None:
            return None
        keep = np.append(np.diff(time) > 0, True)
        found = {vector: self._vector(vector_name(vector)) for vector in wanted}
        if np.count_nonzero(keep) < 2 or any(x is None or x.size != time.size for x in found.values()):
            return None
        arrays = {vector: x[keep] for vector, x in found.items() if x is not None}
        return (time[keep], arrays) if all(np.isfinite(x).all() for x in arrays.values()) else None

    @property
    def cause(self) -> str:
        """What the messages say went wrong, in words."""
        return cause(self.messages)
