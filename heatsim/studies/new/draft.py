# SPDX-License-Identifier: GPL-3.0-or-later
"""A scenario in the making: answers taken one by one, and what they come to. Nothing is asked or written here."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from heatsim.errors import InputError, Problem, known_names
from heatsim.quantity import shown
from heatsim.scenario import Scenario
from heatsim.scenario.schema.fields import NAME_PATTERN
from heatsim.studies.new.answers import NONE, Bar, CoilBySize, Rings
from heatsim.studies.new.questions import BENCH, QUESTIONS, Question
from heatsim.studies.new.text import MARK, Line, in_full, in_short, lines_of

SOURCES = ("parts", "bench")
"""What a scenario is made from: parts by size and name, or what was measured on the bench."""

ASKED = {"parts": tuple(each.key for each in QUESTIONS), "bench": ("supply_voltage", "capacitors", "coil", "workpiece", "chokes")}
"""Keys of the questions that are asked; the others are answered by a default or a flag."""

BENCH_FORM = {"coil": CoilBySize, "workpiece": Bar, "chokes": Rings}
"""Key -> what an answer may not be where all is measured."""


@dataclass(frozen=True)
class Draft:
    """source: one of SOURCES; name: of the heater; file: as the head of the text says it; said, found: answers as given, and what
    they mean."""

    source: str = "parts"
    name: str = "First heater"
    file: str = "FILE"
    said: Mapping[str, str] = field(default_factory=dict)
    found: Mapping[str, Any] = field(default_factory=dict)

    @property
    def next(self) -> Question | None:
        """The first question that is neither answered nor needless, asked or not."""
        return next((each for each in QUESTIONS if each.key not in self.found and each.needed(self.found)), None)

    @property
    def asks(self) -> int:
        """How many questions are asked at most."""
        return len(ASKED[self.source])

    def default(self, question: Question) -> str:
        """The answer to a question where none is given."""
        own = BENCH.get(question.key) if self.source == "bench" else None
        return (own or question.default)(self.found)

    def answered(self, question: Question, text: str) -> Draft:
        """With the next question answered; InputError, told at its key, for an answer that cannot be used."""
        try:
            meaning = question.read(" ".join(text.split()), self.found)
            if self.source == "bench" and isinstance(meaning, BENCH_FORM.get(question.key, ())):
                raise InputError.single("", "is not measured", shown(text), "a meter's reading; sizes without --from bench")
            made = replace(self, said={**self.said, question.key: text.strip()}, found={**self.found, question.key: meaning})
            if question.settles:
                made.completed(workpiece=NONE).check()
        except InputError as error:
            raise InputError(*(Problem(question.key, p.what, p.given, p.allowed) for p in error.problems)) from None
        return made

    def completed(self, **given: str) -> Draft:
        """With every open question answered, as given or by its default."""
        made = self
        while (question := made.next) is not None:
            text = given[question.key] if question.key in given else made.default(question)
            meaning = question.read(text, made.found)
            made = replace(made, said={**made.said, question.key: text}, found={**made.found, question.key: meaning})
        return made

    def check(self) -> Scenario:
        """The scenario of a complete draft, all cases put together; raises InputError."""
        scenario = Scenario.from_text(self.text, self.file)
        for case in scenario.cases:
            scenario.heater(case)
        return scenario

    @property
    def text(self) -> str:
        """The file that a complete draft comes to."""
        lay_out = in_short if self.source == "bench" else in_full
        return lay_out(self._lines, self.file)

    @property
    def estimates(self) -> tuple[str, ...]:
        """Dotted fields of a complete draft that were not answered but estimated."""
        return tuple(line.field for line in self._lines if line.comment.startswith(MARK))

    @property
    def _lines(self) -> list[Line]:
        return lines_of(self.found, self.name)


def first_scenario(source: str = "parts", name: str = "First heater", file: str = "FILE", **said: str) -> Scenario:
    """A scenario from answers by key, such as supply_voltage="24 V" and coil="1.75 uH, 14 mohm"; the others take their defaults.

    source: "parts", or "bench" for the shortest file from measured values; name: of the heater; file: where the text will stand
    Raises InputError, told at the key of the answer.
    """
    return finished(Draft(_known(source), name, file), said).check()


def finished(draft: Draft, said: Mapping[str, str]) -> Draft:
    """A draft with the answers given, and defaults for the others; InputError for one that there is no question for."""
    if strange := next((key for key in said if key not in ASKED["parts"]), None):
        raise InputError.single(strange, "is no question", allowed=known_names(strange, ASKED["parts"]))
    while (question := draft.next) is not None:
        draft = draft.answered(question, said[question.key] if question.key in said else draft.default(question))
    refuse_idle(draft, said)
    return draft


def refuse_idle(draft: Draft, said: Mapping[str, str]) -> None:
    """InputError for an answer that a complete draft has no question for."""
    if idle := next((key for key in said if key not in draft.found), None):
        raise InputError.single(
            idle, "is not asked of a choke that was measured", shown(said[idle]), "a ring in chokes, or neither"
        )


def heater_name(stem: str) -> str:
    """A heater's name from that of its file."""
    plain = " ".join(re.sub(r"[^A-Za-z0-9.]+", " ", stem).split())[:60]
    return plain[0].upper() + plain[1:] if re.fullmatch(NAME_PATTERN, plain) else "First heater"


def _known(source: str) -> str:
    if source not in SOURCES:
        raise InputError.single("source", "is not known", shown(source), " or ".join(SOURCES))
    return source
