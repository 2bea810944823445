# SPDX-License-Identifier: GPL-3.0-or-later
"""The hysteretic choke in ngspice: the reference loop, its limits, minor loops under bias, and the heater it works in.

The netlist solves the very equations of the reference (its variant: slope by the effective field, lag clamped), only with
the flux as input, so the reference's own tolerance holds.
"""

import shutil

import numpy as np
import pytest

import heatsim as hs
from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.netlist.characterise import characterise
from heatsim.netlist.chokes import FLUX_UNIT, choke_model
from heatsim.netlist.deck import Deck, SettleRule, Transient
from heatsim.netlist.library import call, library_folder
from heatsim.parts.hysteresis import POWDER_60, HystereticCurve
from heatsim.physics.magnetisation import JilesAtherton, jiles_atherton_leg
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck
from heatsim.waves import Magnetic, Product, Signal
from tests.support.book import listed
from tests.support.engine.binary import run_binary
from tests.support.once import checked
from tests.support.references import JA_CLOSED, JA_LOOP

pytestmark = [pytest.mark.ngspice, pytest.mark.skipif(shutil.which("ngspice") is None, reason="needs the plain ngspice program")]

TURNS, PATH, AREA = 10, 0.1, 1e-4
AIR = MU_0 * TURNS**2 * AREA / PATH  # the vacuum in the core and nothing beside it
IRON = JilesAtherton(*JA_LOOP[0][:5])


def winding(parameters=IRON, air=AIR):
    return HystereticCurve(parameters, TURNS, PATH, AREA, air)


def drive(curve, source, stop, step, options=None, initial=""):
    """H [A/m] and M [A/m] against time [s] of a winding on a source from ground to node in."""
    name, text, values = choke_model(curve, "bench")
    bare = {**values, "rcu": 1e-9, "rcore": 1e12, "cw": 1e-18, "fref": FLUX_UNIT}
    deck = Deck(
        "winding alone",
        "\n".join([text, source, call("xch", "in 0", name, bare), initial]),
        Transient(stop, step, step),
        SettleRule("flux", ("current",), 1e-2, 2, stop, stop, stop, 0.0),
        (Signal("flux", "Wb", ((FLUX_UNIT, "v(xch.phi)"),)), Signal("current", "A", ((1.0, "i(v.xch.vs)"),))),
        options=options or {"method": "gear", "reltol": "1e-3"},
    )
    waves = run_binary(deck)
    field = waves["current"] * TURNS / PATH
    density = (waves["flux"] - (curve.inductance_air - AIR) * waves["current"]) / (TURNS * AREA)
    return waves.time, field, density / MU_0 - field


def slow_loop(parameters, peak, frequency=50.0, steps=2000):
    """Last cycle of H and M on a sine of current."""
    source = f"idrive 0 in sin(0 {peak * PATH / TURNS:.9g} {frequency})"
    time, field, magnetisation = drive(winding(parameters), source, 3 / frequency, 1 / frequency / steps)
    last = time >= 2 / frequency
    return field[last], magnetisation[last]


def zero_of(x, y):
    """y where x passes zero, largest size."""
    k = np.flatnonzero(np.diff(np.sign(x)) != 0)
    return np.abs(y[k] - x[k] * (y[k + 1] - y[k]) / (x[k + 1] - x[k])).max()


@pytest.mark.parametrize("frequency", [50.0, 5e3])
@pytest.mark.parametrize("row", JA_LOOP)
def test_the_reference_loop(row, frequency):
    # reference file, section 7: two integrations of the same variant, agreeing to six digits
    field, magnetisation = slow_loop(JilesAtherton(*row[:5]), row[5], frequency)
    assert magnetisation.max() == listed("JA_LOOP", "tip", row)
    assert -magnetisation.min() == listed("JA_LOOP", "tip", row)
    assert zero_of(field, magnetisation) == listed("JA_LOOP", "remanence", row)
    assert zero_of(magnetisation, field) == listed("JA_LOOP", "coercive", row)
    area = MU_0 * float(np.trapezoid(field, magnetisation))
    assert area == listed("JA_LOOP", "loss", row)


