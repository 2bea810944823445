# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences and rows of a heat: what is said of times, energies, limits and cold starts, checked against the result's numbers."""

from dataclasses import replace

import numpy as np
import pytest

from heatsim.report.heat import words
from heatsim.studies.heat import Confirmed, Wanted
from tests.report.heat import example


def rows(result):
    return dict(words.answers(result))


def test_headline_and_tone_follow_what_was_reached_and_the_worst_limit():
    told = [(words.headline(each), words.tone(each)) for each in (example.sound(), example.broken(), example.short_of())]
    assert told[0] == ("gets there, but only just holds", "marginal")
    assert told[1] == ("gets there, but breaks a limit", "fails")
    assert told[2] == ("does not get there", "fails") and example.short_of().verdict == "marginal"
    kept = tuple(each for each in example.sound().limits if each.grade == "holds")
    holds = replace(example.sound(), limits=kept)
    assert (words.headline(holds), words.tone(holds)) == ("gets there and holds", "holds")
    assert words.limits_sentence(holds).startswith(
        "Every limit of the heater holds from cold to the end, 11 of 11. The tightest is right choke"
    )


def test_the_lead_says_when_and_how_warm_the_other_place_is():
    result = example.example()
    assert words.lead(result) == "The core is at 850 °C after 1 min 15 s; the surface is then at 865 °C."
    at_surface = replace(result, wanted=replace(result.wanted, at="surface", reached=6.43, surface=850.0, core=831.6))
    assert words.lead(at_surface) == "The surface is at 850 °C after 6.4 s; the core is then at 832 °C."
    assert words.lead(example.short_of()).startswith("The core does not reach 1150 °C. The piece gives off as much as it takes in")


def test_a_limit_that_breaks_after_the_piece_is_done_says_when_to_switch_off():
    result = example.broken()
    first = next(each for each in result.findings if each.crossed)
    assert first.crossed > result.wanted.reached
    told = words.limits_sentence(result)
    assert "1 of the heater's 13 limits fails; the worst: left choke, temperature: 142 °C, at most 105 °C allowed" in told
    assert f"switch off within {words.time_words(first.crossed)}" in told
    early = replace(result, limits=tuple(replace(each, crossed=5.0) if each.crossed else each for each in result.limits))
    assert "switch off" not in words.limits_sentence(early) and "broken from 5.0 s on" in words.limits_sentence(early)


def test_energy_and_cost_name_where_they_are_counted():
    told = rows(example.example())
    energy = example.example().wanted.energy
    assert told["energy to reach it"] == f"{energy / 3.6e6:.2g} kWh (227 kJ) out of the supply, whose own losses come on top"
    assert told["cost of it"] == "0.019, in the currency of heat.price_per_kwh"
    plugged = replace(example.example(), scenario=example.scenario().change({"heat.supply_efficiency": "90 %"}))
    assert rows(plugged)["energy to reach it"].endswith("from the mains")
    assert "cost of it" not in rows(replace(plugged, wanted=replace(plugged.wanted, cost=None)))


def test_the_share_of_the_energy_is_that_of_the_powers():
    result = example.example()
    until = result.series["time_s"] <= result.wanted.reached
    energies = [
        np.sum(np.diff(result.series["time_s"][until]) * (values[until][1:] + values[until][:-1]) / 2)
        for values in (result.series["piece_power_w"], result.series["supply.power_w"])
    ]
    assert rows(result)["of the supply's energy"] == f"{100 * energies[0] / energies[1]:.0f} % went into the piece"


@pytest.mark.parametrize(("depth", "told"), [(0.01, "right through"), (0.0032, "3.2 mm deep"), (0.0, "nowhere")])
def test_how_deep_it_is_warm(depth, told):
    result = replace(example.example(), wanted=replace(example.example().wanted, depth=depth))
    assert rows(result)["warmer than 800 °C then"] == told


def test_what_was_not_reached_has_no_energy():
    told = rows(example.short_of())
    assert told["time to reach it"] == "never" and "energy to reach it" not in told and "surface and core then" not in told


