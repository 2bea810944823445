# SPDX-License-Identifier: GPL-3.0-or-later
"""Fields of scenario files that differ. Comments, order, and spellings of one value ("1 kohm", "1000 ohm") do not count."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from heatsim.quantity import shown
from heatsim.scenario.scenario import Scenario

LABELS = (("heater", "name"),)
"""Fields that name a build and change nothing of it."""

Path = tuple[str, ...]


@dataclass(frozen=True)
class FieldRow:
    """A field that differs: dotted name, and its value in each build as written, None where the file does not give it."""

    field: str
    values: tuple[str | None, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {"field": self.field, "values": list(self.values)}


def differing_fields(scenarios: Sequence[Scenario]) -> tuple[FieldRow, ...]:
    """Fields that are not the same in all scenarios, in the order of the files; both chokes' alike as one."""
    written = [_written(scenario) for scenario in scenarios]
    meant = [dict(_leaves(scenario.tables.model_dump(mode="json"))) for scenario in scenarios]
    found: dict[Path, tuple[str | None, ...]] = {}
    for path in dict.fromkeys(path for each in written for path in each):
        texts = tuple(shown_value(each[path]) if path in each else None for each in written)
        if path not in LABELS and _differ(path, texts, meant):
            found[path] = texts
    return tuple(FieldRow(".".join(path), texts) for path, texts in _sides_together(found).items())


def shown_value(value: object) -> str:
    """A value as written: texts as they are, lists with commas, the words of TOML for yes and no."""
    if isinstance(value, str):
        return value
    return ", ".join(map(shown_value, value)) if isinstance(value, list) else shown(value)


def _differ(path: Path, texts: Sequence[str | None], meant: Sequence[Mapping[Path, Any]]) -> bool:
    """Whether a field's values are different ones: as validated, defaults among them, or as texts where none is."""
    values = [each.get(path) for each in meant]
    if all(path in each for each in meant):
        return any(value != values[0] for value in values)
    return any(text != texts[0] for text in texts)


def _written(scenario: Scenario) -> dict[Path, Any]:
    """Path -> value as the file gives it; a field of [choke] stands under every side that does not give its own."""
    sides = tuple(scenario.tables.choke)
    found: dict[Path, Any] = {}
    common: dict[Path, Any] = {}
    for path, value in _leaves(scenario.raw):
        to_all = path[0] == "choke" and path[1] not in sides
        (common if to_all else found)[path] = value
    for path, value in common.items():
        for side in sides:
            found.setdefault(("choke", side, *path[1:]), value)
    return found


def _leaves(table: Mapping[str, Any], above: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Every value with its path; tables of a list are told apart by their names where each has its own, else by number."""
    for key, value in table.items():
        path = (*above, str(key))
        if isinstance(value, Mapping):
            yield from _leaves(value, path)
        elif isinstance(value, list) and value and all(isinstance(each, Mapping) for each in value):
            names = [str(each.get("name", "")) for each in value]
            named = all(names) and len(set(names)) == len(names)
            for number, each in enumerate(value, start=1):
                yield from _leaves(each, (*path, names[number - 1] if named else str(number)))
        else:
            yield path, value


def _sides_together(found: Mapping[Path, tuple[str | None, ...]]) -> dict[Path, tuple[str | None, ...]]:
    """Fields of left and right choke with the same values as one field of [choke]."""
    joined: dict[Path, tuple[str | None, ...]] = {}
    for path, texts in found.items():
        other = {"left": "right", "right": "left"}.get(path[1]) if path[0] == "choke" else None
        same = other is not None and found.get(("choke", other, *path[2:])) == texts
        joined[("choke", *path[2:]) if same else path] = texts
    return joined
