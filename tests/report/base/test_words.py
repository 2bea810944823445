# SPDX-License-Identifier: GPL-3.0-or-later
"""Words: units from keys, parts, sides, fields and measures as people name them, numbers with units."""

import math

import pytest

from heatsim.report.base import words
from tests.support.results import checks as made


@pytest.mark.parametrize(
    ("key", "stem", "unit"),
    [
        ("tank.frequency_hz", "tank.frequency", "Hz"),
        ("choke.left.flux_swing_wb", "choke.left.flux_swing", "Wb"),
        ("choke.left.current_density_a_per_m2", "choke.left.current_density", "A/m2"),
        ("tank.harmonic_ratios", "tank.harmonic", "ratio"),
        ("startup.outcome", "startup.outcome", ""),
        ("choke.right.temperature_c", "choke.right.temperature", "°C"),
        ("window.periods", "window.periods", ""),
    ],
)
def test_a_key_ends_in_its_unit(key, stem, unit):
    assert words.split_key(key) == (stem, unit)


def test_every_measure_made_has_a_unit_or_is_a_word():
    assert [key for key in made.MEASURES if not words.split_key(key)[1]] == ["startup.outcome"]


@pytest.mark.parametrize(
    ("part", "text"),
    [
        ("choke.left", "left choke"),
        ("switch.right", "right switch"),
        ("gate_supply", "gate supply"),
        ("run", "run"),
        ("choke.left.copper", "left choke copper"),
    ],
)
def test_parts_are_named_as_people_name_them(part, text):
    assert words.part_words(part) == text


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (83210.0, "Hz", "83.2 kHz"),
        (6e6, "A/m2", "6 A/mm²"),
        (0.0173, "ratio", "1.73 %"),
        (None, "V", "–"),
        (math.nan, "V", "–"),
        (math.inf, "ratio", "–"),
        (-0.7, "V", "−700 mV"),
        (2e-6, "ratio", "< 0.01 %"),
        (0.0, "ratio", "0 %"),
        ([1.0, 0.5], "ratio", "100 %, 50 %"),
        ("settled", "", "settled"),
        (20.0, "", "20"),
        (5.5e-5, "H", "55 µH"),
    ],
)
def test_values_read_well(value, unit, text):
    assert words.value_text(value, unit) == text


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("tank.thd_ratio", "tank distortion (THD)"),
        ("drain.left.peak_voltage_v", "left drain peak voltage"),
        ("choke.*.peak_current_a", "choke peak current"),
        ("choke.right.inductance_remaining_ratio", "right choke remaining inductance"),
        ("supply.power_w", "supply power"),
    ],
)
def test_measures_are_named_as_people_name_them(key, text):
    assert words.measure_words(key) == text


def test_a_crest_factor_is_no_percentage():
    assert words.named_measure("tank.crest_ratio") == ("tank", "crest factor", "")


def test_limits_of_either_side_are_named_alike():
    assert words.limit_words("choke.left: temperature") == "left choke: temperature"
    assert words.limit_words("switch.right: peak current", both=True) == "switches: peak current"
    assert words.either_side("choke.left: temperature") == words.either_side("choke.right: temperature") == "choke: temperature"


@pytest.mark.parametrize(
    ("ratio", "decimals", "text"),
    [
        (0.354, 0, "+35 %"),
        (-0.1234, 1, "−12.4 %"),
        (0.0996, 0, "+9 %"),
        (-0.003, 0, "−1 %"),
        (0.29, 0, "+29 %"),
        (None, 0, "–"),
        (math.nan, 1, "–"),
    ],
)
def test_headrooms_have_a_sign_and_are_never_less_than_printed(ratio, decimals, text):
    assert words.percent(ratio, decimals) == text


@pytest.mark.parametrize(("seconds", "text"), [
    (None, "–"), (0.4, "0 s"), (8, "8 s"), (59.6, "1 min 00 s"), (125, "2 min 05 s"), (12_000, "3 h 20 min"),
    (353_000, "4 d 02 h")])  # fmt: skip
def test_durations(seconds, text):
    assert words.duration(seconds) == text
