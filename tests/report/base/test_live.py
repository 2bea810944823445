# SPDX-License-Identifier: GPL-3.0-or-later
"""Live lines: what fits, when work will be done, what is drawn on a terminal and written elsewhere."""

from __future__ import annotations

import io

import pytest
from rich.cells import cell_len
from rich.console import Console

from heatsim.report.base import live
from heatsim.report.base.live import AT_MOST, IN_THIS_STEP, Cases, Line, Lines, Remaining, fitted
from tests.support.screen import Screen


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def drawn(lines: list[Line], width: int, now: float = 0.0, encoding: str = "utf-8") -> list[str]:
    """Lines as a terminal of this width shows them."""
    stream = Screen(encoding)
    console = Console(file=stream, width=width, height=25, force_terminal=True, no_color=True, legacy_windows=False)
    console.print(Lines(lines, lambda: now))
    plain = stream.getvalue().replace("\x1b[2m", "").replace("\x1b[0m", "")
    return plain.removesuffix("\n").split("\n")


def test_what_does_not_fit_is_left_out_whole_and_the_more_important_stays() -> None:
    parts = ["700 of 1,400 points", ("57 s left in this step", "57 s left"), "12.3 a second"]
    assert fitted(parts, 80) == "700 of 1,400 points · 57 s left in this step · 12.3 a second"
    assert fitted(parts, 50) == "700 of 1,400 points · 57 s left · 12.3 a second"
    assert fitted(parts, 45) == "700 of 1,400 points · 57 s left in this step"
    assert fitted(parts, 35) == "700 of 1,400 points · 57 s left"
    assert fitted(parts, 20) == "700 of 1,400 points" and fitted(parts, 19) == "700 of 1,400 points"
    assert fitted(parts, 10) == "57 s left" and fitted(parts, 5) == ""


def test_signs_that_take_two_columns_count_as_two() -> None:
    assert fitted(["線圈線圈"], 7) == "" and fitted(["線圈線圈"], 8) == "線圈線圈"


@pytest.mark.parametrize("width", range(40, 121))
def test_no_line_is_longer_than_the_terminal_and_every_word_of_it_is_whole(width) -> None:
    lines = [
        Line(["1,234,567 of 2,000,000 points", "12.3 a second"], 0.62, ends=4000.0),
        Line(["least headroom −12.4 %", "right choke: temperature", "supply voltage 60 V (loaded)"], aside=True),
        Line(["case loaded", "1.00 of 2.00 ms"], 0.5, aside=True),
    ]
    parts = [part for line in lines for part in line.said(0.0)]
    words = {word for part in parts for word in (part if isinstance(part, str) else " ".join(part)).split()} | {"·"}
    for shown in drawn(lines, width):
        assert cell_len(shown) <= width
        assert {word for word in shown.split() if word.strip("━─")} <= words, shown


def test_a_bar_is_drawn_where_there_is_room_and_ends_with_its_share() -> None:
    line = Line(["1 of 4 points"], 0.25)
    (shown,) = drawn([line], 80)
    assert shown == "━" * 7 + "─" * 21 + "  1 of 4 points"
    assert drawn([line], 40) == ["━" * 6 + "─" * 19 + "  1 of 4 points"]
    assert drawn([line], 20) == ["1 of 4 points"]
    assert drawn([Line(["done"], 7.0)], 80)[0] == "━" * 28 + "  done", "a share beyond one is all of it"


def test_a_terminal_without_such_signs_gets_plain_ones() -> None:
    (shown,) = drawn([Line(["°C · µH"], 0.5)], 60, encoding="ascii")
    assert shown.isascii() and shown.endswith("deg C . uH")


def test_the_time_left_runs_down_between_two_reports() -> None:
    line = Line(["half"], ends=100.0)
    assert [drawn([line], 40, now)[0] for now in (0.0, 40.0, 99.0, 99.8, 130.0)] == [
        "half · 1 min 40 s left",
        "half · 1 min 00 s left",
        "half · 1 s left",
        "half",
        "half",
    ]
    assert drawn([Line(["half"], ends=9.0, left=AT_MOST)], 40)[0] == "half · at most 9 s left"
    assert drawn([Line(["half"], ends=9.0, left=IN_THIS_STEP)], 40)[0] == "half · 9 s left in this step"


def test_even_work_is_done_when_it_was_estimated_to_be() -> None:
    clock = Clock()
    remaining = Remaining(clock)
    begun, told = clock.now, []
    for step in range(41):
        clock.now = begun + step
        told.append(remaining.at(step / 40))
    assert told[0] is None, "nothing has been done yet"
    assert all(ends == pytest.approx(begun + 40.0, abs=1e-6) for ends in told[1:])


def test_work_that_slows_down_is_judged_by_its_latter_half() -> None:
    """Three quarters take 10 s, the rest 30 s: soon after the change the rest of it is estimated, not that of the beginning."""
    clock = Clock()
    remaining = Remaining(clock)
    begun = clock.now
    ends = None
    for tenth in range(250):
        clock.now = begun + tenth / 10
        passed = tenth / 10
        ends = remaining.at(0.75 * min(passed, 10) / 10 + 0.25 * max(passed - 10, 0) / 30)
    assert ends == pytest.approx(begun + 40.0, rel=0, abs=1.0)


