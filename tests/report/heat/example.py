# SPDX-License-Identifier: GPL-3.0-or-later
"""A heat made up for tests of words, pictures and pages: a steel bar, 20 mm x 100 mm, in a minute to 850 °C. Every number is
invented; only the shape of the curves is that of a heat: full power until the skin is past its Curie point, then less.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.parts.tank import Workpiece
from heatsim.scenario.scenario import Scenario
from heatsim.studies.heat import Band, Confirmed, Event, HeatResult, Snapshot, Trust, Wanted, Watched
from heatsim.studies.heat.responses import SimulatedPoint
from heatsim.studies.points import PointResult
from heatsim.verdict.finding import Finding

HOSTILE = "<script>alert(1)</script>\n\"quoted\" & 'more' \x1b[31m{{ 7*7 }}"
SCENARIO = Path(__file__).resolve().parents[3] / "scenarios" / "bench-heater.toml"
CURIE, WANTED = 770.0, 850.0
COIL = {
    "turns": 8,
    "diameter": "42 mm",
    "length": "62 mm",
    "tube_diameter": "6 mm",
    "tube_wall": "1 mm",
    "lead_inductance": "60 nH",
}
BAR = {"material": "steel", "diameter": "20 mm", "length": "100 mm"}
TIME = np.concatenate([np.linspace(0.0, 90.0, 181), np.geomspace(91.0, 1100.0, 120)])


@cache
def scenario() -> Scenario:
    """The demo heater with a coil and a bar that are known by their size."""
    fields = {"coil": COIL | {"lead_resistance": "0.8 mohm"}, "case.loaded.workpiece": BAR, "heat.price_per_kwh": 0.3}
    return Scenario.from_file(SCENARIO).change(fields | {"supply.voltage": "38 V"})


@cache
def course() -> dict[str, Any]:
    """Mean temperature [°C] and powers [W] of the bar: a balance of one lump, in steps of 0.1 s."""
    step, celsius, rows = 0.1, 20.0, []
    for time in np.arange(0.0, TIME[-1] + step, step):
        past = 1.0 / (1.0 + np.exp(-(celsius - 760.0) / 14.0))
        power = 2550.0 * (1 + 0.1 * min(celsius, 500.0) / 500.0) * (1 - past) + 1080.0 * past
        given = 0.0055 * 0.8 * 5.67e-8 * ((celsius + 273.0) ** 4 - 293.0**4) + 0.07 * (celsius - 20.0)
        heat = 0.247 * (560.0 + 0.25 * min(celsius, 700.0) + 900.0 * np.exp(-(((celsius - 735.0) / 30.0) ** 2)))
        rows.append((time, celsius, power, given))
        celsius += (power - given) / heat * step
    return {name: np.interp(TIME, *np.array(rows).T[[0, k]]) for k, name in enumerate(("", "mean", "power", "given")) if name}


def series() -> dict[str, Any]:
    """Everything against time."""
    told = course()
    mean, power, given = told["mean"], told["power"], told["given"]
    apart = 0.017 * (power - 0.4 * given) * np.clip(TIME / 4.0, 0.0, 1.0)
    hot = np.clip((mean - 20.0) / 800.0, 0.0, 1.2)
    warm = 1.0 - np.exp(-TIME / 260.0)
    supply = 420.0 + 1.18 * power
    found = {
        "time_s": TIME,
        "surface_c": mean + 0.4 * apart,
        "core_c": mean - 0.6 * apart,
        "coldest_c": mean - 0.6 * apart - 60.0 * hot,
        "piece_power_w": power,
        "given_off_w": given,
        "caught_by_coil_w": 0.7 * given,
        "coil_inductance_h": 1.05e-6 + 0.35e-6 * power / 2800.0,
        "coil_resistance_ohm": 0.011 + 0.045 * power / 2800.0,
        "supply.mean_current_a": supply / 38.0,
        "supply.power_w": supply,
        "tank.frequency_hz": 103e3 - 14e3 * power / 2800.0,
        "tank.peak_voltage_v": 118.0 - 2.0 * hot,
        "coil.rms_current_a": 128.0 - 12.0 * power / 2800.0,
        "coil.water_outlet_c": 24.0 + 0.011 * (0.7 * given + 500.0),
        "coil.wall_temperature_c": 31.0 + 0.019 * (0.7 * given + 500.0),
        "choke.left.temperature_c": 25.0 + 74.0 * warm,
        "choke.right.temperature_c": 25.0 + 70.0 * warm,
        "switch.left.junction_temperature_c": 30.0 + 61.0 * (1.0 - np.exp(-TIME / 70.0)) * supply / supply[0],
        "switch.right.junction_temperature_c": 29.0 + 58.0 * (1.0 - np.exp(-TIME / 70.0)) * supply / supply[0],
    }
    energy = np.concatenate([[0.0], np.cumsum(np.diff(TIME) * (supply[1:] + supply[:-1]) / 2)])
    return found | {"efficiency_ratio": power / supply, "supply.energy_j": energy}


def watched(
    part: str, limit: str, unit: str, values: Any, allowed: float, basis: str, lower: bool = False, **words: str
) -> Watched:
    """A limit along the heat, judged with a wanted headroom of 10 %."""
    places = np.unique(np.linspace(0, len(TIME) - 1, 60).astype(int))
    taken = np.broadcast_to(values, TIME.shape)[places]
    headroom = (taken - allowed) / allowed if lower else (allowed - taken) / allowed
    worst = int(np.argmin(headroom))
    least = float(headroom[worst])
    grade = "fails" if least < 0 else "marginal" if least < 0.1 else "holds"
    finding = Finding(part, limit, float(taken[worst]), allowed, unit, least, grade, basis, **words)
    broken = np.flatnonzero(headroom < 0)
    return Watched(
        TIME[places], headroom, finding, float(TIME[places][worst]), float(TIME[places][broken[0]]) if broken.size else None
    )


def limits(told: dict[str, Any]) -> tuple[Watched, ...]:
    """Limits of the heater; both chokes come near theirs."""
    unknown = Finding(
        "gate.left", "avalanche energy", None, None, "J", None, "unknown", "unknown", remedy="Give switch.avalanche_energy."
    )
    rows = []
    for side in ("left", "right"):
        choke, junction = told[f"choke.{side}.temperature_c"], told[f"switch.{side}.junction_temperature_c"]
        cause, remedy = "Its core and copper lose 31 W.", "Blow air over the chokes."
        rows += [
            watched(f"choke.{side}", "temperature", "°C", choke, 105.0, "estimate", cause=cause, remedy=remedy),
            watched(f"switch.{side}", "junction temperature", "°C", junction, 150.0, "estimate"),
            watched(f"switch.{side}", "drain voltage", "V", 1.02 * told["tank.peak_voltage_v"], 200.0, "rating"),
            watched(f"choke.{side}", "inductance left at the peak", "ratio", 0.62, 0.5, "memory", lower=True),
        ]
    rows += [
        watched("supply", "mean current", "A", told["supply.mean_current_a"], 115.0, "rating"),
        watched("coil", "water temperature at the outlet", "°C", told["coil.water_outlet_c"], 60.0, "common practice"),
        watched("coil", "wall against boiling", "°C", told["coil.wall_temperature_c"], 100.0, "estimate"),
        watched("capacitors", "current of each capacitor", "A", told["coil.rms_current_a"] / 12.0, 20.0, "rating"),
        Watched(TIME[::5], np.full(TIME[::5].shape, np.nan), unknown, 0.0, None),
    ]
    return tuple(rows)


def snapshots(told: dict[str, Any], reached: float, radii: Any, places: Any) -> tuple[Snapshot, ...]:
    """The bar at some times: a parabola over the radius, colder ends."""
    named = (("a quarter of the way", 13.0), ("half way", 27.0), ("three quarters of the way", 41.0), ("as wanted", reached))
    found = []
    for name, when in (*named, ("at the end", float(TIME[-1]))):
        surface, core = (float(np.interp(when, TIME, told[key])) for key in ("surface_c", "core_c"))
        over = core + (surface - core) * (radii / 0.01) ** 2
        along = 1.0 - 0.32 * np.abs(places / 0.05) ** 3
        found.append(Snapshot(name, when, np.outer(along, over - 20.0) + 20.0))
    return tuple(found)


def points() -> tuple[SimulatedPoint, ...]:
    """Simulated states on the way."""
    found = []
    for number, when in enumerate((0.0, 9.0, 22.0, 34.0, 43.0, 47.0, 52.0, 120.0)):
        share = float(np.interp(when, TIME, course()["power"])) / 2800.0
        load = Workpiece(1.05e-6 + 0.35e-6 * share, 0.011 + 0.045 * share, "estimate")
        measures: dict[str, Any] = {"tank.frequency_hz": 103e3 - 14e3 * share, "workpiece.power_w": 2800.0 * share}
        result = PointResult(
            "settled", "", "holds", 0.2, "choke.left: temperature", measures, (), "periodic" if number else "cold start", 1.0
        )
        shares = {"current": 0.97 - 0.002 * number, "frequency": 1.004}
        predicted = {"current": shares["current"] * (1 + 0.0017 * (-1) ** number), "frequency": 1.0035} if number else None
        found.append(SimulatedPoint(time=when, load=load, result=result, shares=shares, predicted=predicted))
    return tuple(found)


def confirmed() -> tuple[Confirmed, ...]:
    """Cold starts beside the heat."""
    keys = ("tank.frequency_hz", "tank.peak_voltage_v", "coil.rms_current_a", "supply.mean_current_a", "workpiece.power_w")
    rows = (("cold", 0.0, 1e-4), ("past the Curie point", 47.0, 1e-3), ("as wanted", 74.9, 2.2e-3))
    return tuple(
        Confirmed(name, when, "settled", {key: size * (k - 2) / 2 for k, key in enumerate(keys)}) for name, when, size in rows
    )


@cache
def example() -> HeatResult:
    """The heat."""
    told = series()
    reached = float(np.interp(WANTED, told["core_c"], TIME))
    surface, core, energy = (float(np.interp(reached, TIME, told[key])) for key in ("surface_c", "core_c", "supply.energy_j"))
    radii, places = (np.arange(44) + 0.5) / 44 * 0.01, (np.arange(12) + 0.5) / 12 * 0.1 - 0.05
    passed = [(name, float(np.interp(CURIE, told[f"{name}_c"], TIME))) for name in ("surface", "core")]
    last = f"The piece gives off as much as it takes in; its surface is at {told['surface_c'][-1]:.0f} °C."
    events = [
        Event(when, f"{name} at Curie point", f"The {name} passes 770 °C and is no longer magnetic.") for name, when in passed
    ]
    events += [Event(reached, "as wanted", "The core is at 850 °C."), Event(float(TIME[-1]), "settled", last)]
    return HeatResult(
        scenario(),
        "loaded",
        "steel bar, 20 mm x 100 mm, in a coil of 42 mm x 62 mm",
        radii,
        places,
        0.01,
        told,
        6,
        snapshots(told, reached, radii, places),
        Wanted(WANTED, "core", reached, surface, core, 800.0, 0.01, energy, 0.3 * energy / 3.6e6),
        "settled",
        last,
        tuple(sorted(events, key=lambda each: each.time)),
        limits(told),
        confirmed(),
        points(),
        Trust({"current": 0.0017, "frequency": 0.0005}, 0.0031, 0.0008, 1.3, 6, 2),
        Band(71.0, 39.0, 930.0, 1015.0),
        (
            "The resistance of the piece, and the power with it, may be off by up to 20 %.",
            "Scale, expansion and heat of melting are left out; nothing touches the piece.",
            "Emissivity as of oxidised steel (heat.emissivity); it decides the end of a heat.",
        ),
        "0",
        "ngspice",
        21.4,
    )


def broken() -> HeatResult:
    """The same with chokes that get too warm."""
    hot = example().series | {"choke.left.temperature_c": 25.0 + 1.6 * (example().series["choke.left.temperature_c"] - 25.0)}
    rows = limits(hot)
    crossed = next(each for each in rows if each.crossed is not None)
    event = Event(crossed.crossed or 0.0, "limit", "choke.left: temperature is no longer kept.")
    events = sorted((*example().events, event), key=lambda each: each.time)
    return replace(example(), series=hot, limits=rows, events=tuple(events))


def short_of() -> HeatResult:
    """The same, asked for more than it comes to; the heater was not started from rest."""
    asked = Wanted(1150.0, "core", None)
    kept = tuple(each for each in example().limits if each.grade != "unknown")
    events = tuple(each for each in example().events if each.name != "as wanted")
    some = tuple(each for each in example().snapshots if each.name != "as wanted")
    return replace(example(), wanted=asked, limits=kept, events=events, snapshots=some, confirmed=())


def sound() -> HeatResult:
    """The same with every limit judged and kept."""
    return replace(example(), limits=tuple(each for each in example().limits if each.grade != "unknown"))
