# SPDX-License-Identifier: GPL-3.0-or-later
"""Materials of the catalogue against recalled and published points (tests/support/references.py, sections 5 and 6)."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from heatsim.constants import OERSTED
from heatsim.parts.materials import Bias, CoreLoss, Material, Provenance, half_field_through
from heatsim.physics.coreloss import igse_loss, igse_triangle_ratio, steinmetz
from heatsim.physics.magnetisation import bias_limit_flux_density
from heatsim.scenario.catalogue import builtin
from tests.support import references as ref
from tests.support.book import CLOSED, MEMORY, PUBLISHED, Known, known, listed

MATERIALS = builtin().materials
MIX = {"26": "iron-powder-75", "52": "iron-powder-75-low-loss", "8": "iron-powder-35", "2": "iron-powder-10"}
IRON = [name for name in MATERIALS if name.startswith("iron-powder")]
LOSS_100 = {  # mW/cm3 at 100 mT and 100 kHz, lowest and highest of a family; recalled, broad
    "iron-powder": (1200, 7000),
    "fe-si-al": (400, 1100),
    "ni-fe": (700, 1500),
    "mpp": (250, 900),
    "fe-si": (900, 2200),
    "mnzn-power-ferrite": (25, 150),
    "amorphous-cut": (500, 2000),
    "nanocrystalline-cut": (50, 300),
}
USUAL = {
    "fe-si-al": {14, 26, 40, 60, 75, 90, 125},
    "ni-fe": {14, 26, 60, 125, 147, 160},
    "mpp": {14, 26, 60, 125, 147, 160, 173, 200, 300},
    "fe-si": {26, 40, 60, 75, 90},
    "iron-powder": {10, 14, 22, 33, 35, 55, 60, 75, 100},
}
ALLOY = {"Fe-Si-Al": "fe-si-al-60", "MPP": "mpp-60", "Ni-Fe 50/50": "ni-fe-60", "Fe-Si 6.5%": "fe-si-60"}
FORM_B = [name for name in MIX.values() if name in MATERIALS]
SINE = np.linspace(0.0, 2.0 * np.pi, 4001)


def share(name: str, oersted: float) -> float:
    """Share of the initial permeability left at a field in oersted."""
    bias = MATERIALS[name].bias
    assert bias is not None
    return float(bias.share(oersted * OERSTED))


def printed(material: Material) -> tuple[float, float]:
    """b and c as catalogues print them: percent = 1/(0.01 + b H^c), H in oersted."""
    assert material.bias is not None
    return 0.01 * (material.bias.half_field / OERSTED) ** -material.bias.exponent, material.bias.exponent


def loss(name: str) -> CoreLoss:
    found = MATERIALS[name].loss
    assert found is not None
    return found


def test_every_figure_names_its_origin_and_none_passes_for_more_than_it_is() -> None:
    for material in MATERIALS.values():
        parts = [material, *(part for part in (material.bias, material.loss) if part)]
        assert all(part.provenance in get_args(Provenance) and len(part.source) > 20 for part in parts)
        assert "memory" in {part.provenance for part in parts}  # no printed sheet was at hand for any material as a whole
        assert material.provenance == material.saturation_basis == "memory"  # what findings and the report show
        assert [origin[1:] for origin in material.origins] == [(part.provenance, part.source) for part in parts]


@pytest.mark.parametrize("row", ref.DCBIAS_FESIAL)  # recalled coefficients, percentage computed
def test_fe_si_al_under_bias(row: tuple) -> None:
    mu, b, c, oersted, *_ = row
    material = MATERIALS[f"fe-si-al-{mu}"]
    assert printed(material) == pytest.approx((b, c), rel=1e-12)
    assert 100.0 * share(material.name, oersted) == listed("DCBIAS_FESIAL", "percent", row)


@pytest.mark.parametrize("row", ref.DCBIAS_IRON_50OE)  # general property table, recalled
def test_iron_powder_at_50_oersted(row: tuple) -> None:
    mix, mu, _, atol = row
    material = MATERIALS[MIX[mix]]
    assert material.permeability == mu
    assert 100.0 * share(material.name, 50.0) == listed("DCBIAS_IRON_50OE", "percent", row, abs=1e-9)
    assert material.bias is not None and material.bias.tolerance == pytest.approx(atol / 100.0)


def within_the_band(row: tuple) -> Known:
    """The middle of a recalled band and half its width."""
    _, low, high = row
    return listed("DCBIAS_ORDER_100OE", "band", row, abs=(high - low) / 2)


@pytest.mark.parametrize("row", [row for row in ref.DCBIAS_ORDER_100OE if row[0] != "MPP"])  # charts, recalled as bands
def test_alloys_at_60_mu_and_100_oersted(row: tuple) -> None:
    alloy, *_ = row
    assert 100.0 * share(ALLOY[alloy], 100.0) == within_the_band(row)


def test_the_recalled_band_of_mpp_is_too_high_for_its_own_saturation() -> None:
    """At 60 mu and 100 Oe 62 % and more, with any exponent a powder curve is known to have (1.6 to 1.9; at most 3 granted here),
    would end above the 0.75 T of MPP: so its share is lower, still above Fe-Si-Al's, within a tolerance that meets the band."""
    _, low, high = next(row for row in ref.DCBIAS_ORDER_100OE if row[0] == "MPP")
    for exponent in (1.6, 1.9, 2.5, 3.0):
        half = half_field_through(100.0 * OERSTED, low / 100.0, exponent) / OERSTED
        assert bias_limit_flux_density(60.0, 0.01 * half**-exponent, exponent) > 0.75 * 1.05
    bias = MATERIALS["mpp-60"].bias
    assert bias is not None
    assert (
        share("fe-si-al-60", 100.0) < share("mpp-60", 100.0) < low / 100.0 < share("mpp-60", 100.0) + bias.tolerance < high / 100.0
    )