def test_another_step_begins_anew() -> None:
    clock = Clock()
    remaining = Remaining(clock)
    for share in (0.0, 0.5, 1.0):
        remaining.at(share)
        clock.now += 10
    assert remaining.at(0.0) is None
    clock.now += 2
    assert remaining.at(0.1) == pytest.approx(clock.now + 18)


def test_nothing_is_estimated_within_the_first_second() -> None:
    clock = Clock()
    remaining = Remaining(clock)
    remaining.at(0.0)
    clock.now += 0.5
    assert remaining.at(0.4) is None


def test_cases_count_by_the_time_they_simulate() -> None:
    clock = Clock()
    cases = Cases(3, ("idle", "loaded"), clock=clock)
    cases.told(0, 0.0, 2e-3)
    clock.now += 2
    cases.told(0, 1e-3, 2e-3)
    assert cases.share == pytest.approx(1 / 6), "the two that have not begun are expected to be as long"
    total, case = cases.lines()
    assert total.parts == ["0 of 3 cases simulated"] and total.ends == pytest.approx(clock.now + 10)
    assert case.parts == ["case idle", "1.00 of 2.00 ms"]
    for index in range(3):
        cases.told(index, 2e-3, 2e-3)
    assert cases.over and cases.share == 1.0 and cases.lines()[0].parts == ["3 of 3 cases simulated"]


def test_a_case_that_goes_on_longer_than_it_aimed_at_undoes_nothing() -> None:
    cases = Cases(2, ("idle", "loaded"))
    cases.told(0, 2e-3, 2e-3)
    cases.told(0, 2e-3, 3e-3)
    total, *_ = cases.lines()
    assert total.parts == ["1 of 2 cases simulated"] and total.share == 0.5


def test_a_single_case_has_one_line_with_its_name() -> None:
    cases = Cases(1, ("loaded",))
    assert cases.lines() == []
    cases.told(0, 1e-3, 4e-3)
    (line,) = cases.lines()
    assert line.parts == ["case loaded", "1.00 of 4.00 ms"] and line.share == 0.25


def test_not_more_cases_are_shown_than_are_looked_at() -> None:
    cases = Cases(40, [f"c{k}" for k in range(40)])
    for index in range(20):
        cases.told(index, 1e-3, 2e-3)
    assert len(cases.lines()) == 1 + live.RUNNING


def test_off_a_terminal_a_line_comes_now_and_then_and_when_long_work_is_done(monkeypatch) -> None:
    clock = Clock()
    monkeypatch.setattr("time.monotonic", clock)
    stream = io.StringIO()
    with live.live(stream=stream, patience=0.0) as update:
        for tenth in range(901):
            clock.now = 1000.0 + tenth / 10
            update([Line(["going"], tenth / 900, ends=1090.0), Line(["aside"], aside=True), Line(["drawing"])], tenth == 900)
    said = ["going · 1 min 30 s left", "going · 1 min 00 s left", "going · 30 s left", "going"]
    assert stream.getvalue().splitlines() == [f"{each} · drawing" for each in said]


def test_work_that_may_be_short_says_nothing_at_first_off_a_terminal(monkeypatch) -> None:
    clock = Clock()
    monkeypatch.setattr("time.monotonic", clock)
    stream = io.StringIO()
    with live.progress(names=["loaded"], stream=stream) as watch:
        for second in range(35):
            watch(0, second / 1e3, 40e-3)
            clock.now += 1
    (line,) = stream.getvalue().splitlines()
    assert line.startswith("case loaded · 10 s left · 30.00 of 40.00 ms")


@pytest.mark.parametrize("tty", [True, False])
def test_hushed_nothing_is_said(tty) -> None:
    screen = Screen(tty=tty)
    with live.live(True, screen, patience=0.0) as update:
        update([Line(["x"], 1.0)], True)
    with live.steps(True, screen) as tell:
        tell("x", 1.0)
    assert screen.getvalue() == ""


def test_a_terminal_that_can_do_nothing_gets_plain_lines(monkeypatch) -> None:
    monkeypatch.setenv("TERM", "dumb")
    screen = Screen()
    with live.live(stream=screen, patience=0.0) as update:
        update([Line(["going"], 0.5)])
    assert screen.getvalue() == "going\n"


def test_progress_shows_each_case_and_leaves_nothing(monkeypatch) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLUMNS", "100")
    screen = Screen()
    with live.progress(names=("idle", "loa\x1bded"), stream=screen) as watch:
        watch(0, 1e-3, 2e-3)
        watch(1, 1.5e-3, 2e-3)
        watch.note("writing the report")
    text = screen.getvalue()
    said = ("case idle", "case loa\N{REPLACEMENT CHARACTER}ded", "1.00 of 2.00 ms", "0 of 2 cases simulated", "writing the report")
    assert all(each in text for each in said)
    assert text[text.rindex("writing the report") :].count("\x1b[2K") >= 3, "its lines are wiped at the end"
