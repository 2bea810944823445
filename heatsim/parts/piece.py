# SPDX-License-Identifier: GPL-3.0-or-later
"""A round workpiece in its coil, cold or hot: bar, tube, or crucible with a charge.

The piece is cut into slices along its axis and shells over its radius. In each slice the field falls off over the radius as
resistivity and permeability of its shells let it (`heatsim.physics.bar_field`); the slices act on each other and on the coil
through their flux (`heatsim.physics.sheets`). Both are brought to agree with the field at each slice's surface. That is fast and
leaves out what happens at the piece's ends: a field in two dimensions (`heatsim.physics.slices`), with one equivalent permeability
a slice, is computed now and then and says by how much each slice's heat and the coil's inductance are off (`Piece.corrected`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.parts.hot_metal import COLD_C, HotMetal
from heatsim.physics.bar_field import BarField, bar_field, magnetisation_share, radial_edges, steel_bar_field
from heatsim.physics.conductor import skin_depth
from heatsim.physics.eddy import Reflection
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.saturable import loss_permeability, surface_permeability
from heatsim.physics.sheets import SheetCoupling, sheet_coupling, sheet_fields, sheet_reflection
from heatsim.physics.slices import cut_piece, slice_field

Complexes = npt.NDArray[np.complex128]

SLICES, CELLS = 12, 44
"""Slices along the piece and shells over its radius. With twice as many of both, power in a given current changes by less than
0.5 % cold or past the Curie point, 2 % on the way there, 5 % while the piece passes it; reactance by less than 0.5 %, 2 % and 3 %
of the added impedance (`tests/parts/test_piece.py`)."""

FINEST = 0.3
"""Thickness of the outermost shell over the least skin depth; see `heatsim.physics.bar_field`."""

STRONG = 10e3
"""Amplitude of the field [A/m] for which the least skin depth of steel is taken: weaker ones heat little."""

CURIE_SPREAD = 10.0
"""Range of temperature [K] over which the Curie point of one piece is spread, at the least: its composition differs from place to
place (estimate; grades differ by as much, memory)."""

FAR_OFF = (0.05, 20.0)
"""Bounds of the correction of a slice's heat [1]. Slices at the ends, to which the heat of an end face goes, come to 2 to 5, the
more the thinner they are; only slices far outside the coil, with next to no heat, come near the bounds."""

AGREED, ROUNDS = 1e-4, 60
"""Share by which the field at the surface may still move, and rounds until then at most."""


@dataclass(frozen=True)
class Substance:
    """What a shell is made of: resistivity [ohm*m], permeability [1] or curve of a steel, cold; hot: how all of it changes with
    temperature, None where that is not known; diffusion: factor on its thermal conductivity [1], for what stands for another
    shape."""

    resistivity: float
    permeability: float | None
    curve: str | None
    hot: HotMetal | None = None
    diffusion: float = 1.0

    def resistivity_at(self, celsius: Array) -> Array:
        """[ohm*m] at temperatures [°C]: the metal's own course, scaled to the cold value."""
        if self.hot is None:
            return np.full_like(celsius, self.resistivity)
        return np.asarray(self.hot.resistivity(celsius)) * (self.resistivity / float(self.hot.resistivity(COLD_C)))

    def share(self, low: Array, high: Array) -> Array:
        """Share of the cold magnetisation that is left [1], mean over temperatures [°C] from low to high, low below high."""
        curie = self.hot.curie_c if self.hot else None
        if curie is None:
            return np.ones_like(low)
        celsius, total = _share_integral(curie)
        return np.asarray((np.interp(high, celsius, total) - np.interp(low, celsius, total)) / (high - low))


@lru_cache(maxsize=16)
def _share_integral(curie: float) -> tuple[Array, Array]:
    """Temperatures [°C] and the integral of the share over them [K]."""
    from scipy.integrate import cumulative_trapezoid

    celsius = np.concatenate([[-200.0], np.arange(-100.0, curie - 5.0, 2.0), np.linspace(curie - 5.0, curie, 101), [1e5]])
    return celsius, np.asarray(cumulative_trapezoid(magnetisation_share(celsius, curie), celsius, initial=0.0))


