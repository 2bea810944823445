# SPDX-License-Identifier: GPL-3.0-or-later
"""Help at any width: no line longer than the terminal, nothing left out, and examples that a shell reads as they are meant."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable

import pytest

from heatsim.cli import layout, main, whole_parser

COMMANDS = ["", *next(each.choices for each in whole_parser()._actions if each.dest == "command")]  # type: ignore[misc]
WIDTHS = [30, 40, 60, 80, 120, 200]


@pytest.fixture
def helped(monkeypatch, capsys) -> Callable[[str, int], str]:
    """The help of a command on a terminal of so many columns."""

    def ask(command: str, columns: int) -> str:
        monkeypatch.setenv("COLUMNS", str(columns))
        with pytest.raises(SystemExit) as left:
            main([*([command] if command else []), "--help"])
        told = capsys.readouterr()
        assert left.value.code == 0 and told.err == ""
        return str(told.out)

    return ask


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("columns", WIDTHS)
def test_no_line_is_longer_than_the_terminal_unless_it_is_one_word(command, columns, helped) -> None:
    for line in helped(command, columns).split("\n"):
        alone = layout.UNIT.fullmatch(line.removesuffix(" \\").strip())
        assert len(line) <= columns or alone, line


@pytest.mark.parametrize("command", COMMANDS)
def test_every_width_says_the_same(command, helped) -> None:
    def words(columns: int) -> list[str]:
        return [word for word in helped(command, columns).split() if word != "\\"]

    assert all(words(columns) == words(200) for columns in WIDTHS)


def examples(text: str) -> list[list[str]]:
    """Commands in a help, as a shell splits them; what stands beside one or below it says what it does."""
    found = re.findall(r"^  (heatsim (?:.*\\\n)*.*)", text, flags=re.MULTILINE)
    whole = [re.sub(r"\\\n *", "", each) for each in found]
    return [
        shlex.split(re.split(r" {2,}", each)[0] if "\\\n" not in first else each) for each, first in zip(whole, found, strict=True)
    ]


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("columns", WIDTHS)
def test_examples_are_the_same_commands_at_any_width(command, columns, helped) -> None:
    assert examples(helped(command, columns)) == examples(helped(command, 200))


def test_there_are_examples_to_be_tried(helped) -> None:
    assert sum(len(examples(helped(command, 80))) for command in COMMANDS) > 20


def test_an_option_stays_with_its_value_and_what_an_example_does_comes_below_it() -> None:
    text = 'examples:\n  heatsim parts --near "40 x 24 x 14.5 mm" --kind rings  which ring is this?\n'
    told = layout.HelpLayout("x", width=40)._fill_text(text, 40, "")
    assert told.split("\n") == [
        "examples:",
        "  heatsim parts \\",
        '    --near "40 x 24 x 14.5 mm" \\',
        "    --kind rings",
        "      which ring is this?",
    ]


def test_help_is_no_wider_than_is_read_easily(helped) -> None:
    assert max(map(len, helped("match", 500).split("\n"))) <= layout.WIDEST


@pytest.mark.parametrize("columns", ["1", "0", "-5", "wide", "10"])
def test_odd_widths_do_no_harm(columns, monkeypatch, capsys) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    for command in COMMANDS:
        with pytest.raises(SystemExit) as left:
            main([*([command] if command else []), "--help"])
        assert left.value.code == 0
    assert capsys.readouterr().err == ""
