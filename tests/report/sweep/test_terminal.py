# SPDX-License-Identifier: GPL-3.0-or-later
"""Sweeps on the terminal: progress, findings, status, in a pipe and at 80 columns."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console

from heatsim.report.base.live import Lines, fitted
from heatsim.report.base.terminal import print_blocks
from heatsim.report.sweep import terminal as report
from heatsim.report.sweep.view import SweepView
from heatsim.studies.points import Point
from heatsim.studies.store import SweepInfo
from heatsim.studies.sweep import SweepProgress, Worst
from tests.support.results.sweeps import made

WORST = Worst(-0.1234, "choke.right: temperature", Point((("supply.voltage", "60 V"), ("choke.turns", 18)), "loaded"))


def told(**changes) -> SweepProgress:
    """Half done."""
    usual = {"total": 1400, "known": 0, "done": 700, "failed": 0, "rate": 12.34, "left_s": 56.7, "worst": WORST}
    return SweepProgress(**(usual | changes))


def test_the_line_of_progress() -> None:
    def line(**changes) -> str:
        return fitted(report.progress_lines(told(**changes), 1000.0)[0].said(1000.0), 200)

    assert line() == "700 of 1,400 points · 57 s left · 12.3 a second"
    assert line(failed=3, rate=None, left_s=None) == "700 of 1,400 points · 3 without a result"
    assert line(done=1400) == "1,400 of 1,400 points"


def test_the_worst_so_far() -> None:
    told = ["least headroom −12.4 %", "right choke: temperature", "supply voltage 60 V, choke turns 18 (loaded)"]
    assert report.worst_parts(WORST) == told
    assert report.worst_parts(Worst(0.5, "", None)) == ["least headroom +50.0 %"] and report.worst_parts(None) == []


def test_a_pipe_gets_a_line_now_and_then(monkeypatch) -> None:
    stream = io.StringIO()
    with report.watching(stream=stream) as watch:
        for done in range(1, 1401):
            watch(told(done=done))
    lines = stream.getvalue().splitlines()
    assert lines == ["1 of 1,400 points · 57 s left · 12.3 a second", "1,400 of 1,400 points"]
    with report.watching(hushed=True, stream=stream) as watch:
        watch(told())
    assert len(stream.getvalue().splitlines()) == 2 and watch.latest == told()


def test_a_terminal_gets_two_lines_that_go_away() -> None:
    stream = io.StringIO()
    console = Console(file=stream, force_terminal=True, width=80, height=25, legacy_windows=False)
    console.print(Lines(report.progress_lines(told(), 1000.0), lambda: 1000.0))
    shown = stream.getvalue()
    assert "700 of 1,400 points" in shown and "least headroom" in shown and "━" in shown
    assert len(shown.splitlines()) == 2
    console.print(Lines(report.progress_lines(told(note="waiting"), 1000.0)))
    assert "waiting" in stream.getvalue()


def test_findings_of_a_sweep() -> None:
    def headroom(fields, case):
        return None if fields["supply.voltage"] > 58 else 41 / fields["supply.voltage"] - 1

    plan, frame = made(headroom, ["supply.voltage = 20 V to 60 V in 9"])
    frame.loc[2, ["outcome", "outcome_detail", "ends", "headroom"]] = ["stalled", "the simulator hung", "", float("nan")]
    view = SweepView(plan, frame)
    stream = io.StringIO()
    blocks = [report.grade_table(view), report.decides_table(view), *report.not_whole(view)]
    print_blocks(blocks, stream, width=100)
    words = " ".join(stream.getvalue().split())
    assert "choke: temperature" in words and "−25.5 % supply voltage 55 V (idle)" in words
    assert "oscillator: starts and settles" in words and "fails" in words
    assert "1 × stalled: the simulator hung, first at supply voltage 30 V (idle)" in words
    assert "holds 5 56 % 5 56 %" in words


def test_what_a_store_holds() -> None:
    plan, _ = made(
        lambda fields, case: 0.1, ["supply.voltage = 20 V, 30 V", "choke.turns = 18, 20"], ["gate.resistor = 5 %"], samples=8
    )
    stream = io.StringIO()
    one = SweepInfo(
        number=3,
        plan=plan,
        total=64,
        done=10,
        failed=1,
        least_headroom=-0.2,
        outcomes={"settled": 9},
        grades={"holds": 9},
        started=datetime(2026, 1, 2, tzinfo=UTC),
        last_put=None,
    )
    report.show_store(Path("points.db"), [one], stream, width=180)
    words = " ".join(stream.getvalue().split())
    assert "3 64 10 1 −20.0 % –" in words
    assert "Sweep 3: supply voltage × choke turns, 8 samples of gate resistor of bench-heater.toml" in words
    assert "computed by" not in words
    older = replace(one, number=4, plan=plan | {"made_with": {"heatsim": "0.0.1", "simulator": "ngspice-38", "code": "x"}})
    report.show_store(Path("points.db"), [one, older], stream, width=180)
    assert "Sweep 4 was computed by heatsim 0.0.1 with ngspice-38, other than today's." in " ".join(stream.getvalue().split())
    report.show_store(Path("points.db"), [], stream)
    assert "no sweep yet" in stream.getvalue()
    assert report.status_data(Path("points.db"), [one])["sweeps"][0]["done"] == 10


def test_a_store_breaks_no_word_at_80_columns() -> None:
    plan, _ = made(lambda fields, case: 0.1, ["supply.voltage = 20 V, 30 V", "capacitors.capacitance = 330 nF, 470 nF"])
    start = datetime(2026, 1, 2, tzinfo=UTC)
    one = SweepInfo(3, plan, 1_234_567, 1_000_000, 12_345, {}, {}, -0.2, start, start)
    stream = io.StringIO()
    report.show_store(Path("points.db"), [one], stream, width=80)
    expected = "Sweep 3: supply voltage × capacitors capacitance of bench-heater.toml 1,234,567 1,000,000 12,345 least headroom"
    assert max(map(len, stream.getvalue().splitlines())) <= 80
    assert set(expected.split()) <= set(stream.getvalue().split())


def test_how_much_an_interrupted_sweep_has_done() -> None:
    assert report.done_words(told(rate=None)) == "700 of 1,400 points"
    assert report.done_words(None) == report.done_words(told(done=0)) == ""


def test_points_whose_start_was_not_simulated_are_counted() -> None:
    plan, frame = made(lambda fields, case: 0.1, ["supply.voltage = 20 V to 60 V in 9"])
    assert not list(report.not_whole(SweepView(plan, frame)))
    frame.loc[2:6, "method"] = "periodic"
    frame.loc[7, "method"] = "cold start, then periodic"
    _, told = report.not_whole(SweepView(plan, frame))
    assert str(told).startswith("At 6 of these points") and "switch-on" in str(told)