def test_the_end_is_a_rest_or_its_reason():
    assert rows(example.example())["if left on"] == "levels off at 1147 °C (surface) after 18 min 20 s"
    cut = replace(example.example(), ends="time is up", end_words="Time is up; its surface is at 1147 °C.")
    assert rows(cut)["if left on"] == "After 18 min 20 s: Time is up; its surface is at 1147 °C"


def test_sides_that_agree_share_a_line_and_every_limit_is_there():
    lines = words.lines(example.example())
    assert sum(len(line.parts) for line in lines) == len(example.example().limits)
    named = {(line.name, line.watched.worst.limit) for line in lines}
    assert ("switches, both", "junction temperature") in named and ("left choke", "temperature") in named
    inductance = next(line for line in lines if line.watched.worst.unit == "ratio")
    assert (inductance.found, inductance.allowed, inductance.at, inductance.broken) == ("62 %", "≥ 50 %", "start", "")


def test_a_limit_may_be_kept_again():
    each = next(each for each in example.broken().limits if each.crossed is not None)
    early = replace(each, headroom=np.where((each.times > 20) & (each.times < 45), -0.2, 0.3), crossed=20.5)
    until = each.times[each.times >= 45][0]
    assert words.broken_words(early) == f"from 20 s to {words.time_words(until)}"
    begin = replace(each, headroom=np.where(each.times < 45, -0.2, 0.3), crossed=0.0)
    assert words.broken_words(begin) == f"from the start to {words.time_words(until)}"
    assert words.broken_words(replace(begin, headroom=np.full_like(each.headroom, -0.1))) == "from the start"
    assert words.broken_words(replace(begin, crossed=None)) == ""


def test_raw_names_of_parts_do_not_reach_the_reader():
    told = words.happenings(example.broken())
    assert ("5 min 00 s", "Left choke: temperature is not kept from 5 min 00 s on.") in told
    assert [when for when, _ in told] == ["51 s", "55 s", "1 min 15 s", "5 min 00 s", "18 min 20 s"]


def test_cold_starts_agree_differ_or_fail():
    result = example.example()
    assert words.confirmed_sentence(result).endswith(
        "the heater starts and comes to the same within 0.22 % (workpiece power, as wanted)."
    )
    apart = (Confirmed("as wanted", 74.9, "settled", {"tank.frequency_hz": -0.05}),)
    assert words.confirmed_sentence(replace(result, confirmed=apart)).endswith("by up to 5 % (tank frequency, as wanted).")
    latched = (*result.confirmed, Confirmed("at its end", 700.0, "latched", {}))
    told = words.confirmed_sentence(replace(result, confirmed=latched))
    assert "at its end (after 11 min 40 s), the heater latches" in told
    assert "was not checked" in words.confirmed_sentence(replace(result, confirmed=()))


def test_differences_have_their_sign():
    assert [words.difference_text(value) for value in (0.0031, -0.0031, 1e-5, None, np.nan)] == [
        "+0.31 %",
        "−0.31 %",
        "0.00 %",
        "–",
        "–",
    ]


def test_trust_tells_what_is_missing():
    told = dict(words.trust_rows(example.example()))
    assert told["states of the heater"] == "6 simulated, 2 found from an earlier run"
    assert told["predicted before they were simulated"] == "off by at most: coil current 0.17 %, frequency 0.05 %"
    assert told["energy of the heater not accounted for"] == "0.31 %"
    unknown = replace(example.example(), trust=replace(example.example().trust, prediction={}, energy=np.nan))
    told = dict(words.trust_rows(unknown))
    assert "predicted before they were simulated" not in told and told["energy of the heater not accounted for"] == "–"


def test_hostile_texts_stay_on_their_line():
    result = replace(example.example(), piece=example.HOSTILE, wanted=Wanted(900.0, "core", None), end_words=example.HOSTILE)
    assert "\x1b" not in words.lead(result) + rows(result)["the piece"] and "\n" not in words.lead(result)
