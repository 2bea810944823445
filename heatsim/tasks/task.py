# SPDX-License-Identifier: GPL-3.0-or-later
"""What goes into a pool and what comes out of it."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal, Protocol, Self

Reason = Literal["died", "hung", "fault", "lost"]
"""died: the process ended; hung: it was silent for too long and was ended; fault: the function raised an exception;
lost: the machine it ran on is gone."""


@dataclass(frozen=True)
class Task:
    """A call to be made in another process.

    function: import path, `package.module:name`; it is called with a `Context` and the arguments
    arguments: whatever can be pickled
    time_limit: wall clock [s] after which the function ends by itself
    silence: wall clock [s] without a message, once the time limit is over, after which its process is ended
    wear: share of a worker's life that the task takes [1]
    """

    function: str
    arguments: tuple[Any, ...] = ()
    time_limit: float = 0.0
    silence: float = 120.0
    wear: int = 1


class Context:
    """What a task's function is given beside its arguments.

    tell: sends a message to whoever submitted the task; worn: to be set when the process should serve no other task
    """

    def __init__(self, tell: Callable[[Any], None]) -> None:
        self.tell = tell
        self.worn = False


@dataclass(frozen=True)
class Told:
    """A message of a task that goes on."""

    number: int
    message: Any


@dataclass(frozen=True)
class Done:
    """What a task's function returned."""

    number: int
    value: Any


@dataclass(frozen=True)
class Failed:
    """A task without a value.

    cause: in plain words; wall_s: time since its process was given it [s]
    """

    number: int
    reason: Reason
    cause: str
    wall_s: float = 0.0


Event = Told | Done | Failed


class Pool(Protocol):
    """Runs tasks in other processes. Use it in a `with` statement; one thread submits and listens."""

    remote: bool
    """Whether tasks run on machines that do not see this one's files."""

    @property
    def size(self) -> int:
        """How many tasks run at once."""

    def submit(self, task: Task) -> int:
        """Have a task run when there is room; returns its number."""

    def as_completed(self) -> Iterator[Event]:
        """What running tasks have to tell, as it comes, until none is left; tasks may be submitted meanwhile.

        Raises SetupError when no task can be run at all.
        """

    def cancel(self) -> None:
        """Abandon every task; the pool can be used again."""

    def close(self) -> None:
        """End every process; the pool cannot be used again."""

    def __enter__(self) -> Self:
        """The pool."""
        return self

    def __exit__(self, *error: object) -> None:
        """Close it."""
        self.close()


def named(path: str) -> Any:
    """What an import path `package.module:name` names."""
    module, _, name = path.partition(":")
    return getattr(importlib.import_module(module), name)