def _limit(material: Material) -> float:
    """Flux density [T] that the bias curve tends to, by plain summation over the field."""
    assert material.bias is not None
    field = np.concatenate([[0.0], np.geomspace(0.01, 1e9, 40001)])
    left = material.bias.share(field)
    area = float(np.sum(0.5 * (left[1:] + left[:-1]) * np.diff(field)))
    return 4e-7 * np.pi * material.permeability * area


@pytest.mark.parametrize("name", [name for name, each in MATERIALS.items() if each.bias and each.saturation_flux_density_t])
def test_every_curve_ends_below_the_saturation_of_its_alloy(name: str) -> None:
    """Fe-Si-Al's 1.05 T is known to 5 % (BSAT), and the recalled curve of 125 mu uses half of that."""
    material = MATERIALS[name]
    assert material.saturation_flux_density_t is not None
    room = 1.05 if name.startswith("fe-si-al") else 1.0
    assert 0.85 * material.saturation_flux_density_t < _limit(material) < room * material.saturation_flux_density_t


@pytest.mark.parametrize("name", [name for name, each in MATERIALS.items() if each.loss])
def test_loss_at_100_mt_and_100_khz_is_that_of_its_family(name: str) -> None:
    family = max((each for each in LOSS_100 if name.startswith(each)), key=len)
    low, high = LOSS_100[family]
    assert low <= loss(name).density(0.1, 1e5) / 1e3 <= high


@pytest.mark.parametrize("family", USUAL)
def test_the_usual_permeabilities_are_there_and_the_higher_gives_way_first(family: str) -> None:
    rows = [each for name, each in MATERIALS.items() if name.rsplit("-low", 1)[0].rpartition("-")[0] == family]
    assert {each.permeability for each in rows} == USUAL[family] and all(each.loss and each.bias for each in rows)
    for alloy in {each.alloy for each in rows}:
        for oersted in (20.0, 60.0, 150.0):
            kin = sorted((each for each in rows if each.alloy == alloy), key=lambda each: each.permeability)
            shares = [share(each.name, oersted) for each in kin]
            assert shares == sorted(shares, reverse=True)


