# SPDX-License-Identifier: GPL-3.0-or-later
"""Magnetisation curves against catalogue fits, closed forms and an independent integration
(tests/support/references.py).

The lists DCBIAS_IRON_50OE and, but for Fe-Si-Al, DCBIAS_ORDER_100OE and BSAT speak of alloys whose fit
coefficients are not known here; there is nothing to compute, so those rows are not tested.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.constants import MU_0, OERSTED
from heatsim.errors import InputError
from heatsim.physics import magnetisation as mag
from heatsim.physics.magnetisation import JilesAtherton
from tests.support import references as ref
from tests.support.book import INDEPENDENT, PUBLISHED, known, listed

FE_SI_AL_60 = ref.DCBIAS_FESIAL[0][1:3]
WINDING = {"zero_inductance": 1e-4, "air_inductance": 2e-6, "field_per_ampere": 300.0}
IRON = JilesAtherton(1.6e6, 1100.0, 400.0, 1.6e-3, 0.2)  # widely quoted set, attributed to Jiles 1992: memory
CURRENTS = st.floats(-300.0, 300.0)


@pytest.mark.parametrize("row", ref.DCBIAS_FESIAL)  # coefficients: memory
def test_bias_share(row: tuple) -> None:
    _, b, c, oersted, *_ = row
    assert 100 * mag.bias_share(oersted * OERSTED, b, c) == listed("DCBIAS_FESIAL", "percent", row)


@pytest.mark.parametrize("row", [row for row in ref.DCBIAS_ORDER_100OE if row[0] == "Fe-Si-Al"])  # charts: memory
def test_bias_share_lies_in_the_band_of_the_charts(row: tuple[str, float, float]) -> None:
    _, low, high = row
    ours = 100 * mag.bias_share(100 * OERSTED, *FE_SI_AL_60)
    assert ours == listed("DCBIAS_ORDER_100OE", "band", row, abs=(high - low) / 2)


@pytest.mark.parametrize("alloy, saturation, rtol", [row for row in ref.BSAT if row[0] == "Fe-Si-Al"])  # published
@pytest.mark.parametrize("mu, b, c", [row[:3] for row in ref.DCBIAS_FESIAL if row[3] != 20])  # coefficients: memory
def test_bias_curve_ends_at_the_alloys_saturation(alloy: str, saturation: float, rtol: float, mu: int, b: float, c: float) -> None:
    """The integral of the recalled curve against the published saturation: an independent check on the
    coefficients.

    Allowed: the row's tolerance, and the curve's own +-5 points of share up to where 20 % is left.
    """
    field = (4.0 / (100.0 * b)) ** (1.0 / c) * OERSTED
    assert mag.bias_share(field, b, c) == pytest.approx(0.2)
    slack = rtol * saturation + MU_0 * mu * 0.05 * field
    assert mag.bias_limit_flux_density(mu, b, c) == known(
        saturation, f"where the bias curve of {alloy} {mu} ends", "saturation: powder catalogue", PUBLISHED, unit="T", abs=slack
    )


@pytest.mark.parametrize("field", [10.0, 1e3, 8e3, 1e5, 1e7])
def test_bias_flux_density_is_the_integral(field: float) -> None:
    """Against adaptive quadrature of the share, and the closed-form limit far out."""
    from scipy.integrate import quad

    b, c = FE_SI_AL_60
    knots = [x for x in (100.0, 1e3, 1e4, 1e5, 1e6) if x < field]
    area = quad(lambda h: mag.bias_share(h, b, c), 0.0, field, points=knots or None, epsabs=0, epsrel=1e-10, limit=200)
    what = f"flux density of Fe-Si-Al 60 at {field:g} A/m"
    assert mag.bias_flux_density(field, 60.0, b, c) == known(
        MU_0 * 60 * area[0], what, "adaptive quadrature of the share left", INDEPENDENT, unit="T", rel=1e-8
    )
    far = mag.bias_flux_density(1e12, 60.0, b, c)
    assert far == pytest.approx(mag.bias_limit_flux_density(60.0, b, c), rel=1e-5)


@given(CURRENTS, st.floats(0.01, 10.0))
def test_powder_flux_is_odd_rising_and_never_below_the_air_core(current: float, step: float) -> None:
    b, c = FE_SI_AL_60
    here = mag.bias_flux_linkage(current, b=b, c=c, **WINDING)
    ahead = mag.bias_flux_linkage(current + step, b=b, c=c, **WINDING)
    assert mag.bias_flux_linkage(-current, b=b, c=c, **WINDING) == pytest.approx(-here, abs=1e-15)
    assert 2e-6 * 0.999 < (ahead - here) / step < 1e-4 * 1.001


@given(CURRENTS)
def test_powder_inductance_is_the_slope_of_its_flux(current: float) -> None:
    b, c = FE_SI_AL_60
    flux = mag.bias_flux_linkage(np.array([current - 1e-3, current + 1e-3]), b=b, c=c, **WINDING)
    slope = mag.bias_differential_inductance(current, b=b, c=c, **WINDING)
    assert np.diff(flux)[0] / 2e-3 == pytest.approx(slope, rel=1e-5)


def test_powder_inductance_from_zero_to_saturation() -> None:
    b, c = FE_SI_AL_60
    ends = mag.bias_differential_inductance(np.array([0.0, 1e9]), b=b, c=c, **WINDING)
    assert ends == pytest.approx([1e-4, 2e-6], rel=1e-5)


def test_gapped_core() -> None:
    """A gap of le/mu_r halves the inductance (two equal reluctances); no gap leaves the core's own."""
    core = {"turns": 20.0, "area": 1e-4, "path": 0.1, "mu_r": 2000.0}
    whole = mag.gapped_inductance(**core, gap=0.0)
    assert whole == pytest.approx(MU_0 * 2000 * 400 * 1e-4 / 0.1)
    assert mag.gapped_inductance(**core, gap=0.1 / 2000) == pytest.approx(whole / 2)
    assert mag.gapped_inductance(**core, gap=0.1 / 2000, gap_area=2e-4) == pytest.approx(whole / 1.5)


