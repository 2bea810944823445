# SPDX-License-Identifier: GPL-3.0-or-later
"""What runs inside the workers of a cluster: strips, each on a simulator process of its own, told piece by piece.

The worker's own process never loads the simulator: each strip has a crew of one (`heatsim.studies.points.crew`), whose process
is kept from strip to strip and ends with the worker, so that a crash or a hang costs one point and never the worker.

A strip is not one task but as many as it takes: `serve` starts the strip if this worker does not have it yet, waits for
results, and returns those the caller has not confirmed, while the strip goes on. So results come in as they are found,
a lost answer is given again, and on a worker that does not know the strip the same call starts what is left of it.
Nothing here imports the cluster's own library.
"""

from __future__ import annotations

import contextlib
import pickle
import tempfile
import threading
import time
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import heatsim
from heatsim.engine.pool import Pool
from heatsim.errors import InputError, SetupError
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.source import read_text
from heatsim.studies.points import crew as crews
from heatsim.studies.points.point import PointResult, Strip

FILE_FIELDS = ("heater.catalogue", "switch.model_file")
"""Fields that name files of the user's; their text travels with the work."""

LINGER = 0.25
"""Seconds for which results are gathered before they are told, unless the first takes longer."""

LONGEST = 5.0
"""Seconds after which even nothing is told, so that a thread is soon free when nobody waits any more."""

ORPHAN = 60.0
"""A strip is given up when nobody has asked for its results for so many seconds."""

IDLE = 120.0
"""Seconds after which a simulator process without work is ended."""

Token = tuple[str, int]
"""Name of the evaluation, number of the piece of work."""


@dataclass(frozen=True)
class Order:
    """Work for a worker. files: text of each file that the scenario or a point names, by the name it has there."""

    scenario: Scenario
    strip: Strip
    files: Mapping[str, str]


@dataclass(frozen=True)
class Answers:
    """Results found, by place in the strip. over: no more will come; fault: why not, if that is not as it should be;
    setup: whether it is for want of something that is not installed.
    """

    found: tuple[tuple[int, PointResult], ...]
    over: bool
    fault: str = ""
    setup: bool = False


class Packing:
    """Makes orders of strips of one scenario, reading every file that is named once."""

    def __init__(self, scenario: Scenario) -> None:
        self._folder = scenario.folder.resolve()
        self._names: dict[str, str] = {}
        self._texts: dict[str, str] = {}
        self._base: set[str] = set()
        self._scenario = self._rewritten(scenario)

    def __call__(self, strip: Strip) -> bytes:
        """The order for a strip, ready to be sent."""
        named: set[str] = set(self._base)
        points = tuple(
            replace(point, fields=tuple((name, self._there(name, value, named)) for name, value in point.fields))
            for point in strip.points
        )
        texts = {name: self._texts[name] for name in sorted(named)}
        return pickle.dumps(Order(self._scenario, replace(strip, points=points), texts), pickle.HIGHEST_PROTOCOL)

    def _rewritten(self, scenario: Scenario) -> Scenario:
        """The scenario with the files it and its cases name under the names they get on the worker."""
        tables = scenario.tables
        here = {"heater.catalogue": tables.heater.catalogue, "switch.model_file": tables.switch.model_file}
        changes = {name: self._there(name, value, self._base) for name, value in here.items() if value is not None}
        for case, table in tables.case.items():
            there = {name: self._there(name, value, self._base) for name, value in table.set.items()}
            if there != dict(table.set):
                changes[f"case.{case}.set"] = there
        changed = scenario.change(changes) if self._base else scenario
        return replace(changed, folder=Path("."))

    def _there(self, field: str, value: object, named: set[str]) -> object:
        """The value a field gets on the worker. A file that cannot be read keeps its name, and is missed there too."""
        if field not in FILE_FIELDS or not isinstance(value, str):
            return value
        path = self._folder / value
        if str(path) not in self._names:
            try:
                text = read_text(path)
            except InputError:
                return str(path)
            name = self._names[str(path)] = f"{len(self._names)}/{path.name}"
            self._texts[name] = text
        named.add(self._names[str(path)])
        return self._names[str(path)]


def probe() -> tuple[str, str, str]:
    """Versions of heatsim and of the simulator, and why there is none of the latter, in words."""
    try:
        with Pool(1) as pool:
            return heatsim.__version__, pool.take().version, ""
    except SetupError as error:
        return heatsim.__version__, "", str(error)


def serve(token: Token, order: bytes, have: tuple[int, ...]) -> bytes:
    """Answers of a strip, pickled: what is not among the places `have`, after some waiting."""
    seat = _seat(token, order, have)
    answers = Answers((), True, "given up") if seat is None else seat.answers(have)
    return pickle.dumps(answers, pickle.HIGHEST_PROTOCOL)


