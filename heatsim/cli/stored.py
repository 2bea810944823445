# SPDX-License-Identifier: GPL-3.0-or-later
"""What commands share that evaluate points into a store: notes on what their fields replace, and progress, store and workers."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from heatsim.cli import frame

if TYPE_CHECKING:
    from heatsim.scenario.scenario import Scenario
    from heatsim.studies.store import Store
    from heatsim.tasks import Pool


class Studying(NamedTuple):
    """What a study is given: watch, told how far it is; an open store; workers."""

    watch: Any
    store: Store
    pool: Pool


@contextlib.contextmanager
def studying(options: argparse.Namespace, report: Any, path: Path) -> Iterator[Studying]:
    """Progress on the terminal, the store at a path and workers, while a study runs.

    report: of the command, with `watching` and `done_words`
    """
    from heatsim.studies.store import Store

    with (
        report.watching(frame.hushed(options)) as watch,
        frame.folder_of(options, path, lambda: report.done_words(watch.latest)),
        Store.open(path) as store,
        frame.pool_of(options) as pool,
    ):
        yield Studying(watch, store, pool)


def say_replaced(options: argparse.Namespace, scenario: Scenario, fields: Iterable[str], cases: Sequence[str]) -> None:
    """Say what varying some fields takes the place of in the file; short names, such as load, take none."""
    dotted = [field for field in fields if "." in field]
    frame.notes(options, (gone for field in dotted for gone in scenario.replaced_by(field) if gone.case in ("", *cases)))
