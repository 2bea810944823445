# SPDX-License-Identifier: GPL-3.0-or-later
"""What a tolerance study found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import Band, Law, value_in
from heatsim.studies.tolerance.estimate import Share, Spread

SCHEMA = "heatsim.tolerance/1"


@dataclass(frozen=True)
class Sample:
    """One heater built of parts within their tolerances.

    offsets: of each field in units of its band's half width; rooms: headroom of each judged limit by `case: part: limit` [1];
    measures: by `case: key`, SI; trouble: why it does not run or is not judged, by case; empty if it runs in all of them; cold:
    whether it was started from rest.
    """

    offsets: tuple[float, ...]
    rooms: Mapping[str, float]
    measures: Mapping[str, float]
    trouble: Mapping[str, str]
    cold: bool

    @property
    def runs(self) -> bool:
        """Whether it runs in every case."""
        return not self.trouble

    @property
    def least(self) -> tuple[float, str]:
        """Least headroom [1] and its limit."""
        key = min(self.rooms, key=lambda name: self.rooms[name])
        return self.rooms[key], key


@dataclass(frozen=True)
class Worst:
    """The worst heater within all bands.

    sample: simulated from rest; told: its least headroom by the samples before it, with its error [1]
    """

    sample: Sample
    told: float
    error: float


@dataclass(frozen=True)
class ToleranceResult:
    """bands, nominals: what is toleranced, nominal SI values by case; law: of the parts in their bands; cases; samples: simulated,
    the nominal heater first, then even ones, then those chosen; even: how many of them are evenly spread; share: of all heaters
    that keep every limit, and None where that cannot be told; missed: share that may not run although all even samples did; ends:
    limit -> share of all heaters in which it is the first to fail; worst: None where the surface could not be made; room: spread
    of the least headroom [1]; spreads: of the limits' headrooms and of main measures; unjudged: limits without a number in some
    samples; reached: whether the wanted error was; wanted: that error [1]; known: points that the store had; wall_s [s].
    """

    scenario: Scenario
    bands: tuple[Band, ...]
    nominals: Mapping[str, tuple[float, ...]]
    law: Law
    seed: int
    cases: tuple[str, ...]
    samples: tuple[Sample, ...]
    even: int
    share: Share | None
    missed: float
    ends: Mapping[str, float]
    worst: Worst | None
    room: Spread | None
    spreads: tuple[Spread, ...]
    unjudged: tuple[str, ...]
    reached: bool
    wanted: float
    known: int
    wall_s: float

    @property
    def failing(self) -> Sequence[Sample]:
        """Samples that do not run or keep not every limit."""
        return [each for each in self.samples if not each.runs or each.least[0] < 0]

    @property
    def exit_code(self) -> int:
        """0 when every simulated heater keeps every limit, 1 when one does not, 3 when nothing could be judged."""
        if not any(each.runs and each.rooms for each in self.samples):
            return 3
        return 1 if self.failing or self.unjudged else 0

    def offsets_as_values(self, sample: Sample, case: str) -> dict[str, float]:
        """The toleranced fields of a sample in a case [SI]."""
        return {
            band.field.path: value_in(band, nominal, offset)
            for band, nominal, offset in zip(self.bands, self.nominals[case], sample.offsets, strict=True)
        }

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        case = self.cases[0]
        toleranced = [
            {
                "field": band.field.path,
                "unit": band.field.unit,
                "width": band.width,
                "relative": band.relative,
                "nominal": {name: values[k] for name, values in self.nominals.items()},
            }
            for k, band in enumerate(self.bands)
        ]
        worst = None
        if self.worst is not None:
            room, key = self.worst.sample.least if self.worst.sample.rooms else (None, "")
            worst = {
                "fields": self.offsets_as_values(self.worst.sample, case),
                "least_headroom": room,
                "limit": key,
                "told_before": self.worst.told,
                "told_error": self.worst.error,
                "trouble": dict(self.worst.sample.trouble),
            }
        return {
            "schema": SCHEMA,
            "scenario": self.scenario.identity,
            "toleranced": toleranced,
            "law": self.law,
            "seed": self.seed,
            "cases": list(self.cases),
            "yield": None if self.share is None else asdict(self.share),
            "yield_error_wanted": self.wanted,
            "yield_error_reached": self.reached,
            "may_not_run": self.missed,
            "first_to_fail": dict(self.ends),
            "worst": worst,
            "least_headroom": None if self.room is None else asdict(self.room),
            "spreads": [asdict(each) for each in self.spreads],
            "unjudged": list(self.unjudged),
            "samples": [asdict(each) for each in self.samples],
            "evenly_spread": self.even,
            "wall_s": self.wall_s,
        }
