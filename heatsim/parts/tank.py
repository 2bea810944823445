# SPDX-License-Identifier: GPL-3.0-or-later
"""The tank: capacitor bank, work coil with its leads, and the workpiece in it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from heatsim.errors import InputError
from heatsim.parts.film import FilmCapacitor
from heatsim.parts.rails import Rails
from heatsim.physics.coil import crowded_coil
from heatsim.physics.conductor import copper_resistivity, skin_depth, tube_resistance_ratio
from heatsim.physics.inductance import solenoid_inductance


@dataclass(frozen=True)
class CapacitorBank:
    """`count` equal capacitors in parallel.

    unit: capacitance of one [F]; resistance: series resistance of the bank [ohm]; inductance: of the bank and its
    bars [H]; voltage_rating: peak [V] and current_rating: rms [A] of one capacitor, None where unknown; rails: bars that they
    stand along, None where nothing is known of them and the capacitors are taken to share evenly; rails_resistance: of the bars, as
    the bank's current sees it [ohm]; part: of the catalogue, whose figures stand where the scenario gives none of its own.
    """

    unit: float
    count: int
    resistance: float
    inductance: float
    voltage_rating: float | None
    current_rating: float | None
    rails: Rails | None = None
    rails_resistance: float = 0.0
    part: FilmCapacitor | None = None

    def rests_on_part(self, field: str) -> bool:
        """Whether a rating, by the name of its field, is the part's own."""
        return self.part is not None and getattr(self, field) is not None and getattr(self, field) == getattr(self.part, field)

    @property
    def capacitance(self) -> float:
        """Of the bank [F]."""
        return self.unit * self.count


@dataclass(frozen=True)
class Helix:
    """A work coil of tube. turns [1]; diameter: of the middle of the tube [m]; length [m]; tube: outer diameter of the tube [m];
    wall [m].
    """

    turns: float
    diameter: float
    length: float
    tube: float
    wall: float

    def impedance(self, frequency: float, celsius: float) -> tuple[float, float, str]:
        """Inductance [H] and resistance [ohm] of the empty coil at a frequency [Hz] and a copper temperature [°C], and why the
        current is not taken as crowding to the inside of the turns; empty where it is, by `crowded_coil`.
        """
        resistivity = float(copper_resistivity(celsius))
        try:
            found = crowded_coil(self.diameter, self.length, self.turns, self.tube, self.wall, resistivity, frequency)
        except InputError as error:
            even = solenoid_inductance(self.diameter, self.length, self.turns, self.tube)
            alone = self.metres * tube_resistance(self.tube, self.wall, frequency, celsius)
            return even, CROWDING * alone, error.problems[0].what
        return found.inductance, found.resistance, ""

    @property
    def metres(self) -> float:
        """Length of the tube laid straight [m]: sqrt((pi d)^2 + (l/n)^2) a turn."""
        return self.turns * math.hypot(math.pi * self.diameter, self.length / self.turns)


CROWDING = 1.5
"""Factor on the lone straight tube's resistance for the crowding of current in neighbouring turns where `crowded_coil` does not
hold; an estimate, 1.2 to 2 for coils wound with gaps of a third to one tube diameter."""


def tube_resistance(tube: float, wall: float, frequency: float, celsius: float) -> float:
    """Of a metre of lone straight tube [ohm/m]: its direct one, over the wall's section pi (tube - wall) wall, times
    `tube_resistance_ratio`.

    tube: outer diameter [m]; wall [m]; frequency [Hz]; celsius: of the copper [°C]
    """
    resistivity = float(copper_resistivity(celsius))
    ratio = tube_resistance_ratio(tube / 2, wall, float(skin_depth(resistivity, frequency)))
    return resistivity / (math.pi * (tube - wall) * wall) * float(ratio)


