# SPDX-License-Identifier: GPL-3.0-or-later
"""Scenario: a validated file, its cases, and changed copies of it."""

from __future__ import annotations

import copy
import difflib
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from heatsim.errors import InputError, Problem
from heatsim.parts.heater import Heater
from heatsim.scenario.build import build_heater
from heatsim.scenario.schema import ChokeTable, ScenarioTables
from heatsim.scenario.source import LineFinder, parse_toml, read_text

SIDES = {"two-choke": ("left", "right"), "one-choke": ("centre",)}


@dataclass(frozen=True)
class Scenario:
    """A scenario file, or a changed copy of one.

    label: file name for messages; folder: where relative file names start; text: of the file; changes: dotted
    fields set since, in order; tables: the validated content.
    """

    label: str
    folder: Path
    text: str
    changes: tuple[tuple[str, Any], ...]
    tables: ScenarioTables

    @classmethod
    def from_file(cls, path: str | Path) -> Scenario:
        """Read and validate a scenario file; InputError lists everything wrong with it."""
        where = Path(path)
        return cls.from_text(read_text(where), str(path), where.parent)

    @classmethod
    def from_text(cls, text: str, label: str = "scenario", folder: Path | None = None) -> Scenario:
        """The same from a text already read."""
        return _validated(label, folder or Path("."), text, ())

    @property
    def name(self) -> str:
        """The heater's name."""
        return self.tables.heater.name

    @property
    def cases(self) -> tuple[str, ...]:
        """Names of the cases, in file order."""
        return tuple(self.tables.case)

    @property
    def hash(self) -> str:
        """SHA-256 over the validated content and the files it names: equal for equal heaters, however written."""
        content = json.dumps(self.tables.model_dump(mode="json"), sort_keys=True).encode()
        for name in (self.tables.heater.catalogue, self.tables.switch.model_file):
            if name is not None:
                path = Path(name) if Path(name).is_absolute() else self.folder / name
                content += hashlib.sha256(read_text(path).encode()).digest()
        return hashlib.sha256(content).hexdigest()

    @property
    def identity(self) -> dict[str, Any]:
        """What results say about the scenario they are of: file, name, hash, and fields set since."""
        file = Path(self.label).name
        return {"file": file, "name": self.name, "sha256": self.hash, "changes": dict(self.changes)}

    def change(self, fields: Mapping[str, Any] | None = None, /, **named: Any) -> Scenario:
        """A copy with dotted fields set: change({"supply.voltage": "38 V"}) or change(supply__voltage="38 V")."""
        wanted = dict(fields or {}) | {name.replace("__", "."): value for name, value in named.items()}
        return _validated(self.label, self.folder, self.text, self.changes + tuple(wanted.items()))

    def case(self, name: str) -> Scenario:
        """The scenario with the overrides of one case applied."""
        if name not in self.tables.case:
            raise InputError.single(self.label, "has no such case", name, ", ".join(self.cases))
        return self.change(self.tables.case[name].set) if self.tables.case[name].set else self

    def heater(self, case: str) -> Heater:
        """The parts of one case in electrical values; InputError when they contradict one another."""
        chosen = self.case(case)
        return build_heater(chosen.tables, case, chosen.folder, _Where(chosen.label, LineFinder(chosen.text)))


@dataclass(frozen=True)
class _Where:
    """Turns a field path into `file:line: field`, for errors."""

    label: str
    lines: LineFinder

    def __call__(self, *field: str) -> str:
        path = tuple(field)
        if len(path) > 2 and path[0] == "choke" and not self.lines.knows(path):
            path = (path[0], *path[2:])
        line = self.lines.line(path)
        return f"{self.label}:{line}: {'.'.join(path)}" if line else f"{self.label}: {'.'.join(path)}"


def _validated(label: str, folder: Path, text: str, changes: tuple[tuple[str, Any], ...]) -> Scenario:
    raw = parse_toml(text, label)
    for field, value in changes:
        _set(raw, field.split("."), value, label)
    where = _Where(label, LineFinder(text))
    try:
        tables = ScenarioTables.model_validate(_spread_chokes(raw))
    except ValidationError as error:
        raise InputError(*(_problem(dict(item), where) for item in error.errors()[:40])) from None
    sides = SIDES[tables.heater.topology]
    foreign = [
        Problem(
            where("choke", side),
            f"does not belong to the {tables.heater.topology} circuit",
            allowed=", ".join(f"choke.{name}" for name in sides),
        )
        for side in tables.choke
        if side not in sides
    ]
    if foreign:
        raise InputError(*foreign)
    scenario = Scenario(label, folder, text, changes, tables)
    for case in scenario.cases:
        if scenario.tables.case[case].set and not changes:
            scenario.case(case)
    return scenario