def abandon(evaluation: str) -> None:
    """Give up every strip of an evaluation, at once."""
    with _LOCK:
        _ABANDONED.append(evaluation)
        given_up = [_SEATS.pop(token) for token in list(_SEATS) if token[0] == evaluation]
    for seat in given_up:
        seat.abandon()


class _Seat:
    """One strip on one crew of one, in a thread of its own, and what it has found so far."""

    def __init__(self, order: Order, left: tuple[int, ...]) -> None:
        self.order, self.left = order, left
        self.asked = time.monotonic()
        self.found: dict[int, PointResult] = {}
        self.over = self.given_up = self.setup = False
        self.fault = ""
        self._changed = threading.Condition()
        self._crew: crews.Crew | None = None
        threading.Thread(target=self._work, daemon=True).start()

    @property
    def orphaned(self) -> bool:
        """Whether nobody asks any more."""
        return self.given_up or time.monotonic() - self.asked > ORPHAN

    def answers(self, have: tuple[int, ...]) -> Answers:
        """See `serve`."""
        begun = time.monotonic()
        with self._changed:
            for place in have:
                self.found.pop(place, None)
            while not self.over:
                self.asked = time.monotonic()
                left = begun + (LINGER if self.found else LONGEST) - self.asked
                if left <= 0:
                    break
                self._changed.wait(left)
            self.asked = time.monotonic()
            return Answers(tuple(self.found.items()), self.over, self.fault, self.setup)

    def abandon(self) -> None:
        """End the simulator process in the middle of what it is at."""
        self.given_up = True
        if self._crew is not None:
            self._crew.close()

    def _work(self) -> None:
        """Evaluate what is left of the strip."""
        try:
            with tempfile.TemporaryDirectory(prefix="heatsim-", ignore_cleanup_errors=True) as folder:
                for name, text in self.order.files.items():
                    path = Path(folder, name)
                    path.parent.mkdir(parents=True, exist_ok=True)
                    path.write_text(text, encoding="utf-8")
                self._evaluate(replace(self.order.scenario, folder=Path(folder)))
        except SetupError as error:
            self.fault, self.setup = str(error), True
        except Exception as error:
            self.fault = f"{type(error).__name__}: {error}"
        with self._changed:
            self.over = True
            self._changed.notify_all()

    def _evaluate(self, scenario: Scenario) -> None:
        whole = self.order.strip
        points = tuple(whole.points[place] for place in self.left)
        strip = whole if len(points) == len(whole.points) else Strip(points, None, whole.confirm)
        if self.orphaned:
            return
        self._crew = crew = _IDLE.take()
        try:
            with contextlib.closing(crew.evaluate(scenario, [strip])) as told:  # type: ignore[type-var]
                for _, place, result in told:
                    with self._changed:
                        self.found[self.left[place]] = result
                        self._changed.notify_all()
                    if self.orphaned:
                        break
        except BaseException:
            crew.close()
            raise
        if self.given_up:
            crew.close()
        else:
            _IDLE.give(crew)


class _Idle:
    """Crews of one without work, ended when nobody needs them for a while."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._since: dict[crews.Crew, float] = {}

    def take(self) -> crews.Crew:
        """One, the last used first."""
        with self._lock:
            if self._since:
                return self._since.popitem()[0]
        return crews.Crew(1)

    def give(self, crew: crews.Crew) -> None:
        """Keep one for later."""
        with self._lock:
            self._since[crew] = time.monotonic()
        timer = threading.Timer(IDLE, self._end, (crew,))
        timer.daemon = True
        timer.start()

    def _end(self, crew: crews.Crew) -> None:
        """End one that has been idle ever since."""
        with self._lock:
            if time.monotonic() - self._since.get(crew, time.monotonic()) < IDLE:
                return
            del self._since[crew]
        crew.close()


_IDLE = _Idle()
_SEATS: dict[Token, _Seat] = {}
_ABANDONED: deque[str] = deque(maxlen=1000)
_LOCK = threading.Lock()


def _seat(token: Token, order: bytes, have: tuple[int, ...]) -> _Seat | None:
    """The seat of a strip, made if there is none; None when it was given up, which a call for more may come after.
    Those nobody asks for are forgotten.
    """
    with _LOCK:
        if token[0] in _ABANDONED:
            return None
        for other in [other for other, seat in _SEATS.items() if other != token and seat.orphaned]:
            del _SEATS[other]
        if token not in _SEATS or _SEATS[token].orphaned:
            work: Order = pickle.loads(order)
            left = tuple(place for place in range(len(work.strip.points)) if place not in have)
            _SEATS[token] = _Seat(work, left)
        return _SEATS[token]


__all__ = ["Answers", "Order", "Packing", "Token", "abandon", "probe", "serve"]