@pytest.mark.parametrize(("oersted", "percent"), [(10.0, 95.0), (20.0, 82.0), (50.0, 51.0)])
def test_iron_powder_75_at_small_fields(oersted: float, percent: float) -> None:
    """Recalled; the estimate through 51 % at 50 Oe alone gave 90 and 78 %."""
    assert 100.0 * share("iron-powder-75", oersted) == known(
        percent, f"permeability left of iron powder 75 at {oersted} Oe", "catalogue curve, recalled", MEMORY, unit="%", abs=0.1
    )


def test_every_powder_keeps_its_curve_to_the_end_of_what_a_choke_can_see() -> None:
    """The listed points go so far that a wound ring is not called unknown within 500 Oe."""
    for material in MATERIALS.values():
        if material.bias and material.bias.points:
            assert material.bias.points[-1][0] > 500 * OERSTED


def test_order_of_the_alloys() -> None:
    found = [share(name, 100.0) for name in ("fe-si-al-60", "mpp-60", "ni-fe-60", "fe-si-60")]
    assert found == sorted(found)


@pytest.mark.parametrize("row", ref.BSAT)  # Fe-Si-Al published, others recalled
def test_saturation_flux_density(row: tuple) -> None:
    assert MATERIALS[ALLOY[row[0]]].saturation_flux_density_t == listed("BSAT", "tesla", row)


@pytest.mark.parametrize("mu", [60, 90, 125])
def test_known_curves_end_near_the_saturation_flux_density(mu: int) -> None:
    """The curve's limit must be the alloy's: a check on recalled coefficients; within 12 %."""
    material = MATERIALS[f"fe-si-al-{mu}"]
    limit = bias_limit_flux_density(mu, *printed(material))
    assert limit == known(
        material.saturation_flux_density_t,
        f"where the curve of Fe-Si-Al {mu} ends",
        "saturation: catalogue",
        PUBLISHED,
        unit="T",
        rel=0.12,
    )


@pytest.mark.parametrize("name", IRON)
def test_estimated_iron_powder_ends_at_a_flux_density_iron_can_have(name: str) -> None:
    """Pure iron saturates at 2.15 T; a compact holds 60 to 90 % iron: 1 to 2 T (handbooks, memory)."""
    material = MATERIALS[name]
    assert material.bias is not None
    assert 1.0 < _limit(material) < 2.0
    assert (material.bias.anchor is not None) != bool(material.bias.points)


@pytest.mark.parametrize(("mu", "at_equal_flux"), [(90, 100 * 60 / 90), (125, 100 * 60 / 125)])
def test_rule_of_the_scaled_estimates(mu: int, at_equal_flux: float) -> None:
    """Estimates at other permeabilities rest on it: the known curves agree at H times 60/mu to 4 points."""
    assert share(f"fe-si-al-{mu}", at_equal_flux) == pytest.approx(share("fe-si-al-60", 100.0), abs=0.04)


@pytest.mark.parametrize("name", [name for name, each in MATERIALS.items() if each.bias])
def test_band_holds_the_curve_and_its_own_tolerance(name: str) -> None:
    bias = MATERIALS[name].bias
    assert bias is not None
    fields = np.array([5.0, 50.0, 100.0, 200.0]) * OERSTED
    low, high = bias.band(fields)
    assert np.all(low < bias.share(fields)) and np.all(bias.share(fields) < high)
    where = 50.0 * OERSTED if bias.points else bias.anchor or bias.half_field
    assert float(bias.share(where)) - bias.tolerance == pytest.approx(float(bias.band(where)[0]), abs=1e-9)


def test_measured_points_win_over_the_form_and_survive_in_the_material() -> None:
    half = half_field_through(200.0, 0.3, 1.8)
    measured = Bias(half, 1.8, 0.02, "measured", "LCR meter", points=((0.0, 1.0), (50.0, 0.9), (100.0, 0.7), (200.0, 0.3)))
    bias = replace(MATERIALS["fe-si-al-60"], bias=measured).bias
    assert bias is not None
    assert bias.share([0.0, 50.0, 100.0, 200.0]) == pytest.approx([1.0, 0.9, 0.7, 0.3])
    assert bias.share(400.0) == pytest.approx(1.0 / (1.0 + (400.0 / half) ** 1.8))
    fine = bias.share(np.linspace(0.0, 800.0, 500))
    assert np.all(np.diff(fine) <= 1e-12)
    lower = bias.shifted(-0.02).share(np.linspace(1.0, 800.0, 500))
    assert np.all(lower < bias.share(np.linspace(1.0, 800.0, 500))) and np.all(np.diff(lower) < 0)