def _set(raw: dict[str, Any], path: list[str], value: Any, label: str) -> None:
    table = raw
    for key in path[:-1]:
        table = table.setdefault(key, {})
        if not isinstance(table, dict):
            raise InputError.single(f"{label}: {'.'.join(path)}", "runs through a field that is not a table", key)
    table[path[-1]] = value


def _spread_chokes(raw: dict[str, Any]) -> dict[str, Any]:
    """[choke] with its sides' overrides -> one full table a side."""
    raw = copy.deepcopy(raw)
    heater, chokes = raw.get("heater"), raw.get("choke")
    topology = heater.get("topology", "two-choke") if isinstance(heater, dict) else "two-choke"
    sides = SIDES.get(topology, SIDES["two-choke"]) if isinstance(topology, str) else SIDES["two-choke"]
    if isinstance(chokes, dict):
        own = {side: chokes.pop(side) for side in ("left", "right", "centre") if side in chokes}
        raw["choke"] = {side: _merged(chokes, own.pop(side, {})) for side in sides} | own
    return raw


def _merged(common: Any, own: Any) -> Any:
    if not isinstance(common, dict) or not isinstance(own, dict):
        return own
    return {
        key: _merged(common[key], own[key]) if key in common and key in own else copy.deepcopy(own.get(key, common.get(key)))
        for key in {**common, **own}
    }


def _problem(item: Mapping[str, Any], where: _Where) -> Problem:
    """One of pydantic's findings in our words."""
    path = [str(part) for part in item["loc"] if part != "[key]"]
    given, kind, context = item.get("input"), item["type"], item.get("ctx", {})
    place = where(*path)
    if kind == "missing":
        return Problem(place, "is missing", allowed=_describe(path))
    if kind == "extra_forbidden":
        return Problem(place, "is not a known key", allowed=_nearest(path))
    shown = repr(given) if not isinstance(given, dict | list) else f"a {type(given).__name__}"
    if kind in ("quantity", "range"):
        return Problem(place, item["msg"], shown[:80], str(context.get("allowed", "")))
    if kind == "string_pattern_mismatch":
        return Problem(
            place,
            "has signs that are not allowed",
            shown[:80],
            "one line of letters, digits, spaces and . _ , + ( ) / -, at most 80",
        )
    if kind == "literal_error":
        return Problem(place, "is not one of the choices", shown[:80], str(context.get("expected", "")))
    return Problem(place, item["msg"].lower(), shown[:80], _describe(path))


def _nearest(path: Sequence[str]) -> str:
    known = _fields(path[:-1])
    if path[0] == "choke" and len(path) == 2:
        return "[choke.left] and [choke.right] with two chokes, [choke.centre] with one, else keys of a choke"
    close = difflib.get_close_matches(path[-1], known, n=1, cutoff=0.5)
    return f"did you mean {close[0]}? Known: {', '.join(known)}" if close else ", ".join(known)


def _describe(path: Sequence[str]) -> str:
    """The JSON schema's word on a field, e.g. its unit and range."""
    model = _model(path[:-1])
    if model is None or path[-1] not in model.model_fields:
        return ""
    property_ = model.model_json_schema()["properties"][path[-1]]
    return str(property_.get("description", property_.get("type", "")))


def _fields(path: Sequence[str]) -> list[str]:
    model = _model(path)
    return list(model.model_fields) if model else []


def _model(path: Sequence[str]) -> type[BaseModel] | None:
    """The table class at a dotted path of the file."""
    current: Any = ScenarioTables
    for key in path:
        if isinstance(current, type) and issubclass(current, BaseModel):
            current = current.model_fields[key].annotation if key in current.model_fields else None
        else:
            current = _values_of(current)
        current = _plain(current)
    return current if isinstance(current, type) and issubclass(current, BaseModel) else None


def _plain(annotation: Any) -> Any:
    while get_origin(annotation) in (Annotated, Union, UnionType):
        annotation = get_args(annotation)[0]
    return annotation


def _values_of(annotation: Any) -> Any:
    arguments = get_args(annotation)
    return arguments[1] if get_origin(annotation) is dict else arguments[0] if get_origin(annotation) is list else None


def json_schema() -> dict[str, Any]:
    """JSON schema of the file as written, for completion in editors."""
    schema = ScenarioTables.model_json_schema()
    definition = schema["$defs"]["ChokeTable"]
    sides = {side: {"$ref": "#/$defs/ChokeTable"} for side in ("left", "right", "centre")}
    schema["$defs"]["ChokesTable"] = {**definition, "title": "ChokesTable", "properties": {**definition["properties"], **sides}}
    schema["properties"]["choke"] = {"$ref": "#/$defs/ChokesTable"}
    schema["title"] = "heatsim scenario"
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


__all__ = ["ChokeTable", "Scenario", "json_schema"]
