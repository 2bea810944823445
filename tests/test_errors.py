# SPDX-License-Identifier: GPL-3.0-or-later
"""Messages: what a problem says, and that nothing of an input in it can steer a terminal or flood it."""

from __future__ import annotations

import pytest

from heatsim.errors import InputError, OutputError, Problem, printable

STEERING = "\x1b]0;owned\x07\x1b[31mred\x9b2J\r\n\u202ebackwards\udcff"


def test_a_problem_names_place_fault_given_and_allowed() -> None:
    assert str(Problem("a.toml:3: x", "is wrong", "5", "1 to 3")) == "a.toml:3: x: is wrong; given 5; allowed: 1 to 3"
    assert str(Problem("", "is wrong")) == "is wrong"


@pytest.mark.parametrize("text", [
    str(InputError.single(STEERING, STEERING, STEERING, STEERING)),
    str(OutputError.at(STEERING, STEERING)),
    printable(STEERING),
])  # fmt: skip
def test_no_message_holds_a_control_character(text: str) -> None:
    assert text.isprintable() and "red" in text


def test_what_was_given_is_cut_when_it_is_long() -> None:
    assert len(str(Problem("a", "is wrong", "x" * 20_000))) < 400