@dataclass(frozen=True)
class LayeredHeat:
    """Heat and conductivity of a piece of several layers, as conduction asks for them.

    metals: from the axis outwards; stops: number of the shell at which each ends; slices: along the axis; diffusion: factor on
    the conductivity [1]. Arrays are of shape
    (.., slices, shells), or flat in the order of the shells, each with all its slices (`heatsim.physics.conduction`).
    """

    metals: tuple[HotMetal, ...]
    stops: tuple[int, ...]
    slices: int
    diffusion: float = 1.0

    def temperature(self, enthalpy: Array) -> Array:
        """[°C] at an enthalpy [J/m3]."""
        return self._by_layer(HotMetal.temperature, enthalpy)

    def enthalpy(self, celsius: Array) -> Array:
        """[J/m3] at a temperature [°C]."""
        return self._by_layer(HotMetal.enthalpy, celsius)

    def conductivity(self, celsius: Array) -> Array:
        """[W/(m*K)] at a temperature [°C]."""
        return self.diffusion * self._by_layer(HotMetal.conductivity, celsius)

    def capacity(self, celsius: Array) -> Array:
        """Heat that warms it by one kelvin [J/(m3*K)], over the 10 K round a temperature [°C]."""
        return (self.enthalpy(celsius + 5.0) - self.enthalpy(celsius - 5.0)) / 10.0

    def _by_layer(self, of: Callable[[HotMetal, Array], Any], values: Array) -> Array:
        if len(self.metals) == 1:
            return np.asarray(of(self.metals[0], values))
        wide = 1 if values.ndim > 1 and values.shape[-2:] == (self.slices, self.stops[-1]) else self.slices
        stops = [0, *(each * wide for each in self.stops)]
        parts = [of(metal, values[..., a:b]) for metal, a, b in zip(self.metals, stops, stops[1:], strict=False)]
        return np.concatenate(parts, axis=-1)


@dataclass(frozen=True)
class PieceShape:
    """outer, bore: radii [m], bore 0 for a solid piece; length [m]; offset: of its middle from the coil's along the axis [m];
    coil: diameter [m], length [m], turns [1]."""

    outer: float
    bore: float
    length: float
    offset: float
    coil: tuple[float, float, float]


@dataclass(frozen=True)
class Correction:
    """What a field in two dimensions makes of the sheets' answer: factors on the heat of every slice [1], (n,), and what is added
    to the coil's inductance [H]."""

    heat: Array
    inductance: float

    @classmethod
    def none(cls, slices: int) -> Correction:
        """No correction."""
        return cls(np.ones(slices), 0.0)


@dataclass(frozen=True)
class PieceField:
    """A piece in its field.

    reflection: what it adds to the coil; loss: mean power density of every cell [W/m3], shape (slices, shells); surface: amplitude
    of the field at every slice's surface [A/m]; mean: mean permeability of every slice [1], complex; permeability: of every cell
    [1]
    """

    reflection: Reflection
    loss: Array
    surface: Array
    mean: Complexes
    permeability: npt.NDArray[Any]


