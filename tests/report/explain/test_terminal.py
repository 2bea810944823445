# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim explain` prints: every topic at every width, which measure a key is, and the same as plain data."""

from __future__ import annotations

import io

import pytest

from heatsim.report.base.topics import found, topics
from heatsim.report.explain import as_data, show, show_list
from heatsim.report.explain.terminal import key_sentence


def shown(name: str, width: int = 100) -> str:
    stream = io.StringIO()
    show(found(name), name, stream, width)
    return stream.getvalue()


def joined(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("width", [50, 64, 79, 80, 100, 200])
def test_no_line_is_longer_than_the_window_and_nothing_is_left_out(width: int) -> None:
    for topic in topics():
        stream = io.StringIO()
        show([topic], "", stream, width)
        lines = stream.getvalue().splitlines()
        assert max(map(len, lines)) <= min(width, 100), topic.id
        text = joined(stream.getvalue())
        told = (topic.title, topic.what, topic.why, *topic.moves)
        assert all(joined(each) in text for each in told), topic.id
        assert width < 80 or all(word in text for effect in topic.moves.values() for word in effect.split()), topic.id


def test_a_topic_has_its_parts_in_order() -> None:
    text = shown("thd")
    order = ["Distortion of the tank voltage (THD) [a ratio, shown in %]", "Total harmonic", "Why it matters", "What moves it"]
    order += ["  limits.thd ", "In results.json", "tank.thd_ratio [ratio] ", "Judged as", "tank: distortion", "See also: harmonics"]
    places = [text.index(each) for each in order]
    assert places == sorted(places)


def test_in_a_narrow_window_effects_stand_below_their_fields() -> None:
    assert "\n  limits.thd\n    what is allowed\n" in shown("thd", 50)
    assert "\n  limits.thd                 what is allowed\n" in shown("thd", 80)


def test_a_window_of_no_width_does_no_harm() -> None:
    assert joined(found("thd")[0].what) in joined(shown("thd", 1))


def test_of_a_key_it_is_told_which_measure_it_is() -> None:
    text = shown("choke.left.temperature_low_c")
    assert text.startswith("Temperature of a choke\nChokes\n\nchoke.left.temperature_low_c [°C]: the kind end of its band.\n\n")
    assert "choke.SIDE.run_temperature_c [°C] " in text and "each choke: temperature after the run" in text


@pytest.mark.parametrize(
    ("key", "sentence"),
    [
        ("supply.trips_count", "supply.trips_count: times it switched off, of one that hiccups."),
        ("valley.supply.power_w", "valley.supply.power_w [W]: in the valley of the supply's swing; mean."),
        ("crest.supply.power_w", "crest.supply.power_w [W]: at the crest of the supply's swing; mean."),
        ("gate.left.ringing_decay_standard_error_s", "[s]: standard error of: time in which it falls to 37 %."),
        ("latch.fuse_i2t_a2s", "latch.fuse_i2t_a2s [A²s]: let-through of the fuse, as given."),
        ("thd", ""),
    ],
)
def test_sentence_about_a_key(key: str, sentence: str) -> None:
    (topic,) = found(key)
    assert key_sentence(topic, key).endswith(sentence) and bool(key_sentence(topic, key)) == bool(sentence)


def test_several_topics_stand_one_below_the_other() -> None:
    text = shown("temperature")
    assert text.index("\n\n\nTemperature of a conductor or joint [°C]\nConductors\n") > 0


@pytest.mark.parametrize("width", [50, 100])
def test_the_list_has_every_topic_under_its_group(width: int) -> None:
    stream = io.StringIO()
    show_list(stream, width)
    lines = stream.getvalue().splitlines()
    assert max(map(len, lines)) <= width
    heads = [line for line in lines if line and not line.startswith(" ")]
    assert heads[: -1 if width == 100 else -2] == list(dict.fromkeys(topic.group for topic in topics()))
    names = [joined(line) for line in lines if line.startswith("  ") and line[2] != " "]
    wrong = [name for name, topic in zip(names, topics(), strict=True) if not name.startswith(topic.id.replace("-", " "))]
    assert not wrong


def test_a_name_from_the_list_leads_to_its_topic() -> None:
    for topic in topics():
        assert topic in found(topic.id.replace("-", " "))


def test_plain_data_has_its_schema_and_the_texts() -> None:
    data = as_data(found("choke temperature"))
    assert data["schema"] == "heatsim.explain/1" and list(data) == ["schema", "heatsim_version", "topics", "warnings"]
    (topic,) = data["topics"]
    assert topic["id"] == "choke-temperature" and topic["unit"] == "°C" and topic["group"] == "Chokes"
    assert {"key": "choke.*.temperature_low_c", "unit": "°C", "meaning": "the kind end of its band"} in topic["keys"]
    assert {"field": "limits.choke_temperature", "effect": "what is allowed"} in topic["moves"]
    assert topic["limits"] == ["choke.*: temperature", "choke.*: temperature after *"]
    assert as_data(found("latched"))["topics"][0]["unit"] is None
