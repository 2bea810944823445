# SPDX-License-Identifier: GPL-3.0-or-later
"""The fields of scenario files, read from the tables that read them: unit, range, default, meaning."""

from __future__ import annotations

import types
from collections.abc import Iterator
from functools import cache
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from heatsim.quantity import format_quantity
from heatsim.scenario.schema import ScenarioTables
from heatsim.scenario.schema.fields import PATTERNS, Unit


class Entry(NamedTuple):
    """One field. path: dotted, NAME for a name of the user's own; written: what is put there; default: in words, empty where there
    is none; needed: whether its table must have it; meaning: in words.
    """

    path: str
    written: str
    default: str
    needed: bool
    meaning: str


class TableEntry(NamedTuple):
    """One table of the file: its head as written, what its docstring says, whether the file must have it, its fields."""

    path: str
    head: str
    about: str
    fields: tuple[Entry, ...]


@cache
def tables() -> tuple[TableEntry, ...]:
    """All tables in the order of the schema, each before those inside it."""
    return tuple(_inside(ScenarioTables, ()))


def field_paths() -> list[str]:
    """All fields that hold a value."""
    return [field.path for table in tables() for field in table.fields]


def _inside(model: type[BaseModel], path: tuple[str, ...]) -> Iterator[TableEntry]:
    below: list[tuple[type[BaseModel], tuple[str, ...], str]] = []
    rows = []
    for name, info in model.model_fields.items():
        table, kind = _table_in(info.annotation)
        if table is None:
            rows.append(_entry((*path, name), info))
        else:
            below.append((table, _step((*path, name), kind), kind))
    if path:
        about = " ".join((model.__doc__ or "").split())
        yield TableEntry(".".join(path), _head(path), about.partition("]: ")[2] or about, tuple(rows))
    for table, inner, _ in below:
        yield from _inside(table, inner)


def _step(path: tuple[str, ...], kind: str) -> tuple[str, ...]:
    """The path of a table that stands under a name of one's own, or in a list; chokes have a side or none."""
    return (*path, "NAME") if kind == "named" and path != ("choke",) else path


def _head(path: tuple[str, ...]) -> str:
    """A table's head as it stands in the file."""
    lists = {("conductor",), ("wind", "ring"), ("wind", "wire")}
    return f"[[{'.'.join(path)}]]" if path in lists else f"[{'.'.join(path)}]"


def _table_in(annotation: Any) -> tuple[type[BaseModel] | None, str]:
    """The table that an annotation holds, None for a value, and whether it is "one", "named" or a "list"."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation, "one"
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin in (Union, types.UnionType, Annotated):
        found = [_table_in(each) for each in arguments]
        return next((each for each in found if each[0] is not None), (None, ""))
    if origin in (dict, list, tuple) and arguments:
        table, _ = _table_in(arguments[-1] if origin is dict else arguments[0])
        return table, ("named" if origin is dict else "list") if table else ""
    return None, ""


def _entry(path: tuple[str, ...], info: FieldInfo) -> Entry:
    marks = [*info.metadata, *_marks(info.annotation)]
    unit = next((each for each in marks if isinstance(each, Unit)), None)
    value = info.default
    if value is None or value is PydanticUndefined:
        default = ""
    elif unit is not None and isinstance(value, int | float):
        default = format_quantity(float(value), unit.unit)
    else:
        default = str(value).lower() if isinstance(value, bool) else str(value)
    return Entry(".".join(path), _written(info.annotation, unit, marks), default, info.is_required(), info.description or "")


def _marks(annotation: Any) -> Iterator[Any]:
    """What is annotated anywhere inside an annotation."""
    if get_origin(annotation) is Annotated:
        first, *marks = get_args(annotation)
        for each in marks:
            yield from each.metadata if isinstance(each, FieldInfo) else (each,)
        yield from _marks(first)
    elif get_origin(annotation) in (Union, types.UnionType, list, tuple):
        for each in get_args(annotation):
            yield from _marks(each)


def _written(annotation: Any, unit: Unit | None, marks: list[Any]) -> str:
    """What is put there, in words."""
    many = "list of " if _is_list(annotation) else ""
    if unit is not None:
        return f"{many}unit {unit.unit}, {unit.allowed}"
    choices = list(_choices(annotation))
    if choices:
        return " or ".join(f'"{each}"' for each in choices)
    pattern = next((each.pattern for each in marks if getattr(each, "pattern", None)), None)
    if pattern:
        return f"{many}text: {PATTERNS[pattern]}"
    kinds = set(_plain(annotation))
    bounds = _bounds(marks)
    if bool in kinds:
        return "true or false"
    name = "whole number" if int in kinds and float not in kinds else "number" if float in kinds else "text"
    return f"{many}{name}{bounds}"


def _bounds(marks: list[Any]) -> str:
    words = {"gt": "above", "ge": "from", "lt": "below", "le": "to"}
    found = {key: getattr(each, key) for each in marks for key in words if getattr(each, key, None) is not None}
    return "".join(f", {word} {found[key]:g}" for key, word in words.items() if key in found).replace(", to", " to", 1)


def _choices(annotation: Any) -> Iterator[Any]:
    if get_origin(annotation) is Literal:
        yield from get_args(annotation)
    elif get_origin(annotation) in (Union, types.UnionType, Annotated, list, tuple):
        for each in get_args(annotation):
            yield from _choices(each)


def _plain(annotation: Any) -> Iterator[type]:
    if isinstance(annotation, type) and annotation is not type(None) and get_origin(annotation) is None:
        yield annotation
    for each in get_args(annotation):
        yield from _plain(each)


def _is_list(annotation: Any) -> bool:
    return get_origin(annotation) in (list, tuple) or any(
        _is_list(each) for each in get_args(annotation) if get_origin(annotation) is not dict
    )