@given(CURRENTS, st.floats(1.0, 50.0), st.floats(2.0, 12.0))
def test_knee_flux_is_odd_and_its_slope_is_the_inductance(current: float, knee: float, sharpness: float) -> None:
    curve = (1e-4, 2e-6, knee, sharpness)
    flux = mag.knee_flux_linkage(np.array([current - 1e-4, current, current + 1e-4]), *curve)
    slope = mag.knee_differential_inductance(current, *curve)
    assert (flux[2] - flux[0]) / 2e-4 == pytest.approx(slope, rel=1e-4)
    assert mag.knee_flux_linkage(-current, *curve) == pytest.approx(-flux[1], abs=1e-18)
    assert 2e-6 * 0.999999 <= slope <= 1e-4 * 1.000001


def test_knee_has_its_two_straight_ends() -> None:
    curve = (1e-4, 2e-6, 20.0, 8.0)
    assert mag.knee_flux_linkage(1.0, *curve) == pytest.approx(1e-4, rel=1e-9)
    assert mag.knee_flux_linkage(1e5, *curve) == pytest.approx(2e-6 * 1e5 + 98e-6 * 20.0, rel=1e-9)
    assert mag.knee_differential_inductance(np.array([0.0, 1e5]), *curve) == pytest.approx([1e-4, 2e-6])


@pytest.mark.parametrize("x", [1e-12, 1e-6, 0.01, 0.0499, 0.0501, 1.0, 20.0, 500.0])
def test_langevin_against_extended_precision(x: float) -> None:
    """coth x - 1/x and its slope in exact rational series (small) or plain form (large); odd and even."""
    from decimal import Decimal, getcontext

    getcontext().prec = 60
    e = (2 * Decimal(x)).exp()
    value = (e + 1) / (e - 1) - 1 / Decimal(x)
    slope = 1 / Decimal(x) ** 2 - 4 * e / (e - 1) ** 2
    assert mag.langevin(x) == known(float(value), f"Langevin's function at {x:g}", "sixty digits", INDEPENDENT, rel=1e-11)
    assert mag.langevin_slope(x) == known(
        float(slope), f"slope of Langevin's function at {x:g}", "sixty digits", INDEPENDENT, rel=1e-10
    )
    assert mag.langevin(-x) == -mag.langevin(x)
    assert mag.langevin_slope(-x) == mag.langevin_slope(x)


def test_langevin_at_zero() -> None:
    assert mag.langevin(0.0) == 0.0
    assert mag.langevin_slope(np.array([0.0])) == pytest.approx([1 / 3])