@dataclass(frozen=True)
class WorkCoil:
    """inductance [H] and resistance [ohm] of the empty coil at working frequency; leads likewise.

    basis: where they come from, `measured` or `estimate`; origin: the same in words, with what was assumed; cautions: what of it is
    not to be relied on, in sentences.
    """

    inductance: float
    resistance: float
    lead_inductance: float
    lead_resistance: float
    basis: str = "measured"
    origin: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Workpiece:
    """What the coil's terminals see with the workpiece in: inductance [H] and resistance [ohm]; basis of the values.

    origin: where they come from in words; permeability: relative, by power, None where it is measured with the rest or not known;
    field: amplitude at its surface [A/m] that the permeability belongs to, and current: the coil's [A] that makes it, None unless
    the permeability follows the field; band: by how much its resistance may be off [1], None where it is not known; doubt: why the
    values cannot be relied on, empty where they can; branch_factor: on the ratio of reactance to resistance of the branch that
    stands for it (`coupled_branch`): what it does at harmonics is not known from one frequency.
    """

    inductance: float
    resistance: float
    basis: str
    origin: str = ""
    permeability: float | None = None
    field: float | None = None
    current: float | None = None
    band: float | None = None
    doubt: str = ""
    branch_factor: float = 1.0

    def share(self, coil: WorkCoil, share: float) -> Workpiece:
        """A workpiece that changes the coil's inductance and resistance by `share` [1] of what this one does."""
        return replace(
            self,
            inductance=coil.inductance + share * (self.inductance - coil.inductance),
            resistance=coil.resistance + share * (self.resistance - coil.resistance),
        )


@dataclass(frozen=True)
class CoupledBranch:
    """A shorted secondary that stands for a workpiece.

    primary: coil inductance to use [H]; secondary [H] and resistance [ohm] of the branch; coupling factor k.
    """

    primary: float
    secondary: float
    resistance: float
    coupling: float


@dataclass(frozen=True)
class Movement:
    """A workpiece that is pulled out of the coil, or put in, while the heater runs.

    leaves: out, else in; at: instant from which it moves [s]; ramp: how long that takes [s]
    """

    leaves: bool
    at: float
    ramp: float

    @property
    def over(self) -> float:
        """Instant from which it is gone, or in [s]."""
        return self.at + self.ramp


LEAST_RATIO = 0.5
"""Of reactance to resistance of the workpiece's branch: below, its resistance would rise with the square of frequency over the
tank's first harmonics, as that of a foil thinner than the skin depth does, which no workpiece to be heated is."""

SECONDARY = 1e-6
"""Inductance of the workpiece branch [H]; any value serves, only k and R/L are felt at the coil."""


def coupled_branch(coil: WorkCoil, workpiece: Workpiece, frequency: float) -> CoupledBranch:
    """The branch that makes a coil of (L0, r0) look like (L, r) at `frequency` [Hz].

    A shorted secondary reflects Z = (w k)^2 L1 L2/(R2 + j w L2). With x = w L2/R2 that is a resistance
    w k^2 L1 x/(1+x^2) and an inductance -k^2 L1 x^2/(1+x^2). Two wishes, dR and dL, fix k and x:
    x = -w dL/dR, k^2 = -dL (1+x^2)/(L1 x^2). A magnetic workpiece adds flux as well: when dL is above -dR/w (x < 1)
    the branch is set to x = 1, the ratio of resistance to reactance of a thick conductor, and the flux it adds is put
    into the coil, L1 = L0 + dL + dR/w; likewise, L1 = L0 + dL + x dR/w, with another x. Raises InputError when k would reach
    0.98: no workpiece couples so well.
    """
    w = 2 * math.pi * frequency
    added = workpiece.resistance - coil.resistance
    if added <= 0:
        given, allowed = f"{1e3 * workpiece.resistance:.4g} mohm", f"above the empty coil's {1e3 * coil.resistance:.4g} mohm"
        raise InputError.single("workpiece", "the coil must have more resistance with it in than without it", given, allowed)
    change = workpiece.inductance - coil.inductance
    seen = -w * change / added
    x = max(max(seen, 1.0) * workpiece.branch_factor, LEAST_RATIO)
    primary = coil.inductance if x == seen else coil.inductance + change + added * x / w
    square = added * (1 + x**2) / (w * primary * x)
    if not 0 < square < 0.98**2:
        needed = f"{math.sqrt(abs(square)):.2f}"
        raise InputError.single("workpiece", "needs a coupling factor that no workpiece has", needed, "at most 0.98")
    return CoupledBranch(primary, SECONDARY, w * SECONDARY / x, math.sqrt(square))
