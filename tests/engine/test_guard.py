# SPDX-License-Identifier: GPL-3.0-or-later
"""No deck brings commands or foreign files into the simulator, however they are dressed."""

from __future__ import annotations

import pytest

from heatsim.engine.guard import COMMANDS, DeckRefused, check_deck
from tests.support.engine import circuits

PLAIN = "* plain title\nV1 a 0 1\n{}\nR1 a 0 1k\n.tran 1u 1m uic\n.save v(a)\n.end\n"


def test_our_own_decks_pass() -> None:
    check_deck(circuits.heater().text)
    check_deck(circuits.ring_down().text)
    check_deck(PLAIN.format("* a comment, 47 µH at 85 °C, # and all"))
    check_deck(PLAIN.format("R2 a b\n+ 1k\nC1 b 0 1n"))


@pytest.mark.parametrize(
    "line",
    [
        ".control",
        ".CONTROL",
        "  .Control",
        "\t.control",
        ".include x",
        '.INCLUDE "/etc/hostname"',
        ".inc x",
        ".lib x y",
        ".exec",
        ".shell touch x",
        ".csparam x=1",
        ".func f(x) {x}",
        ".op",
        ".endc",
        ".hdl x",
        ".pre_osdi x",
        "*# shell touch x",
        "*#shell touch x",
        "  *#quit",
        "*ng_script",
        "*ng_script_with_params",
        "shell touch x",
        "SHELL touch x",
        "quit",
        "Quit",
        "source x",
        "set x",
        "unset x",
        "write x",
        "codemodel x",
        "A1 a b file",
        ".con\n+trol",
        ".con\\\\\n+trol",
        "R2 a b 1k \\\\\n.control",
        "$ .control",
        "; .control",
        "! x",
        "R2 a b 1k\x0b.control",
        "R2 a b 1k\x0c.control",
        "R2 a b 1k\r.control",
        "* x\x85.control",
        "* x\u2028.control",
        "* x\x1e.control",
        "R2 a b 1k\x00",
        "`touch x`",
        "$(touch x)",
        "R-2 a b 1k",
        '"R2" a b 1k',
        "%x",
        "#x",
        "<x",
    ],
)
def test_everything_else_is_refused(line: str) -> None:
    with pytest.raises(DeckRefused, match=r"^line \d"):
        check_deck(PLAIN.format(line))


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_no_command_passes_for_a_part(command: str) -> None:
    for dressed in (command, command.upper(), f"  {command} x y"):
        with pytest.raises(DeckRefused):
            check_deck(PLAIN.format(dressed))


@pytest.mark.parametrize(
    "title",
    [
        "*ng_script",
        "*# quit",
        "*#quit",
        ".control",
        "no star",
        "* ",
        "*",
        "* semi;colon",
        "* back`tick",
        "* a\x0bb",
        "* quote'",
        "* dollar$",
        "* new\r",
        "",
        "* µ",
    ],
)
def test_titles_are_plain(title: str) -> None:
    with pytest.raises(DeckRefused, match="line 1"):
        check_deck(PLAIN.format("").replace("* plain title", title, 1))


def test_the_fault_names_its_line() -> None:
    with pytest.raises(DeckRefused, match=r"line 3: a directive that is not allowed: \.include"):
        check_deck(PLAIN.format(".include secrets.txt"))


def test_a_deck_ends_with_its_end() -> None:
    with pytest.raises(DeckRefused, match="something follows"):
        check_deck(PLAIN.format("") + "* more\n")
    with pytest.raises(DeckRefused, match="no .end"):
        check_deck(PLAIN.format("").replace(".end", ""))
    with pytest.raises(DeckRefused, match="continuation of nothing"):
        check_deck(PLAIN.format("").replace("V1", "+ V1"))