@pytest.mark.parametrize("row", JA_CLOSED)
def test_initial_slopes(row):
    # closed forms of the reference file, section 7: the virgin slope at once, the anhysteretic one where pinning is next
    # to nothing. Both hold in the limit of no field; at these fields the curves bend by less than 5e-4 (Rayleigh's term
    # of the virgin curve is 2 H/k at c = 0.2, that of Langevin's function x^2/5)
    ms, a, alpha, c, *_ = row
    _, field, magnetisation = drive(winding(JilesAtherton(ms, a, 400.0, alpha, c)), "idrive 0 in pwl(0 0 1m 0.5m)", 1e-3, 1e-6)
    assert field[-1] == pytest.approx(0.05)
    assert magnetisation[-1] / field[-1] == listed("JA_CLOSED", "virgin", row, rel=1e-3)
    found = characterise(winding(JilesAtherton(ms, a, 0.04, alpha, c)), 0.2, run_binary)
    middle = np.polyfit(0.5 * (found.current + found.falling), found.flux, 1)[0]
    assert middle / AIR - 1 == listed("JA_CLOSED", "anhysteretic", row, rel=2e-3)


def test_loop_area_is_the_energy_lost():
    for parameters, air, current in ((IRON, AIR, 50.0), (POWDER_60, 3 * AIR, 30.0)):
        curve = winding(parameters, air)
        found = characterise(curve, current, run_binary, cycles=3)
        assert found.energy == pytest.approx(curve.loop(found.current[-1])[2], rel=2e-3)


def test_loop_is_symmetric():
    found = characterise(winding(), 50.0, run_binary, cycles=4)
    assert found.current == pytest.approx(-found.falling[::-1], abs=2e-3 * found.current[-1])


def test_no_loss_without_pinning_or_with_all_walls_reversible():
    full = characterise(winding(), 50.0, run_binary, cycles=3).energy
    for pinning in (40.0, 4.0):
        less = characterise(winding(IRON._replace(pinning=pinning)), 50.0, run_binary, cycles=3).energy
        assert less == pytest.approx(full * pinning / IRON.pinning, rel=0.2)
    bare = characterise(winding(IRON._replace(reversible=1.0)), 50.0, run_binary, cycles=3)
    assert abs(bare.energy) < 1e-4 * full


def test_walls_stand_still_right_after_a_reversal():
    # without the clamp the lag would go on pushing the walls: slope c*dMan/dHe alone, closed form at both ends of the step
    found = characterise(winding(), 20.0, run_binary, cycles=3)
    saturation, shape, _, alpha, c = IRON
    field = found.falling[[-1, -3]] * TURNS / PATH
    magnetisation = found.flux[[-1, -3]] / (MU_0 * TURNS * AREA) - field
    x = (field + alpha * magnetisation) / shape
    reversible = c * saturation / shape * (1 / x**2 - 1 / np.sinh(x) ** 2)
    least, most = AIR * (1 + reversible / (1 - alpha * reversible))
    slope = (found.flux[-1] - found.flux[-3]) / (found.falling[-1] - found.falling[-3])
    assert least < slope < most < 1.3 * least
    rising = (found.flux[-1] - found.flux[-3]) / (found.current[-1] - found.current[-3])
    assert slope < 0.7 * rising


def test_a_saturated_core_is_still_a_coil():
    curve = winding(IRON, 5 * AIR)
    found = characterise(curve, 1e5, run_binary)
    assert found.monotone
    assert found.inductance[-1] == pytest.approx(5 * AIR, rel=0.01)
    assert found.inductance.min() > 0.999 * 5 * AIR


@pytest.fixture(scope="module")
def minor():
    """Powder on a square voltage whose flux runs between 0.02 T and 0.42 T, 40 cycles: time, H, M, period."""
    curve, frequency = winding(POWDER_60), 90e3
    low, high = 0.02 * TURNS * AREA, 0.42 * TURNS * AREA
    volts, period = 2 * (high - low) * frequency, 1 / frequency
    lead = low / volts
    source = f"vdrive in 0 pulse({volts:.9g} {-volts:.9g} {lead + period / 2:.9g} 1n 1n {period / 2 - 1e-9:.9g} {period:.9g})"
    return *drive(curve, source, lead + 40 * period, period / 800), period, lead


def test_minor_loop_under_bias_closes_and_stays(minor):
    time, field, _, period, lead = minor
    tops = np.interp(lead + period * (np.arange(40) + 0.5), time, field)
    assert np.ptp(tops[-10:]) < 1e-3 * tops[-1]
    assert np.all(np.abs(np.diff(tops[-10:])) < 2e-4 * tops[-1])
    assert np.all(np.isfinite(tops)) and tops[-1] > 4e3


