# SPDX-License-Identifier: GPL-3.0-or-later
"""The table of the switches' losses and temperatures, and its line on screen."""

from dataclasses import replace

import pytest

from heatsim.parts.sink import RatedSink, ThermalPath
from heatsim.report.check import silicon
from heatsim.report.check.page import render_page
from heatsim.studies.check import CheckResult
from tests.support.results import checks as made

PATH = ThermalPath(
    ((0.5, 0.0),), 0.8, 1.2, RatedSink(2.0, 0.9, 3.0, 3.0, None), "all", 2.3, (2.0, 2.6), 80.0, 0.1, 0.1, 150.0, None, None, 25.0
)
SPLIT = {"conduction": 1.4, "overlap": 4.2, "diode": 0.1, "avalanche": 0.0, "gate": 0.01}


def losses():
    found = {}
    for side, more in (("left", 0.0), ("right", 0.3)):
        found |= {f"switch.{side}.{name}_loss_w": value + more for name, value in SPLIT.items()}
        found[f"switch.{side}.loss_w"] = 5.71 + 5 * more
    return found


def warm(state="balanced"):
    found = losses()
    for side, junction in (("left", 61.0), ("right", 64.0)):
        part = f"switch.{side}"
        found |= {f"{part}.junction_temperature_{end}_c": junction + step for end, step in (("low", -8.0), ("high", 12.0))}
        found |= {
            f"{part}.junction_temperature_c": junction,
            f"{part}.case_temperature_c": 55.0,
            f"{part}.sink_temperature_c": 48.0,
        }
        found |= {f"{part}.worst_device_loss_w": 6.5, f"{part}.heat_state": state}
    return found


def case(measures, path=None):
    plain = made.case()
    return replace(plain, measures=plain.measures | measures, heater=replace(plain.heater, silicon=path))


def test_losses_are_shown_without_a_cooling_and_what_is_not_judged_is_said():
    found = dict(silicon.rows(case(losses())))
    assert found["turning on and off, each device"] == ("4.2 W", "4.5 W") and found["all of it, each device"] == (
        "5.71 W",
        "7.21 W",
    )
    assert "junction temperature" not in found and "[switch.cooling]" in silicon.note(case(losses()))
    assert silicon.line(case(losses())) is None and silicon.rows(made.case()) == []


def test_temperatures_come_with_their_band_and_what_they_rest_on():
    cooled = case(warm(), PATH)
    found = dict(silicon.rows(cooled))
    assert found["junction temperature"] == ("61 °C (53 °C to 73 °C)", "64 °C (56 °C to 76 °C)")
    assert found["sink temperature"] == ("48 °C", "48 °C")
    assert all(words in silicon.note(cooled) for words in ("0.5 K/W in the device", "air at 3 m/s", "as at 80 °C"))


def test_the_line_tells_the_hotter_bank_and_its_largest_loss():
    line = silicon.line(case(warm(), PATH))
    assert line == (
        "loaded: each right switch loses 7.21 W (turning on and off 4.5 W); junction 64 °C (56 °C to 76 °C), sink 48 °C"
    )


def test_runaway_is_not_told_as_a_temperature():
    measures = warm("runaway") | {f"switch.right.junction_temperature{end}_c": 300.00000000000006 for end in ("", "_low", "_high")}
    measures |= {"switch.right.sink_temperature_c": None}
    assert silicon.line(case(measures, PATH)).endswith("junction thermal runaway")


def test_after_a_run_both_are_told():
    measures = warm() | {f"switch.{side}.run_junction_temperature_c": 44.0 for side in ("left", "right")}
    measures |= {f"switch.{side}.run_sink_temperature_c": 33.0 for side in ("left", "right")}
    found = dict(silicon.rows(case(measures, PATH)))
    assert found["junction after the run"] == ("44 °C", "44 °C") and found["sink after the run"] == ("33 °C", "33 °C")
    assert silicon.line(case(measures, PATH)).endswith("junction 44 °C after the run")


@pytest.mark.parametrize(("path", "there"), [(PATH, "junction temperature"), (None, "give [switch.cooling]")])
def test_the_page_has_the_table(path, there):
    plain = made.result()
    one = case(warm() if path else losses(), path)
    page = render_page(CheckResult(plain.scenario, (one,), "0", "none", 0.0), {})
    assert "<h3>Silicon</h3>" in page and there in page
