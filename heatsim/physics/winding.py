# SPDX-License-Identifier: GPL-3.0-or-later
"""Strands twisted into a bundle, and the capacitance between neighbouring turns.

Bundle:      bundle_factor, lay_factor
Capacitance: turn_capacitance, layer_capacitance
"""

from __future__ import annotations

import math

from heatsim.constants import EPSILON_0
from heatsim.errors import InputError
from heatsim.physics.numeric import require_positive

_CIRCLES = (
    1.0,
    2.0,
    2.154701,
    2.414214,
    2.701302,
    3.0,
    3.0,
    3.304765,
    3.613126,
    3.813026,
    3.923804,
    4.029602,
    4.236068,
    4.328429,
    4.521357,
    4.615426,
    4.792034,
    4.863703,
    4.863703,
)
"""Smallest circle round n equal circles, in their diameters, n = 1 to 19. Geometry; proved or best known packings
(memory)."""


def bundle_factor(strands: int) -> float:
    """Diameter of a round bundle over that of one of its strands [1].

    Up to 19 strands the tightest packing of equal circles; above, sqrt(n/0.78), its usual share of the circle.
    """
    if strands < 1:
        raise InputError.single("bundle_factor", "number of strands", strands, "1 or more")
    return _CIRCLES[strands - 1] if strands <= len(_CIRCLES) else math.sqrt(strands / 0.78)


def lay_factor(strands: int, lay_diameters: float) -> float:
    """Length of a strand over that of its twisted bundle [1].

    strands: number of them [1]; lay_diameters: length of lay over bundle diameter [1]

    sqrt(1 + (pi x/p)^2): helix of diameter x = 2/3 of (bundle less one strand), the mean over its section, with one full
    twist in p = `lay_diameters` bundle diameters [1]. Geometry; 1 for a single strand.
    """
    require_positive("lay_factor", lay_diameters=lay_diameters)
    across = bundle_factor(strands)
    return math.hypot(1.0, math.pi * (2.0 / 3.0) * (across - 1.0) / (lay_diameters * across))


def turn_capacitance(bare: float, overall: float, length: float, permittivity: float) -> float:
    """Capacitance [F] between two touching turns of enamelled wire over a length of turn [m].

    bare: diameter [m]; overall: diameter over the enamel [m]; length: [m]
    permittivity: relative, of the enamel [1]

    Bare and overall diameter [m], relative permittivity [1] of the enamel. Flux tubes from one wire to the other
    through both coats and the air between, over 30° to each side of the touching line:
    C = eps0 l integral of dθ/2 /(1 + ln(D/d)/eps_r - cos θ), in closed form. Source: Massarini & Kazimierczuk, IEEE
    Trans. Power Electronics 12, 1997, p. 671.
    """
    require_positive("turn_capacitance", bare=bare, length=length, permittivity=permittivity, coat=overall - bare)
    a = 1.0 + math.log(overall / bare) / permittivity
    angle = math.atan(math.sqrt((a + 1.0) / (a - 1.0)) * math.tan(math.pi / 12.0))
    return 2.0 * EPSILON_0 * length / math.sqrt(a**2 - 1.0) * angle


def layer_capacitance(turns: int, turn: float, on_core: bool = True) -> float:
    """Capacitance [F] between the ends of one layer of turns [1] from that between two neighbours [F].

    turns: number of them [1]; turn: between two neighbouring turns [F]; on_core: whether the core conducts [1]

    On a conducting core each turn also has twice `turn` to the core, and a ladder of such turns tends to 1.366 of it;
    without a core they are in series, turn/(N - 1). Built up turn by turn from the middle, two at a time, as in the
    source of `turn_capacitance`.
    """
    require_positive("layer_capacitance", turns=turns, turn=turn)
    if turns < 2:
        return 0.0
    if not on_core:
        return turn / (turns - 1)
    core = 2.0 * turn
    total, count = (turn + core / 2.0, 2) if turns % 2 == 0 else (turn / 2.0 + core / 2.0, 3)
    while count < turns:
        total, count = 1.0 / (2.0 / turn + 1.0 / total) + core / 2.0, count + 2
    return total
