# SPDX-License-Identifier: GPL-3.0-or-later
"""How warm a choke gets: balance, states, what dominates, what follows from more of each loss; the rule of thumb."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.parts.choke import Choke, Core, wound_curve
from heatsim.parts.ladder import copper_ladder
from heatsim.parts.materials import CoreLoss
from heatsim.parts.ring import RingCore
from heatsim.parts.thermal import CEILING, ChokeHeat, Cooling, bias_factor, choke_heat, lead_flow
from heatsim.physics.conductor import copper_resistivity
from heatsim.physics.convection import ring_heat_flow
from heatsim.physics.heat import natural_convection
from heatsim.physics.spectrum import periodic_spectrum
from heatsim.scenario.catalogue import builtin
from tests.support.book import INDEPENDENT, known
from tests.support.windings import of_wire

ANGLE = np.linspace(0.0, 2.0 * np.pi, 801)
TIME = ANGLE / (2 * np.pi * 1e5)


def choke(
    ring: str = "powder-39.9x24.1x14.5", material: str = "fe-si-al-60", turns: int = 20, stack: int = 1, strands: int = 1
) -> Choke:
    chosen = builtin().materials[material]
    core = Core(RingCore.from_entry(builtin().rings[ring], stack, chosen.path_rule), of_wire(turns, "1.6 mm", strands), chosen)
    resistance = core.winding.resistance(core.ring, 60.0)
    return Choke("left", wound_curve(replace(core, gap=1e-3)), resistance, 20e-12, 60.0, core.winding.copper_area, core, "memory")


def heat(made: Choke, mean: float = 8.0, ripple: float = 2.0, volts: float = 40.0, cooling: Cooling | None = None) -> ChokeHeat:
    """At a sine ripple [A peak] and flux of `volts` [V peak] at 100 kHz."""
    flux = volts / (2 * np.pi * 1e5) * np.sin(ANGLE)
    return choke_heat(made, TIME, flux, mean + ripple * np.sin(ANGLE), cooling)


def test_loss_and_heat_given_off_are_equal() -> None:
    made = choke()
    found = heat(made)
    assert made.core is not None
    assert found.state == "balanced" and found.temperature_c is not None and found.core_w is not None
    flow = ring_heat_flow(made.core.winding.wound(made.core.ring), found.temperature_c, 25.0)
    assert flow.total == pytest.approx(found.core_w + found.hot_copper_w, rel=1e-4)


def test_copper_loss_as_simulated_and_when_hot() -> None:
    made = choke()
    found = heat(made, mean=30.0)
    assert found.temperature_c is not None
    assert found.copper_dc_w == pytest.approx(900.0 * made.resistance)
    square = 2.0 * (1.0 - (2 * np.pi / 800) ** 2 / 6)  # of a sine of 2 A drawn in 800 straight pieces
    assert found.copper_ac_w / (square * made.resistance) > 3.0  # 1.6 mm wire at 100 kHz, skin depth 0.22 mm
    warm = float(copper_resistivity(found.temperature_c) / copper_resistivity(60.0))
    assert warm > 1.0 and 1.0 < found.hot_copper_w / found.copper_w < warm  # the ripple's loss rises by the root only


def test_a_copper_loss_that_is_known_counts() -> None:
    """That of an energy balance: the direct part stays, the rest is the ripple's."""
    plain, made = heat(choke()), choke()
    known = choke_heat(
        made, TIME, 40.0 / (2 * np.pi * 1e5) * np.sin(ANGLE), 8.0 + 2.0 * np.sin(ANGLE), copper_w=plain.copper_w + 0.2
    )
    assert known.copper_w == pytest.approx(plain.copper_w + 0.2)
    assert known.copper_dc_w == pytest.approx(plain.copper_dc_w)
    assert known.temperature_c is not None and plain.temperature_c is not None and known.temperature_c > plain.temperature_c + 0.5


def test_each_cause_is_found() -> None:
    runs: dict[str, ChokeHeat] = {
        "core": heat(choke(), mean=2.0, ripple=0.5, volts=120.0),
        "direct current": heat(choke(), mean=14.0, ripple=0.5, volts=20.0),
        "ripple current": heat(choke(), mean=1.0, ripple=8.0, volts=20.0),
    }
    for cause, found in runs.items():
        assert found.dominant == cause


def test_destroyed_is_a_state_and_nothing_is_told_beyond() -> None:
    found = heat(choke(), mean=90.0)
    assert (found.state, found.temperature_c, found.band_c) == ("destroyed", None, (CEILING, CEILING))
    assert found.copper_dc_w > 50.0 and found.dominant == "direct current"


