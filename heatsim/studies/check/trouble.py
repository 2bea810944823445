# SPDX-License-Identifier: GPL-3.0-or-later
"""What becomes of a build on a hot day, with its fans standing, or without the coil's water.

A hot day and standing fans are fields of the scenario: each is simulated and judged as a whole. A pump that fails is not
simulated further: the tube's copper takes up the coil's loss of the run (`coil.dry_time_s`), and what counts is whether something
stops the heater before it is hot.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from heatsim.errors import InputError
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.result import CheckResult, TroubleResult
from heatsim.studies.check.study import Progress, check
from heatsim.verdict import Finding, Limit, judge

HOT_DAY, FANS, PUMP = "hot day", "fan failure", "pump failure"

STILL = "0 m/s"


@dataclass(frozen=True)
class Troubles:
    """Which are asked about. hot: ambient temperature [°C] of the hot day, None for none."""

    hot: float | None = None
    fans: bool = False
    pump: bool = False

    def require_hotter(self, scenario: Scenario) -> None:
        """Raise InputError for a hot day that is no warmer than the scenario's own."""
        own = scenario.tables.heater.ambient
        if self.hot is not None and self.hot <= own:
            allowed = f"above the scenario's {format_quantity(own, '°C')} (heater.ambient)"
            raise InputError.single("--hot-day", "is no hotter than usual", format_quantity(self.hot, "°C"), allowed)


def with_troubles(result: CheckResult, asked: Troubles, jobs: int | None = None, progress: Progress | None = None) -> CheckResult:
    """A result with what becomes of the build in each trouble that is asked about.

    jobs, progress: see `check`. Raises InputError for a hot day that is no warmer than the scenario's own.
    """
    asked.require_hotter(result.scenario)
    names = [case.name for case in result.cases]
    found = []

    def run(changed: Scenario) -> CheckResult:
        return check(changed, names, jobs, progress)

    if asked.hot is not None:
        found.append(_hot_day(result.scenario, asked.hot, run))
    if asked.fans:
        found.append(_without_fans(result, run))
    if asked.pump:
        found.append(_without_water(result))
    return replace(result, troubles=tuple(found))


def _hot_day(scenario: Scenario, celsius: float, run: Callable[[Scenario], CheckResult]) -> TroubleResult:
    own, text = scenario.tables.heater.ambient, format_quantity(celsius, "°C")
    changed = scenario.change({"heater.ambient": f"{celsius:.6g} °C"})
    return TroubleResult(HOT_DAY, f"Ambient temperature {text} instead of {format_quantity(own, '°C')}.", run(changed).findings)


def _without_fans(result: CheckResult, run: Callable[[Scenario], CheckResult]) -> TroubleResult:
    fields = standing_fans(result.scenario)
    if not fields:
        return TroubleResult(FANS, "This scenario has no fan: nothing changes.", result.findings)
    return TroubleResult(FANS, f"All air stands still: {', '.join(fields)}.", run(result.scenario.change(fields)).findings)


def standing_fans(scenario: Scenario) -> dict[str, Any]:
    """Fields that stop every fan of a scenario, with their values; none where it has no fan."""
    tables, found = scenario.tables, dict[str, Any]()
    if tables.heater.air_speed > 0:
        found["heater.air_speed"] = STILL
    if tables.switch.cooling is not None and (tables.switch.cooling.air_speed or 0.0) > 0:
        found["switch.cooling.air_speed"] = STILL
    if tables.coil.cooling is not None and tables.coil.cooling.radiator is not None and tables.coil.cooling.fan == "running":
        found["coil.cooling.fan"] = "standing"
    if any(each.air_speed > 0 for each in tables.conductor):
        found["conductor"] = [_still(each) for each in scenario.raw["conductor"]]
    return found


def _still(conductor: Mapping[str, Any]) -> dict[str, Any]:
    return {**conductor, "air_speed": STILL} if "air_speed" in conductor else dict(conductor)


def _without_water(result: CheckResult) -> TroubleResult:
    says = "The water stops, and the coil runs on at full power."
    return TroubleResult(PUMP, says, tuple(sorted(_dry_findings(result), key=lambda row: row[1].headroom or 0.0)))


def _dry_findings(result: CheckResult) -> Iterator[tuple[str, Finding]]:
    """Of each case: the time without water against that in which something stops the heater."""
    for case in result.cases:
        water = case.heater.water
        until = "" if water is None else f" to {format_quantity(water.dry_temperature, '°C')}"
        unknown, settle = "how the coil is cooled is not known", "Give [coil.cooling]."
        if water is not None:
            unknown = "nothing is known to stop the heater when the water stops"
            settle = "Fit a flow switch that stops the heater, and give the time it takes (coil.cooling.stops_within)."
        limit = Limit(
            "coil",
            f"time without water{until}",
            "coil.dry_time_s",
            None if water is None else water.stops_within,
            "s",
            "estimate",
            lower=True,
            cause="The tube's copper takes up the coil's loss, and nothing carries it away.",
            remedy="Stop the heater sooner when the water stops: a flow switch on the outlet, not on the pump.",
            unknown=unknown,
            settle=settle,
        )
        yield from ((case.name, each) for each in judge(case.measures, (limit,), case.wanted_headroom))
