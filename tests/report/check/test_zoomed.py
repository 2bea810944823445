# SPDX-License-Identifier: GPL-3.0-or-later
"""Figures of a check that can be zoomed, and its page in a browser."""

from dataclasses import replace

import numpy as np
import pytest

from heatsim.report.base.words import value_text
from heatsim.report.check import write_folder, zoomed
from heatsim.report.check.figures import last_periods
from tests.support.browser import LARGEST, opened
from tests.support.results import checks as made


def test_a_case_without_waveforms_has_no_figures():
    failed = made.failed("idle", "crashed")
    assert [draw(failed) for draw in zoomed.of_case(2)] == [None, None]


def test_one_case_has_nothing_to_be_laid_over():
    assert zoomed.over_one_another([made.case()]) is None
    assert "Waveforms of idle, loaded over one another" in zoomed.over_one_another(made.result().cases).text


def test_what_is_kept_is_said():
    case = made.case()
    periods, startup = (draw(case) for draw in zoomed.of_case(2))
    assert f"All {last_periods(case, 6).time.size:,} simulated samples" in periods.kept
    assert f"Of {case.waveforms.time.size:,} samples" in startup.kept


def test_more_cases_have_less_each_and_it_is_said(tmp_path):
    """Half the periods of three, none of four: a page stays under 3 MB."""
    case = made.case()
    periods, startup = (draw(case) for draw in zoomed.of_case(3))
    assert f"All {last_periods(case, 3).time.size:,} simulated samples of 3 periods are here." in periods.kept
    assert "each of 500 equal slices" in startup.kept
    assert zoomed.of_case(4) == () and zoomed.over_one_another([case] * 5) is None
    two = made.result()
    four = replace(two, cases=tuple(replace(one, name=f"{one.name}{k}") for k in range(2) for one in two.cases))
    page = write_folder(four, tmp_path)[0].read_text("utf-8")
    assert zoomed.STILL in page and "over one another" in page and "simulated samples of" not in page
    assert zoomed.STILL not in write_folder(two, tmp_path / "two")[0].read_text("utf-8")


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    result = made.result()
    return result, write_folder(result, tmp_path_factory.mktemp("report"))[0]


@pytest.mark.slow
def test_the_pointer_reads_what_was_simulated(report):
    result, page = report
    case = result.cases[0]
    waves = last_periods(case, zoomed.PERIODS)
    place = int(np.searchsorted(waves.time, waves.time[0] + 1.3 / made.FREQUENCY))
    with opened(page) as shown:
        assert shown.draw() == 5
        read = shown.point(waves.time[place] - waves.time[0], panel=0, figure=1)
        for name, signal in (("tank", "tank.voltage"), ("left drain", "drain.left.voltage")):
            assert read[name] == value_text(float(waves[signal][place]), "V", 4)
        assert not shown.messages and not shown.requests


@pytest.mark.slow
@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("width", [1200, 400])
def test_the_page_is_whole_and_readable(report, width, dark):
    result, page = report
    assert page.stat().st_size < LARGEST
    with opened(page, width, dark) as shown:
        shown.draw()
        text = " ".join(shown.text.split())
        for _, finding in result.findings:
            assert " ".join(finding.limit.split()) in text and finding.grade in text
            assert finding.value is None or value_text(finding.value, finding.unit) in text
        assert shown.overflow == 0 and not shown.messages and not shown.requests
        assert not shown.violations()


A4 = 688
"""Pixels across a sheet of A4 between the margins that the page asks for (210 mm less twice 14 mm, 96 to an inch)."""


@pytest.mark.slow
def test_on_paper_nothing_is_cut_off_and_pictures_stand_still(report):
    _, page = report
    with opened(page, A4) as shown:
        shown.page.emulate_media(media="print")
        assert shown.overflow == 0
        every = "[...document.querySelectorAll('main table, main figure')]"
        assert not shown.page.evaluate(f"{every}.filter(e => e.getBoundingClientRect().right > innerWidth + 1).length")
        assert not shown.page.locator(".zoomable").first.is_visible() and shown.page.locator(".still").first.is_visible()
