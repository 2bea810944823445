# SPDX-License-Identifier: GPL-3.0-or-later
"""What limits, measures, outcomes and words mean, for people who build: texts by topic, and which topic a name belongs to.

The texts are in `topic_texts/`, a file a group. In the patterns of keys a star stands for one word (a side, a number, a name), in
those of limits for any text.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from heatsim.errors import InputError
from heatsim.measures.gather import STANDARD
from heatsim.report.base.words import SIDES, measure_words, split_key

FOLDER = Path(__file__).with_name("topic_texts")

FILES = (
    "verdict",
    "tank",
    "coil",
    "capacitors",
    "switches",
    "gates",
    "chokes",
    "conductors",
    "supply",
    "workpiece",
    "run",
    "words",
)
"""Groups in the order in which they are listed."""

AT_INSTANTS = re.compile(r"^(crest|valley)\.(?=\w+\.)")
"""Head of a measure's key that is told for crest or valley."""

NEAREST = 6
"""Names told where the one asked for is not known."""


class Topic(BaseModel):
    """One topic. what, why: paragraphs; unit: of what is judged or meant, empty for words; names: by which it is found too; limits:
    patterns of `part: limit`; keys: pattern of a measure's key -> what that measure is; moves: field of the scenario -> its
    effect; see: other topics.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: str = Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")
    title: str = Field(min_length=1)
    group: str = Field(min_length=1)
    what: str = Field(min_length=1)
    why: str = Field(min_length=1)
    unit: str = ""
    names: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    keys: Mapping[str, str] = Field(default_factory=dict)
    moves: Mapping[str, str] = Field(default_factory=dict)
    see: tuple[str, ...] = ()

    @field_validator("what", "why")
    @classmethod
    def _on_one_line(cls, text: str) -> str:
        return " ".join(text.split())

    def key_pattern(self, key: str) -> str | None:
        """The pattern among its keys that a measure's key fits, None for none."""
        return next((each for each in self.keys if re.fullmatch(_expression(each, r"[^.]+"), key)), None)

    def judges(self, limit: str) -> bool:
        """Whether a limit, as `choke.left: temperature`, is one of its own."""
        return any(re.fullmatch(_expression(each, ".+"), limit) for each in self.limits)


def _expression(pattern: str, star: str) -> str:
    return star.join(map(re.escape, pattern.split("*")))


@lru_cache
def topics() -> tuple[Topic, ...]:
    """All topics in reading order."""
    return tuple(each for name in FILES for each in read((FOLDER / f"{name}.toml").read_text(encoding="utf-8"), name))


def read(text: str, name: str) -> tuple[Topic, ...]:
    """The topics of a file; InputError where one is incomplete or has a field that there is not. name: of the file."""
    content = tomllib.loads(text)
    found = []
    for table in content["topic"]:
        try:
            found.append(Topic.model_validate({"group": content["group"], **table}))
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(map(str, first["loc"]))
            raise InputError.single(f"{name}.toml, topic {table.get('id')}, {where}", str(first["msg"])) from None
    return tuple(found)


@lru_cache
def topic_of_limit(part: str, limit: str) -> Topic | None:
    """The topic of a finding's limit, None where there is none."""
    return next((each for each in topics() if each.judges(f"{part}: {limit}")), None)


def measured_key(key: str) -> str:
    """A measure's key without what stands for crest, valley or a standard error: the one that its topic has."""
    return AT_INSTANTS.sub("", key).replace(STANDARD, "_")


def topic_of_key(key: str) -> Topic | None:
    """The topic of a measure, None where there is none."""
    return next((each for each in topics() if each.key_pattern(measured_key(key))), None)


def shown_pattern(pattern: str) -> str:
    """A pattern of keys for a person: `choke.*.core_loss_w` -> "choke.SIDE.core_loss_w"."""
    return pattern.replace("*", {"conductor": "NAME", "capacitor": "NUMBER"}.get(pattern.split(".")[0], "SIDE"))


def unit_of(pattern: str) -> str:
    """The unit of the measures of a pattern, empty for words and counts."""
    return split_key(pattern)[1]


def found(name: str) -> tuple[Topic, ...]:
    """The topics that a name stands for; InputError with the nearest names for one that is not known."""
    by_key = topic_of_key(name.strip().lower())
    if by_key is not None:
        return (by_key,)
    asked = plain(name)
    exact = tuple(each for each in topics() if asked and asked in map(plain, _names(each)))
    several = exact or tuple(each for each in topics() if _of_family(each, asked))
    if not several:
        raise InputError.single(
            "explain", "there is no such topic", repr(name), ", ".join([*nearest(name), "or see the list: heatsim explain"])
        )
    return several


def plain(name: str) -> str:
    """A name in the form in which names are compared: words in small letters, without the side."""
    words = re.sub(r"[^\w%'/]+|_", " ", name.lower()).split()
    return " ".join(word for word in words if word not in SIDES) or " ".join(words)


def _names(topic: Topic) -> Iterator[str]:
    """All names by which a topic is found, its limits with and without their part."""
    yield from (topic.id, topic.title, *topic.names)
    for limit in topic.limits:
        part, _, name = limit.partition(": ")
        yield from (name, f"{part} {name}".replace("*", ""))
    yield from (measure_words(key) for key in topic.keys)
    yield from (split_key(key)[0].replace("*", "") for key in topic.keys)


def _of_family(topic: Topic, asked: str) -> bool:
    """Whether a limit whose name has an end that varies, such as the run after which it is judged, is asked for."""
    for limit in topic.limits:
        part, _, name = limit.partition(": ")
        forms = (name, f"{part.replace('*', '')} {name}")
        if "*" in name and any(re.fullmatch(_expression(_keeping_star(each), ".+"), asked) for each in forms):
            return True
    return False


def _keeping_star(text: str) -> str:
    return "*".join(plain(each) + (" " if each.endswith(" ") else "") for each in text.split("*"))


def nearest(name: str) -> tuple[str, ...]:
    """Names of topics near to one that is not known, the nearest first: those that share its words, then those that are spelt
    alike; at least one.
    """
    asked = plain(name)
    known = {plain(each): topic.id.replace("-", " ") for topic in topics() for each in _names(topic)}
    words = {word.removesuffix("s") for word in asked.split() if len(word) > 2}
    shared = {each: len(words & {word.removesuffix("s") for word in each.split()}) for each in known}
    by_word = sorted((each for each in known if shared[each]), key=lambda each: (-shared[each], len(each)))
    spelt = difflib.get_close_matches(asked, known, n=NEAREST, cutoff=0.5)
    order = [*spelt[:2], *by_word, *spelt] or difflib.get_close_matches(asked, known, n=3, cutoff=0.0)
    return tuple(dict.fromkeys(known[each] for each in order))[:NEAREST]
