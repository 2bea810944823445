# SPDX-License-Identifier: GPL-3.0-or-later
"""Scenario: a validated file, its cases, and changed copies of it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from heatsim.errors import InputError, shortened
from heatsim.parts.heater import Heater
from heatsim.scenario.build import build_heater
from heatsim.scenario.capacitors import FIGURES, with_capacitor
from heatsim.scenario.overrides import ALL_SIDES, SIDES, Replaced, by_reach, path_of, put, sides_of
from heatsim.scenario.problems import refuse, validated
from heatsim.scenario.schema import ChokeTable, HeatTable, ScenarioTables
from heatsim.scenario.source import Places, Where, parse_toml, read_text
from heatsim.scenario.supply import with_voltage
from heatsim.scenario.switch import refuse_missing

Given = tuple[tuple[str, str], ...]
"""Changed fields and their places for messages, where these are not lines of the file."""


@dataclass(frozen=True)
class Scenario:
    """A scenario file, or a changed copy of one.

    label: file name for messages; folder: where relative file names start; text: of the file; changes: dotted
    fields set since, in order; tables: the validated content; replaced: what the changes took the place of besides the
    fields they name (see `heatsim.scenario.overrides`); given: what messages say of fields that an option set.
    """

    label: str
    folder: Path
    text: str
    changes: tuple[tuple[str, Any], ...]
    tables: ScenarioTables
    replaced: tuple[Replaced, ...] = ()
    given: Given = field(default=(), compare=False)

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
        """A copy with dotted fields set: change({"supply.voltage": "38 V"}) or change(supply__voltage="38 V").

        A change wins over everything in the file that it overlaps: `set` of the cases, and for a field of [choke] the
        sides' own. Raises InputError as reading a file does.
        """
        wanted = dict(fields or {}) | {name.replace("__", "."): value for name, value in named.items()}
        return self._changed(wanted, ())

    def change_by(self, option: str, fields: Mapping[str, Any], alone: bool = False) -> Scenario:
        """The same for what an option of a command sets: messages tell it as `OPTION FIELD=VALUE`, not as a line of the file; as
        `OPTION` alone where no field was named.
        """
        told = ((name, option if alone else f"{option} {name}={value}") for name, value in fields.items())
        return self._changed(fields, tuple((name, shortened(text, 120)) for name, text in told))

    def _changed(self, fields: Mapping[str, Any], given: Given) -> Scenario:
        kept = tuple((name, told) for name, told in self.given if name not in fields)
        return _validated(self.label, self.folder, self.text, self.changes + tuple(by_reach(fields)), kept + given)

    def case(self, name: str) -> Scenario:
        """The scenario with the overrides of one case applied."""
        if name not in self.tables.case:
            raise InputError.single(self.label, "has no such case", name, ", ".join(self.cases))
        settings, start = self.tables.case[name].set, f"case.{name}.set."
        told = tuple((each.removeprefix(start), place) for each, place in self.given if each.startswith(start))
        return self._changed(settings, told) if settings else self

    @property
    def raw(self) -> dict[str, Any]:
        """The tables of the file with the changes made, as written."""
        return _settled(self.text, self.changes, self.label, self.given)[0]

    @property
    def unchanged(self) -> Scenario:
        """The scenario as its file stands."""
        return _validated(self.label, self.folder, self.text, ())

    def without_effect(self, cases: Sequence[str]) -> tuple[str, ...]:
        """Changes that alter a field, yet nothing of these cases: a field of another case, turns of a measured coil."""
        return tuple(
            f"{field} = {value}"
            for place, (field, value) in enumerate(self.changes)
            if self._is_idle(self.changes[:place] + self.changes[place + 1 :], cases)
        )

    def replaced_by(self, field: str) -> tuple[Replaced, ...]:
        """What a study that varies a field takes the place of besides the field itself."""
        return put(self.raw, field, None, self.label)

    def _is_idle(self, others: tuple[tuple[str, Any], ...], cases: Sequence[str]) -> bool:
        try:
            before = _validated(self.label, self.folder, self.text, others)
            return before.tables != self.tables and all(before.bearing(case) == self.bearing(case) for case in cases)
        except InputError:
            return False

    def bearing(self, case: str) -> tuple[Any, ...]:
        """All that a study of one case rests on: equal for cases that nothing tells apart."""
        tables = self.case(case).tables
        return self.heater(case), tables.heater, tables.limits, tables.simulate, tables.wind, self._heated(case)

    def _heated(self, case: str) -> HeatTable | None:
        """What a heat of that case rests on beside its parts; None for a case that is not heated."""
        there = self.tables.case[case].workpiece is not None
        return self.tables.heat if there and self.tables.heat.case == case else None

    def heater(self, case: str) -> Heater:
        """The parts of one case in electrical values; InputError when they contradict one another."""
        chosen = self.case(case)
        return build_heater(chosen.tables, case, chosen.folder, chosen.where)

    @property
    def where(self) -> Where:
        """Turns the path of a field into its place in the file, for messages."""
        return _Places(self.label, self.text, self.given)


@dataclass(frozen=True)
class _Places(Places):
    """A choke's field may stand in [choke], common to both sides; what an option set is told as that."""

    given: Given

    def __call__(self, *field: str) -> str:
        if told := self._option(field):
            return told
        if len(field) > 2 and field[0] == "choke" and field not in self.lines:
            field = (field[0], *field[2:])
        return super().__call__(*field)

    def _option(self, field: tuple[str, ...]) -> str:
        """The option that set a field, or made a table that the file does not have; empty if none did."""
        sides = field[:1] == ("choke",) and field[1:2] and field[1] in ALL_SIDES
        names = [field, *([(field[0], *field[2:])] if sides else [])]
        for name, told in reversed(self.given):
            path = path_of(name)
            for each in names:
                if each[: len(path)] == path:
                    below = ".".join(each[len(path) :])
                    return f"{told}: {below}" if below else told
                if each and path[: len(each)] == each and each not in self.lines:
                    return told
        return ""


