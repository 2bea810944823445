# SPDX-License-Identifier: GPL-3.0-or-later
"""What a heat returns: its course, the answers to what was asked, limits on the way, and how well all of it is known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from heatsim.physics.numeric import FloatArray as Array
from heatsim.scenario.scenario import Scenario
from heatsim.studies.heat.band import Band
from heatsim.studies.heat.course import End
from heatsim.studies.heat.responses import SimulatedPoint
from heatsim.verdict import SEVERITY, Finding, Grade, worst

SCHEMA = "heatsim.heat/1"
"""Name and version of the results schema; keys are added, never renamed."""


@dataclass(frozen=True)
class Wanted:
    """What was asked of the piece, and when it came.

    celsius: wanted temperature [°C]; at: surface or core of the hottest slice; reached: after this time [s], None if never;
    surface, core: there and then [°C]; depth: how deep it is warmer than depth_above [m] then; energy: from the supply, or the
    mains where the supply's efficiency is given [J]; cost: in the scenario's currency, None without a price
    """

    celsius: float
    at: str
    reached: float | None
    surface: float | None = None
    core: float | None = None
    depth_above: float | None = None
    depth: float | None = None
    energy: float | None = None
    cost: float | None = None


@dataclass(frozen=True)
class Event:
    """Something that happens in a heat: time [s]; name: short; text: one sentence."""

    time: float
    name: str
    text: str


@dataclass(frozen=True)
class Watched:
    """A limit along the heat.

    times [s], headroom [1] at each, NaN where it cannot be judged; worst: the finding where its headroom is least; at: when [s];
    crossed: when it first is not kept [s], None if it always is
    """

    times: Array
    headroom: Array
    worst: Finding
    at: float
    crossed: float | None

    @property
    def grade(self) -> Grade:
        """Of the worst instant."""
        return self.worst.grade


@dataclass(frozen=True)
class Confirmed:
    """A state of the heat held against a cold start of the same load.

    name: what the piece is like there; time [s]; differences: cold start over heat, less one [1], by measure; outcome: of the start
    """

    name: str
    time: float
    outcome: str
    differences: Mapping[str, float]


@dataclass(frozen=True)
class Snapshot:
    """The piece at one time: name; time [s]; celsius [°C], shape (slices, shells)."""

    name: str
    time: float
    celsius: Array


@dataclass(frozen=True)
class Trust:
    """How well a heat is known: by how much currents were mispredicted [1], by name; energy: what is missing in the supply's
    energy balance [1]; piece: in the piece's [1]; step_k: sum of the steps' estimated errors, at the worst slice [K]; simulated,
    found: states simulated in this run, and found in the store."""

    prediction: Mapping[str, float]
    energy: float
    piece: float
    step_k: float
    simulated: int
    found: int


@dataclass(frozen=True)
class HeatResult:
    """A heat.

    case: heated; piece: in words; radii: middles of the shells [m]; places: of the slices from the coil's middle [m]; series: by
    key, with the unit in the key, each shape (n,), `time_s` among them; hottest: number of the hottest slice; snapshots; wanted;
    ends: why it ended, and end_words; events; limits by part and name; confirmed; points: simulated states; trust; band: bounds
    of time and last temperature, None where they are not known; cautions: what the numbers leave out, in sentences
    """

    scenario: Scenario
    case: str
    piece: str
    radii: Array
    places: Array
    outer: float
    series: Mapping[str, Array]
    hottest: int
    snapshots: tuple[Snapshot, ...]
    wanted: Wanted
    ends: End
    end_words: str
    events: tuple[Event, ...]
    limits: tuple[Watched, ...]
    confirmed: tuple[Confirmed, ...]
    points: tuple[SimulatedPoint, ...]
    trust: Trust
    band: Band | None
    cautions: tuple[str, ...]
    heatsim_version: str
    simulator_version: str
    wall_s: float

    @property
    def equilibrium_c(self) -> float | None:
        """Temperature [°C] of the hottest slice's surface at which the heat came to rest, None where it did not."""
        return float(self.series["surface_c"][-1]) if self.ends == "settled" else None

    @property
    def verdict(self) -> Grade:
        """Worst grade of all limits along the heat."""
        return worst(each.grade for each in self.limits)

    @property
    def exit_code(self) -> int:
        """0: the wanted temperature is reached and every limit holds all along; 1: not so. A heater that does not run with the cold
        piece has no result: `heat` raises NotRunningError.
        """
        return 0 if self.wanted.reached is not None and self.verdict == "holds" else 1

    @property
    def findings(self) -> tuple[Watched, ...]:
        """Every limit, worst first."""
        return tuple(
            sorted(
                self.limits,
                key=lambda each: (-SEVERITY[each.grade], each.worst.headroom if each.worst.headroom is not None else 9.0),
            )
        )

    def as_dict(self) -> dict[str, Any]:
        """Plain data for results.json."""
        return {
            "schema": SCHEMA,
            "heatsim_version": self.heatsim_version,
            "simulator_version": self.simulator_version,
            "scenario": self.scenario.identity,
            "case": self.case,
            "piece": self.piece,
            "verdict": self.verdict,
            "ends": self.ends,
            "end": self.end_words,
            "wanted": asdict(self.wanted),
            "equilibrium_c": self.equilibrium_c,
            "series": {name: [_plain(each) for each in values] for name, values in self.series.items()},
            "band": None if self.band is None else asdict(self.band),
            "events": [asdict(each) for each in self.events],
            "limits": [{**each.worst.as_dict(), "at_s": each.at, "crossed_s": each.crossed} for each in self.findings],
            "confirmed": [{**asdict(each), "differences": dict(each.differences)} for each in self.confirmed],
            "states": [_state(each) for each in self.points],
            "trust": {**asdict(self.trust), "prediction": dict(self.trust.prediction), "energy": _plain(self.trust.energy)},
            "cautions": list(self.cautions),
            "wall_s": self.wall_s,
        }

    def frame(self) -> Any:
        """The series as a pandas DataFrame, one row an instant."""
        import pandas as pd

        return pd.DataFrame(dict(self.series))


def _plain(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _state(point: SimulatedPoint) -> dict[str, Any]:
    return {
        "time_s": point.time,
        "inductance_h": point.load.inductance,
        "resistance_ohm": point.load.resistance,
        "method": point.result.method,
        "outcome": point.result.outcome,
        "prediction_errors": point.errors,
        "measures": dict(point.result.measures),
    }
