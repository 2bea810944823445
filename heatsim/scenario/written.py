# SPDX-License-Identifier: GPL-3.0-or-later
"""A changed scenario written as a file: the user's own text, comments and all, with the changed values in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import tomlkit

from heatsim.scenario.overrides import path_of, put, take
from heatsim.scenario.scenario import Scenario


def with_fields(scenario: Scenario, fields: Mapping[str, Any], heading: str) -> str:
    """The scenario's text with its changes so far and further fields set; heading: comment lines on top.

    A field that is None is taken out, and so is what the cases and single sides say on it.
    """
    document: Any = tomlkit.parse(scenario.text)
    for field, value in [*scenario.changes, *fields.items()]:
        put(document, field, "" if value is None else _item(value))
        if value is None:
            take(document, path_of(field))
    top = "".join(f"# {line}\n" for line in heading.splitlines())
    return top + "\n" + tomlkit.dumps(document)


def _item(value: Any) -> Any:
    if isinstance(value, Mapping):
        table = tomlkit.table()
        for key, each in value.items():
            table[key] = _item(each)
        return table
    if isinstance(value, list) and value and isinstance(value[0], list):
        rows = tomlkit.array()
        for row in value:
            rows.append(row)
        return rows.multiline(True)
    return value
