# SPDX-License-Identifier: GPL-3.0-or-later
"""Scenarios: cases, changes, overrides of one side, hash, JSON schema."""

import tomllib

import jsonschema
import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario, json_schema


@pytest.fixture(scope="module")
def scenario(checkout):
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def test_both_demo_scenarios_have_the_cases_idle_and_loaded(checkout):
    for name in ("bench-heater", "bench-heater-small-rings"):
        assert Scenario.from_file(checkout / "scenarios" / f"{name}.toml").cases == ("idle", "loaded")


def test_the_small_rings_differ_from_the_bench_heater_in_name_and_ring_only(checkout):
    first, second = (
        Scenario.from_file(checkout / "scenarios" / f"{name}.toml").tables.model_dump()
        for name in ("bench-heater", "bench-heater-small-rings")
    )
    differing = {key for key in first if first[key] != second[key]}
    assert differing == {"heater", "choke"}
    assert first["choke"]["left"]["wire"] == second["choke"]["left"]["wire"]
    assert first["choke"]["left"]["turns"] == second["choke"]["left"]["turns"]


def test_change_by_keyword_and_by_dotted_field_are_the_same(scenario):
    first = scenario.change(supply__voltage="38 V")
    second = scenario.change({"supply.voltage": "38 V"})
    assert first.tables == second.tables
    assert first.tables.supply.voltage == 38.0
    assert scenario.tables.supply.voltage == 42.0


def test_a_change_is_checked_like_the_file(scenario):
    with pytest.raises(InputError, match="did you mean voltage"):
        scenario.change({"supply.voltag": "38 V"})
    with pytest.raises(InputError, match="out of range"):
        scenario.change(supply__voltage="3800 V")
    with pytest.raises(InputError, match="not a table"):
        scenario.change({"supply.voltage.peak": "38 V"})


def test_a_case_can_override_fields(scenario):
    text = scenario.text.replace("[case.idle]", '[case.idle]\nset = {"supply.voltage" = "36 V", "choke.left.turns" = 18}')
    chosen = Scenario.from_text(text, "x.toml")
    assert chosen.heater("idle").supply.voltage == 36.0
    assert chosen.heater("loaded").supply.voltage == 42.0
    left, right = chosen.heater("idle").chokes
    assert left.core.winding.turns, right.core.winding.turns == (18, 20)


def test_one_side_overrides_single_keys_of_the_common_choke(scenario):
    changed = scenario.change({"choke.left.core.stack": 1})
    left, right = changed.heater("idle").chokes
    assert left.core.ring.stack == 1 and right.core.ring.stack == 2
    assert left.core.material == right.core.material
    assert right.curve.inductance_zero == pytest.approx(2 * left.curve.inductance_zero, rel=1e-6)


def test_one_choke_scenarios_have_a_centre_choke(scenario):
    heater = scenario.change(heater__topology="one-choke").heater("loaded")
    assert [choke.side for choke in heater.chokes] == ["centre"]
    with pytest.raises(InputError, match="centre"):
        scenario.change({"heater.topology": "one-choke", "choke.left.turns": 3})


def test_hash_follows_content_not_layout(scenario):
    commented = Scenario.from_text("# more words\n" + scenario.text.replace('"42 V"', '"42.0 V"'), "other.toml")
    assert commented.hash == scenario.hash
    assert scenario.change(supply__voltage="41 V").hash != scenario.hash


def test_unknown_case(scenario):
    with pytest.raises(InputError, match="no such case"):
        scenario.heater("molten")


def test_the_json_schema_is_valid_and_accepts_the_demo_files(checkout):
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    for path in sorted((checkout / "scenarios").glob("*.toml")):
        jsonschema.validate(tomllib.loads(path.read_text(encoding="utf-8")), schema)