def test_just_below_destruction_there_is_still_a_balance() -> None:
    low, high = 8.0, 90.0
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if heat(choke(), mean=middle).state == "balanced" else (low, middle)
    edge = heat(choke(), mean=low).temperature_c
    assert edge is not None and CEILING - 1.0 < edge <= CEILING


def without_loss(made: Choke) -> Choke:
    assert made.core is not None
    return replace(made, core=replace(made.core, material=replace(made.core.material, loss=None)))


def test_unknown_core_loss_gives_a_lower_bound_and_no_temperature() -> None:
    found = heat(without_loss(choke(material="mpp-60")))
    assert (found.state, found.core_w, found.temperature_c) == ("core loss unknown", None, None)
    low, high = found.band_c
    assert low is not None and low > 25.0 and high == CEILING and found.warming is None


def test_a_choke_known_by_measurement_only() -> None:
    found = heat(replace(choke(), core=None))
    assert (found.state, found.temperature_c, found.core_w) == ("geometry unknown", None, None)
    assert found.copper_ac_w == pytest.approx(choke().resistance * 2.0, rel=1e-4)
    assert found.copper_dc_w == pytest.approx(64.0 * choke().resistance)


def test_band_holds_the_temperature_and_opens_with_the_loss_band() -> None:
    made = choke()
    found = heat(made)
    low, high = found.band_c
    assert found.temperature_c is not None and low is not None and high is not None
    assert low < found.temperature_c < high
    assert made.core is not None and made.core.material.loss is not None
    vague: CoreLoss = replace(made.core.material.loss, band=2.0)
    wider = heat(replace(made, core=replace(made.core, material=replace(made.core.material, loss=vague)))).band_c
    assert wider[0] is not None and wider[0] < low and wider[1] is not None and wider[1] > high


def test_air_stacks_and_strands_cool_it() -> None:
    still = heat(choke()).temperature_c
    blown = heat(choke(), cooling=Cooling(air_speed=2.0)).temperature_c
    stacked = heat(choke(stack=2), volts=40.0, mean=8.0).temperature_c
    strands = heat(choke(strands=2), mean=14.0, ripple=0.1).temperature_c
    single = heat(choke(strands=1), mean=14.0, ripple=0.1).temperature_c
    assert None not in (still, blown, stacked, strands, single)
    assert blown < still - 5.0 and stacked < still and strands < single  # type: ignore[operator]


def test_ambient_shifts_it_by_a_little_less() -> None:
    """Radiation and copper pull opposite ways; ten kelvin of ambient come through to within two."""
    cool, warm = (heat(choke(), cooling=Cooling(ambient_c=celsius)).temperature_c for celsius in (25.0, 35.0))
    assert cool is not None and warm is not None
    assert warm - cool == pytest.approx(10.0, abs=2.0)


@pytest.mark.parametrize("mean", [2.0, 12.0, 20.0, 30.0, 45.0, 60.0, 90.0])
@pytest.mark.parametrize("material", ["fe-si-al-60", "mpp-60"])
def test_bands_are_finite_and_hold_the_temperature(mean: float, material: str) -> None:
    found = heat(choke(material=material), mean=mean)
    low, high = found.band_c
    assert low is not None and high is not None and 25.0 < low <= high <= CEILING
    if found.temperature_c is not None:
        assert low < found.temperature_c < high or found.temperature_c == pytest.approx(CEILING, abs=1.0)


def test_bias_widens_the_band_upwards_only() -> None:
    made = choke()
    assert bias_factor(made, 0.0) == 1.0 and 1.0 < bias_factor(made, 20.0) < bias_factor(made, 60.0) <= 1.5
    half = float(
        np.interp(-0.5, -made.curve.inductance(np.linspace(0, 200, 2001)) / made.curve.inductance_zero, np.linspace(0, 200, 2001))
    )
    assert bias_factor(made, half) == pytest.approx(1.5, rel=1e-3)


