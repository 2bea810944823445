# SPDX-License-Identifier: GPL-3.0-or-later
"""Readings beside a capture on screen, page and in results.json."""

import json
from dataclasses import replace

from heatsim.report.match import terminal, write_folder
from tests.support.results import matches


def told(result):
    """The text in one line."""
    return " ".join(" ".join(terminal.lines(result)).split())


def test_what_each_cause_makes_of_a_reading_is_told():
    text = told(matches.result(readings=(matches.CURRENT,)))
    assert "supply mean current, loaded: read 8.2 A ± 160 mA, the scenario leads to expect 9.1 A" in text
    assert "one choke weaker than the other 8.16 A (+0.5 standard deviations)" in text
    assert "both chokes saturating 8.6 A (−5.0 standard deviations, contradicts it)" in text
    assert "Warning: the reading" not in text


def test_a_reading_that_contradicts_the_nearest_cause_is_warned_of():
    odd = replace(matches.CURRENT, value=9.0)
    assert "Warning: the reading supply.mean_current = 8.2 A contradicts the best fit of one choke weaker" in told(
        matches.result(readings=(odd,))
    )


def test_nothing_is_said_without_readings():
    assert "Readings beside" not in told(matches.result())


def test_page_and_results_hold_them(tmp_path):
    write_folder(matches.result(readings=(matches.CURRENT,)), tmp_path)
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert "supply mean current, loaded: read 8.2 A" in page and "−5.0 standard deviations" in page
    (data,) = json.loads((tmp_path / "results.json").read_text(encoding="utf-8"))["readings"]
    assert data["key"] == "supply.mean_current_a" and data["causes"]["both chokes saturating"]["chi_square"] > 24.9
