# SPDX-License-Identifier: GPL-3.0-or-later
"""What a record would show under a hypothesis, and how far the model may be off.

A hypothesis is a fault of the heater captured with good probes, or a sound heater captured with a faulty probe.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from heatsim.measures.solving import Complex
from heatsim.studies.match.data import Observation, aliasing
from heatsim.studies.match.discrepancy import discrepancy_of, widened
from heatsim.studies.match.fault_model import NOTHING, FaultParameter
from heatsim.studies.match.probes import ProbeEffect, ProbeFault, good, spread_of_good
from heatsim.studies.match.response_library import ResponseLibrary, ResponseSurface, lines_of, meters_of
from heatsim.waves import Array

MOST_DISCREPANCY = 0.2
"""Largest share of a fault's effect by which a model may be off: beyond, any wave would be any fault."""

STEP_ERROR = (3.0, 1.0)
"""What the simulator's steps falsify, as a multiple of what finer steps change (`step_error_of`), and its standard deviation.
Measured against the independent integration over five sound heaters: 2.5 to 3.4, 2.9 on the average, one period's chance included.
0.1 to 0.3e-4 of the fundamental are left in each line."""


@dataclass(frozen=True)
class Dataset:
    """One record and the response library of its operating condition."""

    library: ResponseLibrary
    observation: Observation

    def meters(self, packed: Array) -> Array:
        """Logs of what the meters read beside the record would show of a packed response [SI]."""
        return meters_of(packed, self.library.signals, self.observation.layout.meters)

    def shown(self, packed: Array) -> tuple[Any, dict[str, Complex], dict[str, Array]]:
        """Frequency, lines and bands of packed responses, shape (..., n), without the error of the simulator's steps."""
        library = self.library
        return lines_of(packed + STEP_ERROR[0] * library.step_error, library.signals, self.observation.layout.orders)

    @cached_property
    def aliases(self) -> Array:
        """`aliasing` of the sound heater."""
        _, lines, bands = self.shown(self.library.sound)
        return aliasing(self.observation, lines, bands)

    @cached_property
    def sound(self) -> Array:
        """The vector of the sound heater."""
        return self.observation.layout.vector(*self.shown(self.library.sound), self.meters(self.library.sound))


@dataclass(frozen=True)
class Hypothesis:
    """One explanation of the records.

    cause, name: in words
    surfaces: response surface of the fault model at each dataset
    probe, channel: what is wrong with a probe, and on which channel
    prior: log of its share of the cause a priori
    """

    cause: str
    name: str
    surfaces: tuple[ResponseSurface, ...] = field(repr=False)
    probe: ProbeFault | None
    channel: str
    prior: float = 0.0

    @property
    def parameters(self) -> tuple[FaultParameter, ...]:
        """Parameters of the heater's fault, then of the probe's."""
        return (*self.widest.fault.parameters, *(self.probe.parameters if self.probe else ()))

    def probe_values(self, u: Array) -> tuple[float, ...]:
        """Of the probe's parameters at u."""
        return tuple(p.value(float(x)) for p, x in zip(self.parameters[self.own :], u[self.own :], strict=True))

    @property
    def own(self) -> int:
        """How many of them are the heater's."""
        return len(self.widest.fault.parameters)

    @property
    def widest(self) -> ResponseSurface:
        """A surface with all parameters: where the fault does not apply (no workpiece) that of the sound heater stands in."""
        return max(self.surfaces, key=lambda surface: len(surface.axes))


@dataclass(frozen=True)
class Correction:
    """What the simulator said beside a library's estimate at one dataset: an offset at a point, and how it changes from there.

    offset: simulated less estimated packed response there, shape (n,)
    at: the fault's own parameters there, shape (k,)
    begin: nuisance parameters there, in standard deviations, shape (t,)
    slopes: change of the offset per unit of the fault's own, shape (k, n)
    added: what the sensitivities to the nuisance parameters are more than the library's, per standard deviation, shape (t, n)
    """

    offset: Array
    at: Array
    begin: Array
    slopes: Array
    added: Array

    @classmethod
    def none(cls, library: ResponseLibrary, parameters: int) -> Correction:
        """Nothing, of a fault with as many parameters of its own."""
        t, n = library.sensitivities.shape
        return cls(np.zeros(n), np.zeros(parameters), np.zeros(t), np.zeros((parameters, n)), np.zeros((t, n)))

    def value(self, u: Array, t: Array) -> Array:
        """What to add at the fault's parameters u and nuisance parameters t, in standard deviations, shape (n,)."""
        return np.asarray(self.offset + (u - self.at) @ self.slopes + (t - self.begin) @ self.added)

    def told_from(self, u: Array, t: Array) -> Correction:
        """The same correction, told from another point."""
        return replace(self, offset=self.value(u, t), at=u, begin=t)


