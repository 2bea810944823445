# SPDX-License-Identifier: GPL-3.0-or-later
"""What is printed: the verdict first, the answers, limits that do not hold, and how far a heat is while it runs."""

import io
from dataclasses import replace

import pytest

from heatsim.report.base.live import fitted
from heatsim.report.heat import done_words, show, watching
from heatsim.report.heat.progress import progress_lines
from heatsim.studies.heat import Progress
from tests.report.heat import example


def printed(result, width=100):
    stream = io.StringIO()
    show(result, stream, width)
    return stream.getvalue()


def test_the_verdict_comes_first_and_cautions_last():
    told = printed(example.broken())
    lines = told.splitlines()
    assert lines[0].split("   ")[0] == "Bench heater" and "GETS THERE, BUT BREAKS A LIMIT" in lines[0]
    assert lines[1] == "The core is at 850 °C after 1 min 15 s; the surface is then at 865 °C."
    order = [
        told.index(text) for text in ("time to reach it", "What happens when", "Limits to see to", "How well it is known", "Note: ")
    ]
    assert order == sorted(order) and lines[-1].endswith("A simulation does not make a build safe.")


def test_limits_that_do_not_hold_are_told_with_what_to_do():
    told = printed(example.broken())
    assert "142 °C ≤ 105 °C" in told and "from 5 min 00 s on" in told and "→ Blow air over the chokes." in told
    kept = replace(example.sound(), limits=tuple(each for each in example.sound().limits if each.grade == "holds"))
    assert "Limits to see to" not in printed(kept) and "GETS THERE AND HOLDS" in printed(kept)


@pytest.mark.parametrize("make", [example.example, example.broken, example.short_of])
@pytest.mark.parametrize("width", [60, 80, 132])
def test_it_fits_the_width(make, width):
    assert max(map(len, printed(make(), width).splitlines())) <= width


def test_no_control_character_reaches_the_terminal():
    hostile = replace(example.example(), piece=example.HOSTILE, cautions=(example.HOSTILE,), end_words=example.HOSTILE)
    assert "\x1b" not in printed(hostile)


def test_the_lines_of_progress():
    def told(now: Progress, width: int = 200) -> list[str]:
        return [fitted(line.said(100.0), width) for line in progress_lines(now, 138.0)]

    now = Progress(42.3, 655.2, 611.8, 850.0, 9, "heating", 0.7)
    assert told(now) == [
        "612 to 655 °C, wanted 850 °C · 38 s left in this step · 42 s into the heat",
        "heating · 9 states of the heater simulated",
    ]
    assert told(now, 40) == ["612 to 655 °C, wanted 850 °C · 38 s left", "heating"]
    assert told(now, 39) == ["612 to 655 °C · 38 s left in this step", "heating"]
    assert told(now, 20) == ["612 to 655 °C", "heating"]
    cold = told(Progress(0.0, 20.0, 20.0, 850.0, 1, "simulating the cold piece"))
    assert cold[0].startswith("20 °C, wanted 850 °C") and cold[1].endswith("1 state of the heater simulated")


def test_progress_off_a_terminal_is_a_line_now_and_then_and_the_last():
    stream = io.StringIO()
    with watching(False, stream) as watch:
        for when in (0.0, 1.0, 2.0):
            watch(Progress(when, 20.0 + 15.0 * when, 20.0, 850.0, 1, "heating"))
        watch(Progress(3.0, 860.0, 851.0, 850.0, 4, "judging"))
    lines = stream.getvalue().splitlines()
    assert len(lines) == 2 and "heating · 1 state" in lines[0] and "judging · 4 states" in lines[1]
    assert watch.latest is not None and done_words(watch.latest) == "The 4 states of the heater simulated so far"
    assert done_words(None) == "Simulated states of the heater"


def test_nothing_is_told_when_hushed():
    stream = io.StringIO()
    with watching(True, stream) as watch:
        watch(Progress(3.0, 860.0, 851.0, 850.0, 4, "judging"))
    assert stream.getvalue() == ""
