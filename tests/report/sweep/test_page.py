# SPDX-License-Identifier: GPL-3.0-or-later
"""The page of a sweep: verdict first, summaries that agree with the points, small however many there are."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import numpy as np
import pytest

from heatsim.report.base.sheet import Picture
from heatsim.report.sweep import summary
from heatsim.report.sweep.page import headline, render_page, sheet, tone
from heatsim.report.sweep.view import SweepView
from heatsim.studies.store import FAILED, SweepInfo
from tests.report.check.test_page import Tree
from tests.support.results.sweeps import falling, made

PICTURE = Picture("The sweep", "A caption.", '<svg viewBox="0 0 1 1"><path d="M0 0"/></svg>')
VOLTAGES, RESISTORS = "supply.voltage = 20 V to 60 V in 9", "gate.resistor = 2 ohm to 8 ohm in 7"


def told(plan, frame, **more):
    """What a store says of a sweep."""
    outcomes, grades = frame["outcome"].value_counts(), frame["grade"].value_counts()
    usual = {
        "number": 1,
        "plan": plan,
        "total": len(frame),
        "done": len(frame),
        "failed": int(frame["outcome"].isin(FAILED).sum()),
        "outcomes": outcomes.to_dict(),
        "grades": grades.to_dict(),
        "least_headroom": None,
        "started": datetime(2026, 1, 2, tzinfo=UTC),
        "last_put": None,
    }
    return SweepInfo(**(usual | more))


def page(plan, frame, **more):
    return render_page(told(plan, frame, **more), frame, (PICTURE,), "points.db: every point")


def test_the_verdict_comes_first():
    plan, frame = made(falling, [VOLTAGES, RESISTORS])
    tree = Tree(page(plan, frame))
    assert tree.texts[0] == "Bench heater: 42 of 126 points fail"  # 45 V and above loaded, 55 V and above idle
    assert (
        tree.texts[4] == "Least headroom −31.7 % (left choke: temperature), at supply voltage 60 V, gate resistor 2 ohm (loaded)."
    )
    assert "42 fail; 84 hold with the headroom wanted." in tree.text


@pytest.mark.parametrize(
    ("grades", "word", "grade"),
    [
        ({"holds": 4}, "all 4 points hold", "holds"),
        ({"holds": 3, "marginal": 1}, "1 of 4 points holds, but only just", "marginal"),
        ({"holds": 1, "unknown": 3}, "3 of 4 points cannot be judged", "unknown"),
        ({"marginal": 2, "unknown": 1, "fails": 1}, "1 of 4 points fails", "fails"),
    ],
)
def test_the_worst_grade_is_the_verdict(grades, word, grade):
    info = told(*made(falling, ["supply.voltage = 20 V, 30 V"]), grades=grades)
    assert (headline(info), tone(info)) == (word, grade)


def test_a_sweep_that_was_interrupted_says_so():
    plan, frame = made(falling, [VOLTAGES], cases=["loaded"])
    so_far = frame.drop(index=[7, 8])
    text = Tree(page(plan, so_far, total=9, done=7)).text
    assert "2 of 7 points so far fail" in text and "7 of 9 points are done; the same command goes on" in text
    assert "not done yet" in text
    assert headline(told(plan, frame.iloc[:0], total=9)) == "nothing is simulated yet"
    Tree(page(plan, frame.iloc[:0], total=9))


def test_what_each_field_does_agrees_with_the_points():
    plan, frame = made(falling, [VOLTAGES, RESISTORS])
    rows = [cells for _, cells in Tree(page(plan, frame)).rows]
    assert ["45 V", "14", "7", "0", "7", "−8.9 %", "left choke: temperature"] in rows
    assert ["20 V", "14", "14", "0", "0", "+105.0 %", "left choke: temperature"] in rows
    assert ["2 ohm", "18", "12", "0", "6", "−31.7 %", "left choke: temperature"] in rows


def test_the_range_of_a_measure_is_that_of_the_points():
    plan, frame = made(falling, [VOLTAGES], cases=["loaded"])
    rows = [cells for _, cells in Tree(page(plan, frame)).rows]
    assert ["Tank peak voltage", "62 V", "124 V", "186 V", "186 V", "62 V"] in rows
    assert ["Choke peak current", "6.67 A", "13.3 A", "20 A", "20 A", "6.67 A"] in rows, "the larger of both chokes"


def test_best_and_worst_are_not_the_same_points():
    plan, frame = made(falling, ["supply.voltage = 20 V to 60 V in 7"], cases=["loaded"])
    (points,) = [section for section in sheet(told(plan, frame), frame, (PICTURE,), "").sections if section.id == "points"]
    worst, best = [[row[0] for row in block.rows] for block in points.blocks if block.kind == "table"]
    assert len(worst) == 5 and len(best) == 2 and not set(worst) & set(best)
    assert worst[0].startswith("supply voltage 60 V") and best[0].startswith("supply voltage 20 V")


def test_points_that_do_not_run_are_the_worst():
    plan, frame = made(lambda fields, case: None if fields["supply.voltage"] < 30 else 0.2, [VOLTAGES], cases=["loaded"])
    view = SweepView(plan, frame)
    assert summary.ranked(view)[:2] == [0, 1]
    text = Tree(page(plan, frame)).text
    assert "At supply voltage 20 V (loaded) it does not run: oscillator: starts and settles." in text and "does not run" in text


def test_points_without_a_result_are_a_warning_with_their_cause():
    plan, frame = made(falling, [VOLTAGES])
    frame.loc[2, ["outcome", "outcome_detail", "ends", "grade", "headroom"]] = ["stalled", "it hung", "", "unknown", float("nan")]
    found = sheet(told(plan, frame), frame, (PICTURE,), "")
    assert "1 points have no result: 1 × stalled: it hung, first at supply voltage 30 V (idle)." in found.flags


def test_samples_tell_what_moves_the_headroom():
    def linear(fields, case):
        return 0.1 - 4 * (fields["gate.resistor"] / 4.7 - 1) + 1 * (fields["gate.pull_down"] / 1e4 - 1)

    plan, frame = made(linear, tolerance=["gate.pull_down = 5 %", "gate.resistor = 5 %"], cases=["loaded"], samples=64)
    rows = [cells for _, cells in Tree(page(plan, frame)).rows]
    assert rows.index(["gate resistor", "−40 points"]) + 1 == rows.index(["gate pull down", "+10 points"])
    assert "± 5 % round its value in the file" in page(plan, frame)


def test_stretches_take_neighbours_together_and_lose_no_point():
    view = SweepView(*made(falling, ["supply.voltage = 60 V to 20 V in 50"]))
    found = summary.stretches(view, 0)
    assert len(found) == summary.STRETCHES
    assert sorted(np.concatenate([each.places for each in found]).tolist()) == list(range(100))
    assert found[0].label.startswith("20 V to ") and found[-1].label.endswith("to 60 V")


def test_a_page_of_thousands_of_points_is_small():
    plan, frame = made(falling, ["supply.voltage = 20 V to 60 V in 60", "gate.resistor = 2 ohm to 8 ohm in 50"], cases=["loaded"])
    text = page(plan, frame)
    assert len(frame) == 3000 and len(text) < 80_000


def test_limits_open_to_what_they_are_and_nothing_comes_from_outside():
    text = page(*made(falling, [VOLTAGES]))
    assert '<details class="about"><summary>choke: temperature</summary>' in text
    assert all(link.startswith("#") for link in re.findall(r'(?:href|src)="([^"]*)"', text))
    assert "Before switching anything on" in text and "SHA-256" in text
