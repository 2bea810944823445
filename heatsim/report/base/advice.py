# SPDX-License-Identifier: GPL-3.0-or-later
"""What the warnings under a verdict mean, and what to do: texts in `advice.toml`."""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

FEWEST = 2
"""Words by which a warning is looked for, at least: one alone is in too many."""

LONG = 5
"""Words of a piece of a warning beyond which it stands for the whole."""


class Advice(NamedTuple):
    """A warning as the code has it, an ellipsis for what varies; what it means, and what to do, in Markdown."""

    says: str
    means: str
    do: str

    @property
    def meaning(self) -> str:
        """What it means, as plain text."""
        return _plain(self.means)

    @property
    def to_do(self) -> str:
        """What to do, as plain text."""
        return _plain(self.do)


def _plain(markdown: str) -> str:
    """A text without links and code marks."""
    return re.sub(r"\[([^\]]+)\]\([^)]*\)", r"\1", markdown).replace("`", "")


@lru_cache
def advice() -> tuple[Advice, ...]:
    """What is known of warnings beyond their own words."""
    content = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
    return tuple(Advice(each["says"], each["means"], each["do"]) for each in content["warning"])


def warnings_with(text: str) -> tuple[Advice, ...]:
    """Warnings that have the words of a text in their order, or that a text is as it was printed; none for a single word."""
    asked = _words(text)
    if len(asked) < FEWEST:
        return ()
    return tuple(each for each in advice() if _has(each.says, asked) or _printed(each.says, asked))


def _has(says: str, asked: list[str]) -> bool:
    """Whether the words are in a warning, in their order; two of them side by side."""
    words = _words(says)
    if len(asked) == FEWEST:
        return f" {' '.join(asked)} " in f" {' '.join(words)} "
    left = iter(words)
    return all(word in left for word in asked)


def _printed(says: str, asked: list[str]) -> bool:
    """Whether the words hold a warning, with anything in place of its ellipses, or a long piece of it where they end early."""
    pieces = [" ".join(_words(piece)) for piece in says.split("…")]
    text = " ".join(asked)
    whole = re.search(".*".join(re.escape(piece) for piece in pieces if piece), text) is not None
    return whole or any(len(piece.split()) > LONG and piece in text for piece in pieces)


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.casefold())
