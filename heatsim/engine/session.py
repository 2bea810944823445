# SPDX-License-Identifier: GPL-3.0-or-later
"""One simulator in one process, through PySpice's shared ngspice session. The only file that imports PySpice.

What PySpice 1.5 needs from us, each point tested: the library's real name before the first instance; stderr notes are
no failures; the circuit before must be gone before the next is loaded, or a refused deck would silently run the old
one, and the plot's title must be that of the deck just loaded; a simulator that asks to be detached is never used
again. Success is judged by what came out: time reached, vectors present, all finite.
"""

from __future__ import annotations

import ctypes.util
import itertools
import logging
import os
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from heatsim.engine.guard import check_deck
from heatsim.engine.log import cause
from heatsim.errors import SetupError
from heatsim.netlist.deck import Deck, State
from heatsim.waves import Array

INSTALL = (
    "install libngspice (Debian, Ubuntu: sudo apt install libngspice0; macOS: brew install libngspice) or set "
    "NGSPICE_LIBRARY_PATH to the library file"
)

KEPT_MESSAGES = 2000
"""Simulator messages kept of one run, the first half and the latest half."""


ONE = np.ones(1)
"""Weight of a single sample."""


def vector_name(vector: str) -> str:
    """Name in the simulator of a saved vector: v(node) -> node, i(source) -> source#branch, others as they are."""
    inner = vector[2:-1]
    if vector.startswith("v("):
        return inner
    return f"{inner}#branch" if vector.startswith("i(") else vector


def find_library() -> str:
    """Name or path of libngspice; SetupError says what to install."""
    found = os.environ.get("NGSPICE_LIBRARY_PATH") or ctypes.util.find_library("ngspice")
    if not found:
        raise SetupError(f"the simulator library is missing: {INSTALL}")
    return found


