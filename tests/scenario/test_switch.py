# SPDX-License-Identifier: GPL-3.0-or-later
"""The switch of a scenario: by name from a parts file, single fields on top, estimates for what is not printed, a model file in
place of figures; and a whole set of figures as it always was."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.parts.switch import DatasheetCurves, Switch
from heatsim.scenario.catalogue import builtin
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck
from heatsim.studies.points.vary import find_field, own_values

MINE = """[device.mine]
voltage_rating = "200 V"
on_resistance = "22 mohm"
threshold = "3.5 V"
threshold_current = "250 uA"
input_capacitance = "6 nF"
gate_charge = "95 nC"
current_rating = "70 A"
provenance = "published"
source = "its datasheet"
"""
NEEDED = {
    "voltage_rating": '"200 V"',
    "on_resistance": '"16 mohm"',
    "threshold": '"3.6 V"',
    "input_capacitance": '"4.2 nF"',
    "reverse_capacitance": '"60 pF"',
}
MODEL = ".model mypart vdmos(vto=3.8 kp=50\n+ rd=9m rs=2m cgs=4n cgdmax=2n cgdmin=40p a=0.3 cjo=2n is=1p)\n"
WHOLE = """.subckt whole d g s
r1 d x 4m
m1 x g s inner
c1 g s 3n
.model inner vdmos(vto=3.1 kp=20)
.ends
"""


@pytest.fixture
def text(checkout: Path) -> str:
    return (checkout / "scenarios" / "bench-heater.toml").read_text(encoding="utf-8")


def with_switch(text: str, **fields: str) -> str:
    """The bench heater with nothing in [switch] but two devices a side and these fields, as written."""
    lines = "\n".join(f"{name} = {value}" for name, value in fields.items())
    return re.sub(r"(?ms)^\[switch\].*?^\[gate\]", f"[switch]\ncount = 2\n{lines}\n\n[gate]", text)


def switch(text: str, folder: Path | None = None, **fields: str) -> Switch:
    return Scenario.from_text(with_switch(text, **fields), folder=folder).heater("loaded").switch


def told(text: str, folder: Path | None = None, **fields: str) -> str:
    with pytest.raises(InputError) as caught:
        switch(text, folder, **fields)
    return str(caught.value)


def basis(found: Switch, field: str) -> str:
    origin = found.origin(field)
    return origin.basis if origin else "the scenario's own"


def test_a_scenario_that_gives_everything_is_what_it_was(checkout: Path) -> None:
    """The figures of the demo spelled out; M as it came out before devices and estimates were there."""
    found = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml").heater("loaded").switch
    spelled = Switch(
        count=2,
        on_resistance=16e-3,
        on_gate_voltage=10.0,
        threshold=3.6,
        threshold_current=0.0,
        transconductance=70.0,
        transconductance_current=40.0,
        input_capacitance=4.2e-9,
        output_capacitance=420e-12,
        reverse_capacitance=60e-12,
        capacitance_voltage=25.0,
        gate_drain_charge=24e-9,
        gate_drain_charge_voltage=100.0,
        gate_resistance=1.4,
        diode_drop=1.0,
        diode_current=20.0,
        recovery_time=150e-9,
        voltage_rating=200.0,
        current_rating=60.0,
        gate_rating=20.0,
        threshold_spread=0.1,
        drain_inductance=5e-9,
        miller_voltage=found.miller_voltage,
    )
    assert replace(found, origins=()) == spelled
    assert found.miller_voltage == pytest.approx(BEFORE, rel=1e-9)
    assert {each.basis for each in found.origins} == {"assumed"} and not found.device


BEFORE = 0.7665251551431372
"""Scale of the demo's reverse capacitance [V] in earlier versions."""


@pytest.mark.parametrize("name", builtin().devices)
def test_every_built_in_device_makes_a_heater(text: str, name: str) -> None:
    source = with_switch(text, device=f'"{name}"')
    scenario = Scenario.from_text(source)
    found, figures = scenario.heater("loaded").switch, builtin().devices[name].figures
    assert found.device == name and found.count == 2
    assert all(getattr(found, field) == value for field, value in figures.items() if hasattr(found, field))
    assert {basis(found, field) for field in figures} == {"memory"}
    assert "hs_switch_bank" in case_deck(scenario, "loaded").text


