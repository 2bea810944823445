# SPDX-License-Identifier: GPL-3.0-or-later
"""`tolerance`: which share of heaters built of parts within their tolerances keeps every limit, what the worst of them is like,
and which part it hangs on, each with its error, from as few simulations as tell it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import Law, drawn_offsets, read_band
from heatsim.studies.store import Store
from heatsim.studies.tolerance.design import POPULATION, first_samples, telling_places, worst_place
from heatsim.studies.tolerance.estimate import TWICE, Share, Spread, kept, missed, ran, spreads
from heatsim.studies.tolerance.result import Sample, ToleranceResult, Worst
from heatsim.studies.tolerance.samples import Simulated, Toleranced
from heatsim.studies.tolerance.surface import FEWEST, Surface, terms
from heatsim.tasks import Pool
from heatsim.waves import Array

MOST, ERROR = 128, 0.02
"""Heaters simulated at the most, and error of the yield at which that ends [1], unless said otherwise."""

SAME = 0.05
"""Offsets that differ by less are the same heater when the worst is looked for."""

BATCH = 4
"""Heaters between two looks at what is known."""

LEAST = "least headroom"
"""Name of the output that is the least of all limits' headrooms."""

MOST_FIELDS = 12
"""Toleranced fields of one study: beyond, a quadratic alone needs over a hundred samples."""


@dataclass(frozen=True)
class ToleranceProgress:
    """samples: simulated, most: that may be; share: yield so far, None before it is known; wanted: its error that ends it [1]."""

    samples: int
    most: int
    share: Share | None
    wanted: float


Watch = Callable[[ToleranceProgress], None]


class Simulator(Protocol):
    """Simulates heaters at places, shape (n, fields), from rest or not; yields each with its number."""

    def __call__(self, places: Array, cold: bool) -> Iterable[tuple[int, Sample]]: ...


def tolerance(
    scenario: Scenario,
    tolerances: Sequence[str],
    pool: Pool,
    cases: Sequence[str] | None = None,
    law: Law = "uniform",
    seed: int = 1,
    most: int = MOST,
    error: float = ERROR,
    store: Store | None = None,
    progress: Watch | None = None,
) -> ToleranceResult:
    """Sample a heater over its parts' tolerances until its yield is known.

    tolerances: `FIELD = 5 %` or `FIELD = 0.2 V`, to either side; pool: where points are evaluated; cases: that count, all by
    default; law: of parts in their bands; most: heaters simulated at the most; error: of the yield [1] at which it ends before;
    store: where points are kept, so that an interrupted study goes on. Raises InputError, and SetupError without a simulator.
    """
    bands = tuple(read_band(scenario, text) for text in tolerances)
    toleranced = Toleranced.of(scenario, bands, cases)
    _refuse(len(bands), most, error, seed)
    begun = time.monotonic()
    simulated = Simulated(toleranced, pool, store)
    study = Study(len(bands), simulated, law, seed, most, error, progress or (lambda _: None))
    study.run()
    return study.result(toleranced, simulated.known, time.monotonic() - begun)


def _refuse(fields: int, most: int, error: float, seed: int) -> None:
    fewest = len(first_samples(fields, seed, "uniform")) + BATCH
    if fields > MOST_FIELDS:
        raise InputError.single("tolerance", "has too many fields", fields, f"up to {MOST_FIELDS}")
    if not fewest <= most <= 5000:
        raise InputError.single("samples", "is out of range", most, f"{fewest} to 5000 with {fields} toleranced fields")
    if not 0.005 <= error <= 0.5:
        raise InputError.single("error", "is out of range", f"{100 * error:g} %", "0.5 % to 50 %")


