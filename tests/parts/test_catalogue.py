# SPDX-License-Identifier: GPL-3.0-or-later
"""A user's own catalogue: what it may hold, that it wins, and that every fault names its place."""

from __future__ import annotations

import tomllib

import pytest

from heatsim.constants import OERSTED
from heatsim.errors import InputError
from heatsim.parts.catalogue import Catalogue
from heatsim.scenario.catalogue import builtin, read_catalogue

OWN = """
[material.drawer]
alloy = "unknown powder"
permeability = 75
path_rule = "mean"
provenance = "measured"
source = "bench, 20 turns"
[material.drawer.bias]
points = [["10 Oe", "95 %"], ["30 Oe", "70 %"], ["80 Oe", "30 %"]]
tolerance = "3 %"
provenance = "measured"
source = "bench, LCR meter with a DC source"
[material.drawer.loss]
form = "steinmetz"
coefficients = [2.1, 1.4, 2.2]
band = 1.3
provenance = "measured"
source = "ring down"

[ring."drawer 27"]
outer_diameter = "27 mm"
inner_diameter = "14.5 mm"
height = "11 mm"
path_rule = "mean"
area = "66 mm2"
provenance = "measured"
source = "calliper"
"""


def read(text: str) -> Catalogue:
    return read_catalogue(tomllib.loads(text), lambda *field: f"own.toml: {'.'.join(field)}")


def test_reads_materials_and_rings() -> None:
    own = read(OWN)
    material, ring = own.materials["drawer"], own.rings["drawer 27"]
    assert material.bias is not None and material.loss is not None
    assert material.bias.share([0.0, 30 * OERSTED, 80 * OERSTED]) == pytest.approx([1.0, 0.7, 0.3])
    assert material.bias.half_field / OERSTED == pytest.approx(55.0)
    assert material.saturation_basis == material.provenance == material.loss.provenance == "measured"
    assert material.loss.density(0.1, 1e5) == pytest.approx(2.1 * 1e5**1.4 * 0.1**2.2)
    assert ring.size == pytest.approx((27e-3, 14.5e-3, 11e-3))
    assert (ring.path_length, ring.coating, ring.area) == (None, 0.0, pytest.approx(66e-6))


def test_own_entries_win_and_the_others_stay() -> None:
    own = read(OWN.replace("[material.drawer", "[material.fe-si-al-60"))
    both = builtin().joined(own)
    assert both.material("fe-si-al-60", "").alloy == "unknown powder"
    assert both.material("fe-si-al-90", "").alloy == "Fe-Si-Al powder"
    assert both.ring("drawer 27", "").source == "calliper"
    assert both.ring("ferrite-20x10x7", "").area == pytest.approx(33.63e-6)


def test_unknown_names_come_with_the_nearest() -> None:
    told = "choke.core.material: is not in the catalogue; given 'fe-si-al-61'; allowed: fe-si-al-60"
    with pytest.raises(InputError, match=told):
        builtin().material("fe-si-al-61", "choke.core.material")
    with pytest.raises(InputError, match="powder-26.9x14.7x11.2"):
        builtin().ring("powder-26.9x14.7x11", "choke.core.ring")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("permeability = 75", 'permeability = "75"', "own.toml: material.drawer.permeability: must be a number"),
        ("permeability = 75", "", "own.toml: material.drawer.permeability: is missing"),
        ('path_rule = "mean"\nprov', 'path_rule = "average"\nprov', "path_rule: is not one of the choices; given 'average'"),
        ('tolerance = "3 %"', "tolerance = 3", "own.toml: material.drawer.bias.tolerance: needs a text with a unit"),
        ('tolerance = "3 %"', 'tolerence = "3 %"', "did you mean tolerance"),
        (
            'points = [["10 Oe", "95 %"], ["30 Oe", "70 %"], ["80 Oe", "30 %"]]',
            'point = ["50 Oe", "51 %"]',
            "bias.exponent: is missing",
        ),
        ("points =", "point =", "material.drawer.bias.point: has too many entries"),
        ('["30 Oe", "70 %"]', '["5 Oe", "70 %"]', "rising field and falling share"),
        ('["30 Oe", "70 %"]', '["30 Oe"]', "material.drawer.bias.points.1.1: is missing"),
        ('["30 Oe", "70 %"]', '["30 Oe", "0.7"]', "has no unit"),
        ('points = [["10 Oe", "95 %"], ["30 Oe", "70 %"], ["80 Oe", "30 %"]]', "", "says nothing of the curve"),
        ('form = "steinmetz"', 'form = "b"', "allowed: a list of 4 positive numbers"),
        ("coefficients = [2.1, 1.4, 2.2]", "coefficients = [2.1, -1.4, 2.2]", "coefficients.1: is out of range; given -1.4"),
        ("band = 1.3", "band = 0.5", "own.toml: material.drawer.loss.band: is out of range"),
        ('inner_diameter = "14.5 mm"', 'inner_diameter = "27 mm"', "own.toml: ring.drawer 27.inner_diameter: must be smaller"),
        ('height = "11 mm"', 'height = "11 V"', "has the unit 'V'"),
        ('area = "66 mm2"', 'area = "66 cm2 "\ncolour = "red"', "ring.drawer 27.colour: is not a known key"),
        ('source = "calliper"', "", "ring.drawer 27.source: is missing"),
        ('source = "calliper"', "source = 5", "must be a text; given 5; allowed: one line of text"),
        ('[ring."drawer 27"]', '[ring."x\\ny"]', "has signs that are not allowed"),
        ("[material.drawer]", "[materials]\n[material.drawer]", "did you mean material"),
        ('[ring."drawer 27"]', '[ring]\nx = 5\n[ring."drawer 27"]', "own.toml: ring.x: must be a table"),
    ],
)
def test_faults_name_their_place(old: str, new: str, message: str) -> None:
    assert old in OWN
    with pytest.raises(InputError) as caught:
        read(OWN.replace(old, new))
    assert message in str(caught.value)


def test_all_faults_at_once() -> None:
    with pytest.raises(InputError) as caught:
        read(OWN.replace("band = 1.3", "band = 0").replace("permeability = 75", "permeability = 0").replace('"27 mm"', '"x"'))
    assert len(caught.value.problems) == 3


def test_a_built_in_file_says_where_it_fails() -> None:
    assert len(builtin().materials) >= 15 and len(builtin().rings) >= 40