def test_a_field_of_the_scenario_wins_over_the_devices_and_only_that(text: str) -> None:
    plain = switch(text, device='"generic 200 V 20 mohm"')
    own = switch(text, device='"generic 200 V 20 mohm"', threshold='"3.2 V"', gate_resistance='"2 ohm"')
    assert (own.threshold, own.gate_resistance) == (3.2, 2.0)
    assert basis(own, "threshold") == "the scenario's own" and basis(own, "threshold_current") == "memory"
    assert own.threshold_current == plain.threshold_current and own.input_capacitance == plain.input_capacitance


def test_the_nearest_name_is_told(text: str) -> None:
    message = told(text, device='"generic 200 V 22 mohm"')
    assert "switch.device: is not in the catalogue" in message and "generic 200 V 20 mohm" in message


def test_a_device_of_ones_own_in_a_dozen_lines(text: str, tmp_path: Path) -> None:
    assert len(MINE.splitlines()) <= 12
    (tmp_path / "own.toml").write_text(MINE, encoding="utf-8")
    source = text.replace("[heater]\n", '[heater]\ncatalogue = "own.toml"\n', 1)
    found = switch(source, tmp_path, device='"mine"')
    assert found.on_resistance == 22e-3 and basis(found, "on_resistance") == "published"
    assert {each.field for each in found.estimated} == {
        "transconductance",
        "transconductance_current",
        "gate_drain_charge",
        "output_capacitance",
        "reverse_capacitance",
    }
    assert found.curves == DatasheetCurves(gate_charge=95e-9)


def test_what_contradicts_in_a_device_is_told_at_the_field_that_names_it(text: str, tmp_path: Path) -> None:
    spoiled = MINE.replace('gate_charge = "95 nC"', 'reverse_capacitance = "7 nF"\ngate_drain_charge = "20 nC"')
    (tmp_path / "own.toml").write_text(spoiled, encoding="utf-8")
    source = text.replace("[heater]\n", '[heater]\ncatalogue = "own.toml"\n', 1)
    assert re.search(r"switch.device: its reverse_capacitance must be smaller", told(source, tmp_path, device='"mine"'))
    assert "switch.device: its threshold must be below" in told(source, tmp_path, device='"mine"', on_gate_voltage='"3 V"')
    own = told(source, tmp_path, device='"mine"', reverse_capacitance='"8 nF"')
    assert "switch.reverse_capacitance: must be smaller" in own


def test_five_figures_are_enough_and_the_rest_is_estimated(text: str) -> None:
    found = switch(text, **NEEDED)
    assert {each.field for each in found.estimated} == {
        "transconductance",
        "transconductance_current",
        "gate_drain_charge",
        "output_capacitance",
    }
    assert found.current_rating is None


@pytest.mark.parametrize("name", NEEDED)
def test_what_nothing_stands_in_for_is_asked_for_with_its_range(text: str, name: str) -> None:
    message = told(text, **{key: value for key, value in NEEDED.items() if key != name})
    assert re.search(rf"switch\.{name}: is missing.*allowed.* to ", message)


def test_all_that_is_missing_is_told_at_once(text: str) -> None:
    message = told(text)
    assert all(f"switch.{name}: is missing" in message for name in NEEDED)


