# SPDX-License-Identifier: GPL-3.0-or-later
"""Topics are complete: every limit and measure has one, no pattern or field in them is dead, and names lead to them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest

from heatsim.engine.outcome import Outcome
from heatsim.errors import InputError
from heatsim.measures.latched import fuse_measures
from heatsim.report.base import topics
from heatsim.report.base.topics import Topic, found, measured_key, plain, topic_of_key, topic_of_limit
from heatsim.scenario.scenario import json_schema
from heatsim.studies.check import limits
from heatsim.studies.check.limits.gate_network import HEATED
from heatsim.studies.check.result import CaseResult
from heatsim.studies.check.study import MODULATION
from heatsim.verdict import SEVERITY
from heatsim.waves import Waveforms
from tests.support.everything import judged
from tests.support.limit_names import limit_names

STUDY = Path(limits.__file__).parents[1] / "study.py"

STEEL = ("workpiece.surface_field_a_per_m", "workpiece.field_departure_ratio")
"""Measures of a steel workpiece alone, which takes long to build."""

WORDS = (
    "headroom|thd|zvs|latch-up|AL|Q|clamp|tank|DC bias|zero-voltage switching|Curie point|skin depth|reference depth|ring core",
    "initial permeability|feed choke|dead time|work coil|overshoot|ripple|swing|saturation|fuse|thermal runaway|avalanche|stack",
    "idle|loaded|workpiece power|core loss|harmonics|stray inductance|hiccup|foldback|pull-up|coupling diode|I2t|rms|start class",
)
"""Words that stand on pages."""


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> CaseResult:
    """A case with nearly every measure and limit."""
    return judged(tmp_path_factory.mktemp("everything"))


@pytest.fixture(scope="module")
def keys(everything: CaseResult) -> set[str]:
    """Keys of all measures of a check, whatever comes of it."""
    flat = np.zeros(3)
    signals = dict.fromkeys(("supply.current", "switch.left.current", "switch.right.current"), flat)
    latch = fuse_measures(Waveforms(np.arange(3.0), signals, dict.fromkeys(signals, "A"), "made up"), 1, 1.0, 1.0)
    assert all(f'"{key}"' in STUDY.read_text(encoding="utf-8") for key in STEEL)
    return {*everything.measures, *latch, MODULATION, *STEEL}


def all_limits() -> set[str]:
    """`part: name` of every limit, a star for what varies."""
    named = limit_names()
    assert "gate.*: *, heat" in named
    return {*(named - {"gate.*: *, heat"}), *(f"gate.*: {each.name}, heat" for each in HEATED)}


def fields(node: Any, definitions: dict[str, Any], path: tuple[str, ...] = ()) -> Iterator[str]:
    """Dotted fields of a JSON schema; NAME for a name of one's own."""
    if isinstance(node, dict):
        if "$ref" in node:
            yield from fields(definitions[node["$ref"].rpartition("/")[2]], definitions, path)
        for key in ("anyOf", "allOf", "oneOf"):
            for each in node.get(key, ()):
                yield from fields(each, definitions, path)
        for name, each in node.get("properties", {}).items():
            yield ".".join((*path, name))
            yield from fields(each, definitions, (*path, name))
        for each in (node.get("additionalProperties"), *node.get("patternProperties", {}).values()):
            yield from fields(each, definitions, (*path, "NAME"))
        yield from fields(node.get("items"), definitions, path)


def names(chosen: tuple[Topic, ...]) -> list[str]:
    return [each.id for each in chosen]


def test_every_measure_has_a_topic(keys: set[str]) -> None:
    assert len(keys) > 200
    assert not [key for key in keys if topic_of_key(key) is None]


def test_every_limit_has_a_topic(everything: CaseResult) -> None:
    named = all_limits()
    assert not [each for each in named if topic_of_limit(*each.replace("*", "x").split(": ", 1)) is None]
    for finding in everything.findings:
        told = f"{finding.part}: {finding.limit}"
        topic = topic_of_limit(finding.part, finding.limit)
        assert topic is not None and any(re.fullmatch(each.replace("*", ".+"), told) for each in named), told
        assert finding.unit == topic.unit and topic.moves, told


def test_no_pattern_is_dead(keys: set[str]) -> None:
    seen = {topic.key_pattern(measured_key(key)) for topic in topics.topics() for key in keys}
    assert not [pattern for topic in topics.topics() for pattern in topic.keys if pattern not in seen]
    samples = [each.replace("*", "x") for each in all_limits()]
    alone = [topic.model_copy(update={"limits": (each,)}) for topic in topics.topics() for each in topic.limits]
    assert not [topic.limits for topic in alone if not any(topic.judges(each) for each in samples)]


def test_a_measure_or_limit_belongs_to_one_topic_only(keys: set[str]) -> None:
    for key in keys:
        assert sum(each.key_pattern(measured_key(key)) is not None for each in topics.topics()) == 1, key
    for limit in all_limits():
        assert sum(each.judges(limit.replace("*", "x")) for each in topics.topics()) == 1, limit