class Study:
    """One study over `fields` tolerances; see `tolerance`."""

    def __init__(self, fields: int, simulate: Simulator, law: Law, seed: int, most: int, error: float, watch: Watch) -> None:
        self.fields, self.simulate, self.law, self.seed = fields, simulate, law, seed
        self.most, self.error, self.watch = most, error, watch
        self.population = drawn_offsets(fields, POPULATION, seed + 1, law)
        self.samples: list[Sample] = []
        self.even = 0
        self.worst: Worst | None = None
        self.share: Share | None = None
        self.reached = False

    def run(self) -> None:
        """Simulate until the yield is known or the samples are used up."""
        self._take(first_samples(self.fields, self.seed, self.law), False)
        self.even = len(self.samples)
        while len(self.samples) < self.most:
            surface = self.surface()
            if surface is None:
                if not self._more_even():
                    return
                continue
            told = self._look_for_worst(surface)
            surface = self.surface()
            assert surface is not None
            self.share = self._share(surface)
            if told and self.share.error <= self.error and len(self.samples) >= self._enough:
                self.reached = True
                return
            room = min(BATCH, self.most - len(self.samples))
            if room > 0:
                self._take(telling_places(surface, len(self.limits), self.population, room), False)
        if (surface := self.surface()) is not None:
            self.share = self._share(surface)
            self.reached = self.share.error <= self.error

    @property
    def _enough(self) -> int:
        """Samples from which the surface may be bent like a quadratic, as far as they go: before, its errors tell little."""
        return min(int(np.ceil(1.25 * terms(self.fields, 2))) + FEWEST, self.most)

    @property
    def limits(self) -> tuple[str, ...]:
        """Limits that have a headroom in every sample that runs."""
        running = [each.rooms for each in self.samples if each.runs]
        return tuple(key for key in running[0] if all(key in each for each in running)) if running else ()

    @property
    def unjudged(self) -> tuple[str, ...]:
        """Limits that have one in some of them only."""
        running = [each.rooms for each in self.samples if each.runs]
        return tuple(sorted({key for each in running for key in each} - set(self.limits)))

    @property
    def measures(self) -> tuple[str, ...]:
        """Measures that every sample that runs has."""
        running = [each.measures for each in self.samples if each.runs]
        return tuple(key for key in running[0] if all(key in each for each in running)) if running else ()

    def surface(self) -> Surface | None:
        """Headrooms of all limits and then the measures over the samples that run; None with too few of them."""
        running = list({each.offsets: each for each in self.samples if each.runs}.values())  # of one place the latest
        if not self.limits or len(running) < terms(self.fields, 1) + FEWEST:
            return None
        values = [[*(each.rooms[key] for key in self.limits), *(each.measures[key] for key in self.measures)] for each in running]
        return Surface(np.array([each.offsets for each in running]), np.array(values))

    def result(self, toleranced: Toleranced, known: int, wall_s: float) -> ToleranceResult:
        """The study as it stands."""
        surface = self.surface()
        found = () if surface is None else self._spreads(surface, [band.field.path for band in toleranced.bands])
        return ToleranceResult(
            toleranced.scenario,
            toleranced.bands,
            toleranced.nominals,
            self.law,
            self.seed,
            toleranced.cases,
            tuple(self.samples),
            self.even,
            self.share,
            missed(self.even) if all(each.runs for each in self.samples[: self.even]) else 0.0,
            {} if surface is None else self._ends(surface),
            self.worst,
            found[0] if found else None,
            found[1:],
            self.unjudged,
            self.reached,
            self.error,
            known,
            wall_s,
        )

    def _take(self, places: Array, cold: bool) -> list[Sample]:
        """Simulate heaters and count them among the samples, in the order of their places."""
        found: dict[int, Sample] = {}
        for number, sample in self.simulate(places, cold):
            found[number] = sample
            self.watch(ToleranceProgress(len(self.samples) + len(found), self.most, self.share, self.error))
        new = [found[number] for number in sorted(found)]
        self.samples += new
        return new

    def _more_even(self) -> bool:
        """Further evenly spread heaters, where too few run for a surface; False when that leads nowhere."""
        if len(self.samples) >= max(3 * len(first_samples(self.fields, 0, self.law)), 40) or not self.samples:
            return False
        places = np.clip(drawn_offsets(self.fields, self.even - 1 + BATCH, self.seed, self.law)[self.even - 1 :], -1.5, 1.5)
        self._take(places[: self.most - len(self.samples)], False)
        self.even = len(self.samples)
        return True

    def _look_for_worst(self, surface: Surface) -> bool:
        """Simulate from rest what should be the worst heater; whether what was told of it stands within its error."""
        place = worst_place(surface, len(self.limits), self.population)
        told = float(surface.least(place[None, :], len(self.limits))[0])
        doubt = TWICE * surface.least_error(len(self.limits)) * max(float(surface.distance(place[None, :])[0]), 1.0)
        near = min(self.samples, key=lambda each: float(np.linalg.norm(np.array(each.offsets) - place)))
        if np.linalg.norm(np.array(near.offsets) - place) < SAME:
            if near.cold and self.worst is not None:
                return True
            place = np.array(near.offsets)
        found = self._take(place[None, :], True)
        if not found:
            return False
        (new,), worst = found, self.worst
        if worst is None or worst.sample.runs and (not new.runs or new.least[0] <= worst.sample.least[0]):
            self.worst = Worst(new, told, doubt)
        return new.runs and abs(new.least[0] - told) <= max(doubt, 1e-3)

    def _share(self, surface: Surface) -> Share:
        lowest = surface.least(self.population, len(self.limits))
        even = self.samples[: self.even]
        share = kept(lowest, [part.least(self.population, len(self.limits)) for part in surface.parts])
        return share.times(ran(sum(each.runs for each in even), len(even)))

    def _ends(self, surface: Surface) -> dict[str, float]:
        """Limit -> share of all heaters in which it is the first to fail."""
        rooms = surface.at(self.population)[:, : len(self.limits)]
        which, failing = rooms.argmin(axis=1), rooms.min(axis=1) < 0
        shares = {key: float(np.mean(failing & (which == k))) for k, key in enumerate(self.limits)}
        return dict(sorted(((key, share) for key, share in shares.items() if share > 0), key=lambda one: -one[1]))

    def _spreads(self, surface: Surface, fields: Sequence[str]) -> tuple[Spread, ...]:
        """Spread of the least headroom, then of the limits that come near and the measures."""
        whole = spreads(surface, (*self.limits, *self.measures), self.population, fields, self.law == "normal", self.seed)
        return self._least_spread(surface, fields), *sorted_by_room(whole, len(self.limits))

    def _least_spread(self, surface: Surface, fields: Sequence[str]) -> Spread:
        """Spread of the least headroom."""
        alone = _Least(surface, len(self.limits))
        return spreads(alone, (LEAST,), self.population, fields, self.law == "normal", self.seed)[0]


class _Least(Surface):
    """The least of the first outputs of a surface, as a surface of one output."""

    def __init__(self, surface: Surface, limits: int) -> None:
        super().__init__(surface.places, surface.values[:, :limits].min(axis=1)[:, None])
        self._of, self._limits = surface, limits

    def at(self, places: Array) -> Array:
        """The least of the outputs."""
        return self._of.least(places, self._limits)[:, None]

    @property
    def error(self) -> Array:
        """Its standard error between the samples, shape (1,)."""
        return np.array([self._of.least_error(self._limits)])


def sorted_by_room(found: Sequence[Spread], limits: int) -> Iterator[Spread]:
    """Limits by the headroom that nineteen of twenty heaters have, the tightest first, then the measures."""
    yield from sorted(found[:limits], key=lambda one: one.low)
    yield from found[limits:]