def test_the_json_schema_takes_a_rectifier_by_its_secondary_and_no_supply_without_a_voltage(scenario):
    plain = tomllib.loads(scenario.text)
    del plain["supply"]["voltage"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(plain, json_schema())
    plain["supply"]["source"] = {"kind": "rectifier", "secondary_voltage": "30 V", "transformer_resistance": "0.1 ohm"}
    jsonschema.validate(plain, json_schema())
    del plain["supply"]["source"]["secondary_voltage"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(plain, json_schema())


def test_the_json_schema_refuses_what_the_reader_refuses(scenario):
    raw = tomllib.loads(scenario.text)
    for spoil in (
        lambda r: r["supply"].update(volts="3 V"),
        lambda r: r["supply"].update(voltage=3),
        lambda r: r.pop("gate"),
        lambda r: r["choke"]["left"].update(turn=3),
    ):
        wrong = tomllib.loads(scenario.text)
        wrong["choke"]["left"] = {}
        spoil(wrong)
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, json_schema())
    jsonschema.validate(raw, json_schema())


def test_wire_by_gauge_enamel_grade_and_lay(scenario):
    # ASTM B258: AWG 14 is 1.6277 mm (reference file, section 1)
    def wound(**wire):
        return scenario.change({"choke.wire": wire}).heater("idle").chokes[0].core.winding

    by_gauge = wound(gauge="AWG 14", strands=2)
    assert by_gauge.diameter == pytest.approx(1.627727e-3, rel=1e-5)
    assert wound(diameter="1.6 mm", grade=1).overall < wound(diameter="1.6 mm", grade=2).overall
    assert wound(diameter="0.5 mm", strands=7, lay="twisted").wires == 20
    loose = scenario.change({"choke.wire.looseness": "0.8 mm"}).heater("idle").chokes[0]
    assert loose.resistance > 1.05 * scenario.heater("idle").chokes[0].resistance


@pytest.mark.parametrize(
    ("wire", "word"),
    [
        ({"strands": 2}, "needs either diameter or gauge"),
        ({"diameter": "1 mm", "gauge": "AWG 14"}, "needs either"),
        ({"gauge": "AWG many"}, "choke.wire"),
        ({"diameter": "1 mm", "lay": "plaited"}, "side by side"),
    ],
)
def test_wire_that_is_not_told_is_refused(scenario, wire, word):
    with pytest.raises(InputError, match=word):
        scenario.change({"choke.wire": wire}).heater("idle")


def test_hash_follows_the_files_a_scenario_names(scenario, tmp_path):
    model = tmp_path / "mine.lib"
    model.write_text(".model mine vdmos(vto=3.5 kp=60)\n", encoding="utf-8")
    own = scenario.change({"switch.model_file": str(model), "switch.model": "mine"})
    before = own.hash
    model.write_text(".model mine vdmos(vto=3.6 kp=60)\n", encoding="utf-8")
    assert own.hash != before


def test_winding_capacitance_is_given_or_estimated(scenario):
    assert scenario.heater("idle").chokes[0].capacitance == 40e-12
    text = scenario.text.replace('capacitance = "40 pF"\n', "")
    choke = Scenario.from_text(text, "x.toml").heater("idle").chokes[0]
    assert choke.capacitance == choke.core.winding.self_capacitance(choke.core.ring).value
    assert 1e-12 < choke.capacitance < 100e-12


def with_share(scenario, share):
    return scenario.change({"case.loaded.workpiece.share": share}).heater("loaded")


def test_a_share_of_nothing_is_the_empty_coil_and_of_all_the_workpiece_as_given(scenario):
    assert with_share(scenario, "0 %") == scenario.heater("idle")
    assert with_share(scenario, "100 %") == scenario.heater("loaded")


GEOMETRIC = """[coil]
turns = 8
diameter = "60 mm"
length = "80 mm"
tube_diameter = "6 mm"
tube_wall = "1 mm"
lead_inductance = "60 nH"
lead_resistance = "0.8 mohm"
"""
BAR = """[case.loaded.workpiece]
diameter = "30 mm"
length = "120 mm"
resistivity = "1 uohm*m"
"""


@pytest.fixture(scope="module")
def geometric(scenario):
    """The bench heater with coil and bar given by their dimensions."""
    start, end = scenario.text.index("[coil]"), scenario.text.index("[wind]")
    text = scenario.text[:start] + GEOMETRIC + "\n" + scenario.text[end:]
    return Scenario.from_text(text[: text.index("[case.loaded.workpiece.measured]")] + BAR, "geometric.toml")


@pytest.mark.parametrize("given", ["scenario", "geometric"])
def test_a_share_scales_what_the_workpiece_adds_and_the_quality_falls_with_it(given, request):
    heaters = [with_share(request.getfixturevalue(given), f"{percent} %") for percent in range(0, 201, 20)]
    empty, whole = heaters[0], heaters[5]
    for name in ("loaded_resistance", "loaded_inductance"):
        added = [getattr(heater, name) - getattr(empty, name) for heater in heaters]
        assert added == pytest.approx([k / 5 * (getattr(whole, name) - getattr(empty, name)) for k in range(11)])
    quality = [heater.quality for heater in heaters]
    assert quality == sorted(quality, reverse=True)
    assert quality[-1] < 0.7 * quality[5] < 0.7 * quality[0]


def test_a_share_beyond_belief_names_the_highest_one(scenario):
    heavy = scenario.change({"case.loaded.workpiece.measured.resistance": "400 mohm"})
    with pytest.raises(InputError, match=r"loaded.workpiece: needs a coupling factor .* a share up to 1\d\d %"):
        with_share(heavy, "200 %")
    with pytest.raises(InputError, match="allowed: 0 % to 200 %"):
        with_share(scenario, "210 %")
    with pytest.raises(InputError, match="more resistance with the workpiece"):
        with_share(scenario.change({"case.loaded.workpiece.measured.resistance": "9 mohm"}), "0 %")