def test_leads_cool_a_choke_at_little_current_and_heat_it_at_much() -> None:
    """100 mm of 1.6 mm copper at each end, against a rod cut into slices by hand, its own loss in it."""
    made = choke()
    assert made.core is not None
    led = replace(made, core=replace(made.core, winding=replace(made.core.winding, lead=0.1)))
    spectrum = periodic_spectrum(TIME, 12.0 + 1e-3 * np.sin(ANGLE))
    celsius = np.array([60.0, 100.0, 160.0])
    found = lead_flow(led.core.winding, celsius, 25.0, spectrum)  # type: ignore[union-attr]
    n, area = 400, math.pi / 4 * 1.6e-3**2
    step = 0.1 / n
    for each, flow in zip(celsius, found, strict=True):
        film = natural_convection(made.core.winding.overall, each, 25.0) * math.pi * made.core.winding.overall * step
        heat_in = 144.0 / 58e6 * (1 + 3.93e-3 * (each - 20.0)) / area * step
        along = 390.0 * area / step
        matrix = np.diag(np.full(n, 2 * along + film)) - np.diag(np.full(n - 1, along), 1) - np.diag(np.full(n - 1, along), -1)
        matrix[-1, -1] -= along
        matrix[0, 0] += along
        source = np.full(n, heat_in)
        source[0] += 2 * along * (each - 25.0)
        rise = np.linalg.solve(matrix, source)
        wanted = 2 * along * (each - 25.0 - rise[0])
        assert flow / 2 == known(wanted, f"heat into a lead at {each} °C", "rod cut into slices", INDEPENDENT, unit="W", rel=5e-3)
    small, large = (
        lead_flow(led.core.winding, celsius, 25.0, periodic_spectrum(TIME, amps + 1e-3 * np.sin(ANGLE))) for amps in (2.0, 60.0)
    )  # type: ignore[union-attr]
    assert np.all(small > 0.0) and large[0] < 0.0
    assert (heat(led).temperature_c or 0.0) < (heat(made).temperature_c or 0.0) - 1.0


def test_no_loss_no_warming() -> None:
    found = choke_heat(choke(), TIME, np.zeros_like(TIME), np.zeros_like(TIME), Cooling(ambient_c=31.0))
    assert (found.state, found.temperature_c, found.core_w, found.copper_w) == ("balanced", 31.0, 0.0, 0.0)


@pytest.mark.parametrize("ring", ["powder-26.9x14.7x11.2", "powder-39.9x24.1x14.5", "powder-62x32.6x25"])
@pytest.mark.parametrize("stack", [1, 3])
@pytest.mark.parametrize("mean", [4.0, 8.0, 12.0])
def test_rule_of_thumb_as_a_second_opinion(ring: str, stack: int, mean: float) -> None:
    """(mW/cm2)^0.833, common practice of powder-core catalogues: our rise is 1.1 to 1.9 times that for still air. The rule
    takes some 20 W/(m2*K); convection and radiation give 10 to 15."""
    made = choke(ring, stack=stack)
    found = heat(made, mean=mean)
    assert found.temperature_c is not None and found.core_w is not None
    rule = made.temperature_rise(found.core_w + found.copper_w)
    assert rule is not None and 1.1 < (found.temperature_c - 25.0) / rule < 1.9


def test_iron_powder_loses_more_than_fe_si_al_at_the_same_volts() -> None:
    """Why makers moved on: 75 mu iron powder loses several times the core loss of 60 mu Fe-Si-Al (common practice)."""
    losses = [
        heat(choke(ring, material)).core_w
        for ring, material in (("powder-39.9x24.1x14.5", "fe-si-al-60"), ("iron-39.9x24.1x14.5", "iron-powder-75"))
    ]
    assert losses[0] is not None and losses[1] is not None and losses[1] > 3.0 * losses[0]


def test_harmonics_are_taken_one_by_one() -> None:
    """Two harmonics of equal rms: the loss of each at its own resistance, which the chain follows within 8 %."""
    made = choke()
    assert made.core is not None
    current = np.sqrt(2.0) * (np.sin(ANGLE) + np.sin(5 * ANGLE))
    found = choke_heat(made, TIME, 1e-6 * np.sin(ANGLE), current)
    assert found.temperature_c is not None
    both = np.array([1e5, 5e5])
    assert found.copper_ac_w == pytest.approx(float(np.sum(copper_ladder(made, 1e5).at(both, 60.0))), rel=1e-3)
    factors = made.core.winding.ac_factor(made.core.ring, both, 60.0)
    assert found.copper_ac_w == pytest.approx(2.0 * made.resistance * np.mean(factors), rel=0.08)


def test_samples_that_are_no_period_are_refused() -> None:
    with pytest.raises(InputError, match="choke.left current: is not one whole period"):
        choke_heat(choke(), TIME, np.sin(ANGLE), ANGLE)
