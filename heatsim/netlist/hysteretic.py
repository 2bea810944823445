# SPDX-License-Identifier: GPL-3.0-or-later
"""The hysteretic choke as netlist, and how its loss is booked.

Its magnetic energy is no function of the flux, so it has no entry among the stores: the integral of the core's voltage
times its current goes to the losses. Over whole periods that is the area of the loop, the loss; over other stretches it
holds besides what the core stores and gives back.
"""

from __future__ import annotations

from heatsim.netlist.library import subcircuit
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.waves import Product

NAME = "hs_choke_hysteretic"

NO_CORE_RESISTANCE = 1e6
"""Stand-in for core loss [ohm] beside a model that has its own: none."""


def hysteretic_model(curve: HystereticCurve) -> tuple[str, str, dict[str, float]]:
    """Subcircuit name, its text and the curve's parameters."""
    saturation, shape, pinning, coupling, reversible = curve.parameters
    values = {
        "ms": saturation,
        "ja": shape,
        "k": pinning,
        "alpha": coupling,
        "c": reversible,
        "turns": float(curve.turns),
        "area": curve.area,
        "path": curve.path,
        "la": curve.inductance_air,
    }
    return NAME, subcircuit("choke_hysteretic.lib", NAME), values


def loop_loss(part: str) -> Product:
    """Ledger entry of a choke's hysteresis, from its signals core_voltage and magnetising_current."""
    return Product(f"{part}.core", ((f"{part}.core_voltage", f"{part}.magnetising_current"),))
