# SPDX-License-Identifier: GPL-3.0-or-later
"""Tasks in other processes: one interface, on this machine (`LocalPool`) or on a Dask cluster (`ClusterPool`).

A task's crash, hang or fault is its outcome, never an error of the pool. Nothing here knows what the tasks do.
"""

from heatsim.tasks.cluster import ClusterPool
from heatsim.tasks.local import LocalPool
from heatsim.tasks.task import Context, Done, Event, Failed, Pool, Task, Told

__all__ = ["ClusterPool", "Context", "Done", "Event", "Failed", "LocalPool", "Pool", "Task", "Told"]
