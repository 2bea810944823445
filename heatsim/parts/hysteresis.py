# SPDX-License-Identifier: GPL-3.0-or-later
"""Flux linkage of a winding on a hysteretic core: Jiles and Atherton's model, with its middle line as a flux curve.

    H = turns*i/path,   flux = La*i + mu0*turns*area*M

M follows H as in `heatsim.physics.magnetisation.jiles_atherton_slope`; netlists/choke_hysteretic.lib holds the same
equations and does the simulating. The class offers what every flux curve offers (see `heatsim.parts.curves`) from the
anhysteretic curve M = Ms*L((H + alpha*M)/a) with L(x) = coth x - 1/x, for estimates that need no history; and the loop
itself for comparison.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.magnetisation import JilesAtherton, jiles_atherton_loop, langevin, langevin_slope
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.numeric import require_not_negative, require_positive

POWDER_60 = JilesAtherton(saturation=716.5e3, shape=6567.0, pinning=1040.0, coupling=0.01055, reversible=0.963)
"""A powder of 60 mu. An estimate, fitted by us to the catalogue's entry fe-si-al-60, itself from memory: Ms, a and
alpha to its flux density against field (within 0.3 % of the largest value up to 30 kA/m, initial susceptibility 59); k
and c to its core loss at 90 kHz (within 30 % from 50 mT to 0.3 T). Hysteresis here does not depend on frequency while the
powder's loss grows as f^1.54, so at another frequency k is another."""


@dataclass(frozen=True)
class HystereticCurve:
    """A winding on a hysteretic core.

    parameters: Ms, a, k [A/m], alpha, c [1]; turns; path: magnetic path length [m]; area: magnetic cross-section [m2];
    inductance_air: of the winding with the core gone [H]; known_to: current [A] up to which the parameters rest on
    data. Raises InputError for parameters without a unique curve: alpha*Ms must stay below 3*a, c within 0 and 1.
    """

    parameters: JilesAtherton
    turns: int
    path: float
    area: float
    inductance_air: float
    known_to: float = float("inf")

    def __post_init__(self) -> None:
        saturation, shape, pinning, coupling, reversible = self.parameters
        where = "HystereticCurve"
        size = {"turns": self.turns, "path": self.path, "area": self.area, "inductance_air": self.inductance_air}
        require_positive(where, saturation=saturation, shape=shape, pinning=pinning, **size)
        require_not_negative(where, coupling=coupling, reversible=reversible)
        if not reversible <= 1.0:
            raise InputError.single(where, "reversible share c out of range", reversible, "0 to 1")
        if not coupling * saturation < 3.0 * shape:
            raise InputError.single(where, "coupling too strong", coupling, "coupling * saturation below 3 * shape")
        if not self.unit_coupling * self.inductance_air * self.unit_current < self.saturation_flux:
            raise InputError.single(where, "coupling too strong for so large an air-core inductance", coupling, "less")

    @property
    def saturation_flux(self) -> float:
        """Flux linkage of the saturated core alone, mu0*turns*area*Ms [Wb]."""
        return MU_0 * self.turns * self.area * self.parameters.saturation

    @property
    def unit_current(self) -> float:
        """Current that makes the field a: a*path/turns [A]."""
        return self.parameters.shape * self.path / self.turns

    @property
    def unit_coupling(self) -> float:
        """alpha*Ms/a [1]."""
        return self.parameters.coupling * self.parameters.saturation / self.parameters.shape

    @property
    def inductance_zero(self) -> float:
        """Of the anhysteretic curve at zero current, where dMan/dHe = Ms/(3a) [H]; large swings see about this."""
        return self.inductance_air + self.saturation_flux / self.unit_current / (3 - self.unit_coupling)

    def _at(self, x: Array) -> tuple[Array, Array]:
        """Current [A] and flux linkage [Wb] at effective fields x = (H + alpha*M)/a."""
        share = np.asarray(langevin(x))
        current = self.unit_current * (x - self.unit_coupling * share)
        return current, self.inductance_air * current + self.saturation_flux * share

    def _slopes(self, x: Array) -> tuple[Array, Array]:
        """Derivatives of `_at` by x."""
        share = np.asarray(langevin_slope(x))
        current = self.unit_current * (1 - self.unit_coupling * share)
        return current, self.inductance_air * current + self.saturation_flux * share

    def _solve(self, wanted: Array, which: int) -> Array:
        """x where `_at(x)[which]` is `wanted`: Newton from the side from which it cannot overshoot.

        For x > 0 the current is convex in x and the flux concave, both rising.
        """
        size = np.abs(wanted)
        zero = np.zeros_like(size)
        x = size / self.unit_current + self.unit_coupling if which == 0 else size / self._slopes(zero)[which]
        for _ in range(100):
            step = (size - self._at(x)[which]) / self._slopes(x)[which]
            x = x + step
            if np.all(np.abs(step) <= 1e-13 * x):
                break
        return np.asarray(np.sign(wanted) * x)

    def flux(self, current: ArrayLike) -> Array:
        """Anhysteretic flux linkage [Wb] at a current [A]."""
        return self._at(self._solve(np.asarray(current, dtype=float), 0))[1]

    def current(self, flux: ArrayLike) -> Array:
        """Current [A] on the anhysteretic curve at a flux linkage [Wb]."""
        return self._at(self._solve(np.asarray(flux, dtype=float), 1))[0]

    def inductance(self, current: ArrayLike) -> Array:
        """Differential inductance [H] of the anhysteretic curve at a current [A]."""
        rise, linkage = self._slopes(self._solve(np.asarray(current, dtype=float), 0))
        return np.asarray(linkage / rise)

    def loop(self, peak: float, points: int = 2001) -> tuple[Array, Array, float]:
        """Rising branch of the settled symmetric loop to a peak current [A], and its loss.

        Returns currents [A] and flux linkages [Wb], shape (points,), from the negative tip to the positive one, and the
        energy lost in a cycle [J]; integrated by `jiles_atherton_loop`.
        """
        found = jiles_atherton_loop(peak * self.turns / self.path, self.parameters, points=points)
        current = found.field * self.path / self.turns
        flux = self.inductance_air * current + MU_0 * self.turns * self.area * found.magnetisation
        return current, flux, found.loss * self.area * self.path