class Session:
    """A simulator that runs one deck after the other. One per process; see `heatsim.engine.worker.simulator`.

    The library reports to one session only: beside a second one, the first would hear nothing any more. RuntimeError says so.
    """

    _exists = False

    def __init__(self) -> None:
        if Session._exists:
            raise RuntimeError("this process has a simulator already: heatsim.engine.worker.simulator gives it")
        self.messages: list[str] = []
        self.poisoned = False
        self._serial = itertools.count(1)
        self._title = self._plot = ""
        self._started = False
        self._stranger = False
        self._ngspice, self._ffi = _open(self, find_library())
        Session._exists = True

    @property
    def version(self) -> str:
        """Such as ngspice-39."""
        return f"ngspice-{self._ngspice.ngspice_version}"

    def heard(self, message: str) -> None:
        """Keep one message of the simulator."""
        self.messages.append(message)
        if len(self.messages) > KEPT_MESSAGES:
            del self.messages[KEPT_MESSAGES // 2]

    def opened(self, plot: str, title: str) -> None:
        """Take note of a plot the simulator starts to fill, ours or not."""
        self._stranger = title.lower() != self._title.lower()  # it may lower the case
        self._plot = "" if self._stranger else plot

    def _try(self, action: Callable[..., Any], *args: str) -> None:
        """Run a simulator call; what PySpice raises is kept as a message, judging comes later."""
        try:
            action(*args)
        except (NameError, ValueError) as error:
            self.heard(f"note: {error}")

    def load(self, deck: Deck) -> None:
        """Forget everything before, then load the deck. Raises DeckRefused for decks the guard refuses."""
        for command in ("destroy all", "remcirc", "unset cshunt_value"):  # the option would outlive its deck
            self._try(self._ngspice.exec_command, command)
        self.messages.clear()
        self._title = f"* {deck.title} run {next(self._serial)}"
        self._plot, self._started, self._stranger = "", False, False
        text = replace(deck, measures="").text  # they would be evaluated, and complain, at every pause
        check_deck(text)
        self._try(self._ngspice.load_circuit, self._title + text[text.index("\n") :])
        for name, current in (deck.start.inductors if deck.start else {}).items():
            self._try(self._ngspice.exec_command, f"alter {name} ic={current:.12g}")

    def alter(self, source: str, value: float) -> None:
        """Set a source to a constant value, from the next time step on."""
        self._try(self._ngspice.exec_command, f"alter {source} dc={value:.12g}")

    def view(self, vector: str) -> Array:
        """The simulator's own samples of a vector, valid until it runs on; KeyError without."""
        samples = self._vector(vector_name(vector))
        if samples is None:
            raise KeyError(vector)
        return samples

    def state(self, sample: int, weights: Array = ONE) -> State:
        """Where the circuit stood, from all the vectors there are (`Deck.every`): the weighted sum of some samples from one on."""
        span = slice(sample, sample + weights.size)
        names = self._ngspice._ngspice_shared.ngSpice_AllVecs(self._plot.encode())
        nodes, inductors = {}, {}
        for name in itertools.takewhile(lambda name: name != self._ffi.NULL, (names[k] for k in itertools.count())):
            word = self._ffi.string(name).decode("utf8", "replace")
            samples = self._vector(word)
            if samples is None or word == "time" or " " in word:
                continue
            if not word.endswith("#branch"):
                nodes[word] = float(samples[span] @ weights)
            elif word.startswith("l"):
                inductors[word.removesuffix("#branch")] = float(samples[span] @ weights)
        return State(nodes, inductors)

    def advance(self, to: float | None, points: int | None = None) -> None:
        """Run on until just past `to` [s] or to the end of the deck, but for no more than `points` time points."""
        command = "resume" if self._started else "run"
        stops = [] if to is None else [f"stop when time > {to:.12g}"]
        stops += [] if points is None else [f"stop after {self.points + points}"]
        self._started = True
        for each in (*stops, command, *(["delete all"] if stops else [])):
            self._try(self._ngspice.exec_command, each)

    @property
    def began(self) -> bool:
        """Whether this deck's analysis has begun at all."""
        return bool(self._plot)

    @property
    def points(self) -> int:
        """Time points simulated so far."""
        time = self._vector("time")
        return 0 if time is None else int(time.size)

    def median_step(self, points: int) -> float:
        """Median time step [s] of the latest `points` time points; infinite before there are two."""
        time = self._vector("time")
        return np.inf if time is None or time.size < 2 else float(np.median(np.diff(time[-points:])))

    def missing(self, wanted: tuple[str, ...]) -> tuple[str, ...]:
        """Those of the wanted vectors that this circuit does not have."""
        return tuple(vector for vector in wanted if self._vector(vector_name(vector)) is None)

    def _vector(self, name: str) -> Array | None:
        """A view on the simulator's own samples of one vector of this deck, valid until it runs on; None without."""
        if not self._plot:
            return None
        info = self._ngspice._ngspice_shared.ngGet_Vec_Info(f"{self._plot}.{name}".encode())
        if info == self._ffi.NULL or info.v_realdata == self._ffi.NULL or info.v_length < 1:
            return None
        return np.frombuffer(self._ffi.buffer(info.v_realdata, info.v_length * 8), dtype=np.float64)

    @property
    def reached(self) -> float:
        """Simulated time reached [s]; 0 before the first step."""
        time = self._vector("time")
        return 0.0 if time is None or not np.isfinite(time[-1]) else float(time[-1])

    def vectors(self, wanted: tuple[str, ...]) -> tuple[Array, dict[str, Array]] | None:
        """Time and the wanted vectors, copied, with repeated instants dropped, up to the first sample that is not
        finite; None when a vector is missing or fewer than two instants are left.
        """
        time = self._vector("time")
        found = {vector: self._vector(vector_name(vector)) for vector in wanted}
        if time is None or any(samples is None for samples in found.values()):
            return None
        arrays = {vector: samples for vector, samples in found.items() if samples is not None}
        end = min([_finite(time), *(_finite(samples) for samples in arrays.values())])
        keep = np.flatnonzero(np.append(True, time[1:end] > np.maximum.accumulate(time[:end])[:-1])[:end])
        return (time[keep], {vector: samples[keep] for vector, samples in arrays.items()}) if keep.size > 1 else None

    @property
    def cause(self) -> str:
        """What went wrong, in words; empty when no message tells of a failure."""
        if self._stranger:
            return "the simulator ran another circuit than the one it was given"
        return cause(self.messages)


def _finite(samples: Array) -> int:
    """Number of samples before the first that is not finite."""
    bad = ~np.isfinite(samples)
    return int(np.argmax(bad)) if bad.any() else int(samples.size)


def _open(session: Session, library: str) -> tuple[Any, Any]:
    """PySpice's shared session on `library`, reporting to `session`, and its foreign function interface."""
    logging.getLogger("PySpice").setLevel(logging.CRITICAL)
    from PySpice.Spice.NgSpice.Shared import NgSpiceShared, ffi

    class Listening(NgSpiceShared):  # type: ignore[misc]
        """Hands messages over and clears the flags PySpice raises for harmless ones."""

        LIBRARY_PATH = library

        def send_char(self, message: str | bytes, ngspice_id: int) -> int:
            session.heard(message if isinstance(message, str) else message.decode("utf8", "replace"))
            self._error_in_stdout = self._error_in_stderr = None
            return 0

        def send_stat(self, message: str, ngspice_id: int) -> int:
            return 0

        def send_init_data(self, data: Any, ngspice_id: int) -> int:
            session.opened(*(ffi.string(text).decode("utf8", "replace") for text in (data.type, data.title)))
            return 0

        @staticmethod
        def _exit(status: int, *_: Any) -> int:
            session.poisoned = True
            return status

    try:
        return Listening.new_instance(), ffi
    except OSError as error:
        raise SetupError(f"the simulator library {library} does not load ({error}): {INSTALL}") from None
