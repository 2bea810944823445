# SPDX-License-Identifier: GPL-3.0-or-later
"""Coils by geometry against filaments, leads against the two-wire line, and bars of steel at the current they work at."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.physics.saturable import steel_flux_density
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_limits
from heatsim.verdict import judge
from tests.support import coil_filaments

MU_0 = 4e-7 * math.pi

COIL = """[coil]
turns = 8
diameter = "60 mm"
length = "80 mm"
tube_diameter = "6 mm"
tube_wall = "1 mm"
temperature = "20 °C"
"""
BAR = """[case.loaded.workpiece]
diameter = "30 mm"
length = "120 mm"
"""


@pytest.fixture(scope="module")
def file(checkout):
    """The bench heater's file up to its coil, and from its drawer to its bar."""
    text = (checkout / "scenarios" / "bench-heater.toml").read_text(encoding="utf-8")
    start, drawer, bar = (text.index(mark) for mark in ("[coil]", "[wind]", "[case.loaded.workpiece.measured]"))
    return text[:start], text[drawer:bar]


@pytest.fixture
def heater(file):
    """The loaded heater with lines added to its bar and its coil."""

    def build(bar="", coil="", **changes):
        scenario = Scenario.from_text(file[0] + COIL + coil + "\n" + file[1] + BAR + bar, "own.toml")
        return scenario.change({f"case.loaded.workpiece.{name}": value for name, value in changes.items()})

    return build


STEEL = 'material = "steel"\n'


def test_a_coil_by_geometry_against_filaments_at_its_own_frequency(heater):
    """Three turns of 8 mm tube: 15 % less than with the current spread evenly over the tube."""
    shape = {"coil.turns": 3, "coil.length": "36 mm", "coil.tube_diameter": "8 mm"}
    idle = heater(STEEL).change(shape).heater("idle")
    bank = idle.capacitors
    loop = idle.coil.inductance + idle.coil.lead_inductance + bank.inductance
    frequency = 1 / (2 * math.pi * math.sqrt(loop * bank.capacitance))
    inductance, resistance = coil_filaments.impedance(60e-3, 12e-3, 3, 8e-3, 1e-3, 1.724e-8, frequency)
    assert idle.coil.inductance == pytest.approx(inductance, rel=0.03)
    assert idle.coil.resistance == pytest.approx(resistance, rel=0.05)
    assert (idle.coil.basis, "crowding" in idle.coil.origin) == ("estimate", True)


def test_a_coil_too_low_in_frequency_says_what_it_is_taken_for(heater):
    idle = heater(STEEL).change({"capacitors.capacitance": "900 uF", "capacitors.count": 20}).heater("idle")
    assert "as if its current filled the tube" in idle.coil.origin and "frequency too low" in idle.coil.origin
    assert any("20 % too high" in caution for caution in idle.coil.cautions)


def test_leads_not_given_are_assumed_and_said_to_be(heater):
    coil = heater(STEEL).heater("idle").coil
    assert (coil.lead_inductance, coil.lead_resistance) == (50e-9, 1e-3)
    assert "50 nH and 1 mohm assumed" in coil.origin.replace("mΩ", "mohm")
    given = heater(STEEL, 'lead_inductance = "50 nH"\nlead_resistance = "1 mohm"\n').heater("idle").coil
    assert "leads as given" in given.origin
    assert ("assumed" in coil.cautions[0], given.cautions) == (True, ())


def test_leads_from_their_dimensions(heater):
    """Two-wire line with surface currents: mu0/pi l arcosh(s/d); resistance of the skin of two tubes, crowded."""
    leads = 'lead_length = "150 mm"\nlead_spacing = "20 mm"\n'
    scenario = heater(STEEL, leads)
    coil = scenario.heater("idle").coil
    assert coil.lead_inductance == pytest.approx(MU_0 / math.pi * 0.15 * math.log(20 / 6 + math.sqrt((20 / 6) ** 2 - 1)))
    depth = math.sqrt(1.724e-8 / (math.pi * 81e3 * MU_0))
    skin = 2 * 0.15 * 1.724e-8 / (math.pi * (6e-3 - depth) * depth) / math.sqrt(1 - 0.3**2)
    assert coil.lead_resistance == pytest.approx(skin, rel=0.05)
    longer = scenario.change({"coil.lead_length": "300 mm"}).heater("idle")
    assert longer.frequency < scenario.heater("idle").frequency
    assert heater(STEEL, leads + 'lead_resistance = "2 mohm"\n').heater("idle").coil.lead_resistance == 2e-3


