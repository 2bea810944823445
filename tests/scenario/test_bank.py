# SPDX-License-Identifier: GPL-3.0-or-later
"""[capacitors.rails]: what is read, and what is refused with file, field, given and allowed."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.parts.rails import FacingBars, MeasuredSegment
from heatsim.scenario.scenario import Scenario

GEOMETRY = {"pitch": "30 mm", "width": "25 mm", "thickness": "2 mm", "spacing": "60 mm"}
MEASURED = {"segment_inductance": "30 nH", "segment_resistance": "0.2 mohm"}


@pytest.fixture(scope="module")
def bench(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def with_rails(bench: Scenario, **fields: object) -> Scenario:
    """The bench heater with bars."""
    rails = {"coil_connection": "same end", **{name: value for name, value in fields.items() if value is not None}}
    return bench.change({f"capacitors.rails.{name}": value for name, value in rails.items()})


def refused(bench: Scenario, **fields: object) -> str:
    """What is said of bars that cannot be."""
    with pytest.raises(InputError) as error:
        with_rails(bench, **fields).heater("loaded")
    return str(error.value)


def test_bars_by_geometry_and_by_measurement(bench: Scenario) -> None:
    assert bench.heater("loaded").capacitors.rails is None
    rails = with_rails(bench, **GEOMETRY).heater("loaded").capacitors.rails
    assert rails is not None and rails.segment == FacingBars(30e-3, 25e-3, 2e-3, 60e-3, 60.0)
    assert (rails.coil, rails.drains, rails.in_series, rails.tolerance, rails.rating) == ("same end", None, 1, 0.05, ())
    rails = with_rails(bench, **MEASURED, drain_connection="far end").heater("loaded").capacitors.rails
    assert rails is not None and rails.segment == MeasuredSegment(30e-9, 0.2e-3) and rails.drains == "far end"


@pytest.mark.parametrize(
    "fields, told",
    [
        ({}, ("capacitors.rails", "segment in one way", "either segment_inductance and segment_resistance")),
        ({"pitch": "30 mm"}, ("pitch", "one way")),
        (GEOMETRY | MEASURED, ("one way",)),
        (GEOMETRY | {"thickness": "20 mm", "width": "10 mm"}, ("rails.thickness", "20 mm", "up to width", "10 mm")),
        (GEOMETRY | {"thickness": "8 mm", "spacing": "1 mm"}, ("rails.thickness", "8 mm", "5 mm")),
        (GEOMETRY | {"rating": [["50 kHz", "20 A"]]}, ("rails.rating", "current_rating", "either of them")),
        (MEASURED | {"coil_connection": "both ends"}, ("coil_connection", "'same end', 'opposite ends' or 'middle'")),
        (MEASURED | {"tolerance": "40 %"}, ("tolerance", "40 %", "0 % to 30 %")),
        (MEASURED | {"in_series": 0}, ("in_series", "0", "from 1 to 20")),
        (MEASURED | {"rating": []}, ("rating", "too few")),
        (MEASURED | {"rating": [["50 kHz"]]}, ("rating",)),
        (MEASURED | {"slope": 1}, ("slope", "not a known key")),
    ],
)
def test_what_contradicts_itself_is_refused(bench: Scenario, fields: dict[str, object], told: tuple[str, ...]) -> None:
    message = refused(bench, **fields)
    assert "bench-heater.toml" in message
    for words in told:
        assert words in message


def test_a_rating_out_of_order_is_refused(bench: Scenario) -> None:
    text = bench.text.replace('current_rating = "24 A"\n', "") + "\n[capacitors.rails]\n"
    text += 'coil_connection = "middle"\nrating = [["90 kHz", "20 A"], ["50 kHz", "24 A"]]\n'
    text += "".join(f'{name} = "{value}"\n' for name, value in MEASURED.items())
    with pytest.raises(InputError, match=r"rails.rating: is not in order; .*rise"):
        bench.from_text(text).heater("loaded")


def test_bars_are_part_of_what_a_case_rests_on(bench: Scenario) -> None:
    one, other = with_rails(bench, **MEASURED), with_rails(bench, **MEASURED, coil_connection="middle")
    assert one.bearing("loaded") != other.bearing("loaded") != bench.bearing("loaded")
    assert one.hash != other.hash