def test_half_field_scales_the_curve_of_a_material() -> None:
    """What a tolerance study changes: the field axis moves by the factor, for the form, its anchor and measured points."""
    material = MATERIALS["fe-si-al-60"]
    points = ((0.0, 1.0), (50.0, 0.9), (100.0, 0.7), (200.0, 0.3))
    fields = np.array([20.0, 100.0, 4e3])
    for bias in (
        material.bias,
        Bias(140.0, 1.8, 0.02, "measured", "meter", points=points),
        Bias(9.0, 2.0, 0.1, "memory", "x", 50.0),
    ):
        harder = bias.stretched(1.1)
        assert harder.half_field == pytest.approx(1.1 * bias.half_field)
        assert harder.share(1.1 * fields) == pytest.approx(bias.share(fields))
        assert harder.band(1.1 * fields)[0] == pytest.approx(bias.band(fields)[0])


@pytest.mark.parametrize("row", ref.LOSS_IRON)  # general property table of Issue L, recalled
def test_iron_powder_loss(row: tuple) -> None:
    mix, frequency, gauss, *_ = row
    found = loss(MIX[mix]).density(gauss * 1e-4, frequency) / 1e3
    assert found == listed("LOSS_IRON", "computed", row)
    assert found == listed("LOSS_IRON", "printed", row)


@pytest.mark.parametrize("row", ref.LOSS_IRON_COEFF)  # recalled
def test_iron_powder_coefficients(row: tuple) -> None:
    mix, mu, *_ = row
    for name, coefficient in zip("abcd", loss(MIX[mix]).coefficients, strict=True):
        assert coefficient == listed("LOSS_IRON_COEFF", name, row)
    assert MATERIALS[MIX[mix]].permeability == mu


def test_fe_si_al_loss() -> None:
    row = ref.LOSS_FESIAL[1]  # newer edition, recalled
    coefficients, tesla, kilohertz, *_ = row
    assert loss("fe-si-al-60").coefficients == coefficients
    assert loss("fe-si-al-60").density(tesla, kilohertz * 1e3) / 1e3 == listed("LOSS_FESIAL", "loss", row)


def test_band_of_fe_si_al_loss_covers_both_editions() -> None:
    older = CoreLoss("a", ref.LOSS_FESIAL[0][0], 1.0, "memory", "older edition").density(0.1, 1e5)
    ratio = loss("fe-si-al-60").density(0.1, 1e5) / older
    assert 1 / 1.35 < ratio < 1.35 and loss("fe-si-al-60").band >= 1.3


@pytest.mark.parametrize("name", FORM_B)
@pytest.mark.parametrize(("tesla", "hertz"), [(0.005, 2e5), (0.02, 1e5), (0.1, 2e4)])
def test_local_exponents_are_the_slopes_of_the_printed_form(name: str, tesla: float, hertz: float) -> None:
    found = loss(name)
    k, alpha, beta = found.local_steinmetz(tesla, hertz)
    step = 1e-5
    slopes = [np.log(found.density(tesla * up, hertz) / found.density(tesla / up, hertz)) / (2 * np.log(up)) for up in (1 + step,)]
    slopes += [np.log(found.density(tesla, hertz * up) / found.density(tesla, hertz / up)) / (2 * np.log(up)) for up in (1 + step,)]
    assert [beta, alpha] == pytest.approx(slopes, rel=1e-6)
    assert steinmetz(tesla, hertz, k, alpha, beta) == pytest.approx(found.density(tesla, hertz), rel=1e-12)