@pytest.mark.parametrize(
    ("leads", "words"),
    [
        ('lead_length = "150 mm"\n', "lead_length: goes together with lead_spacing"),
        ('lead_length = "150 mm"\nlead_spacing = "6 mm"\n', "lead_spacing: does not fit"),
        ('lead_length = "15 mm"\nlead_spacing = "60 mm"\n', "lead_spacing: does not fit"),
        (
            'lead_length = "150 mm"\nlead_spacing = "20 mm"\nlead_inductance = "60 nH"\n',
            "lead_inductance: goes without lead_length",
        ),
    ],
)
def test_leads_that_contradict_themselves(heater, leads, words):
    with pytest.raises(InputError, match=words):
        heater(STEEL, leads).heater("idle")


def test_steel_has_the_permeability_of_the_field_that_its_own_tank_makes(heater):
    """The field by hand from the current: N I/l less the coil's ends; B/H of the curve at the crest is half the permeability that
    takes in the power (1.5 times squared), and the tank's current is pi V/(w L) within its drops."""
    loaded = heater(STEEL).heater("loaded")
    piece = loaded.workpiece
    assert piece.current == pytest.approx(loaded.coil_current, rel=1e-5)
    ideal = math.pi * loaded.supply.voltage / (2 * math.pi * loaded.frequency * loaded.loaded_inductance)
    assert 0.9 * ideal < piece.current < ideal
    assert 0.4 < piece.field / (100 * piece.current) < 0.8
    crest = float(steel_flux_density(piece.field, "AISI 1008")) / (MU_0 * piece.field)
    assert 1.9 < piece.permeability / crest < 2.4
    assert (piece.basis, piece.doubt) == ("estimate", "") and "memory" in piece.origin and "31 %" in piece.origin


def test_steel_draws_many_times_what_a_permeability_of_one_would(heater):
    steel, wrong = (heater(STEEL, **more).heater("loaded") for more in ({}, {"permeability": 1}))
    added = [each.workpiece.resistance - each.coil.resistance for each in (steel, wrong)]
    assert added[0] > 7 * added[1]
    assert wrong.workpiece.permeability == 1


def test_permeability_follows_the_supply(heater):
    found = [heater(STEEL).change({"supply.voltage": f"{volts} V"}).heater("loaded").workpiece for volts in (12, 24, 48)]
    assert found[0].permeability > 1.5 * found[1].permeability > 2.2 * found[2].permeability
    assert found[0].resistance > found[1].resistance > found[2].resistance


def test_what_is_given_wins_over_the_material(heater):
    own = heater(STEEL, permeability=40, resistivity="0.4 uohm*m").heater("loaded").workpiece
    plain = heater('resistivity = "0.4 uohm*m"\npermeability = 40\n').heater("loaded").workpiece
    assert (own.resistance, own.inductance) == pytest.approx((plain.resistance, plain.inductance), rel=1e-5)
    assert (plain.doubt, plain.band) == ("", 0.06)


@pytest.mark.parametrize("name", ["copper", "aluminium", "brass", "stainless 304", "graphite"])
def test_metals_by_name_in_the_order_of_their_resistivity(heater, name):
    """All thick against the skin: resistance as the root of the resistivity, within what the frequency and graphite's skin do."""
    known = {"copper": 17.24e-9, "aluminium": 30e-9, "brass": 64e-9, "stainless 304": 0.72e-6, "graphite": 11e-6}
    found, copper = (heater(f'material = "{each}"\n').heater("loaded") for each in (name, "copper"))
    ratio = (found.workpiece.resistance - found.coil.resistance) / (copper.workpiece.resistance - copper.coil.resistance)
    assert ratio == pytest.approx(math.sqrt(known[name] / known["copper"]), rel=0.25)
    assert found.workpiece.band > 0.06 and found.workpiece.field is None


def verdict(scenario):
    limits = case_limits(scenario.case("loaded"), scenario.heater("loaded"), {})
    return {(finding.part, finding.limit): finding for finding in judge({}, limits, 0.1)}


