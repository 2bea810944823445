# SPDX-License-Identifier: GPL-3.0-or-later
"""Steel in a strong alternating field against an integration in time, a closed form, and its own curve."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.physics import saturable
from heatsim.physics.eddy import mean_permeability
from heatsim.physics.magnetisation import STEELS, steel_permeability
from heatsim.physics.saturable import steel_flux_density, surface_permeability
from tests.support.book import CLOSED, INDEPENDENT, PUBLISHED, known
from tests.support.steel_diffusion import surface_power
from tests.support.steel_skin import FREQUENCY, RESISTIVITY, integrated, skin

MU_0 = 4e-7 * np.pi


def told(radius: float, peak: float, steel: str) -> tuple[float, float]:
    """The same from the surface permeability: w mu0 mu_e (a/2) H^2/2 flows in, reactive and real."""
    mean = mean_permeability(radius, RESISTIVITY, surface_permeability(peak, steel), FREQUENCY)
    power = 1.0j * 2 * np.pi * FREQUENCY * MU_0 * mean * radius / 2 * peak**2 / 2
    return power.real, power.imag


def test_the_integration_in_time_knows_the_linear_cylinder() -> None:
    """Constant permeability 50: w mu0 mu (a/2) H^2/2 (P + jQ) from the Bessel functions of SciPy."""
    from scipy.special import iv

    radius, peak = 1e-3, 1e3
    ka = (1 + 1j) * radius / skin(50.0)
    mean = 50.0 * 2 * iv(1, ka) / (ka * iv(0, ka))
    exact = 1.0j * 2 * np.pi * FREQUENCY * MU_0 * mean * radius / 2 * peak**2 / 2
    power, reactive = surface_power(radius, RESISTIVITY, FREQUENCY, peak, lambda h: 50.0 * MU_0 + 0.0 * h, skin(50.0))
    assert power == known(exact.real, "integration in time, linear bar: power", "Bessel functions", CLOSED, unit="W/m2", rel=0.01)
    assert reactive == known(
        exact.imag, "integration in time, linear bar: reactive", "Bessel functions", CLOSED, unit="W/m2", rel=0.02
    )


@pytest.mark.parametrize(("steel", "peak"), [("AISI 1008", 3e3), ("AISI 1008", 20e3), ("9SMn28k", 20e3)])
def test_power_into_steel_against_an_integration_in_time(steel: str, peak: float) -> None:
    """Within the 5 % that are stated; B/H at the crest as the permeability is a third low, a permeability of 1 ten times."""
    power, reactive = integrated(8e-3, peak, steel)
    ours = told(8e-3, peak, steel)
    what, told_by = f"{steel} bar at {peak:g} A/m", "diffusion integrated in time"
    assert ours[0] == known(power, f"{what}: power", told_by, INDEPENDENT, unit="W/m2", rel=0.05)
    assert ours[1] == known(reactive, f"{what}: reactive power", told_by, INDEPENDENT, unit="W/m2", rel=0.16)
    crest = float(steel_flux_density(peak, steel)) / (MU_0 * peak)
    assert 0.6 < peak**2 / 2 * RESISTIVITY / skin(crest) / power < 0.72
    assert peak**2 / 2 * RESISTIVITY / skin(1.0) / power < 0.15


def test_a_bar_of_a_few_skin_depths_is_still_within_the_band() -> None:
    """Radius of 0.5 mm in 20 kA/m: four skin depths."""
    wanted = integrated(0.5e-3, 20e3, "AISI 1008")[0]
    assert told(0.5e-3, 20e3, "AISI 1008")[0] == known(
        wanted,
        "AISI 1008 bar of 0.5 mm radius at 20 kA/m: power",
        "diffusion integrated in time",
        INDEPENDENT,
        unit="W/m2",
        rel=0.05,
    )


def test_a_sharp_knee_against_the_closed_form(monkeypatch: pytest.MonkeyPatch) -> None:
    """MacLean 1954 for B = +-Bs: 8/(3 pi) H^2 rho/delta, delta = sqrt(2 rho H/(w Bs)); linearised it is the power law's
    H^2 rho/d, d^2 = 3 sqrt2 rho H/(w 4/pi Bs)."""
    monkeypatch.setattr(saturable, "steel_flux_density", lambda field, steel: 2.0 * np.sign(field))
    saturable._surface_table.cache_clear()
    mu = surface_permeability(1e5, "AISI 1008")
    saturable._surface_table.cache_clear()
    omega = 2 * np.pi * FREQUENCY
    power = 1e10 / 2 * np.sqrt(1j * omega * MU_0 * mu * RESISTIVITY).real
    linearised = 1e10 * RESISTIVITY / np.sqrt(3 * np.sqrt(2) * RESISTIVITY * 1e5 / (omega * 8 / np.pi))
    assert power == known(linearised, "sharp knee: power", "power law, linearised", CLOSED, unit="W/m2", rel=0.01)
    exact = 8 / (3 * np.pi) * 1e10 * RESISTIVITY / np.sqrt(2 * RESISTIVITY * 1e5 / (omega * 2.0))
    assert power == known(0.912 * exact, "sharp knee: 0.912 of the power", "MacLean 1954", PUBLISHED, unit="W/m2", rel=0.01)


@pytest.mark.parametrize("steel", STEELS)
def test_flux_density_rises_and_saturates(steel: str) -> None:
    field = np.geomspace(1.0, 1e6, 400)
    density = np.asarray(steel_flux_density(field, steel))
    below = density < 1.7
    assert field[below] == pytest.approx(
        density[below] / (MU_0 * np.asarray(steel_permeability(density[below], STEELS[steel]))), 1e-2
    )
    polarisation = density - MU_0 * field
    assert np.all(np.diff(density) > 0.0) and np.all(np.diff(polarisation) > -1e-9)
    assert 1.7 < polarisation[-1] < 2.3, "what iron can have, 2.15 T, and little more"
    assert steel_flux_density(-500.0, steel) == -steel_flux_density(500.0, steel)


def test_permeability_falls_with_the_field_from_the_initial_to_that_of_air() -> None:
    weak, strong = surface_permeability(1.0, "AISI 1008"), surface_permeability(1e6, "AISI 1008")
    assert weak.real == pytest.approx(200.0, rel=0.03) and abs(weak.imag) < 5.0
    assert abs(strong) < 5.0
    loss = [(surface_permeability(h, "AISI 1008") * 1j) ** 0.5 for h in (2e3, 5e3, 1e4, 2e4, 5e4)]
    assert all(a.real > b.real for a, b in zip(loss[:-1], loss[1:], strict=True))
    for field, steel, words in ((0.0, "AISI 1008", "no curve"), (2e6, "AISI 1008", "no curve"), (1e3, "mud", "not known")):
        with pytest.raises(InputError, match=words):
            surface_permeability(field, steel)
