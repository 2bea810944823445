# SPDX-License-Identifier: GPL-3.0-or-later
"""What becomes of a build on a hot day, without its fans, without its water."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.report.check import trouble as words
from heatsim.scenario import Scenario
from heatsim.studies.check import CheckResult, Troubles, check, with_troubles
from heatsim.studies.check.trouble import standing_fans

pytestmark = pytest.mark.ngspice


@pytest.fixture(scope="module")
def scenario(checkout: Path) -> Scenario:
    file = Scenario.from_file(checkout / "scenarios" / "bench-heater-copper.toml")
    return file.change({"supply.rise_time": "300 us", "simulate.longest": "4 ms", "heater.air_speed": "1 m/s"})


@pytest.fixture(scope="module")
def result(scenario: Scenario) -> CheckResult:
    return check(scenario, ["loaded"], 1)


@pytest.fixture(scope="module")
def troubled(result: CheckResult) -> CheckResult:
    return with_troubles(result, Troubles(40.0, fans=True, pump=True), 1)


def temperature(findings: tuple[tuple[str, object], ...], part: str) -> float:
    return next(f.value for _, f in findings if f.part == part and f.limit == "temperature")  # type: ignore[attr-defined]


def test_a_hot_day_warms_a_choke_by_as_much_as_the_air(result: CheckResult, troubled: CheckResult) -> None:
    """Newton's law of cooling: nearly; a warmer core loses a little less or more, and radiation grows with temperature."""
    hot = troubled.troubles[0]
    rise = temperature(hot.findings, "choke.left") - temperature(result.findings, "choke.left")
    assert hot.name == "hot day" and rise == pytest.approx(15.0, abs=1.5)
    assert "40 °C instead of 25 °C" in hot.says


def test_standing_fans_cool_no_longer(result: CheckResult, troubled: CheckResult) -> None:
    fans = troubled.troubles[1]
    assert temperature(fans.findings, "choke.left") > temperature(result.findings, "choke.left") + 3.0
    assert "heater.air_speed" in fans.says


def test_every_fan_of_a_scenario_stands(scenario: Scenario) -> None:
    water = {"coil.cooling.radiator": "0.02 K/W", "coil.cooling.radiator_still": "0.1 K/W"}
    bars = [{**each, "air_speed": "2 m/s"} if k == 0 else each for k, each in enumerate(scenario.raw["conductor"])]
    found = standing_fans(scenario.change({**water, "conductor": bars}))
    assert set(found) == {"heater.air_speed", "coil.cooling.fan", "conductor"}
    assert found["conductor"][0]["air_speed"] == "0 m/s" and found["conductor"][1] == bars[1]
    assert standing_fans(scenario.change(found).change({**water})) == {}


def test_without_a_fan_nothing_changes(result: CheckResult) -> None:
    still = replace(result, scenario=result.scenario.change({"heater.air_speed": "0 m/s", "coil.cooling.fan": "standing"}))
    found = with_troubles(still, Troubles(fans=True), 1).troubles[0]
    assert found.findings == result.findings and "no fan" in found.says


@pytest.mark.parametrize(("stops", "grade"), [(None, "unknown"), (3.0, "holds"), (600.0, "fails")])
def test_a_pump_that_fails_is_judged_by_what_stops_the_heater(result: CheckResult, stops: float | None, grade: str) -> None:
    cases = tuple(
        replace(case, heater=replace(case.heater, water=case.heater.water and replace(case.heater.water, stops_within=stops)))
        for case in result.cases
    )
    found = with_troubles(replace(result, cases=cases), Troubles(pump=True), 1)
    ((case, finding),) = found.troubles[0].findings
    assert case == "loaded" and finding.grade == grade == found.troubles[0].grade
    assert found.exit_code == (0 if grade == "holds" else 1)
    assert finding.value == pytest.approx(result["loaded"].measures["coil.dry_time_s"])
    assert ("flow switch" in " ".join(words.told(found.troubles[0]))) == (grade != "holds")


def test_without_a_table_of_the_water_it_is_not_known(result: CheckResult) -> None:
    cases = tuple(replace(case, heater=replace(case.heater, water=None)) for case in result.cases)
    ((_, finding),) = with_troubles(replace(result, cases=cases), Troubles(pump=True), 1).troubles[0].findings
    assert finding.grade == "unknown" and "coil.cooling" in finding.remedy


def test_a_hot_day_is_hotter(result: CheckResult) -> None:
    with pytest.raises(InputError, match="no hotter than usual"):
        with_troubles(result, Troubles(20.0), 1)


def test_troubles_are_in_the_results_and_told(troubled: CheckResult) -> None:
    told = troubled.as_dict()["troubles"]
    assert [each["name"] for each in told] == ["hot day", "fan failure", "pump failure"]
    for each, shown in zip(troubled.troubles, told, strict=True):
        assert shown["grade"] == each.grade and words.told(each)[0] == each.says and len(words.told(each)) > 1
