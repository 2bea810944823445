# SPDX-License-Identifier: GPL-3.0-or-later
"""What the catalogues hold, with figures and origins."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

import heatsim
from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.report.base.plain import as_json
from heatsim.studies.parts import KINDS, find_parts
from tests.support import references as ref

OWN = """
[ring.bench]
outer_diameter = "1 9/16 in"
inner_diameter = "15/16 in"
height = "9/16 in"
path_rule = "logarithmic"
provenance = "measured"
source = "callipers"

[metal.copper]
resistivity = "0.02 uohm*m"
resistivity_band = "5 %"
permeability = 1.0
provenance = "measured"
source = "four wires"
"""


def test_everything_of_the_files_is_there_once(checkout: Path) -> None:
    tables: dict[str, set[str]] = {}
    for path in (checkout / "heatsim" / "parts" / "data").glob("*.toml"):
        for kind, entries in tomllib.loads(path.read_text(encoding="utf-8")).items():
            tables.setdefault(kind, set()).update(entries)
    found = find_parts()
    for kind in ("ring", "material", "metal", "device"):
        names = [each.name for each in found.parts if each.kind == kind]
        assert len(names) == len(set(names)) == found.held[kind] and set(names) == tables[kind]
    assert set(found.held) == set(KINDS) and found.exit_code == 0


def test_every_part_says_where_its_figures_are_from() -> None:
    for part in find_parts().parts:
        assert part.what and part.origins
        assert all(each.source and each.provenance for each in part.origins)


@pytest.mark.parametrize("row", ref.AWG, ids=lambda row: f"AWG{row[0]}")  # ASTM B258 and IEC 60028, section 1
def test_wire_gauges(row: tuple) -> None:
    gauge, millimetres, square, ohm_per_km, rtol = row
    (part,) = find_parts(f"{gauge} awg", kind="wire").parts
    assert part.name == f"AWG {gauge}"
    figures = part.figures
    assert figures["diameter_m"] == pytest.approx(1e-3 * millimetres, rel=rtol)
    assert figures["area_m2"] == pytest.approx(1e-6 * square, rel=rtol)
    assert figures["resistance_20c_ohm_per_m"] == pytest.approx(1e-3 * ohm_per_km, rel=rtol)


def test_the_diameter_over_the_enamel_is_told_where_it_is_known() -> None:
    wires = {each.name: each.figures["overall_diameter_m"] for each in find_parts(kind="wire").parts}
    assert wires["AWG 4"] is None and wires["AWG 4/0"] is None and wires["AWG 39"] is None
    assert 1.63e-3 < wires["AWG 14"] < 1.75e-3


def test_a_rings_al_is_that_of_its_section_and_path() -> None:
    """AL = mu0 mu A/l within the rounding of catalogues and what their own AL leaves room for."""
    for part in find_parts(kind="rings").parts:
        for mu, henry in part.figures["inductance_factors_h"]:
            computed = MU_0 * mu * part.figures["area_m2"] / part.figures["path_length_m"]
            assert computed == pytest.approx(henry, rel=part.figures["inductance_tolerance_ratio"]), part.name


def test_all_words_must_be_there_and_the_order_does_not_matter() -> None:
    both = find_parts("Fe-Si-Al 60")
    assert "fe-si-al-60" in [each.name for each in both.parts] and "powder-39.9x24.1x14.5" in [each.name for each in both.parts]
    assert both.parts == find_parts("60", "fe-si-al").parts
    assert [each.name for each in find_parts("sendust 60", kind="materials").parts] == ["fe-si-al-60"]
    assert find_parts("toroid", "ferrite").parts == find_parts("ferrite", kind="ring").parts


def test_what_is_not_there_exits_with_1_and_names_what_is_near() -> None:
    result = find_parts("sendst", "60")
    assert (result.exit_code, result.parts) == (1, ())
    assert result.strange == (("sendst", ("sendust",)),) and result.held["ring"] > 40
    assert find_parts("steel", kind="rings").strange == ()


def test_rings_near_a_measured_one_come_nearest_first() -> None:
    result = find_parts(near="40 x 24 x 14.5 mm")
    assert {each.name for each in result.parts[:2]} == {"iron-39.9x24.1x14.5", "powder-39.9x24.1x14.5"}
    assert [each.part for each in result.near] == list(result.parts)
    assert result.near[0].distance < 0.005 < 0.05 < result.near[2].distance
    assert find_parts("ferrite", near="40 x 24 x 14.5 mm").parts[0].name == "ferrite-40x24x16"


def test_own_parts_come_on_top(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(OWN)
    result = find_parts(near="1 9/16 x 15/16 x 9/16 in", catalogue=path)
    assert result.parts[0].name == "bench" and result.near[0].distance == 0.0
    figures = result.parts[0].figures
    assert set(figures["computed"]) == {"area", "path_length"}
    assert figures["area_m2"] == pytest.approx(9 / 16 * (25 - 15) / 32 * 25.4e-3**2)  # h (d1 - d2)/2
    own = {each.name: each for each in find_parts(catalogue=path).parts if each.own}
    assert set(own) == {"bench", "copper"} and own["copper"].figures["resistivity_ohm_m"] == pytest.approx(2e-8)
    assert own["copper"].figures["highest_c"] is None and own["copper"].origins[0].source == "four wires"


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"kind": "ringz"}, "kind: is no kind of parts; given 'ringz'; allowed: did you mean rings"),
        ({"kind": "wire", "near": "40 x 24 x 14.5 mm"}, "near: is for rings"),
        ({"near": "40"}, "near: is not a ring's size"),
        ({"catalogue": "none.toml"}, "none.toml"),
    ],
)
def test_what_cannot_be_used_is_refused(options: dict[str, str], words: str) -> None:
    with pytest.raises(InputError, match=words):
        find_parts(**options)
    with pytest.raises(InputError, match="too many"):
        find_parts("a" * 500)


def test_plain_data_are_json_with_units_in_the_names() -> None:
    told = json.loads(as_json(heatsim.find_parts("ferrite", near="40 x 24 x 14.5 mm").as_dict()))
    assert told["schema"] == "heatsim.parts/1"
    assert told["asked"] == {
        "words": ["ferrite"],
        "kind": None,
        "catalogue": None,
        "near": {"outer_diameter_m": 0.04, "inner_diameter_m": 0.024, "height_m": 0.0145},
    }
    first = told["parts"][0]
    assert first["figures"]["height_m"] == 0.016 and first["origins"][0]["provenance"] == "memory"
    assert first["distance_ratio"] == pytest.approx(0.0569, abs=1e-3) and first["coated"] is False
