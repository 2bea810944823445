# SPDX-License-Identifier: GPL-3.0-or-later
"""Where each wire of a winding lies: layer by layer in the hole, spread evenly over the ring, and on the outside.

The layers are those that the winding's numbers rest on (`Winding.fill`). Wires of a turn lie side by side; between the turns of a
layer the room is shared evenly, but for a sector left free between start and end.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from heatsim.parts.choke import Core
from heatsim.physics.ringcore import wires_in_layer

Place = tuple[float, float]

FREE_SECTOR = 30.0
"""Sector left free between start and end where there is room for it [degrees]; common practice, no source."""


@dataclass(frozen=True)
class LaidWire:
    """A wire, or a twisted bundle. turn: from 1; layer: in the hole, from 1 at the core; bore, outside: of its middle, from the
    axis of the ring [m].
    """

    turn: int
    layer: int
    bore: Place
    outside: Place


@dataclass(frozen=True)
class Lay:
    """A winding as laid. wires: in the order of winding; diameter: of each, over the enamel [m]; free: sector left free in the
    layer at the core [degrees]; full: whether that layer has no room for another wire; outer: layers on the outside.
    """

    wires: tuple[LaidWire, ...]
    diameter: float
    free: float
    full: bool
    outer: int

    def turns_of(self, layer: int) -> float:
        """Turns in a layer of the hole."""
        each = sum(wire.turn == 1 for wire in self.wires)
        return sum(wire.layer == layer for wire in self.wires) / each


def lay(core: Core) -> Lay:
    """The winding of a choke as laid."""
    winding, former = core.winding, core.winding.former(core.ring)
    diameter, each = winding.laid, winding.wires // winding.turns
    layers = winding.fill(core.ring).layers
    bore: list[tuple[int, int, float, float]] = []
    for layer, count in enumerate(layers):
        radius = former.inner_diameter / 2 - (layer + 0.5) * diameter
        turns = [(len(bore) + k) // each + 1 for k in range(count)]
        bore += [(turn, layer + 1, radius, angle) for turn, angle in zip(turns, _spread(turns, radius, diameter), strict=True)]
    circles = _circles(former.outer_diameter / 2, diameter, len(bore))
    order = sorted(range(len(bore)), key=lambda k: (bore[k][3], k))
    outside = dict(zip(order, _outside(circles, [bore[k][3] for k in order], diameter), strict=True))
    wires = tuple(LaidWire(turn, layer, _place(r, a), _place(*outside[k])) for k, (turn, layer, r, a) in enumerate(bore))
    pitch = _pitch(bore[0][2], diameter)
    used = bore[layers[0] - 1][3] - bore[0][3] + pitch
    free = 2 * math.pi - used
    return Lay(wires, diameter, math.degrees(free), free < pitch, len(circles))


def _pitch(radius: float, diameter: float) -> float:
    """Angle between wires that touch on a circle [rad]; all of it for one that fills the circle."""
    return 2 * math.asin(min(diameter / (2 * radius), 1.0)) if radius > 0 else 2 * math.pi


def _spread(turns: list[int], radius: float, diameter: float) -> Iterator[float]:
    """Angles of the wires of a layer [rad], counted from the middle of the free sector."""
    pitch, ends = _pitch(radius, diameter), [a != b for a, b in zip(turns, turns[1:], strict=False)]
    spare = max(2 * math.pi - len(turns) * pitch, 0.0)
    free = min(spare, math.radians(FREE_SECTOR))
    gap = (spare - free) / sum(ends) if any(ends) else 0.0
    angle = (free + pitch) / 2
    for new in [False, *ends]:
        angle += gap if new else 0.0
        yield angle
        angle += pitch


def _circles(radius: float, diameter: float, wires: int) -> list[tuple[float, int]]:
    """Radius and number of wires of each layer on the outside, as few layers as will do, each filled alike."""
    circles: list[tuple[float, int]] = []
    while sum(room for _, room in circles) < wires:
        middle = radius + (len(circles) + 0.5) * diameter
        circles.append((middle, wires_in_layer(2 * middle + diameter, diameter)))
    whole = sum(room for _, room in circles)
    counts = [wires * room // whole for _, room in circles]
    for k in range(wires - sum(counts)):
        counts[-1 - k] += 1
    return [(middle, count) for (middle, _), count in zip(circles, counts, strict=True)]


def _outside(circles: list[tuple[float, int]], angles: list[float], diameter: float) -> list[Place]:
    """Radius and angle [rad] of every wire on the outside, by its angle in the hole and as near to that as the others let it.

    The circles take turns, each as often as it has wires. On a circle, wires at least a pitch p apart are a_k = f_k + k p with f
    rising: the nearest such angles are an isotonic regression.
    """
    from scipy.optimize import isotonic_regression

    order = sorted(((k + 0.5) / count, c) for c, (_, count) in enumerate(circles) for k in range(count))
    places: list[Place] = [(0.0, 0.0)] * len(angles)
    for c, (radius, count) in enumerate(circles):
        mine = [k for k, (_, circle) in enumerate(order) if circle == c]
        pitch = _pitch(radius, diameter)
        wanted = [angles[k] - n * pitch for n, k in enumerate(mine)]
        highest = 2 * math.pi - (count - 0.5) * pitch
        near = isotonic_regression(wanted).x.clip(pitch / 2, max(highest, pitch / 2))
        for n, k in enumerate(mine):
            places[k] = (radius, float(near[n]) + n * pitch)
    return places


def _place(radius: float, angle: float) -> Place:
    """An angle from the bottom, counted against the clock."""
    return radius * math.sin(angle), -radius * math.cos(angle)
