# SPDX-License-Identifier: GPL-3.0-or-later
"""A metal of one's own over temperature: it is read, cold figures alone are enough, and faults name file and field."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.parts.materials import Metal
from heatsim.scenario.catalogue import read_catalogue
from heatsim.scenario.scenario import Scenario

COLD = """
[metal.nickel]
resistivity = "70 nohm*m"
curve = "DC01"
provenance = "measured"
source = "bench"
"""
ORIGIN = 'band = "5 %"\nprovenance = "measured"\nsource = "bench"\n'
HOT = f"""
[metal.nickel.hot]
condition = "dull"
[metal.nickel.hot.resistivity]
points = [["20 °C", "70 nohm*m"], ["350 °C", "300 nohm*m"], ["1000 °C", "500 nohm*m"]]
{ORIGIN}
[metal.nickel.hot.conductivity]
points = [["25 °C", "90 W/mK"], ["1000 °C", "72 W/(m*K)"]]
{ORIGIN}
[metal.nickel.hot.specific_heat]
points = [["0 °C", "430 J/kgK"], ["350 °C", "0.66 kJ/kgK"], ["1000 °C", "590 J/(kg*K)"]]
{ORIGIN}
[metal.nickel.hot.density]
value = "8.9 g/cm3"
{ORIGIN}
[metal.nickel.hot.emissivity.dull]
points = [["20 °C", 0.2], ["1100 °C", 0.5]]
{ORIGIN}
[metal.nickel.hot.curie]
value = "358 °C"
band = "5 K"
provenance = "measured"
source = "bench"
[metal.nickel.hot.highest]
value = "1000 °C"
band = "10 K"
ends = "data"
provenance = "measured"
source = "bench"
"""


def read(text: str) -> Metal:
    return read_catalogue(tomllib.loads(text), lambda *field: f"own.toml: {'.'.join(field)}").metals["nickel"]


def test_cold_figures_are_enough() -> None:
    assert read(COLD) == Metal("nickel", 70e-9, 0.1, None, "DC01", "measured", "bench")
    assert read(COLD).hot is None


def test_a_metal_over_temperature() -> None:
    metal = read(COLD + HOT)
    hot = metal.hot
    assert hot is not None and (hot.curie_c, hot.highest_c, hot.ends, hot.density) == (358.0, 1000.0, "data", 8900.0)
    assert hot.resistivity([20.0, 185.0]) == pytest.approx([70e-9, 185e-9])
    assert hot.specific_heat(350.0) == pytest.approx(660.0) and hot.conductivity(1000.0) == 72.0
    assert hot.emissivity(560.0) == pytest.approx(0.35)
    assert ("Curie point", "measured", "bench") in metal.origins


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('"350 °C", "300 nohm*m"', '"20 °C", "300 nohm*m"', "hot.resistivity.points: must be points of rising temperature"),
        ('["25 °C", "90 W/mK"], ', "", "hot.conductivity.points: must be points of rising temperature; given 1 points"),
        ('"25 °C", "90', '"26 °C", "90', "hot.conductivity.points: begins too hot; given 26 °C; allowed: a first point at 25 °C"),
        ('"1000 °C", "72', '"990 °C", "72', "hot.conductivity.points: ends below highest; given 990 °C; allowed: data up to 1000"),
        ('"300 nohm*m"', '"-300 nohm*m"', "hot.resistivity.points.1.1: is out of range"),
        ('"90 W/mK"', '"90 W/K"', "hot.conductivity.points.0.1: has the unit 'W/K'"),
        ('"350 °C", "300', '"25 °C", "300', "hot.resistivity.points: continued straight to -20 °C leaves what is possible"),
        ('["20 °C", 0.2]', '["20 °C", 1.2]', "hot.emissivity.dull.points.0.1: is out of range; given 1.2"),
        ('["20 °C", 0.2]', '["20 °C", 0.99], ["30 °C", 0.9]', "given 1.35 there; allowed: at most 1"),
        ('condition = "dull"', 'condition = "bright"', "hot.condition: has no table of emissivity; given 'bright'; allowed: dull"),
        ('condition = "dull"', "", "metal.nickel.hot.condition: is missing"),
        ("[metal.nickel.hot.curie]", "[metal.nickel.hot.curry]", "hot.curry: is not a known key; allowed: did you mean curie"),
        (
            HOT[HOT.index("[metal.nickel.hot.curie") : HOT.index("[metal.nickel.hot.high")],
            "",
            "hot.curie: is missing; allowed: the",
        ),
        ('ends = "data"', 'ends = "fire"', "hot.highest.ends: is not one of the choices"),
        ('value = "8.9 g/cm3"', 'value = "8.9 kg/m3"', "hot.density.value: is out of range"),
        ('resistivity = "70', 'resistivity = "72', "nickel.resistivity: is not that of hot.resistivity at 20 °C"),
        ('points = [["25 °C", "90 W/mK"]', 'law = "EN 1993-1-2"\npoints = [["25 °C", "90 W/mK"]', "needs either points or a law"),
        (
            'points = [["25 °C", "90 W/mK"], ["1000 °C", "72 W/(m*K)"]]',
            "",
            "hot.conductivity: needs either points or a law; allowed: points, or law = 'EN 1993-1-2'",
        ),
        ('points = [["25 °C", "90 W/mK"], ["1000 °C", "72 W/(m*K)"]]', 'law = "EN"', "hot.conductivity.law: is not one of the"),
    ],
)
def test_faults_name_their_field(old: str, new: str, message: str) -> None:
    text = COLD + HOT
    assert old in text
    with pytest.raises(InputError) as caught:
        read(text.replace(old, new))
    assert message in str(caught.value) and "own.toml: metal.nickel" in str(caught.value)


def test_a_law_ends_where_it_ends() -> None:
    law = (COLD + HOT).replace('points = [["25 °C", "90 W/mK"], ["1000 °C", "72 W/(m*K)"]]', 'law = "EN 1993-1-2"')
    hot = read(law).hot
    assert hot is not None and hot.conductivity(500.0) == pytest.approx(54 - 3.33e-2 * 500)
    with pytest.raises(InputError, match=r"hot.conductivity.law: ends below highest; given 1200 °C; allowed: data up to 1250 °C"):
        read(law.replace('value = "1000 °C"', 'value = "1250 °C"'))


def test_every_key_is_explained(checkout: Path) -> None:
    """The head of the built-in file names every key that a table may have."""
    from heatsim.scenario.schema import metal

    head = (checkout / "heatsim" / "parts" / "data" / "metals.toml").read_text("utf-8").split("\n[", 1)[0]
    tables = [each for each in vars(metal).values() if isinstance(each, type) and each.__module__ == metal.__name__]
    assert len(tables) == 10
    assert not [key for table in tables for key in table.model_fields if key not in head]


def test_a_doubtful_curve_widens_the_band_of_a_bar(checkout: Path, tmp_path: Path) -> None:
    """Half of its band counts, as power goes with the root of permeability; nothing of it where permeability is given."""
    text = (checkout / "scenarios" / "bench-heater.toml").read_text("utf-8").replace("[heater]", '[heater]\ncatalogue = "own.toml"')
    start, drawer, bar = (text.index(mark) for mark in ("[coil]", "[wind]", "[case.loaded.workpiece.measured]"))
    coil = '[coil]\nturns = 8\ndiameter = "60 mm"\nlength = "80 mm"\ntube_diameter = "6 mm"\ntube_wall = "1 mm"\n\n'
    piece = '[case.loaded.workpiece]\ndiameter = "30 mm"\nlength = "120 mm"\nmaterial = "nickel"\n'
    told = {}
    for band in (0, 40):
        (tmp_path / f"{band}").mkdir()
        (tmp_path / f"{band}" / "own.toml").write_text(COLD + f'permeability_band = "{band} %"\n', "utf-8")
        scenario = Scenario.from_text(text[:start] + coil + text[drawer:bar] + piece, "heater.toml", tmp_path / f"{band}")
        for each in (scenario, scenario.change({"case.loaded.workpiece.permeability": 50})):
            workpiece = each.heater("loaded").workpiece
            assert workpiece is not None
            told[band, each is scenario] = int(re.findall(r"may be off by up to (\d+) %", workpiece.origin)[0])
    assert told[40, True] == told[0, True] + 20
    assert told[40, False] == told[0, False] < told[0, True]
