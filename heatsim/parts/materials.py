# SPDX-License-Identifier: GPL-3.0-or-later
"""Core materials: what is known of them, and from where."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from heatsim.constants import OERSTED


@dataclass(frozen=True)
class Material:
    """A core material as its catalogue describes it.

    permeability: initial, relative; path_rule: see `heatsim.parts.ring`; saturation_flux_density [T];
    bias_b, bias_c: powder form of permeability against DC bias, None where unknown; loss_a, loss_b, loss_c: powder
    form of core loss; loss_band: factor within which the loss is known; provenance, source: where the values are from.
    """

    name: str
    alloy: str
    permeability: float
    path_rule: str
    provenance: str
    source: str
    saturation_flux_density_t: float | None = None
    bias_b: float | None = None
    bias_c: float | None = None
    bias_tolerance: float | None = None
    loss_a: float | None = None
    loss_b: float | None = None
    loss_c: float | None = None
    loss_band: float = 1.5

    @property
    def half_field(self) -> float | None:
        """DC bias [A/m] at which half of the permeability is left."""
        if self.bias_b is None or self.bias_c is None:
            return None
        return float((100 * self.bias_b) ** (-1 / self.bias_c)) * OERSTED

    @property
    def steinmetz(self) -> tuple[float, float, float] | None:
        """k, alpha, beta of P [W/m3] = k * f^alpha * B^beta with f [Hz], B [T, half swing]."""
        if self.loss_a is None or self.loss_b is None or self.loss_c is None:
            return None
        return 1000.0 * self.loss_a * 1000.0 ** -self.loss_c, self.loss_c, self.loss_b


@lru_cache(maxsize=1)
def catalogue() -> dict[str, Material]:
    """The built-in materials by name."""
    text = files("heatsim.parts").joinpath("data/materials.toml").read_text(encoding="utf-8")
    return {name: Material(name=name, **row) for name, row in tomllib.loads(text).items()}
