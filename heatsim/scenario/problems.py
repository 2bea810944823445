# SPDX-License-Identifier: GPL-3.0-or-later
"""What a table does not allow, in plain words: pydantic's findings as problems with place, fault, given and allowed.

What is allowed is read off the tables themselves: type, bounds, alphabet and description of the field at the path.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from heatsim.errors import InputError, Problem, known_names
from heatsim.quantity import shown
from heatsim.scenario.schema.fields import PATTERNS, Unit
from heatsim.scenario.source import Where

Tables = TypeVar("Tables", bound=BaseModel)

Fault = tuple[bool, tuple[str, ...], str, str, str]
"""Whether it is there, path of its field, what is wrong, given, allowed."""

MOST = 40
"""Problems that are listed; the rest is counted."""


def validated(root: type[Tables], raw: Mapping[str, Any], where: Where) -> Tables:
    """A whole file's tables; raises InputError with every fault."""
    try:
        return root.model_validate(raw)
    except ValidationError as error:
        found = [_problem(dict(item), root, where) for item in error.errors(include_url=False)[:MOST]]
        if error.error_count() > MOST:
            found.append(Problem(where(), f"has {error.error_count() - MOST} more faults", allowed="a file without those above"))
        raise InputError(*found) from None


def refuse(where: Where, faults: Iterable[Fault]) -> None:
    """Raise InputError with every fault that is there."""
    found = [Problem(where(*path), what, given, allowed) for wrong, path, what, given, allowed in faults if wrong]
    if found:
        raise InputError(*found)


@contextmanager
def told_at(place: str) -> Iterator[None]:
    """What a part finds wrong with its values, told at the field of the file that gives them; what has a place keeps it."""
    try:
        yield
    except InputError as error:
        told = (p if ": " in p.where else replace(p, where=place) for p in error.problems)
        raise InputError(*told) from None
    except ArithmeticError:
        fault = "leads to a number beyond all measure, together with the values around it"
        raise InputError.single(place, fault, allowed="values that such a part can have") from None


def missing_field(root: type[BaseModel], path: Sequence[str], where: Where) -> Problem:
    """A field that is not there, with what it may be."""
    return Problem(where(*path), "is missing", allowed=_field(root, path).allowed)


def _problem(item: dict[str, Any], root: type[BaseModel], where: Where) -> Problem:
    keys = [str(part) for part in item["loc"]]
    field = _field(root, keys)
    path = [key for key in keys[: field.depth] if key != "[key]"]
    kind, given = item["type"], item.get("input")
    if kind == "extra_forbidden":
        return Problem(where(*path, keys[-1]), "is not a known key", allowed=known_names(keys[-1], field.kind.model_fields))
    if kind == "missing":
        return missing_field(root, keys[: field.depth], where)
    if kind == "quantity":
        return Problem(where(*path), str(item["msg"]), shown(given), str(item["ctx"]["allowed"]))
    return Problem(where(*path), _fault(kind, field), shown(given), field.allowed)


def _fault(kind: str, field: _Field) -> str:
    if kind == "literal_error":
        return "is not one of the choices"
    if kind == "string_pattern_mismatch":
        return "has signs that are not allowed, or is too long"
    if kind.startswith(("greater", "less", "finite")):
        return "is out of range"
    if kind.endswith(("too_short", "too_long")):
        return f"has too {'few' if kind.endswith('short') else 'many'} {'signs' if kind.startswith('string') else 'entries'}"
    return "must be a pair" if get_origin(field.kind) is tuple else f"must be {field.sort}"


@dataclass(frozen=True)
class _Field:
    """What stands at a path.

    kind: type, without None; marks: bounds, unit and the like; description: of the field; depth: parts of the path that lead
    here, the rest being names of pydantic's own.
    """

    kind: Any
    marks: tuple[Any, ...] = ()
    description: str = ""
    depth: int = 0

    @property
    def sort(self) -> str:
        """The type in words."""
        unit = next((mark for mark in self.marks if isinstance(mark, Unit)), None)
        origin = get_origin(self.kind)
        if unit:
            return unit.words
        if origin in (Union, UnionType):
            return "a text or a number"
        if origin is list:
            return "a list of " + {tuple: "pairs"}.get(get_origin(get_args(self.kind)[0]), "tables")
        if origin is tuple:
            return "a pair, " + " and ".join(_plain(part).sort for part in get_args(self.kind))
        if origin is dict or isinstance(self.kind, type) and issubclass(self.kind, BaseModel):
            return "a table"
        return {int: "a whole number", float: "a number"}.get(self.kind, "a text")

    @property
    def allowed(self) -> str:
        """Type, bounds and description in words."""
        if get_origin(self.kind) is Literal:
            *most, last = (repr(choice) for choice in get_args(self.kind))
            text = f"{', '.join(most)} or {last}" if most else last
        elif isinstance(self.kind, type) and issubclass(self.kind, BaseModel):
            text = f"a table with {', '.join(self.kind.model_fields)}"
        else:
            pattern = next((PATTERNS[mark.pattern] for mark in self.marks if getattr(mark, "pattern", None)), "")
            text = (pattern or self.sort) + self._bounds()
        return f"{text} ({self.description})" if self.description else text

    def _bounds(self) -> str:
        found = {name: getattr(mark, name) for mark in self.marks for name in _BOUNDS if getattr(mark, name, None) is not None}
        if {"ge", "le"} <= found.keys():
            return f" from {found['ge']:g} to {found['le']:g}"
        if {"min_length", "max_length"} <= found.keys():
            return f" of length {found['min_length']} to {found['max_length']}"
        return "".join(f", {words} {found[name]:g}" for name, words in _BOUNDS.items() if name in found)


_BOUNDS = {
    "ge": "at least",
    "gt": "above",
    "le": "at most",
    "lt": "below",
    "min_length": "of length at least",
    "max_length": "of length at most",
}


def _plain(annotation: Any, marks: tuple[Any, ...] = (), description: str = "", depth: int = 0) -> _Field:
    """A field without the wrappers Annotated and Optional."""
    if get_origin(annotation) is Annotated:
        inner, *more = get_args(annotation)
        for mark in more:
            marks += tuple(mark.metadata) if isinstance(mark, FieldInfo) else (mark,)
        return _plain(inner, marks, description, depth)
    options = [part for part in get_args(annotation) if part is not NoneType]
    if get_origin(annotation) in (Union, UnionType) and len(options) == 1:
        return _plain(options[0], marks, description, depth)
    return _Field(annotation, marks, description, depth)


def _field(root: type[BaseModel], path: Sequence[str]) -> _Field:
    """The field at a path, or the innermost one on the way to it."""
    field = _Field(root)
    for depth, key in enumerate(path, start=1):
        origin, inner = get_origin(field.kind), get_args(field.kind)
        if isinstance(field.kind, type) and issubclass(field.kind, BaseModel):
            info = field.kind.model_fields.get(key)
            if info is None:
                break
            field = _plain(info.annotation, tuple(info.metadata), info.description or "", depth)
        elif origin is dict:
            is_key = path[depth : depth + 1] == ["[key]"]
            field = _plain(inner[0 if is_key else 1], depth=depth)
            if is_key:
                break
        elif origin is list:
            field = _plain(inner[0], depth=depth)
        elif origin is tuple and key.isdigit() and int(key) < len(inner):
            field = _plain(inner[int(key)], depth=depth)
        else:
            break
    return field
