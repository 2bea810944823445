# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits all along a heat."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.parts.tank import Workpiece
from heatsim.studies.heat.course import Moment
from heatsim.studies.heat.limits import INSTANTS, caught, measures_at, watched
from heatsim.studies.heat.responses import CURRENT, FREQUENCY, Responses, SimulatedPoint
from heatsim.studies.heat.result import Watched
from heatsim.studies.heat.warmth import PartsWarmth
from tests.support.heating import bench, load_between, moment_at, result_with

CASE = bench().case("loaded")
HEATER = CASE.heater("loaded")
COIL = HEATER.coil
FIRST = Workpiece(1.1 * COIL.inductance, 5.0 * COIL.resistance, "estimate")
LAST = Workpiece(0.9 * COIL.inductance, 2.0 * COIL.resistance, "estimate")
VOLTS = 300.5, 510.5
"""Peak of the capacitors at either load; they are rated 400 V."""


def known() -> Responses:
    """Two states; the capacitors' voltage stands in no relation to the ideal stage's."""
    found = Responses(HEATER)
    for load, volts in zip((FIRST, LAST), VOLTS, strict=True):
        measures = {"capacitor.peak_voltage_v": volts, "loss.coil_w": 150.0, "loss.leads_w": 30.0, "workpiece.power_w": 1000.5}
        found.add(SimulatedPoint(0.0, load, result_with(measures), {CURRENT: 1.0, FREQUENCY: 1.0}))
    return found


def heat(count: int) -> list[Moment]:
    """From the first load to the last in 100 s."""
    celsius = np.full((2, 3), 20.0)
    return [
        moment_at(
            100.0 * float(part),
            load_between(FIRST, LAST, float(part)),
            celsius,
            radiation_coil=200.0,
            convection_room=70.0,
            lining=40.0,
        )
        for part in np.linspace(0.0, 1.0, count)
    ]


def along(count: int) -> dict[str, Watched]:
    """Part and limit -> all along a heat of so many moments."""
    responses = known()
    warmth = PartsWarmth(HEATER, responses)
    return {f"{each.worst.part}: {each.worst.limit}": each for each in watched(CASE, responses, warmth, heat(count), {})}


def voltage(count: int) -> Watched:
    """The capacitors' voltage."""
    found = along(count)
    (name,) = [name for name in found if "capacitor" in name and "voltage" in name]
    return found[name]


@pytest.mark.parametrize("count", [41, 400])
def test_a_limit_that_is_crossed_on_the_way_is_found_with_its_time(count: int) -> None:
    """400 V is passed about half way. Of many moments only some are judged."""
    found, responses = voltage(count), known()
    over = [m.time for m in heat(400) if responses.measures(m.load)["capacitor.peak_voltage_v"] > 400.0]  # type: ignore[operator]
    assert found.crossed is not None and 40.0 < over[0] < 60.0
    assert over[0] - 0.3 <= found.crossed <= over[0] + 100.0 / min(count - 1, INSTANTS // 2 - 1)
    assert found.grade == "fails" and found.at == pytest.approx(100.0)
    assert found.worst.value == pytest.approx(VOLTS[1]) and found.worst.allowed == pytest.approx(400.0)


def test_headroom_is_told_at_every_judged_instant() -> None:
    found = voltage(41)
    assert found.times.size == found.headroom.size == 41
    assert found.headroom[0] == pytest.approx(1 - VOLTS[0] / 400.0) and np.all(np.diff(found.headroom) < 0)
    assert voltage(400).times.size <= INSTANTS


def test_a_limit_that_always_holds_is_never_crossed() -> None:
    holding = [each for each in along(41).values() if each.grade == "holds"]
    assert holding and all(each.crossed is None for each in holding)


def test_what_cannot_be_judged_is_unknown_with_no_number() -> None:
    unknown = [each for each in along(41).values() if each.grade == "unknown"]
    assert unknown and all(each.crossed is None for each in unknown)
    assert any(np.all(np.isnan(each.headroom)) for each in unknown)


def test_the_water_gets_what_coil_and_lining_catch() -> None:
    """150 W of the coil, 30 W of the leads, 240 W of the piece's heat; what goes to the room it does not get."""
    responses, moment = known(), heat(2)[0]
    assert caught(moment) == 240.0
    found = measures_at(responses, PartsWarmth(HEATER, responses), moment, {})
    assert found["coil.water_heat_w"] == pytest.approx(150.0 + 30.0 + 240.0)