@pytest.mark.parametrize("row", ref.JA_LOOP)  # two integrations of this form of the model; parameter set: memory
def test_hysteresis_loop(row: tuple) -> None:
    model = JilesAtherton(*row[:5])
    loop = mag.jiles_atherton_loop(row[5], model)
    assert mag.virgin_susceptibility(model) == listed("JA_LOOP", "initial", row)
    assert loop.tip == listed("JA_LOOP", "tip", row)
    assert loop.remanence == listed("JA_LOOP", "remanence", row)
    assert loop.coercive_field == listed("JA_LOOP", "coercive", row)
    assert loop.loss == listed("JA_LOOP", "loss", row)


@pytest.mark.parametrize("row", ref.JA_CLOSED)
def test_initial_susceptibilities(row: tuple) -> None:
    ms, a, alpha, c, *_ = row
    model = JilesAtherton(ms, a, 400.0, alpha, c)
    assert mag.anhysteretic_susceptibility(model) == listed("JA_CLOSED", "anhysteretic", row)
    assert mag.virgin_susceptibility(model) == listed("JA_CLOSED", "virgin", row)
    assert mag.jiles_atherton_slope(0.0, 0.0, True, model) == listed("JA_CLOSED", "virgin", row)


def test_anhysteretic_slope_agrees_with_the_curve() -> None:
    """M solved from M = Ms L((H + alpha M)/a) at a small field, by fixed point, against Ms/(3a - alpha
    Ms)."""
    magnetisation = 0.0
    for _ in range(200):
        magnetisation = mag.anhysteretic_magnetisation(0.01 + IRON.coupling * magnetisation, IRON)
    assert mag.anhysteretic_susceptibility(IRON) == known(
        magnetisation / 0.01,
        "anhysteretic susceptibility at a small field",
        "fixed point of the curve itself",
        INDEPENDENT,
        rel=1e-6,
    )


def test_loop_is_closed_symmetric_and_grows_with_its_field() -> None:
    small, large = (mag.jiles_atherton_loop(peak, IRON, points=401) for peak in (500.0, 2000.0))
    for loop in (small, large):
        assert loop.magnetisation[0] == pytest.approx(-loop.magnetisation[-1], rel=2e-3)
        assert np.all(np.diff(loop.magnetisation) > 0.0)
    assert small.loss < large.loss and small.tip < large.tip and small.coercive_field < large.coercive_field


def test_weak_pinning_loses_little() -> None:
    """Loss goes with the pinning constant; without it the loop is the anhysteretic curve (Jiles & Atherton
    1984)."""
    strong, weak = (mag.jiles_atherton_loop(5000.0, IRON._replace(pinning=k), points=801) for k in (400.0, 100.0))
    assert weak.loss < strong.loss / 3
    assert weak.coercive_field < strong.coercive_field / 3


def test_demagnetised_start_and_turning_back() -> None:
    """After a turn of the field the irreversible part stands still until it would fall: slope below the
    rising one."""
    field, magnetisation = mag.jiles_atherton_leg((0.0, 0.0), 1000.0, IRON)
    assert field[0] == magnetisation[0] == 0.0
    rising = mag.jiles_atherton_slope(1000.0, magnetisation[-1], True, IRON)
    falling = mag.jiles_atherton_slope(1000.0, magnetisation[-1], False, IRON)
    assert 0.0 < falling < rising


@pytest.mark.parametrize("row", ref.STEEL_MUR_B)  # FluxTubes, published
def test_steel_permeability(row: tuple) -> None:
    steel, mu_i, b_max, c_a, c_b, n, tesla, *_ = row
    assert mag.STEELS[steel] == (mu_i, b_max, c_a, c_b, n)
    assert mag.steel_permeability(tesla, mag.STEELS[steel]) == listed("STEEL_MUR_B", "mu_r", row)
    assert mag.steel_permeability(-tesla, mag.STEELS[steel]) == mag.steel_permeability(tesla, mag.STEELS[steel])
    assert mag.steel_permeability(0.0, mag.STEELS[steel]) == pytest.approx(mu_i)


@pytest.mark.parametrize(
    "call",
    [
        lambda: mag.bias_share(1e3, -1e-6, 1.8),
        lambda: mag.bias_flux_density(1e3, 60.0, 2e-6, 0.9),
        lambda: mag.gapped_inductance(10, 0.0, 0.1, 2000, 1e-3),
        lambda: mag.knee_flux_linkage(1.0, 1e-4, 1e-6, 0.0, 8.0),
        lambda: mag.anhysteretic_susceptibility(IRON._replace(coupling=0.01)),
        lambda: mag.jiles_atherton_loop(-1.0, IRON),
    ],
)
def test_impossible_input_is_named(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