@pytest.mark.parametrize("name", [*FORM_B, "fe-si-al-60", "mnzn-power-ferrite"])
def test_a_sine_gives_back_the_printed_loss(name: str) -> None:
    found = loss(name).waveform(SINE / (2 * np.pi * 8e4), 0.03 * np.sin(SINE))
    assert found == pytest.approx(loss(name).density(0.03, 8e4), rel=1e-5)


def test_ripple_at_twice_the_frequency_of_the_window_is_judged_at_its_own_frequency() -> None:
    """The centre choke's ripple runs at twice the tank frequency; one tank period holds two of it."""
    found = loss("iron-powder-75").waveform(SINE / (2 * np.pi * 8e4), 0.03 * np.sin(2 * SINE))
    assert found == pytest.approx(loss("iron-powder-75").density(0.03, 1.6e5), rel=1e-5)


@pytest.mark.parametrize("name", FORM_B)
def test_triangle_against_hysteresis_and_eddy_taken_apart(name: str) -> None:
    """Form B is a part linear in f, for which waveform does not matter (alpha 1), and one of f^2 (alpha 2), which iGSE
    treats exactly: 8/pi^2 of the sine for a symmetric triangle. The local exponents must agree within 1.5 %."""
    found, tesla, hertz = loss(name), 0.02, 1e5
    eddy = found.coefficients[3] * hertz**2 * (tesla * 1e4) ** 2 * 1e3
    apart = found.density(tesla, hertz) - eddy + igse_triangle_ratio(2.0, 0.5) * eddy
    time = np.linspace(0.0, 1e-5, 401)
    triangle = tesla * np.interp(time, [0.0, 2.5e-6, 7.5e-6, 1e-5], [0.0, 1.0, -1.0, 0.0])
    assert igse_triangle_ratio(2.0, 0.5) == pytest.approx(8 / np.pi**2)
    assert found.waveform(time, triangle) == known(
        apart, f"triangle's loss in {name}", "hysteresis and eddy part taken apart", CLOSED, unit="W/m3", rel=0.015
    )


def test_choke_flux_against_the_published_ratio() -> None:
    """Two-choke flux, alpha 1.5, beta 2.5: 0.985046 of a sine of the same swing (reference file, section 6)."""
    angle = np.linspace(0.0, 2.0 * np.pi, 20001)
    volts = 1.0 - np.pi * np.maximum(np.sin(angle), 0.0)
    flux = np.concatenate([[0.0], np.cumsum(0.5 * (volts[1:] + volts[:-1]) * np.diff(angle))])
    made_up = CoreLoss("steinmetz", (1.0, 1.5, 2.5), 1.0, "memory", "exponents of the reference row")
    found = made_up.waveform(angle / (2 * np.pi * 1e5), flux) / made_up.density(np.ptp(flux) / 2, 1e5)
    assert found == listed("IGSE_CHOKE", "ratio", ref.IGSE_CHOKE[1], rel=1e-5)


def test_still_flux_loses_nothing() -> None:
    assert loss("iron-powder-75").waveform(SINE, np.zeros_like(SINE)) == 0.0


def test_what_is_not_known_is_absent() -> None:
    assert all(MATERIALS[name].bias is None for name in ("mnzn-power-ferrite", "amorphous-cut", "nanocrystalline-cut"))
    assert replace(MATERIALS["mpp-60"], loss=None).loss_band == np.inf


def test_iron_powder_warns_of_its_binder() -> None:
    for name in IRON:
        assert MATERIALS[name].ageing_limit_c == 75.0 and "binder" in MATERIALS[name].ageing_note
    assert MATERIALS["fe-si-al-60"].ageing_limit_c is None


def test_form_a_in_igse_matches_its_steinmetz() -> None:
    k, alpha, beta = loss("fe-si-al-60").local_steinmetz(0.02, 1e5)
    time, wave = SINE / (2 * np.pi * 1e5), 0.02 * np.sin(SINE) + 0.004 * np.sin(2 * SINE)
    assert loss("fe-si-al-60").waveform(time, wave) == pytest.approx(igse_loss(time, wave, k, alpha, beta))
