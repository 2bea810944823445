# SPDX-License-Identifier: GPL-3.0-or-later
"""What the evaluated points of a map say of all of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from heatsim.studies.map.axis import MapAxis
from heatsim.studies.map.column import Column, Profile
from heatsim.studies.map.prediction import predicted
from heatsim.studies.map.surface import Evidence, Sample, Surface

JUMP = 0.1
"""Change of a headroom across the enclosed boundary beyond which it is taken for a jump; a working value, 20 times what a
limit that goes from one to nil over the axis changes in the usual width.
"""


@dataclass(frozen=True)
class MapModel:
    """The points and columns of a map, and what they predict between them.

    horizontal, vertical: its axes
    accuracy: wanted, as a share of each axis
    evidence: every evaluated point
    columns: from left to right, each with its boundary
    errors: how far the boundary was found from its prediction at each column [u], for either way to predict it [share of the
    axes]
    wanted_headroom: [1]
    wanted: headroom wanted of limits that have a wish of their own [1]
    """

    horizontal: MapAxis
    vertical: MapAxis
    accuracy: float
    evidence: Evidence
    columns: tuple[Column, ...]
    errors: Mapping[float, tuple[float, float]]
    wanted_headroom: float
    wanted: Mapping[str, float]

    @cached_property
    def surface(self) -> Surface:
        """Headroom of every limit, interpolated between the evaluated points."""
        return Surface(self.evidence, self.accuracy)

    def predicted(self, u: float) -> Profile:
        """What the map says along any column, at the share `u` of the horizontal axis."""
        profile = predicted(u, self.surface, self.columns, self.evidence, self.errors)
        own = next((column for column in self.columns if column.u == u), None)
        return profile if own is None else own.corrected(profile, self.evidence, self.accuracy)

    def wanted_of(self, key: str) -> float:
        """Headroom wanted of a limit [1]."""
        return self.wanted.get(key, self.wanted_headroom)

    @property
    def own(self) -> Sample | None:
        """The evaluated point where the scenario itself stands; None when that is not on the map."""
        if self.horizontal.own is None or self.vertical.own is None:
            return None
        at = self.horizontal.snapped(self.horizontal.own), self.vertical.snapped(self.vertical.own)
        return next((one for one in self.evidence.samples if (one.x, one.y) == at), None)

    @cached_property
    def sides(self) -> tuple[Surface, Surface]:
        """The surface for what is usable and that for what is not: the same, unless headrooms jump at the boundary."""
        usable, short = (
            Evidence(
                tuple(
                    one
                    for one in self.evidence.samples
                    if not self.evidence.blocked(one) and bool(self.evidence.limiting(one)) == bad
                )
            )
            for bad in (False, True)
        )
        if not usable.samples or not short.samples or not any(self._jumps(column) for column in self.columns):
            return self.surface, self.surface
        return Surface(usable, self.accuracy), Surface(short, self.accuracy)

    def _jumps(self, column: Column) -> bool:
        """Whether the limit that ends it changes by more between two enclosing points than a smooth one could."""
        at = {sample.v: sample.margins for sample in column.samples}
        return any(
            edge.high - edge.low <= 2 * self.accuracy and abs(at[edge.high][edge.limit] - at[edge.low][edge.limit]) > JUMP
            for edge in column.course(self.evidence).edges
            if edge.limit in at[edge.high] and edge.limit in at[edge.low]
        )