@dataclass(frozen=True, eq=False)
class Piece:
    """A piece cut for calculation.

    shape; layers: what it is made of from the axis outwards, each with the radius at which it ends [m]; edges: of the shells [m];
    cuts: of the slices along the axis from the coil's middle [m]
    """

    shape: PieceShape
    layers: tuple[tuple[Substance, float], ...]
    edges: Array
    cuts: Array

    @cached_property
    def coupling(self) -> SheetCoupling:
        """How the slices and the coil act on each other."""
        return sheet_coupling(self.shape.coil, self.shape.outer, self._places)

    @cached_property
    def _places(self) -> tuple[float, ...]:
        """The cuts as plain numbers."""
        return tuple(map(float, self.cuts))

    def __hash__(self) -> int:
        return hash((self.shape, self._places, self.edges.tobytes()))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Piece):
            return NotImplemented
        ours, theirs = ((each.shape, each.layers, each._places) for each in (self, other))
        return ours == theirs and np.array_equal(self.edges, other.edges)

    @cached_property
    def volumes(self) -> Array:
        """Of every cell [m3], shape (slices, shells)."""
        return np.outer(np.diff(self.cuts), np.pi * np.diff(self.edges**2))

    @cached_property
    def _spans(self) -> tuple[tuple[Substance, slice], ...]:
        """Shells of each layer."""
        ends = [int(np.searchsorted(self.edges, end - 1e-9)) for _, end in self.layers]
        return tuple((layer[0], slice(first, last)) for layer, first, last in zip(self.layers, [0, *ends], ends, strict=False))

    def over_layers(self, of: Callable[[Substance, Array], Array], values: Array) -> Array:
        """A quantity of every cell, each layer by its own substance; values: shape (slices, shells)."""
        if len(self.layers) == 1:
            return of(self.layers[0][0], values)
        return np.concatenate([of(substance, values[:, span]) for substance, span in self._spans], axis=1)

    @property
    def middles(self) -> Array:
        """Middle of every shell [m]."""
        return np.asarray((self.edges[:-1] + self.edges[1:]) / 2)

    @property
    def curie_c(self) -> float | None:
        """Curie point of its outermost magnetic layer [°C], None without."""
        return next((each.hot.curie_c for each, _ in reversed(self.layers) if each.hot and each.hot.curie_c and each.curve), None)

    @property
    def highest_c(self) -> float:
        """Temperature up to which the data of all its layers hold [°C]; infinite where it is known cold only."""
        return min((each.hot.highest_c for each, _ in self.layers if each.hot), default=np.inf)

    @cached_property
    def heat(self) -> LayeredHeat:
        """How it holds and conducts heat; InputError where that is not known of all its layers."""
        metals = [each.hot for each, _ in self.layers]
        known = tuple(each for each in metals if each is not None)
        if len(known) < len(metals):
            fault = "is of a material whose course over temperature is not known"
            raise InputError.single("workpiece", fault, allowed="a material with [.hot] in the catalogue")
        return LayeredHeat(known, tuple(span.stop for _, span in self._spans), len(self.cuts) - 1, self.layers[-1][0].diffusion)

    @property
    def curve(self) -> str | None:
        """The curve of the steel in it, None without."""
        return next((each.curve for each, _ in self.layers if each.curve), None)

    def electric(
        self, celsius: Array, frequency: float, current: float, start: PieceField | None = None, agreed: float = AGREED
    ) -> PieceField:
        """The field that a coil's current of an amplitude [A] and a frequency [Hz] makes in it.

        celsius: of every cell, shape (slices, shells); start: a field from which it is found sooner; agreed:
        share by which the field at the surface may still move
        Raises InputError when it comes to no end, or the field is beyond what the steel's curve is known for.
        """
        resistivity = self.over_layers(Substance.resistivity_at, celsius)
        share = self._share(celsius)
        mean = start.mean if start else np.full(len(celsius), 0.3 - 0.3j)
        begun, surface = (start.permeability if start else None), np.zeros(len(celsius))
        for number in range(ROUNDS):
            fields = sheet_fields(self.coupling, mean, current)
            before, surface = surface, np.abs(fields)
            found = self._radial(resistivity, share, frequency, surface, begun)
            mean, begun = found.mean if number < 8 else (mean + found.mean) / 2, found.permeability
            if np.max(np.abs(surface - before)) < agreed * np.max(surface):
                seen = sheet_reflection(self.coupling, mean, fields, current, frequency)
                return PieceField(seen, found.loss, surface, mean, found.permeability)
        raise InputError.single("workpiece", "the field at its surface comes to no end", f"{surface.max():.4g} A/m")

    def corrected(self, field: PieceField, current: float, correction: Correction) -> PieceField:
        """A field of `electric` with every slice's heat and the coil's inductance put right; its resistance is that of the heat.

        current: amplitude of the coil's [A]
        """
        loss = field.loss * correction.heat[:, None]
        resistance = 2.0 * float(np.sum(loss * self.volumes)) / current**2
        change = field.reflection.inductance_change + correction.inductance
        return replace(field, reflection=Reflection(resistance, change), loss=loss)

    def correction(self, celsius: Array, field: PieceField, frequency: float) -> Correction:
        """What a field in two dimensions makes of a field of `electric` that was not corrected.

        celsius: of every cell, shape (slices, shells). Each slice stands there with the resistivity of its outermost shell and the
        permeability that gives it the same mean permeability.
        """
        resistivity = self.over_layers(Substance.resistivity_at, celsius)[:, -1]
        return self._correction(resistivity, self._equivalent(resistivity, field.mean, frequency), frequency)

    def even_correction(self, celsius: float, field: PieceField, frequency: float) -> Correction:
        """The same for a piece of one temperature [°C], all of it with the permeability of its hottest slice, and kept.

        Resistivity, permeability and frequency are rounded to some per cent, so that neighbouring operating points find it again:
        the correction hardly follows them.
        """
        place = int(np.argmax(np.sum(field.loss, axis=1)))
        resistivity = self.over_layers(Substance.resistivity_at, np.full(self.volumes.shape, celsius))[:, -1]
        mu = complex(self._equivalent(resistivity, field.mean, frequency)[place])
        coarse = (_rounded(float(resistivity[place])), _rounded(abs(mu)), round(float(np.angle(mu)), 1), _rounded(frequency))
        return _kept_correction(self, *coarse)

    def _correction(self, resistivity: Array, mu: Complexes, frequency: float) -> Correction:
        mean = self._mean(resistivity, mu, frequency)
        fields = sheet_fields(self.coupling, mean, 1.0)
        gain = -2.0 * np.pi * frequency * MU_0 * np.pi * self.shape.outer**2 * self.coupling.widths
        ours = gain * mean.imag * np.abs(fields) ** 2
        seen = sheet_reflection(self.coupling, mean, fields, 1.0, frequency)
        true = slice_field(self.shape.coil, (self.shape.outer, self.shape.bore), self._places, resistivity, mu, frequency)
        heat = np.clip(true.resistance / np.maximum(ours, 1e-300), *FAR_OFF)
        return Correction(heat, true.reflection.inductance_change - seen.inductance_change)

    def _mean(self, resistivity: Array, mu: Complexes, frequency: float) -> Complexes:
        """Mean permeability [1] of slices that are all of one resistivity [ohm*m] and permeability [1] each, (slices,)."""
        shape = self.volumes.shape
        even, magnetic = np.broadcast_to(resistivity[:, None], shape), np.broadcast_to(mu[:, None], shape)
        return bar_field(self.edges, even, magnetic, frequency, np.ones(shape[0])).mean

    def _equivalent(self, resistivity: Array, mean: Complexes, frequency: float) -> Complexes:
        """Permeability [1] that gives every slice its mean permeability, as far as a loss allows; secant steps in logarithms."""
        mu, slope, before = self._first(resistivity, mean, frequency), np.full(mean.shape, 0.5 + 0j), None
        for _ in range(12):
            off = np.log(mean / self._mean(resistivity, mu, frequency))
            if before is not None:
                moved = np.log(mu / before[0])
                known = np.abs(moved) > 1e-9
                slope = np.where(known, (before[1] - off) / np.where(known, moved, 1.0), slope)
            before = mu, off
            mu = _lossy(mu * np.exp(off / np.where(np.abs(slope) < 0.2, 0.5, slope)))
            if np.max(np.abs(off)) < 1e-6:
                break
        return mu

    def _first(self, resistivity: Array, mean: Complexes, frequency: float) -> Complexes:
        """To begin with: right for a thin skin, or, where nearer, the outermost layer's (in thin walls steps find no way to it)."""
        skin = _lossy(mean**2 * self.shape.outer**2 * 0.5j * np.pi * frequency * MU_0 / resistivity)
        plain = np.full(mean.shape, (self.layers[-1][0].permeability or 1.0) + 0j)
        off = [np.abs(np.log(mean / self._mean(resistivity, mu, frequency))) for mu in (skin, plain)]
        return np.where(off[1] < off[0], plain, skin)

    def _share(self, celsius: Array) -> Array:
        """Share of the cold magnetisation that is left in every cell [1], mean over the temperatures along its slice.

        They are taken to run straight from one face to the other, the faces half way between neighbours, and to differ by
        `CURIE_SPREAD` at least.
        """
        between = (celsius[1:] + celsius[:-1]) / 2
        first, last = celsius[:1], celsius[-1:]
        if len(celsius) > 1:
            first, last = 1.5 * celsius[:1] - 0.5 * celsius[1:2], 1.5 * celsius[-1:] - 0.5 * celsius[-2:-1]
        faces = np.concatenate([first, between, last])
        half = np.maximum(np.abs(np.diff(faces, axis=0)), CURIE_SPREAD) / 2
        middle = (faces[1:] + faces[:-1]) / 2
        spans = [each.share(middle[:, span] - half[:, span], middle[:, span] + half[:, span]) for each, span in self._spans]
        return np.concatenate(spans, axis=1)

    def _radial(self, resistivity: Array, share: Array, frequency: float, surface: Array, begun: Any) -> BarField:
        if self.curve is not None:
            magnetic = share * self.over_layers(lambda each, at: np.full_like(at, float(each.curve is not None)), share)
            return steel_bar_field(self.edges, resistivity, self.curve, magnetic, frequency, surface, begun)
        cold = self.over_layers(lambda substance, values: np.full_like(values, substance.permeability or 1.0), share)
        return bar_field(self.edges, resistivity, 1.0 + (cold - 1.0) * share, frequency, surface)