def test_capacitances_by_a_curve_alone_are_those_of_its_row_next_to_25_volts(text: str) -> None:
    rows = ('["0 V", "9 nF", "8 nF", "6 nF"]', '["30 V", "5 nF", "500 pF", "80 pF"]', '["100 V", "4.9 nF", "260 pF", "45 pF"]')
    curves = f"{{capacitance = [{', '.join(rows)}]}}"
    fields = {key: value for key, value in NEEDED.items() if "capacitance" not in key}
    found = switch(text, **fields, curves=curves)
    taken = (found.capacitance_voltage, found.input_capacitance, found.output_capacitance, found.reverse_capacitance)
    assert taken == (30.0, 5e-9, 500e-12, 80e-12) and found.origin("input_capacitance") is None
    beside = switch(text, **NEEDED, curves=curves)
    assert (beside.capacitance_voltage, beside.input_capacitance) == (25.0, 4.2e-9)
    device = switch(text, device='"generic 200 V 20 mohm"', curves=curves)
    assert (device.input_capacitance, device.gate_drain_charge) == (5e-9, 45e-9)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("plateau_voltage", '"3 V"', "switch.plateau_voltage: must lie between threshold and on_gate_voltage"),
        ("plateau_voltage", '"11 V"', "switch.plateau_voltage: must lie between threshold and on_gate_voltage"),
        (
            "curves",
            '{capacitance = [["50 V", "4 nF", "300 pF", "310 pF"]]}',
            r"switch.curves.*must be smaller than output_capacitance",
        ),
        ("curves", '{capacitance = [["50 V", "4 nF", "300 pF"]]}', r"switch.curves.capacitance.*(missing|pair)"),
        ("curves", '{transfer = [["5 V", "40 V"]]}', r"switch.curves.transfer.*unit 'V'"),
    ],
)
def test_faulty_points_name_their_field(text: str, field: str, value: str, words: str) -> None:
    assert re.search(words, told(text, **NEEDED, **{field: value}))


def test_a_model_file_stands_in_for_all_but_ratings(text: str, tmp_path: Path) -> None:
    (tmp_path / "mine.lib").write_text(MODEL, encoding="utf-8")
    own = {"model_file": '"mine.lib"', "model": '"mypart"'}
    found = switch(text, tmp_path, **own, voltage_rating='"200 V"')
    assert found.threshold == 3.8 and basis(found, "threshold") == "model file"
    assert found.on_resistance == pytest.approx(11e-3 + 1 / (50 * 6.2)) and found.current_rating is None
    assert found.input_capacitance == found.recovery_time == 0.0
    assert found.transconductance > 0 and basis(found, "transconductance") == "assumed" and not found.estimated
    assert "switch.voltage_rating: is missing" in told(text, tmp_path, **own)
    given = switch(text, tmp_path, **own, voltage_rating='"200 V"', threshold='"3.5 V"', on_resistance='"20 mohm"')
    assert (given.threshold, given.on_resistance) == (3.5, 20e-3) and not given.estimated


def test_a_subcircuit_needs_a_current_rating_or_an_on_resistance_beside_it(text: str, tmp_path: Path) -> None:
    (tmp_path / "mine.lib").write_text(WHOLE, encoding="utf-8")
    own = {"model_file": '"mine.lib"', "model": '"whole"', "voltage_rating": '"200 V"'}
    assert "switch.on_resistance: is missing" in told(text, tmp_path, **own)
    found = switch(text, tmp_path, **own, current_rating='"60 A"')
    assert found.threshold == 3.1 and basis(found, "threshold") == "model file"
    assert basis(found, "on_resistance") == "estimate" and 1e-3 < found.on_resistance < 0.2
    (tmp_path / "mine.lib").write_text(WHOLE.replace("vdmos(vto=3.1 kp=20)", "nmos(level=1)"), encoding="utf-8")
    assert basis(switch(text, tmp_path, **own, current_rating='"60 A"'), "threshold") == "estimate"


def test_the_deck_of_a_model_file_does_not_rest_on_the_figures_beside_it(text: str, tmp_path: Path) -> None:
    (tmp_path / "mine.lib").write_text(MODEL, encoding="utf-8")
    own = {"model_file": '"mine.lib"', "model": '"mypart"'}
    alone = Scenario.from_text(with_switch(text, **own, voltage_rating='"200 V"'), folder=tmp_path)
    beside = Scenario.from_text(with_switch(text, **own, **NEEDED), folder=tmp_path)
    assert case_deck(alone, "loaded").text == case_deck(beside, "loaded").text


def test_a_band_about_a_figure_is_about_the_one_taken(checkout: Path, text: str) -> None:
    bench = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")
    assert own_values(bench, find_field(bench, "switch.recovery_time"), "loaded") == {"switch.recovery_time": 150e-9}
    device = Scenario.from_text(with_switch(text, device='"generic 200 V 20 mohm"'))
    assert own_values(device, find_field(device, "switch.input_capacitance"), "loaded") == {"switch.input_capacitance": 8e-9}
    assert own_values(bench, find_field(bench, "switch.plateau_voltage"), "loaded") == {"switch.plateau_voltage": None}