def test_minor_loop_is_that_of_the_reference(minor):
    # the same two field extremes, integrated by the reference's own solver until it repeats itself
    time, field, magnetisation, period, lead = minor
    last = (time >= lead + 38 * period) & (time <= lead + 39 * period)
    low, high = field[last].min(), field[last].max()
    leg = jiles_atherton_leg((0.0, 0.0), high, POWDER_60)
    for _ in range(40):
        down = jiles_atherton_leg((leg[0][-1], leg[1][-1]), low, POWDER_60)
        leg = jiles_atherton_leg((down[0][-1], down[1][-1]), high, POWDER_60)
    wanted = sum(float(np.trapezoid(h, m)) for h, m in (down, leg))
    assert float(np.trapezoid(field[last], magnetisation[last])) == pytest.approx(wanted, rel=0.01)
    assert np.ptp(magnetisation[last]) == pytest.approx(leg[1][-1] - down[1][-1], rel=1e-3)


def test_coarse_steps_cost_little():
    # the steps and the method of the heater decks, 200 a period, against sixteen times as many
    coarse, fine = (MU_0 * float(np.trapezoid(*slow_loop(IRON, 5000.0, 90e3, steps))) for steps in (200, 3200))
    assert coarse == pytest.approx(fine, rel=0.015)


def test_the_library_file_is_usable_by_hand(tmp_path):
    text = (library_folder() / "choke_hysteretic.lib").read_text(encoding="utf-8")
    body = text[text.index(".subckt") :]
    deck = Deck(
        "by hand",
        f"{body}\nv1 in 0 pwl(0 0 1n 10)\nx1 in 0 hs_choke_hysteretic rcu=1u",
        Transient(20e-6, 2e-8, 1e-8),
        SettleRule("i", (), 1e-2, 2, 1.0, 1.0, 1.0, 0.0),
        (Signal("i", "A", ((1.0, "i(v.x1.vs)"),)),),
    )
    curve = HystereticCurve(POWDER_60, 20, 98.4e-3, 107e-6, 1.5e-6)  # what its defaults say
    waves = run_binary(deck)
    assert waves["i"][-1] == pytest.approx(float(curve.current(10 * waves.time[-1])), rel=0.05)


HYSTERESIS = {
    "choke.core.hysteresis.saturation": "716.5 kA/m",
    "choke.core.hysteresis.shape": "6567 A/m",
    "choke.core.hysteresis.pinning": "1040 A/m",
    "choke.core.hysteresis.coupling": 0.01055,
    "choke.core.hysteresis.reversible": "96.3 %",
}


@pytest.fixture(scope="module")
def small(checkout):
    return Scenario.from_file(checkout / "scenarios" / "bench-heater-small-rings.toml")


@pytest.fixture(scope="module")
def scenario(small):
    return small.change(HYSTERESIS)


def test_a_scenario_describes_the_core_by_its_hysteresis(scenario):
    choke = scenario.heater("loaded").chokes[0]
    assert choke.curve.parameters == POWDER_60
    assert choke.curve.turns == 20 and choke.saturation_basis == "memory"
    assert (choke.curve.path, choke.curve.area) == pytest.approx((50.9e-3, 23e-6))
    ledger = case_deck(scenario, "loaded").ledger
    assert not any(isinstance(store, Magnetic) for store in ledger.stores)
    assert {loss.part for loss in ledger.losses if isinstance(loss, Product)} >= {"choke.left.core", "choke.right.core"}


def test_a_scenario_is_told_what_does_not_go(scenario):
    with pytest.raises(InputError, match="coupling too strong"):
        scenario.change({"choke.core.hysteresis.coupling": 0.1}).heater("loaded")
    with pytest.raises(InputError, match="goes without gap"):
        scenario.change({"choke.core.gap": "1 mm"}).heater("loaded")
    with pytest.raises(InputError, match="pinning"):
        scenario.change({"choke.core.hysteresis.pinning": 1040}).heater("loaded")


@pytest.mark.slow
def test_the_heater_oscillates_on_hysteretic_chokes_and_its_balance_closes(small, scenario):
    found, soft = hs.check(scenario, ["loaded"])["loaded"], checked(small)["loaded"]
    measures, other = found.measures, soft.measures
    assert found.outcome == "settled"
    assert measures["energy.imbalance_ratio"] < 0.01
    assert measures["tank.frequency_hz"] == pytest.approx(other["tank.frequency_hz"], rel=2e-3)
    assert measures["choke.left.ripple_current_a"] == pytest.approx(other["choke.left.ripple_current_a"], rel=0.03)
    for side in ("left", "right"):  # fitted to the loss at 90 kHz within 30 %; the bias makes a difference too
        assert measures[f"loss.choke.{side}.core_w"] == pytest.approx(measures[f"choke.{side}.core_loss_w"], rel=0.35)
