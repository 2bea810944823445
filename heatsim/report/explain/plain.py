# SPDX-License-Identifier: GPL-3.0-or-later
"""Topics as plain data, schema heatsim.explain/1."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import heatsim
from heatsim.report.base.advice import Advice
from heatsim.report.base.topics import Topic, unit_of

SCHEMA = "heatsim.explain/1"


def as_data(chosen: Sequence[Topic], warnings: Sequence[Advice] = ()) -> dict[str, Any]:
    """Topics and warnings for `--json`. In keys and limits a star stands for a side, a number or a name, in warnings an
    ellipsis for what varies.
    """
    told = [{"says": each.says, "means": each.meaning, "do": each.to_do} for each in warnings]
    topics = [_topic(each) for each in chosen]
    return {"schema": SCHEMA, "heatsim_version": heatsim.__version__, "topics": topics, "warnings": told}


def _topic(topic: Topic) -> dict[str, Any]:
    return {
        "id": topic.id,
        "title": topic.title,
        "group": topic.group,
        "unit": topic.unit or None,
        "what": topic.what,
        "why": topic.why,
        "moves": [{"field": field, "effect": effect} for field, effect in topic.moves.items()],
        "keys": [{"key": key, "unit": unit_of(key) or None, "meaning": text} for key, text in topic.keys.items()],
        "limits": list(topic.limits),
        "names": list(topic.names),
        "see": list(topic.see),
    }