class Model:
    """Expected data vectors of a hypothesis at all datasets, their sensitivities and the model's own errors.

    corrections: what the simulator said beside the library's estimate at each dataset
    discrepancy_factor: factor on the model discrepancy
    own_factor: further factor on the share of the fault's effect by which its model may be off
    """

    def __init__(
        self,
        datasets: Sequence[Dataset],
        hypothesis: Hypothesis,
        corrections: Sequence[Correction] | None = None,
        discrepancy_factor: float = 1.0,
        own_factor: float = 1.0,
    ) -> None:
        self.datasets, self.hypothesis, self.discrepancy_factor = tuple(datasets), hypothesis, discrepancy_factor
        self.own_factor = own_factor
        self.corrections = tuple(corrections or (Correction.none(each.library, hypothesis.own) for each in datasets))
        nuisance = datasets[0].library.nuisance
        self.names = [parameter.name for parameter in nuisance]
        self.used = [k for k, name in enumerate(self.names) if name not in hypothesis.widest.fault.replaces]
        self.deviations = np.array([parameter.deviation for parameter in nuisance])
        self.data = np.concatenate([each.observation.vector for each in datasets])
        self.aliases, self.sound = [each.aliases for each in datasets], [each.sound for each in datasets]
        self.channels = [(k, name) for k, each in enumerate(datasets) for name in each.observation.layout.orders]
        self.begin = self.corrections[0].begin
        self._library = [np.asarray(each.library.sensitivities * self.deviations[:, None]) for each in datasets]

    @property
    def discrepancy(self) -> float:
        """Share of the fault's effect by which the model may be off. The fault's shape must be seen in any case."""
        own = self.own_factor * self.hypothesis.widest.fault.discrepancy
        return max(min(widened(self.discrepancy_factor) * own, MOST_DISCREPANCY), own)

    def packed(self, k: int, u: Array, nuisance: Array | None = None) -> Array:
        """Estimated response and slow states at a dataset; nuisance: of the parts, in standard deviations, shape (t,), by default
        those where the simulator corrected it."""
        own, t = u[: self.hypothesis.own], self.begin if nuisance is None else nuisance
        base = self.hypothesis.surfaces[k].value(own) + self.corrections[k].value(own, t)
        return np.asarray(base + t @ self._library[k])

    def vector(self, k: int, packed: Array, u: Array, probe: tuple[str, ProbeEffect] | None = None) -> Array:
        """What the record of a dataset would show of a packed response; probe: signal and what its probe does. Without a probe's
        fault, of several responses, shape (..., n)."""
        layout, own = self.datasets[k].observation.layout, self.hypothesis
        frequency, lines, bands = self.datasets[k].shown(packed)
        chain: list[tuple[str, ProbeEffect, tuple[float, ...]]] = [(*probe, ())] if probe else []
        if own.probe is not None and own.channel in layout.orders:
            chain.append((own.channel, own.probe.effect, own.probe_values(u)))
        for name, effect, values in chain:
            lines[name], bands[name] = effect(frequency, lines[name], bands[name], values)
        return layout.vector(frequency, lines, bands, self.datasets[k].meters(packed))

    def _vectors(self, k: int, packed: Array, u: Array) -> Array:
        """`vector` of several packed responses, shape (m, n): all at once where no probe is at fault."""
        if self.hypothesis.probe is None:
            return self.vector(k, packed, u)
        return np.array([self.vector(k, each, u) for each in packed])

    def means(self, u: Array) -> Array:
        """What the datasets would show, one after the other, with the nuisance parameters where the simulator corrected the
        estimate."""
        return np.concatenate([self.vector(k, self.packed(k, u), u) for k in range(len(self.datasets))])

    def shifted_data(self, sensitivities: Array) -> Array:
        """The data to hold against `means`, which stands at `begin`: shifted by what the nuisance parameters do up to there, so
        that the difference is that of the data and m(0)."""
        return np.asarray(self.data + sensitivities[:, : len(self.used)] @ self.begin[self.used])

    def effect(self, u: Array) -> list[Array]:
        """What the fault does to each dataset's vector, by the library; nothing where a probe or nothing is at fault."""
        if self.hypothesis.probe is not None or self.hypothesis.widest.fault.cause == NOTHING:
            return [np.zeros_like(sound) for sound in self.sound]
        surfaces = enumerate(self.hypothesis.surfaces)
        return [self.vector(k, surface.value(u[: self.hypothesis.own]), u) - self.sound[k] for k, surface in surfaces]

    def variance(self, effect: Sequence[Array]) -> Array:
        """C's diagonal: noise, aliasing and model discrepancy, shape (data,)."""
        found = []
        for each, moved, alias in zip(self.datasets, effect, self.aliases, strict=True):
            model = discrepancy_of(each.observation.layout, moved, self.discrepancy, self.discrepancy_factor)
            found.append(model**2 + each.observation.noise**2 + alias**2)
        return np.concatenate(found)

    def common(self, u: Array, effect: Sequence[Array]) -> Array:
        """B, what the model may be off in all data together, in standard deviations, shape (data, k).

        A share of the fault's effect, the simulator's steps, the aliased edges of each channel of every record, and what the
        numbers of each short record share of their errors.
        """
        steps = []
        for k, each in enumerate(self.datasets):
            packed = self.packed(k, u)
            moved = packed + self.discrepancy_factor * STEP_ERROR[1] * each.library.step_error
            steps.append(self.vector(k, moved, u) - self.vector(k, packed, u))
        edges = [
            np.concatenate([edge if other == k else 0.0 * alias for other, alias in enumerate(self.aliases)])
            for k, each in enumerate(self.datasets)
            for edge in (*each.observation.layout.edges(self.aliases[k]), *each.observation.together)
        ]
        return np.array([self.discrepancy * np.concatenate(effect), np.concatenate(steps), *edges]).T

    def sensitivities(self, u: Array) -> Array:
        """J in standard deviations, shape (data, nuisance parameters): of the parts, then of every channel of every record."""
        blocks = []
        for k in range(len(self.datasets)):
            packed, own = self.packed(k, u), self._library[k] + self.corrections[k].added
            base = self.vector(k, packed, u)
            columns = [*(self._vectors(k, packed + own[self.used], u) - base)]
            for other, name in self.channels:
                for key, size in spread_of_good(name).items():
                    probe = name, good(**{key: size})
                    columns.append(self.vector(k, packed, u, probe) - base if other == k else np.zeros_like(base))
            blocks.append(np.array(columns).T)
        return np.vstack(blocks)
