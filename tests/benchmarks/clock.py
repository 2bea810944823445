# SPDX-License-Identifier: GPL-3.0-or-later
"""Wall clock and processor time side by side: on a shared machine only the latter tells what something costs."""

from __future__ import annotations

import functools
import resource
import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any


@dataclass(frozen=True)
class Took:
    """wall: clock time [s]; cpu: processor time [s] of this process and of those it started and that have ended."""

    wall: float = 0.0
    cpu: float = 0.0

    def __add__(self, other: Took) -> Took:
        return Took(self.wall + other.wall, self.cpu + other.cpu)

    def __sub__(self, other: Took) -> Took:
        return Took(self.wall - other.wall, self.cpu - other.cpu)

    def per(self, count: int) -> Took:
        """A part of it, one of `count` equal ones."""
        return Took(self.wall / count, self.cpu / count)


def now() -> Took:
    """Both clocks."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return Took(time.perf_counter(), time.process_time() + ended.ru_utime + ended.ru_stime)


@dataclass(frozen=True)
class Spread:
    """Median and quartiles of repeated measurements."""

    median: float
    low: float
    high: float
    count: int

    @classmethod
    def of(cls, numbers: Sequence[float]) -> Spread:
        """Of at least one number."""
        if len(numbers) < 2:
            return cls(numbers[0], numbers[0], numbers[0], 1)
        low, median, high = statistics.quantiles(numbers, n=4, method="inclusive")
        return cls(median, low, high, len(numbers))


Where = tuple[Any, str]
"""A module or class and the name of a function in it."""


@dataclass
class Spans:
    """Times functions while the program runs as it always does, each without the others that it calls.

    functions: label -> where its functions are found; they are wrapped inside the `with` block only. rest: label of
    the time that is in none of them.
    """

    functions: Mapping[str, Sequence[Where]]
    rest: str = "rest"
    own: dict[str, Took] = field(default_factory=dict)
    whole: dict[str, list[Took]] = field(default_factory=dict)
    _stack: list[str] = field(default_factory=list)
    _since: Took = field(default_factory=Took)
    _kept: list[tuple[Any, str, Any]] = field(default_factory=list)

    def __enter__(self) -> Spans:
        for label, places in self.functions.items():
            for owner, name in places:
                original = getattr(owner, name)
                self._kept.append((owner, name, original))
                setattr(owner, name, self._wrapped(label, original))
        self._stack, self._since = [self.rest], now()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._book()
        while self._kept:
            owner, name, original = self._kept.pop()
            setattr(owner, name, original)

    def _book(self) -> Took:
        """Put what has passed since the last change on the account of the innermost function."""
        at = now()
        label = self._stack[-1]
        self.own[label] = self.own.get(label, Took()) + (at - self._since)
        self._since = at
        return at

    def _wrapped(self, label: str, original: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(original)
        def timed(*args: Any, **named: Any) -> Any:
            begun = self._book()
            self._stack.append(label)
            try:
                return original(*args, **named)
            finally:
                ended = self._book()
                self._stack.pop()
                if label not in self._stack:
                    self.whole.setdefault(label, []).append(ended - begun)

        return timed


__all__ = ["Spans", "Spread", "Took", "now"]
