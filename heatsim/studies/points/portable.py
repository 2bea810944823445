# SPDX-License-Identifier: GPL-3.0-or-later
"""Continuation paths made ready for another process, with the files that the scenario and its points name."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.source import read_text
from heatsim.studies.points.point import ContinuationPath

FILE_FIELDS = ("heater.catalogue", "switch.model_file")
"""Fields that name files of the user's."""

Packed = tuple[Scenario, ContinuationPath, Mapping[str, str]]
"""A scenario, a path, and the text of each file that they name, by its name in the folder it is to be unpacked to."""


class Packing:
    """Packs paths of one scenario.

    remote: whether they go to machines that do not see this one's files; then the text of the files goes with them,
    each read once, and the fields that name them are changed accordingly
    """

    def __init__(self, scenario: Scenario, remote: bool) -> None:
        self._folder, self._remote = scenario.folder.resolve(), remote
        self._names: dict[Path, str] = {}
        self._texts: dict[str, str] = {}
        self._scenario = self._changed(scenario) if remote else replace(scenario, folder=self._folder)
        self._base = dict(self._texts)

    def __call__(self, path: ContinuationPath) -> Packed:
        """A path packed."""
        if not self._remote:
            return self._scenario, path, {}
        points = tuple(
            replace(point, fields=tuple((name, self._there(name, value)) for name, value in point.fields)) for point in path.points
        )
        named = {value for point in points for name, value in point.fields if name in FILE_FIELDS}
        texts = {name: text for name, text in self._texts.items() if name in self._base or name in named}
        return self._scenario, replace(path, points=points), texts

    def _changed(self, scenario: Scenario) -> Scenario:
        """The scenario with the files that it and its cases name under the names they get there."""
        tables = scenario.tables
        here = {"heater.catalogue": tables.heater.catalogue, "switch.model_file": tables.switch.model_file}
        changes = {name: self._there(name, value) for name, value in here.items() if value is not None}
        for case, table in tables.case.items():
            there = {name: self._there(name, value) for name, value in table.set.items()}
            if there != dict(table.set):
                changes[f"case.{case}.set"] = there
        return replace(scenario.change(changes) if self._names else scenario, folder=Path("."))

    def _there(self, field: str, value: object) -> object:
        """The value a field gets there. A file that cannot be read keeps its name, and is missed there too."""
        if field not in FILE_FIELDS or not isinstance(value, str):
            return value
        path = self._folder / value
        if path not in self._names:
            try:
                text = read_text(path)
            except InputError:
                return str(path)
            name = self._names[path] = f"{len(self._names)}/{path.name}"
            self._texts[name] = text
        return self._names[path]


@contextlib.contextmanager
def unpacked(scenario: Scenario, files: Mapping[str, str]) -> Iterator[Scenario]:
    """The scenario with its files in a folder that is there as long as the body runs."""
    if not files:
        yield scenario
        return
    with tempfile.TemporaryDirectory(dir=".", ignore_cleanup_errors=True) as name:
        for file, text in files.items():
            path = Path(name, file)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        yield replace(scenario, folder=Path(name).resolve())
