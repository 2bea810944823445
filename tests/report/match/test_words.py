# SPDX-License-Identifier: GPL-3.0-or-later
"""A match in words."""

import re
from dataclasses import replace

import numpy as np
import pytest

from heatsim.report.match import terminal, words
from heatsim.studies.match import Measure, Spread
from heatsim.studies.match.faults import nuisance_parameters
from tests.support.results import matches


def told(result):
    """The text in one line."""
    return " ".join(" ".join(terminal.lines(result)).split())


@pytest.mark.parametrize(
    ("result", "sentence"),
    [
        (matches.result(), "Most likely: right choke weaker (odds more than 50 to 1 against the next, both chokes saturate)."),
        (
            matches.undecided(),
            "Undecided between right choke weaker and both chokes saturate: this capture cannot tell them apart.",
        ),
        (
            matches.led_by("nothing wrong"),
            "This capture shows nothing wrong (odds more than 50 to 1 against the next, right choke weaker): it is what the "
            "scenario predicts. A fault as small as the tolerances of parts would not show.",
        ),
        (
            matches.led_by("none of these"),
            "None of these causes explains the capture: the nearest, right choke weaker, leaves 1 "
            "times what noise and model allow.",
        ),
        (
            matches.led_by("heavy load", -40.0),
            "Most likely: heavy load (odds more than 50 to 1 against the next, right choke weaker).",
        ),
    ],
)
def test_the_answer_is_one_sentence(result, sentence):
    assert words.answer(result) == sentence
    assert sentence in told(result)


def test_what_no_cause_explains_is_outside_and_asks_for_no_remedy():
    result = matches.outside()
    text = told(result)
    assert words.answer(result).startswith(
        "Outside what heatsim knows: even the nearest cause, right choke weaker, leaves 2.5 times"
    )
    assert result.best.cause == "one choke weaker than the other" and not result.decided and result.exit_code == 1
    assert not matches.led_by("nothing wrong").outside
    assert "harmonic 3 of the tank voltage: 10.4 times" in text and "First check that this is the scenario" in text
    assert "Remedy" not in text and "95 % interval" not in text and "probabilities and odds only rank" in text
    assert "What the nearest fit leaves" in text


def test_nothing_wrong_is_not_said_of_a_misfit_of_27():
    sound = replace(matches.WEAKER, cause="nothing wrong", kind="nothing wrong", misfit=27.0)
    result = matches.result(candidates=(sound, *matches.OTHERS[:3]), cure=None)
    assert words.answer(result).startswith("Outside what heatsim knows") and result.exit_code == 1
    assert not (result.decided or result.clearly_first)


def test_what_fits_worse_than_right_answers_do_is_not_decided():
    best = replace(matches.WEAKER, misfit=1.1)
    result = matches.result(candidates=(best, *matches.OTHERS[:3]))
    assert not (result.outside or result.decided) and result.exit_code == 1
    assert words.answer(result).startswith("Undecided: right choke weaker is far ahead of the next, but it leaves 1.1 times")
    assert "Remedy if so" in told(result)


def test_how_far_from_the_ordinary_spread():
    near = words.spread_sentence(matches.outside().spread)
    assert "1.3 times as far" in near and near.endswith("furthest: capacitance of the bank by −2.2 standard deviations.")
    far = words.spread_sentence(Spread(84.0, (("ring_split", 173.0), ("load", -9.0))))
    assert "more than 5 times as far" in far and "173" not in far
    assert far.endswith("furthest: inductance of the left choke against the right and effect of the workpiece.")
    heater = matches.result().scenario.heater("loaded")
    assert set(words.SPREADS) == {each.name for each in nuisance_parameters(heater)}


def test_none_of_these_may_be_one_of_those_that_cannot_be_told_apart():
    result = matches.led_by("none of these", -1.0)
    assert words.answer(result).startswith("Undecided between none of these causes and right choke weaker:")


@pytest.mark.parametrize(
    ("measure", "unit", "text"),
    [
        (Measure(87_654.0, 2.3), "Hz", "87.654 kHz ± 2.3 Hz"),
        (Measure(141.31, None), "V", "141 V"),
        (Measure(0.0, 0.1), "V", "0 V"),
        (Measure(0.02, 0.05), "V", "20 mV ± 50 mV"),
        (Measure(-5.26, 0.5), "V", "−5.3 V ± 500 mV"),
        (Measure(1.5191, 0.0092), "", "1.519 ± 0.0092"),
    ],
)
def test_a_measure_has_the_digits_its_error_allows(measure, unit, text):
    assert words.found_text(measure, unit) == text


def test_causes_are_ranked_with_their_odds_and_those_ruled_out_marked():
    rows = {
        cells[0]: cells
        for line in terminal.lines(matches.result())
        if (cells := re.split(r"\s{2,}", line.strip())) and cells[0].isdigit()
    }
    assert rows["1"] == ["1", "one choke weaker than the other", "> 98 %", "–", "0.94"]
    assert rows["2"] == ["2", "both chokes saturating", "< 2 %", "< 1 to 50", "2.4"]
    assert rows["6"] == ["6", "heavy load", "< 2 %", "< 1 to 50", "11", "ruled out at first look"]
    assert rows["5"][-1] == "9", "none of these is no cause that a look could rule out"
    assert len(rows) == 8
    assert "right choke weaker" in [line.strip() for line in terminal.lines(matches.result())], "the kind stands below its cause"


@pytest.mark.parametrize(("misfit", "text"), [(1.0, "1"), (1.234, "1.23"), (998.0, "998"), (1e4, "> 999"), (np.inf, "–")])
def test_a_misfit_has_three_digits(misfit, text):
    assert words.misfit_text(replace(matches.WEAKER, misfit=misfit)) == text


@pytest.mark.parametrize(("share", "word"), [(0.7, "yes"), (0.69, "partly"), (0.3, "partly"), (0.29, "no")])
def test_the_borders_of_being_told(share, word):
    assert replace(matches.ESTIMATES[0], shrinkage=share).told == word
