# SPDX-License-Identifier: GPL-3.0-or-later
"""The terminal's output: everything that matters is there as words, at any width, in a pipe, without colour."""

import re
from dataclasses import replace

import pytest

from heatsim.report.check import terminal
from heatsim.studies.check import CheckWarning
from tests.support.results import checks as made
from tests.support.screen import Screen


def shown(result, width=80, **options):
    stream = Screen(tty=False)
    terminal.show(result, stream=stream, width=width, **options)
    return stream.getvalue()


@pytest.mark.parametrize("width", [60, 80, 120])
def test_no_line_is_wider_than_the_terminal(width):
    for verbose in (False, True):
        lines = shown(made.result(), width, verbose=verbose).splitlines()
        assert max(len(line) for line in lines) <= width


def test_verdict_cases_findings_and_folder_are_there():
    text = shown(made.result(), 120)
    assert re.search(r"^Bench heater +FAILS$", text, re.MULTILINE)
    assert "2 of 12 limits fail; the worst: right choke, inductance left at the peak" in text
    assert re.search(r"^loaded +settled +80 kHz +132 V +1.73 % +26.4 A +1.11 kW +420 µs$", text, re.MULTILINE)
    assert re.search(r"^fails +loaded +chokes, both +inductance left at the peak +30.5 % +≥ 50 % +−39 % ◂◂···$", text, re.MULTILINE)
    assert re.search(r"^marginal +loaded +supply +mean current +33 A +≤ 35 A +\+5 % █····$", text, re.MULTILINE)
    assert re.search(r"^unknown +loaded +capacitors +peak voltage +131 V +– +–$", text, re.MULTILINE)


def test_warnings_follow_the_verdict_with_the_cases_they_are_about():
    warnings = (CheckWarning(("loaded",), "It repeats."), CheckWarning(("idle", "loaded"), "None has a workpiece."))
    result = replace(made.result(), warnings=warnings)
    lines = shown(result, 120).splitlines()
    assert lines[3:5] == ["Warning: Case loaded: It repeats.", "Warning: None has a workpiece."]
    assert result.as_dict()["warnings"][0] == {"cases": ["loaded"], "text": "It repeats."}
    assert "Warning" not in shown(made.result(), 120)


def test_the_worst_comes_first():
    grades = re.findall(r"^(fails|unknown|marginal|holds) +(?:idle|loaded) ", shown(made.result(), 120, verbose=True), re.M)
    assert grades == sorted(grades, key=["fails", "unknown", "marginal", "holds"].index)
    assert set(grades) == {"fails", "unknown", "marginal", "holds"}


def test_cause_and_remedy_stand_below_once():
    text = shown(made.result(), 120)
    assert text.count("Put 3 of these rings") == 1
    assert "fails left and right choke (loaded): inductance left at the peak" in text
    assert "  Cannot be judged: the rating is not given.\n  → Give the capacitor's voltage rating." in text


def test_what_holds_is_one_line_a_case_unless_asked_for():
    short, long = (shown(made.result(), 120, verbose=verbose) for verbose in (False, True))
    assert (
        "idle: 4 limits hold; tightest: left choke, current density in the copper, rms: 3.4 A/mm², at most 6 A/mm² "
        "allowed (+43 %)" in " ".join(short.split())
    )
    assert "lowest gate voltage" not in short
    assert long.count("lowest gate voltage") == 4 and "limits hold;" not in long


@pytest.mark.parametrize("outcome", ["dead", "latched", "stalled", "unsolved"])
def test_a_case_that_came_to_nothing_is_shown_as_such(outcome):
    text = shown(made.result(made.failed("loaded", outcome)), 100)
    assert re.search(rf"^loaded +{outcome}( +–){{6}}$", text, re.MULTILINE)
    assert f"It is {outcome}." in text and "→ Do better." in text
    assert "nan" not in text.lower() and "None" not in text


def test_colours_on_a_terminal_only_and_never_with_no_color(monkeypatch):
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    screen = Screen()
    terminal.show(made.result(), stream=screen, width=100)
    assert "\x1b[1;31m" in screen.getvalue()
    monkeypatch.setenv("NO_COLOR", "1")
    bare = Screen()
    terminal.show(made.result(), stream=bare, width=100)
    assert not re.search(r"\x1b\[[0-9;]*3[0-7]", bare.getvalue()) and "fails" in bare.getvalue()
    assert "\x1b" not in shown(made.result())


def test_an_output_of_few_signs_gets_plain_ones():
    poor = Screen(encoding="ascii", tty=False)
    terminal.show(made.result(), stream=poor, width=100)
    text = poor.getvalue()
    text.encode("ascii")
    assert "420 us" in text and "-39 % <<..." in text and "> Give the capacitor" in text


def test_hostile_names_stay_on_their_line():
    text = shown(made.result(name=made.HOSTILE), 120)
    assert "\x1b" not in text and "[31m{{ 7*7 }}" in text.splitlines()[0]


def test_nothing_of_a_finding_steers_the_terminal():
    finding = replace(made.FINDINGS[0], cause="saturates \x1b[2J", remedy="wind\x07 more")
    text = shown(made.result(made.case(findings=(finding,))), 120)
    assert "saturates" in text and "more" in text and not set("\x1b\x07") & set(text)
