# SPDX-License-Identifier: GPL-3.0-or-later
"""The wording of axes: ranges, lists, words, and what is said about texts that are none."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.quantity import EXAMPLES, exact_quantity, parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points.vary import LOAD, fields_of, find_field, read_axis, read_band

HEATER = Scenario.from_file(Path(__file__).parents[3] / "scenarios" / "bench-heater.toml")
VOLTS = st.decimals(5, 400, places=3).map(float)


@pytest.mark.parametrize(("text", "values"), [
    ("supply.voltage = 36 V, 42 V, 48 V", ["36 V", "42 V", "48 V"]),
    ("supply.voltage=48 V,36 V", ["48 V", "36 V"]),
    ("supply.voltage = 24 V to 60 V in 4", ["24 V", "36 V", "48 V", "60 V"]),
    ("supply.voltage = 24 V to 60 V in 4 values", ["24 V", "36 V", "48 V", "60 V"]),
    ("supply.voltage = 24 V to 60 V in 3 steps", ["24 V", "36 V", "48 V", "60 V"]),
    ("supply.voltage = 24 to 60 V in 4", ["24 V", "36 V", "48 V", "60 V"]),
    ("supply.voltage = 60 V to 24 V in 4", ["60 V", "48 V", "36 V", "24 V"]),
    ("supply.voltage = 24 V to 30 V by 2 V", ["24 V", "26 V", "28 V", "30 V"]),
    ("supply.voltage = 24 V to 29 V by 2 V", ["24 V", "26 V", "28 V"]),
    ("supply.voltage = 30 V to 25 V by 2 V", ["30 V", "28 V", "26 V"]),
    ("supply.voltage = 24 V to 28 V by 2 V, 42 V, 60 V to 80 V in 2", ["24 V", "26 V", "28 V", "42 V", "60 V", "80 V"]),
    ("supply.voltage = 24 V to 25 V in 4", ["24 V", "24.33333 V", "24.66667 V", "25 V"]),
    ("capacitors.capacitance = 10 nF to 1 uF in 5 by ratio", ["10 nF", "31.6228 nF", "100 nF", "316.228 nF", "1 uF"]),
    ("supply.resistance = 0.1 ohm to 0.3 ohm by 0.1 ohm", ["100 mohm", "200 mohm", "300 mohm"]),
    ("load = 0 % to 100 % in 4 steps", ["0 %", "25 %", "50 %", "75 %", "100 %"]),
    ("choke.turns = 16 to 20 by 2, 24", [16, 18, 20, 24]),
    ("coil.turns = 7.5 to 8.5 in 3", [7.5, 8, 8.5]),
    ("choke.core.material = fe-si-al-60, mpp-60", ["fe-si-al-60", "mpp-60"]),
    ('heater.name = "Big, red", Small to medium', ["Big, red", "Small to medium"]),
    ("choke.wire.grade = 1, 2", [1, 2]),
])  # fmt: skip
def test_values_of_an_axis(text: str, values: list) -> None:
    axis = read_axis(HEATER, text)
    assert list(axis.values) == values
    assert axis.numbers is None or len(axis.numbers) == len(values)


@pytest.mark.parametrize(("text", "words"), [
    ("supply.voltage", ["needs FIELD = VALUES"]),
    ("= 24 V", ["needs FIELD = VALUES"]),
    ("supply.voltage = ", ["needs FIELD = VALUES"]),
    ("supply.voltage = 24", ["axis supply.voltage", "has no unit", "given 24"]),
    ("supply.voltage = 24 A", ["unit 'A'", "unit V"]),
    ("supply.voltage = 24 V to 60 V", ["how many values", "24 V to 60 V in 20"]),
    ("supply.voltage = 24 V to 60 V in 1", ["has 1 values"]),
    ("supply.voltage = 24 V to 60 V in 0 steps", ["has 1 values"]),
    ("supply.voltage = 24 V to 24 V in 3", ["begins where it ends"]),
    ("supply.voltage = 24 V to 60 V by 0 V", ["no step forward"]),
    ("supply.voltage = 24 V to 60 V by -2 V", ["no step forward"]),
    ("supply.voltage = 24 V to 60 V by 2 A", ["unit 'A'"]),
    ("supply.voltage = 24 V to 60 V by 1 nV", ["too many values"]),
    ("supply.voltage = 24 V,, 26 V", ["empty value"]),
    ("supply.voltage = 24 V, 24000 mV", ["value twice", "given 24 V"]),
    ("choke.turns = 10 to 30 in 4", ["whole numbers"]),
    ("choke.turns = 10 turns", ["bare number"]),
    ("load = 0 % to 50 % in 3 by ratio", ["no ratio to zero"]),
    ("wind.ring.name = x", ["not a field"]),
    ("supply = 24 V", ["not a field"]),
])  # fmt: skip
def test_texts_that_are_no_axis(text: str, words: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        read_axis(HEATER, text)
    assert all(word in str(caught.value) for word in words), str(caught.value)


@pytest.mark.parametrize(
    "text",
    [
        f"supply.voltage = {'1 to ' * 20000}2 V in 3",
        f"supply.voltage = {' ' * 100_000}1 V{' ' * 20_000}to",
        f"{'supply.' * 15000}voltage = 1 V",
        f"supply.voltage = {'9' * 100_000}",
        f"choke.turns = {'9' * 5000}",
    ],
)
def test_long_texts_are_refused_at_once(text: str) -> None:
    begun = time.monotonic()
    with pytest.raises(InputError):
        read_axis(HEATER, text)
    assert time.monotonic() - begun < 5


@given(VOLTS, VOLTS, st.integers(2, 200))
def test_a_range_keeps_its_ends_and_even_distances(low: float, high: float, count: int) -> None:
    if abs(high - low) < 0.01:
        return
    axis = read_axis(HEATER, f"supply.voltage = {low!r} V to {high!r} V in {count}")
    assert axis.numbers is not None and len(axis.numbers) == count
    assert (axis.numbers[0], axis.numbers[-1]) == (low, high)
    step = (high - low) / (count - 1)
    for k, number in enumerate(axis.numbers):
        assert number == pytest.approx(low + k * step, abs=1e-3 * abs(step))
    assert [parse_quantity(text, "V") for text in axis.values] == list(axis.numbers)


@given(VOLTS, VOLTS, st.decimals("0.5", 50, places=2).map(float))
def test_steps_are_exact_and_do_not_pass_the_end(low: float, high: float, step: float) -> None:
    if low == high:
        return
    numbers = read_axis(HEATER, f"supply.voltage = {low!r} V to {high!r} V by {step!r} V").numbers
    assert numbers is not None and numbers[0] == low
    sign = 1 if high > low else -1
    assert all(number == pytest.approx(low + sign * k * step, rel=1e-12) for k, number in enumerate(numbers))
    assert sign * (high - numbers[-1]) >= -1e-12 and sign * (high - numbers[-1]) < step


@given(
    st.floats(1e-150, 1e150) | st.just(0.0) | st.floats(-1e150, -1e-150),  # a text of a quantity may have 200 characters
    st.sampled_from(sorted(EXAMPLES)),
)
def test_exact_texts_read_back_as_the_same_number(value: float, unit: str) -> None:
    assert parse_quantity(exact_quantity(value, unit), unit) == value


@given(st.text(max_size=40))
def test_any_text_is_an_axis_or_an_input_error(text: str) -> None:
    for whole in (text, f"supply.voltage = {text}", f"choke.turns = {text}", f"heater.name = {text}"):
        try:
            axis = read_axis(HEATER, whole)
        except InputError:
            continue
        assert axis.values


def test_every_field_of_the_file_can_be_found_and_no_other() -> None:
    known = fields_of(HEATER)
    assert {"supply.voltage", "choke.left.turns", "case.loaded.workpiece.measured.inductance", LOAD} <= set(known)
    assert not any(path.startswith(("wind.ring.", "case.other.")) for path in known)
    assert (known["supply.voltage"].kind, known["supply.voltage"].unit) == ("quantity", "V")
    assert known["choke.turns"].kind == "count" and known["heater.topology"].kind == "word"
    assert find_field(HEATER, "load").in_case("hot") == "case.hot.workpiece.share"


def test_bands_are_ratios_or_distances() -> None:
    def ends(text: str) -> tuple[float, float]:
        half = read_band(HEATER, text).half_width(4.7)
        return 4.7 - half, 4.7 + half

    assert ends("gate.resistor = 5 %") == pytest.approx((4.465, 4.935))
    assert ends("gate.resistor = ±0.5 ohm") == pytest.approx((4.2, 5.2))
    assert ends("gate.resistor = +- 500 mohm") == pytest.approx((4.2, 5.2))


def test_wires_are_varied_by_gauge_and_lengths_in_inches() -> None:
    axis = read_axis(HEATER, "choke.wire.diameter = AWG 14, 18 AWG, 1/16 in")
    assert axis.numbers == pytest.approx((1.627727e-3, 1.023687e-3, 1.5875e-3), rel=1e-6)  # ASTM B258; 25.4 mm
    heights = read_axis(HEATER, "choke.core.height = 1/2 in to 1 in in 3")
    assert heights.values == ("12.7 mm", "19.05 mm", "25.4 mm")
    with pytest.raises(InputError, match="'AWG'"):
        read_axis(HEATER, "choke.core.height = 14 AWG")
