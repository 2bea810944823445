# SPDX-License-Identifier: GPL-3.0-or-later
"""The hysteretic winding as a flux curve: closed forms, inverses, limits, and the powder set against its source."""

import numpy as np
import pytest

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.parts.hysteresis import POWDER_60, HystereticCurve
from heatsim.physics.magnetisation import JilesAtherton, anhysteretic_magnetisation, jiles_atherton_loop
from heatsim.scenario.catalogue import builtin
from tests.support.book import listed
from tests.support.references import JA_CLOSED, JA_LOOP

TURNS, PATH, AREA = 20, 98.4e-3, 107e-6
AIR = MU_0 * TURNS**2 * AREA / PATH  # exactly the vacuum in the core: the susceptibilities are then bare
CURVES = {
    "powder": HystereticCurve(POWDER_60, TURNS, PATH, AREA, 1.5e-6),
    "iron": HystereticCurve(JilesAtherton(*JA_LOOP[0][:5]), TURNS, PATH, AREA, AIR),
}


@pytest.fixture(params=CURVES)
def curve(request):
    return CURVES[request.param]


@pytest.mark.parametrize("row", JA_CLOSED)
def test_inductance_at_zero_is_the_closed_form(row):
    # reference file, section 7: Ms/(3a - alpha Ms)
    ms, a, alpha, c, *_ = row
    curve = HystereticCurve(JilesAtherton(ms, a, 400.0, alpha, c), TURNS, PATH, AREA, AIR)
    assert curve.inductance_zero / AIR - 1 == listed("JA_CLOSED", "anhysteretic", row)
    assert float(curve.inductance(0.0)) == pytest.approx(curve.inductance_zero, rel=1e-9)


def test_flux_follows_the_anhysteretic_magnetisation(curve):
    current = np.array([-300.0, -20.0, -0.3, 0.0, 0.01, 2.0, 15.0, 120.0])
    magnetisation = (curve.flux(current) - curve.inductance_air * current) / (MU_0 * TURNS * AREA)
    effective = current * TURNS / PATH + curve.parameters.coupling * magnetisation
    assert magnetisation == pytest.approx(anhysteretic_magnetisation(effective, curve.parameters), rel=1e-9, abs=1e-3)


def test_current_is_the_inverse_of_flux(curve):
    current = np.concatenate([-np.geomspace(1e3, 1e-4, 40), [0.0], np.geomspace(1e-4, 1e3, 40)])
    assert curve.current(curve.flux(current)) == pytest.approx(current, rel=1e-9, abs=1e-12)


def test_inductance_is_the_slope_of_flux_and_never_below_the_air_core(curve):
    current = np.linspace(-80, 80, 81)
    step = 1e-4
    slope = (curve.flux(current + step) - curve.flux(current - step)) / (2 * step)
    assert curve.inductance(current) == pytest.approx(slope, rel=1e-5)
    assert np.all(curve.inductance(np.geomspace(1e-3, 1e6, 200)) >= curve.inductance_air)
    assert float(curve.inductance(1e6)) == pytest.approx(curve.inductance_air, rel=1e-3)


def test_loop_is_the_reference_loop_on_this_winding():
    # reference file, section 7, JA_LOOP; the loss times the volume of the core
    row = JA_LOOP[0]
    peak = row[5]
    curve = HystereticCurve(JilesAtherton(*row[:5]), TURNS, PATH, AREA, AIR)
    current, flux, energy = curve.loop(peak * PATH / TURNS)
    assert flux[-1] / (MU_0 * TURNS * AREA) - peak == listed("JA_LOOP", "tip", row)
    assert energy / (PATH * AREA) == listed("JA_LOOP", "loss", row)
    assert np.all(np.diff(current) > 0) and np.all(np.diff(flux) > 0)


def test_powder_set_is_fitted_as_well_as_it_says():
    material = builtin().material("fe-si-al-60", "test")
    field = np.linspace(1.0, 30e3, 300)
    winding = HystereticCurve(POWDER_60, 1, 1.0, 1.0, MU_0)  # one turn, one metre, one square metre: flux is B
    density = winding.flux(field)
    wanted = MU_0 * material.permeability * _bias_integral(field, material)
    assert np.abs(density - wanted).max() < 0.003 * wanted[-1]
    assert winding.inductance_zero / MU_0 == pytest.approx(60, rel=0.01)
    for amplitude in (0.05, 0.1, 0.2, 0.3):
        peak = float(winding.current(amplitude))
        for _ in range(3):
            found = jiles_atherton_loop(peak, POWDER_60, cycles=1, points=301)
            peak *= amplitude / (MU_0 * (peak + found.tip))
        assert 0.7 < found.loss / (material.loss.density(amplitude, 90e3) / 90e3) < 1.31


def _bias_integral(field, material):
    """Integral of the share of permeability left over the field [A/m], by a fine trapezoid."""
    grid = np.linspace(0.0, field[-1], 60001)
    share = 1 / (1 + (grid / material.bias.half_field) ** material.bias.exponent)
    total = np.concatenate([[0.0], np.cumsum(0.5 * (share[1:] + share[:-1]) * np.diff(grid))])
    return np.interp(field, grid, total)


@pytest.mark.parametrize(
    "change, told",
    [
        ({"coupling": 3 * 6567.0 / 716.5e3}, "coupling too strong"),
        ({"reversible": 1.1}, "reversible share"),
        ({"pinning": 0.0}, "pinning"),
        ({"saturation": float("nan")}, "saturation"),
    ],
)
def test_impossible_parameters_are_refused(change, told):
    with pytest.raises(InputError, match=told):
        HystereticCurve(POWDER_60._replace(**change), TURNS, PATH, AREA, 1.5e-6)