def test_fields_that_move_it_are_fields_of_the_scenario() -> None:
    schema = json_schema()
    known = set(fields(schema, schema["$defs"]))
    assert "choke.core.stack" in known and "case.NAME.workpiece.share" in known
    assert not [(topic.id, field) for topic in topics.topics() for field in topic.moves if field not in known]


def test_texts_are_whole_sentences_and_few() -> None:
    for topic in topics.topics():
        for text in (topic.what, topic.why):
            sentences = re.findall(r"[.?](?= [A-Z]|$)", text)
            assert text[-1] in ".?" and 1 <= len(sentences) <= 5, (topic.id, text)
        assert len(f"{topic.what} {topic.why}") >= 100, topic.id


def test_units_are_those_of_a_measure_of_the_topic() -> None:
    for topic in topics.topics():
        units = {topics.unit_of(key) for key in topic.keys} - {"", "count"}
        assert not topic.unit or not units or topic.unit in units, (topic.id, topic.unit, units)
        assert topic.unit or len(units) == 0 or topic.id in ("start-class", "wave-shape"), (topic.id, units)


def test_topics_are_listed_once_and_lead_to_each_other() -> None:
    ids = names(topics.topics())
    assert len(ids) == len(set(ids))
    assert not [(topic.id, see) for topic in topics.topics() for see in topic.see if see not in ids or see == topic.id]


@pytest.mark.parametrize("name", [*get_args(Outcome), *SEVERITY])
def test_every_outcome_and_grade_has_a_topic_of_its_name(name: str) -> None:
    assert name in names(found(name))


@pytest.mark.parametrize("name", "|".join(WORDS).split("|"))
def test_words_of_the_trade_are_found(name: str) -> None:
    assert found(name)


@pytest.mark.parametrize(
    ("name", "ids"),
    [
        ("thd", ["thd"]),
        ("choke temperature", ["choke-temperature"]),
        ("choke.left: temperature", ["choke-temperature"]),
        ("left choke: temperature after 10 min from cold", ["choke-temperature"]),
        ("junction temperature after 5 s from cold", ["junction-temperature"]),
        ("temperature", ["choke-temperature", "conductor-temperature"]),
        ("choke.left.ripple_current_a", ["choke-ripple-current"]),
        ("choke.centre.ripple_current_a", ["choke-ripple-current"]),
        (" Drain  Voltage ", ["drain-voltage"]),
        ("left drain peak voltage", ["drain-voltage"]),
        ("gate.right.ringing_decay_standard_error_s", ["gate-ringing"]),
        ("valley.tank.frequency_hz", ["frequency"]),
        ("valley", ["crest-and-valley"]),
        ("capacitor.7.rms_current_a", ["capacitor-shares"]),
        ("conductor.my_bar.temperature_high_c", ["conductor-temperature"]),
        ("fill", ["copper-fill", "coupling"]),
        ("windability, hole left", ["hole-left"]),
        ("hole_left", ["hole-left"]),
    ],
)
def test_a_name_leads_to_its_topics(name: str, ids: list[str]) -> None:
    assert names(found(name)) == ids


@pytest.mark.parametrize(
    ("name", "near"),
    [("chok temprature", "choke temperature"), ("latchd", "latched"), ("drain voltages at night", "drain voltage")],
)
def test_an_unknown_name_is_told_with_the_nearest(name: str, near: str) -> None:
    with pytest.raises(InputError, match=rf"no such topic; given '{name}'.*\b{near}\b"):
        found(name)


@pytest.mark.parametrize("name", ["", " ", "left", "%", "*", "choke.*.temperature_c.x", "\x1b[2J", "é" * 5000])
def test_odd_names_are_refused(name: str) -> None:
    with pytest.raises(InputError, match="no such topic"):
        found(name)


def test_the_side_is_left_out_of_a_name_but_where_it_is_all() -> None:
    assert plain("choke.left: Ripple_Current") == "choke ripple current" and plain("left") == "left"


WHOLE = '[[topic]]\nid = "a"\ntitle = "A"\nwhat = """\nB\n  c."""\nwhy = "D."\n'


def test_a_topic_is_read_with_its_group_on_one_line() -> None:
    (topic,) = topics.read(f'group = "G"\n{WHOLE}', "g")
    assert (topic.group, topic.what, topic.unit, topic.keys) == ("G", "B c.", "", {})


@pytest.mark.parametrize(
    ("text", "where"),
    [
        (WHOLE.replace('why = "D."', ""), "g.toml, topic a, why: Field required"),
        (WHOLE.replace('why = "D."', 'why = ""'), "g.toml, topic a, why"),
        (WHOLE.replace("why", "whom"), "g.toml, topic a, why: Field required"),
        (f"{WHOLE}colour = 1\n", "g.toml, topic a, colour: Extra inputs"),
        (WHOLE.replace('"a"', '"A b"'), "g.toml, topic A b, id"),
    ],
)
def test_a_topic_that_is_not_whole_is_refused(text: str, where: str) -> None:
    with pytest.raises(InputError, match=re.escape(where)):
        topics.read(f'group = "G"\n{text}', "g")
