# SPDX-License-Identifier: GPL-3.0-or-later
"""A sweep on its page in a browser: points are read as they are in the store; what cannot be zoomed is left still."""

from datetime import UTC, datetime

import pytest

from heatsim.report.base.page import Shown
from heatsim.report.base.sheet import Picture
from heatsim.report.sweep.page import render_page
from heatsim.report.sweep.view import SweepView
from heatsim.report.sweep.zoomed import zoomed
from heatsim.studies.store import SweepInfo
from tests.support.browser import LARGEST, opened
from tests.support.results.sweeps import falling, made

VOLTAGES, LOADS = "supply.voltage = 20 V to 60 V in 9", "load = 0 % to 100 % in 11"
STILL = Shown("The sweep", "A caption.", '<svg viewBox="0 0 1 1"><path d="M0 0"/></svg>')


def page(plan, frame, path):
    info = SweepInfo(1, plan, len(frame), len(frame), 0, {}, {"fails": 1}, None, datetime(2026, 1, 2, tzinfo=UTC), None)
    picture = Picture.of(STILL, "Numbers below", zoomed=zoomed(SweepView(plan, frame)))
    path.write_text(render_page(info, frame, (picture,), ""), encoding="utf-8")
    return path


def test_a_point_of_a_map_is_read_as_it_is_stored(tmp_path):
    path = page(*made(falling, [VOLTAGES, LOADS], cases=["loaded"]), tmp_path / "report.html")
    assert path.stat().st_size < LARGEST
    with opened(path) as seen:
        seen.assert_sound(figures=1)
        assert seen.along() == pytest.approx((20.0, 60.0))
        assert seen.point(50.0) == {
            "supply voltage": "50.00 V",
            "load": "50.00 %",
            "least headroom": "−18.00 %",
            "decides": "left choke: temperature",
            "grade": "fails",
            "tank peak voltage": "155.0 V",
        }


def test_lines_are_read_case_by_case_also_on_a_phone(tmp_path):
    path = page(*made(falling, [VOLTAGES]), tmp_path / "report.html")
    with opened(path, width=400, dark=True) as seen:
        seen.assert_sound(figures=1)
        read = seen.point(40.0, panel=2)  # the largest peak current of a choke, a third of the volts
        assert (read["idle"], read["loaded"]) == ("13.33 A", "13.33 A")


def test_maps_come_one_for_each_case():
    found = zoomed(SweepView(*made(falling, [VOLTAGES, "gate.resistor = 2 ohm to 8 ohm in 7"])))
    assert found.count('class="zoomable"') == 2 and "Least headroom, idle" in found and "Least headroom, loaded" in found


@pytest.mark.parametrize(
    ("vary", "more"),
    [
        ([VOLTAGES, "gate.resistor = 2 ohm to 8 ohm in 7", "choke.turns = 18, 19, 20"], {}),
        (["choke.core.material = fe-si-al-60, mpp-60"], {}),
        ([], {"tolerance": ["gate.resistor = 5 %"], "samples": 16}),
    ],
)
def test_what_does_not_fit_stays_still(vary, more):
    assert zoomed(SweepView(*made(falling if vary[:1] == [VOLTAGES] else lambda fields, case: 0.1, vary, **more))) == ""


def test_other_outputs_and_sweeps_without_results_stay_still():
    plan, frame = made(falling, [VOLTAGES])
    assert zoomed(SweepView(plan, frame), ["tank.frequency_hz"]) == "" and zoomed(SweepView(plan, frame.iloc[:0])) == ""
