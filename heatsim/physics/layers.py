# SPDX-License-Identifier: GPL-3.0-or-later
"""Resistance of layered round wire at a frequency, place by place round a turn on a ring.

One layer:  layer_resistance_ratio
One place:  place_resistance_ratio
Whole turn: turn_resistance_ratio

In the hole of a ring the wires crowd in several layers; on the outside the same wires have room for one or two. The field
beyond each layer is that of the ampere-turns outside it, so a turn's resistance is a mean over its length, far below what the
layers in the hole would make of it. The ratios are to the resistance at zero frequency.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from heatsim.physics.conductor import (
    dowell_factor,
    dowell_round_wire_xi,
    round_wire_resistance_ratio,
    slab_resistance_ratio,
    transverse_field_coefficient,
)
from heatsim.physics.numeric import FloatArray, Numeric
from heatsim.physics.ringcore import RingSize, fill_bore, wires_in_layer

CLOSE, WIDE = 1.3, 2.0
"""Pitch over diameter up to which Dowell's layers hold, and from which single wires in a uniform field do; against filaments
the former is within 10 % below 1.3, the latter within 10 % from 2 on for the layers that fit there."""

FACE_PLACES = 4
"""Places along a face at which the resistance is taken; more change the mean by less than 1 %."""


def layer_resistance_ratio(diameter: float, pitch: float, delta: Numeric, before: float) -> FloatArray:
    """AC over DC resistance [1] of one layer of round wire among others.

    diameter: of the bare wire [m]
    pitch: between the middles of neighbouring wires [m]
    delta: skin depth [m], any shape
    before: ampere-turns on the far side of the layer over the layer's own [1]; 0 for the outermost
    Close wires: F = slab(xi) + 2 q (q - 1) prox(xi), q = before + 1, whose sum over the layers of a stack is Dowell's formula
    (Proc. IEE 113, 1966, p. 1387). Wide ones: the lone wire's skin effect plus its loss in the mean field, (before + 1/2) I
    over the pitch (Ferreira, IEEE Trans. Power Electronics 9, 1994). Between `CLOSE` and `WIDE` the logarithm is interpolated.
    """
    depth = np.asarray(delta, dtype=float)
    alone = np.asarray(round_wire_resistance_ratio(diameter / 2.0, depth))
    share = min(max((pitch / diameter - CLOSE) / (WIDE - CLOSE), 0.0), 1.0)
    xi = np.asarray(dowell_round_wire_xi(diameter, pitch, depth))
    slab = np.asarray(slab_resistance_ratio(xi))
    proximity = (np.asarray(dowell_factor(xi, 2.0)) - slab) / 2.0
    close = np.maximum(slab + 2.0 * before * (before + 1.0) * proximity, alone)
    eddy = np.asarray(transverse_field_coefficient(diameter / 2.0 / depth)) * ((before + 0.5) / pitch) ** 2
    wide = alone + eddy * np.pi / 2.0 * diameter**2
    return np.asarray(close ** (1.0 - share) * wide**share)


def place_resistance_ratio(
    diameter: float, circles: Sequence[tuple[int, float]], delta: Numeric, sublayers: float = 1.0
) -> FloatArray:
    """AC over DC resistance [1], mean over the wires, where they lie in layers on circles.

    diameter: of the bare wire [m]
    circles: of each layer from the core outwards, its number of wires [1] and the circumference it is spread over [m]
    delta: skin depth [m], any shape
    sublayers: layers of strands that a layer of twisted bundles counts for [1]; the wires are then bundles
    """
    total = sum(wires for wires, _ in circles)
    beyond, mean = total, np.zeros(np.shape(delta))
    for wires, around in circles:
        beyond -= wires
        steps = int(round(sublayers)) if sublayers > 1.0 else 1
        for step in range(steps):
            before = (beyond / wires + (steps - 1 - step) / steps) * steps
            mean = mean + wires / total / steps * layer_resistance_ratio(diameter, around / wires / steps, delta, before)
    return np.asarray(mean)


def turn_resistance_ratio(
    diameter: float, laid: float, wires: int, size: RingSize, delta: Numeric, sublayers: float = 1.0
) -> FloatArray:
    """AC over DC resistance [1] of a winding on a ring, mean over the length of a turn.

    diameter: of the bare wire or strand [m]
    laid: overall diameter of what lies side by side, a wire or a bundle [m]
    wires: wires or bundles through the hole [1]
    size: what they lie on [m]
    delta: skin depth [m], any shape
    sublayers: as above [1]
    Hole, outside and the two faces count by their lengths; on a face at radius r the wires spread over 2 pi r. Against
    filaments that fill the wires within 25 % for one, two and three layers in the hole. Raises InputError when the wires do
    not fit the hole.
    """
    inner, outer, height = size.inner_diameter, size.outer_diameter, size.height
    bore = [(n, math.pi * (inner - (2 * j + 1) * laid)) for j, n in enumerate(fill_bore(inner, laid, wires).layers)]
    places = [(height, bore), (height, _outside(outer, laid, wires))]
    step = (outer - inner) / 2.0 / FACE_PLACES
    places += [(2.0 * step, _flat(inner + (2 * k + 1) * step, laid, wires)) for k in range(FACE_PLACES)]
    length = sum(part for part, _ in places)
    ratio = sum(part / length * place_resistance_ratio(diameter, circles, delta, sublayers) for part, circles in places)
    return np.asarray(ratio)


def _outside(outer: float, laid: float, wires: int) -> list[tuple[int, float]]:
    """Layers round the outside, each on a larger circle."""
    circles: list[tuple[int, float]] = []
    while (left := wires - sum(n for n, _ in circles)) > 0:
        around = math.pi * (outer + (2 * len(circles) + 1) * laid)
        circles.append((min(left, max(1, int(around / laid))), around))
    return circles


def _flat(diameter: float, laid: float, wires: int) -> list[tuple[int, float]]:
    """Layers on a face at a circle."""
    around = math.pi * diameter
    room = max(1, wires_in_layer(diameter + laid, laid))
    full, rest = divmod(wires, room)
    return [(room, around)] * full + ([(rest, around)] if rest else [])
