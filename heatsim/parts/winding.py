# SPDX-License-Identifier: GPL-3.0-or-later
"""Windings on rings: wire, strands and bundles; fit, length, resistance, capacitance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np

from heatsim.constants import COPPER_DENSITY
from heatsim.errors import InputError
from heatsim.parts.ring import RingCore
from heatsim.physics.conductor import copper_resistivity, skin_depth
from heatsim.physics.layers import turn_resistance_ratio
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.numeric import Numeric
from heatsim.physics.ringcore import BoreFill, RingSize, air_core_inductance, fill_bore, mean_turn_length, ring_surface, wound_size
from heatsim.physics.winding import bundle_factor, lay_factor, layer_capacitance, turn_capacitance

Lay = Literal["side by side", "twisted"]

TWIST = 10.0
"""Bundle diameters to one full twist of a twisted bundle; common practice, no source."""

ENAMEL_PERMITTIVITY = 3.5
"""Relative permittivity of wire enamel (polyester, polyamide-imide); memory, 3 to 4."""

AC_BAND: dict[Lay | Literal["single"], float] = {"single": 1.4, "side by side": 1.5, "twisted": 2.0}
"""Factor, both ways, within which the part of the resistance above the direct one is known. A single wire: the layer model is
within 25 % of filaments for one, two and three neat layers, and the netlist's ladder within 10 % of the model. Strands side by
side do not share the current equally, and a twist does not bring every strand everywhere: common practice, no source."""

THICKEST = 1e3
"""Wire diameter over skin depth [1] up to which the resistance is tabulated, and taken as constant beyond."""

CAPACITANCE_BAND = 3.0
"""Factor, both ways, within which the self-capacitance is known: turns spread, cross over and differ from a neat layer."""


class Span(NamedTuple):
    """An estimate and its band."""

    value: float
    low: float
    high: float


@lru_cache(maxsize=256)
def _ratio_table(diameter: float, laid: float, wires: int, size: RingSize, sublayers: float) -> tuple[Array, Array]:
    """Logarithms of diameter over skin depth and of the share by which the resistance exceeds the direct one [1]."""
    thickness = np.geomspace(0.1, THICKEST, 241)
    ratio = turn_resistance_ratio(diameter, laid, wires, size, diameter / thickness, sublayers)
    return np.log(np.append(1e-3, thickness)), np.log(np.maximum(np.append(1e-8 * (ratio[0] - 1.0), ratio - 1.0), 1e-20))


@dataclass(frozen=True)
class Winding:
    """`turns` of `strands` parallel round wires, bare `diameter` and `overall` diameter with enamel [m].

    lay: strands side by side, each a wire of its own in the layer, or twisted into a round bundle that is laid as one
    thick wire; looseness: how far the innermost layer stands off the core, on average [m]; tail: free length left at
    each end [m]; lead: length of each end in free air that carries heat off [m], 0 where none is reckoned with.
    """

    turns: int
    strands: int
    diameter: float
    overall: float
    lay: Lay = "side by side"
    looseness: float = 0.0
    tail: float = 0.1
    lead: float = 0.0

    @property
    def laid(self) -> float:
        """Diameter [m] of what lies side by side in a layer: a wire, or a twisted bundle."""
        return self.overall * (bundle_factor(self.strands) if self.lay == "twisted" else 1.0)

    @property
    def wires(self) -> int:
        """Wires or bundles through the hole."""
        return self.turns * (1 if self.lay == "twisted" else self.strands)

    @property
    def copper_area(self) -> float:
        """Copper cross-section of one turn [m2]."""
        return self.strands * math.pi * self.diameter**2 / 4

    @property
    def threaded(self) -> float:
        """Diameter [m] of what is drawn through the hole at once: all strands of a turn, in a round bundle."""
        return self.overall * float(bundle_factor(self.strands))

    def copper_fill(self, ring: RingCore) -> float:
        """Bare copper of all turns as a share of the hole [1]."""
        return self.turns * self.copper_area / (math.pi / 4 * self.former(ring).inner_diameter ** 2)

    def former(self, ring: RingCore) -> RingSize:
        """What the wire lies on [m]: the coated stack, with the looseness all round."""
        d1, d2, height = ring.whole
        return RingSize(d1 + 2 * self.looseness, d2 - 2 * self.looseness, height + 2 * self.looseness)

    def fill(self, ring: RingCore) -> BoreFill:
        """How the wires lie in the hole, layer by layer, and the hole left; InputError when they do not fit."""
        return fill_bore(self.former(ring).inner_diameter, self.laid, self.wires)

    def fits(self, ring: RingCore) -> bool:
        """Whether the wires go through the hole."""
        try:
            return bool(self.fill(ring).layers)
        except InputError:
            return False

    def mean_turn(self, ring: RingCore) -> float:
        """Mean length of a turn [m]; off the core by s, a turn is 2 pi s longer."""
        square = mean_turn_length(self.former(ring), self.laid, self.wires)
        return square - (8 - 2 * math.pi) * self.looseness

    @property
    def strand_lay(self) -> float:
        """Length of a strand over that of the turn it runs in [1]."""
        return lay_factor(self.strands, TWIST) if self.lay == "twisted" else 1.0

    def cut_length(self, ring: RingCore) -> float:
        """Length [m] to cut each strand to, tails included."""
        return (self.turns * self.mean_turn(ring) + 2 * self.tail) * self.strand_lay

    def copper_mass(self, ring: RingCore) -> float:
        """Copper of all strands, tails included [kg]; IEC 60028."""
        return COPPER_DENSITY * self.copper_area * self.cut_length(ring)

    def resistance(self, ring: RingCore, temperature: float) -> float:
        """DC resistance [ohm] at a copper temperature [°C], without tails; IEC 60028."""
        length = self.turns * self.mean_turn(ring) * self.strand_lay
        return float(copper_resistivity(temperature)) * length / self.copper_area

    @property
    def ac_band(self) -> float:
        """Factor, both ways, within which the part of the resistance above the direct one is known; see `AC_BAND`."""
        return AC_BAND["single" if self.strands == 1 else self.lay]

    def ac_factor(self, ring: RingCore, frequency: Array, temperature: Numeric) -> Array:
        """Resistance at each frequency [Hz] over the direct one [1], at a copper temperature [°C]; the two broadcast.

        Mean over the length of a turn, place by place: `heatsim.physics.layers.turn_resistance_ratio`. Strands side by side
        count as separate wires, each carrying its share of the current. A twisted bundle of n strands counts as a square of
        sqrt(n) by sqrt(n) strands that change places. Band: `ac_band`. Read from a table, within 1e-3.
        """
        depth = np.asarray(skin_depth(copper_resistivity(temperature), np.asarray(frequency, dtype=float)))
        thickness, ratio = _ratio_table(self.diameter, self.laid, self.wires, self.former(ring), self.sublayers)
        x = np.log(self.diameter / np.maximum(depth, self.diameter / THICKEST))
        return np.asarray(1.0 + np.exp(np.interp(x, thickness, ratio)))

    @property
    def sublayers(self) -> float:
        """Layers of strands in a layer as it is laid [1]."""
        return math.sqrt(self.strands) if self.lay == "twisted" else 1.0

    def air_inductance(self, ring: RingCore) -> float:
        """Inductance [H] with the core gone; a loose winding encloses more air."""
        return air_core_inductance(self.turns, self.former(ring), self.laid)

    def wound(self, ring: RingCore) -> RingSize:
        """Outer diameter, hole left and height of the wound stack [m]."""
        return wound_size(self.former(ring), self.laid, self.wires)

    def surface(self, ring: RingCore) -> float:
        """Surface of the wound stack [m2], bore included; it gives off the heat."""
        return ring_surface(self.wound(ring))

    def self_capacitance(self, ring: RingCore) -> Span:
        """Capacitance [F] across the winding, an estimate within `CAPACITANCE_BAND`.

        One neat layer of touching turns on a conducting core, 1.366 times the capacitance of two neighbours (Massarini &
        Kazimierczuk 1997); of strands side by side only the two that face each other count. Winding back over the start
        in a second layer can raise it far above that: leave a gap between start and end.
        """
        coat = max(self.overall, self.diameter * 1.005)
        turn = turn_capacitance(self.diameter, coat, self.mean_turn(ring), ENAMEL_PERMITTIVITY)
        value = layer_capacitance(self.turns, turn)
        return Span(value, value / CAPACITANCE_BAND, value * CAPACITANCE_BAND)