def test_a_bar_of_who_knows_what_is_unknown_never_a_permeability_of_one(heater):
    unstated = heater('resistivity = "0.2 uohm*m"\n')
    finding = verdict(unstated)["workpiece", "material"]
    assert finding.grade == "unknown" and finding.basis == "unknown"
    assert "ten times the power" in finding.cause and "material or permeability" in finding.remedy
    for settled in ({"permeability": 1}, {"material": "steel"}):
        assert ("workpiece", "material") not in verdict(
            unstated.change({f"case.loaded.workpiece.{k}": v for k, v in settled.items()})
        )


@pytest.mark.parametrize(
    ("change", "words"), [({"diameter": "50 mm"}, "thicker than 0.8"), ({"length": "14 mm"}, "shorter than half")]
)
def test_a_bar_beyond_the_range_of_the_model_is_unknown(heater, change, words):
    assert words in verdict(heater(STEEL, **change))["workpiece", "material"].cause


def test_limits_that_rest_on_an_estimated_load_say_so(heater):
    bases = {finding.basis for (part, _), finding in verdict(heater(STEEL)).items() if part in ("capacitors", "supply", "tank")}
    assert bases == {"estimate"}
    assert verdict(heater(STEEL))["run", "energy balance"].basis == "estimate"


@pytest.mark.parametrize(
    ("bar", "words"),
    [
        ('material = "steal"\n', "workpiece.material: is not in the catalogue.*steel"),
        ("", "given neither by measurement nor by geometry"),
        (STEEL + 'share = "50 %"\n', None),
    ],
)
def test_what_a_bar_may_be(heater, bar, words):
    if words is None:
        half, whole = heater(bar).heater("loaded"), heater(STEEL).heater("loaded")
        assert half.workpiece.resistance - half.coil.resistance == pytest.approx(
            (whole.workpiece.resistance - whole.coil.resistance) / 2
        )
        return
    with pytest.raises(InputError, match=words):
        heater(bar).heater("loaded")


def test_a_bar_must_fit_inside_the_tube(heater):
    with pytest.raises(InputError, match=r"workpiece.diameter: does not fit the coil.*below 54 mm"):
        heater(STEEL, diameter="55 mm").heater("loaded")


def test_metals_of_your_own(heater, tmp_path, file):
    """A catalogue of one's own wins over the built-in one; a metal has a permeability or a curve."""
    own = '[metal.steel]\nresistivity = "0.2 uohm*m"\ncurve = "DC01"\nprovenance = "measured"\nsource = "own"\n'
    (tmp_path / "own.toml").write_text(own, encoding="utf-8")
    text = heater(STEEL).text.replace("[heater]", '[heater]\ncatalogue = "own.toml"')
    assert "DC01" in Scenario.from_text(text, "x.toml", tmp_path).heater("loaded").workpiece.origin
    (tmp_path / "own.toml").write_text(own.replace('curve = "DC01"', ""), encoding="utf-8")
    with pytest.raises(InputError, match="metal.steel: needs either permeability or curve"):
        Scenario.from_text(text, "x.toml", tmp_path.resolve()).heater("loaded")


def test_a_tank_of_any_voltage_settles(heater):
    """From a field that hardly magnetises to one far beyond saturation."""
    fields = [
        heater(STEEL).change({"supply.voltage": f"{volts} V"}).heater("loaded").workpiece.field for volts in (5, 40, 120, 400)
    ]
    assert np.all(np.diff(fields) > 0)


def test_steel_and_tank_that_swing_about_their_settled_state_come_to_rest(heater):
    """A bar that nearly fills its coil: whole steps go back and forth a hundred times."""
    coil = {"turns": 37.407, "diameter": "114.224 mm", "length": "70.73 mm", "tube_diameter": "1.5642 mm", "tube_wall": "0.5931 mm"}
    changes = {f"coil.{name}": value for name, value in coil.items()}
    changes |= {"coil.temperature": "40 °C", "supply.voltage": "34.845 V", "capacitors.capacitance": "3.93145 uF"}
    leads = 'lead_inductance = "60 nH"\nlead_resistance = "0.8 mohm"\n'
    loaded = heater(STEEL, leads, diameter="99.6547 mm", length="146.853 mm").change(changes).heater("loaded")
    assert loaded.workpiece.current == pytest.approx(loaded.coil_current, rel=1e-4)
