# SPDX-License-Identifier: GPL-3.0-or-later
"""A changed scenario written as a file: the user's own text, comments and all, with the changed values in it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, MutableMapping
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from heatsim.scenario.overrides import by_reach, path_of, put, take
from heatsim.scenario.scenario import Scenario

Settings = list[tuple[str, Any]]
"""Dotted fields and their values in the order they are set; None takes a field out."""


def with_fields(scenario: Scenario, fields: Mapping[str, Any], heading: str) -> str:
    """The scenario's text with its changes so far and further fields set; heading: comment lines on top.

    A field that is None is taken out, and so is what the cases and single sides say on it. New tables get a header of their own;
    inside braces and dotted keys (`supply.voltage = ...`), where a header would end the table, they are written in braces.
    """
    settings: Settings = [*scenario.changes, *by_reach(fields)]
    top = "".join(f"# {line}\n" for line in heading.splitlines()) + "\n"
    wanted = tomllib.loads(scenario.text)
    _apply(wanted, settings, dict)
    for new in (tomlkit.table, tomlkit.inline_table):
        text = _edited(scenario.text, settings, new)
        if text is not None and _reads_as(text, wanted):
            return top + text
    return f"{top}# Comments of the original file could not be kept.\n\n{tomlkit.dumps(wanted)}"


def _edited(text: str, settings: Settings, new: Callable[[], Any]) -> str | None:
    """The text with the settings in it, new tables made by `new`; None where the editor of the text cannot do it."""
    try:
        document: Any = tomlkit.parse(text)
        _apply(document, settings, new)
        return tomlkit.dumps(document)
    except (TOMLKitError, KeyError, ValueError):  # a header of its own within braces
        return None


def _apply(document: MutableMapping[str, Any], settings: Settings, new: Callable[[], Any]) -> None:
    for field, value in settings:
        put(document, field, "" if value is None else _item(value, new), new=new)
        if value is None:
            take(document, path_of(field))


def _item(value: Any, new: Callable[[], Any]) -> Any:
    if isinstance(value, Mapping):
        table = new()
        for key, each in value.items():
            table[key] = _item(each, new)
        return table
    if new is not dict and isinstance(value, list) and value and isinstance(value[0], list):
        rows = tomlkit.array()
        for row in value:
            rows.append(row)
        return rows.multiline(True)
    return value


def _reads_as(text: str, wanted: Mapping[str, Any]) -> bool:
    """Whether a text is TOML and holds these tables; empty ones count as none."""
    try:
        return bool(_filled(tomllib.loads(text)) == _filled(wanted))
    except tomllib.TOMLDecodeError:
        return False


def _filled(value: Any) -> Any:
    if not isinstance(value, Mapping):
        return value
    return {key: held for key, each in value.items() if (held := _filled(each)) != {}}