def _validated(label: str, folder: Path, text: str, changes: tuple[tuple[str, Any], ...], given: Given = ()) -> Scenario:
    raw, replaced = _settled(text, changes, label, given)
    where = _Places(label, text, given)
    filled = with_capacitor(with_voltage(_spread_chokes(raw), where), folder, where)
    tables = validated(ScenarioTables, filled, where)
    sides, fault = SIDES[tables.heater.topology], f"does not belong to the {tables.heater.topology} circuit"
    allowed = ", ".join(f"choke.{name}" for name in sides)
    refuse(where, ((side not in sides, ("choke", side), fault, "", allowed) for side in tables.choke))
    refuse_missing(tables, where)
    scenario = Scenario(label, folder, text, changes, tables, replaced, given)
    for case in scenario.cases:
        if scenario.tables.case[case].set and not changes:
            scenario.case(case)
    return scenario


def _settled(
    text: str, changes: tuple[tuple[str, Any], ...], label: str, given: Given
) -> tuple[dict[str, Any], tuple[Replaced, ...]]:
    """The tables of a file with the changes made, and what these replaced."""
    raw = parse_toml(text, label)
    replaced: list[Replaced] = []
    for name, value in changes:
        try:
            replaced += put(raw, name, value, label)
        except InputError as error:
            raise InputError(*(replace(each, where=dict(given).get(name, each.where)) for each in error.problems)) from None
    return raw, tuple(replaced)


def _spread_chokes(raw: dict[str, Any]) -> dict[str, Any]:
    """[choke] with its sides' overrides -> one full table a side."""
    chokes = raw.get("choke")
    if not isinstance(chokes, dict):
        return raw
    common = {key: value for key, value in chokes.items() if key not in ALL_SIDES}
    own = {side: chokes[side] for side in ALL_SIDES if side in chokes}
    return raw | {"choke": {side: _merged(common, own.pop(side, {})) for side in sides_of(raw)} | own}


def _merged(common: Any, own: Any) -> Any:
    """Two tables, of which `own` wins key by key."""
    if not isinstance(common, dict) or not isinstance(own, dict):
        return own
    return common | {key: _merged(common[key], value) if key in common else value for key, value in own.items()}


def json_schema() -> dict[str, Any]:
    """JSON schema of the file as written, for completion in editors."""
    schema = ScenarioTables.model_json_schema()
    definition = schema["$defs"]["ChokeTable"]
    sides = {side: {"$ref": "#/$defs/ChokeTable"} for side in ALL_SIDES}
    schema["$defs"]["ChokesTable"] = {**definition, "title": "ChokesTable", "properties": {**definition["properties"], **sides}}
    schema["properties"]["choke"] = {"$ref": "#/$defs/ChokesTable"}
    supply = schema["$defs"]["SupplyTable"]
    secondary = {"required": ["source"], "properties": {"source": {"required": ["secondary_voltage"]}}}
    supply["required"] = [each for each in supply["required"] if each != "voltage"]
    supply["anyOf"] = [{"required": ["voltage"]}, secondary]
    bank = schema["$defs"]["CapacitorsTable"]
    of_part = [each for each in bank["required"] if each in FIGURES]
    bank["required"] = [each for each in bank["required"] if each not in FIGURES]
    bank["anyOf"] = [{"required": of_part}, {"required": ["part"]}]
    schema["title"] = "heatsim scenario"
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


__all__ = ["ChokeTable", "Scenario", "json_schema"]
