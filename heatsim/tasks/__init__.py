# SPDX-License-Identifier: GPL-3.0-or-later
"""Tasks in other processes: one interface, on this machine (`LocalPool`) or on a Dask cluster (`ClusterPool`).

A task's crash, hang or fault is its outcome, never an error of the pool. Nothing here knows what the tasks do.
"""

from typing import TYPE_CHECKING, Any

from heatsim.tasks.kept import kept_workers
from heatsim.tasks.local import LocalPool
from heatsim.tasks.task import Context, Done, Event, Failed, Pool, Task, Told

if TYPE_CHECKING:
    from heatsim.tasks.cluster import ClusterPool

__all__ = ["ClusterPool", "Context", "Done", "Event", "Failed", "LocalPool", "Pool", "Task", "Told", "kept_workers"]


def __getattr__(name: str) -> Any:
    """`ClusterPool`, loaded where it is wanted: a worker process starts without it."""
    if name != "ClusterPool":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from heatsim.tasks.cluster import ClusterPool

    return ClusterPool
