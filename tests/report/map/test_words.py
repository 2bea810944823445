# SPDX-License-Identifier: GPL-3.0-or-later
"""A map in words, from headrooms by formula."""

import re

import pytest

from heatsim.report.map.words import ends_clause, ends_label, headline, lower_end, sentences, upper_end
from tests.support.map_pools import CHOKE, SUPPLY, dead_below, island, jump, mapped, two_limits, two_limits_end


def test_the_single_answer_and_what_follows(crossing):
    first, *more = sentences(crossing)
    assert first == "Usable up to 43.5 V at full load; the supply sets the limit: mean current."
    assert more[0] == "Next, 5.8 V further at about 49.5 V, the left choke would set the limit: inductance left at the peak."
    assert more[1] == "With the wanted headroom of 10 %: up to 39.1 V."  # 0.9 times 43.64 V is 39.27 V
    assert "over the whole range of load; weakest at full load" in more[2]
    assert more[3] == "The scenario's own point, 42 V at full load, has a headroom of +3 % (supply: mean current)."
    low, high = map(float, re.search(r"between ([\d.]+) V and ([\d.]+) V, both simulated", more[4]).groups())
    assert low <= two_limits_end(1.0) <= high and high - low <= 0.21


def test_words_for_a_start_that_fails_below(dead):
    assert headline(dead) == (
        "Usable from 34.1 V up to 43.5 V at full load; below, it does not start; above, the supply sets the limit: mean current."
    )
    assert "Usable from 34.1 V to 43.5 V over the whole range of load" in " ".join(sentences(dead))


@pytest.mark.parametrize(
    ("formula", "words"),
    [
        (
            lambda load, volts: {SUPPLY: 1 - volts / 100},
            [
                "Usable from 20 V to 60 V, the whole range, at full load; no limit is met.",
                "The same applies over the whole range of load.",
            ],
        ),
        (
            lambda load, volts: {SUPPLY: 0.5 - volts / 20},
            [
                "Nothing from 20 V to 60 V is usable at full load; the supply sets the limit: mean current, even where it comes "
                "nearest.",
                "Nothing is usable at any load.",
            ],
        ),
        (lambda load, volts: "latched", ["is usable at full load; it latches.", "own point, 42 V at full load: it latches."]),
        (
            lambda load, volts: "dead" if volts < 30 else {SUPPLY: 1 - volts / 100},
            [
                "up to 60 V, the end of the range, at full load; below, it does not start.",
                "Usable from 30 V to 60 V over the whole",
            ],
        ),
        (island, ["Nothing is usable below 32 % or above 68 % load."]),
        (
            lambda load, volts: {SUPPLY: 0.05, CHOKE: 1 - volts / 50},
            ["The wanted headroom of 10 % is not reached anywhere at full load."],
        ),
        (
            lambda load, volts: {SUPPLY: 0.9, CHOKE: 0.5 if volts < 45 else None},
            ["beyond, left choke: inductance left at the peak cannot be judged"],
        ),
    ],
)
def test_honest_words_when_there_is_no_such_answer(scenario, formula, words):
    told = " ".join(sentences(mapped(scenario, formula)))
    for text in words:
        assert text in told


@pytest.mark.parametrize("formula", [two_limits, dead_below, lambda load, volts: {SUPPLY: 1 - volts / (43.0567 - load)}])
def test_every_end_holds_as_it_is_printed(scenario, formula):
    """The rounded number itself is on the usable side, with the wanted headroom where that is said."""
    found = mapped(scenario, formula)
    for reach in found.answer.reaches:
        assert min(formula(reach.x, volts_of(upper_end(found, reach))).values()) >= 0
        assert min(formula(reach.x, volts_of(lower_end(found, reach))).values()) >= 0
    wanted = re.search(r"wanted headroom of 10 %: up to ([\d.]+) V", " ".join(sentences(found)))
    printed = float(wanted[1])
    assert 0.1 <= min(formula(1.0, printed).values()) < 0.115


def volts_of(text):
    return float(text.removesuffix(" V"))


def test_a_printed_end_of_the_wanted_headroom_lies_between_two_evaluated_points(crossing):
    kept = crossing.answer.reference.kept
    rooms = {one.y: min(one.margins.values()) for one in crossing.evidence.samples if one.x == 1.0}
    above = min(y for y in rooms if y > kept)
    assert rooms[kept] >= 0.1 > rooms[above] and above - kept <= 0.21


def test_words_for_other_fields(scenario):
    found = mapped(
        scenario,
        lambda count, turns: {SUPPLY: 1 - turns / (10.5 + 2 * count)},
        "capacitors.count = 3 to 11",
        "choke.turns = 10 to 40",
        case="idle",
    )
    assert headline(found) == "Choke turns: usable up to 22 at capacitors count 6; the supply sets the limit: mean current."
    assert "The boundary lies between 22 and 23, both simulated." in " ".join(sentences(found))


def test_words_when_the_points_run_out(scenario):
    assert "The points ran out" in " ".join(sentences(mapped(scenario, jump, most_points=40)))


def test_a_limit_that_can_be_judged_nowhere_is_named_first(scenario):
    found = mapped(scenario, lambda load, volts: {SUPPLY: 1 - volts / 50, CHOKE: None})
    first, second = list(sentences(found))[:2]
    assert first == "Could not be judged at any point, so the map leaves it out: left choke: inductance left at the peak."
    assert second.startswith("Usable up to 50 V at full load; the supply sets the limit")


def test_clauses_and_labels():
    assert ends_clause("capacitors: peak voltage") == "the capacitors set the limit: peak voltage"
    assert ends_clause("choke.left: temperature") == "the left choke sets the limit: temperature"
    assert ends_label("dead") == "does not start"
    assert ends_clause("doubtful") == "the powers of its simulation do not add up"
    assert ends_label(f"not judged: {CHOKE}") == "not known: left choke: inductance left at the peak"