def _rounded(value: float) -> float:
    """To a step of 5 %."""
    return float(np.exp(0.05 * np.round(np.log(value) / 0.05)))


@lru_cache(maxsize=256)
def _kept_correction(piece: Piece, resistivity: float, size: float, angle: float, frequency: float) -> Correction:
    """See `Piece.even_correction`; size and angle of the permeability."""
    count = len(piece.cuts) - 1
    mu = _lossy(np.full(count, size * np.exp(1j * angle)))
    return piece._correction(np.full(count, resistivity), mu, frequency)


def _lossy(mu: Complexes) -> Complexes:
    """The nearest permeability that a passive material can have."""
    return np.asarray(np.maximum(mu.real, 1e-3) + 1j * np.minimum(mu.imag, 0.0))


def cut(
    shape: PieceShape, layers: Sequence[tuple[Substance, float]], frequency: float, slices: int = SLICES, cells: int = CELLS
) -> Piece:
    """A piece cut finely enough for a frequency [Hz].

    layers: from the axis or the bore outwards, each with the radius at which it ends [m]
    """
    outermost = layers[-1][0]
    permeability = outermost.permeability or loss_permeability(surface_permeability(STRONG, str(outermost.curve)))
    thinnest = FINEST * float(skin_depth(outermost.resistivity, frequency, permeability))
    edges = radial_edges(shape.outer, shape.bore, min(thinnest, (shape.outer - shape.bore) / 8), cells)
    for _, end in layers[:-1]:
        edges[np.argmin(np.abs(edges[1:-1] - end)) + 1] = end
    return Piece(shape, tuple(layers), edges, cut_piece(shape.coil, shape.length, shape.offset, slices))
