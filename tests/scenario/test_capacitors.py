# SPDX-License-Identifier: GPL-3.0-or-later
"""Capacitors by name: what the part fills in, what the scenario keeps, and what findings then rest on."""

from pathlib import Path

import jsonschema
import pytest

import heatsim as hs
from heatsim.errors import InputError
from heatsim.scenario.catalogue import builtin
from heatsim.scenario.scenario import Scenario, json_schema
from heatsim.scenario.written import with_fields
from heatsim.studies.check import case_limits
from heatsim.studies.check.limits.device import capacitor_cautions

NAME = "generic PP 330 nF 630 V"
OWN = """
[capacitor."bank of mine"]
capacitance = "220 nF"
dissipation_factor = "0.05 %"
current_rating = "9 A"
build = "film and foil"
provenance = "measured"
source = "LCR meter on the bench"
"""


@pytest.fixture(scope="module")
def text(checkout: Path) -> str:
    """The demo with no figure of its capacitors but their number."""
    lines = (checkout / "scenarios" / "bench-heater.toml").read_text("utf-8").splitlines()
    start = next(k for k, line in enumerate(lines) if line.startswith("[capacitors]"))
    end = next(k for k in range(start + 1, len(lines)) if lines[k].startswith("["))
    return "\n".join([*lines[:start], "[capacitors]", f'part = "{NAME}"', "count = 6", "", *lines[end:]])


def test_a_part_fills_in_what_the_scenario_does_not_give(text: str) -> None:
    part, bank = builtin().capacitors[NAME], Scenario.from_text(text).heater("loaded").capacitors
    assert (bank.unit, bank.count, bank.part) == (part.capacitance, 6, part)
    assert (bank.voltage_rating, bank.current_rating) == (part.voltage_rating, part.current_rating)
    assert bank.rests_on_part("current_rating") and bank.rests_on_part("voltage_rating")


def test_figures_of_the_scenario_win(text: str) -> None:
    own = Scenario.from_text(text.replace("count = 6", 'count = 6\ncapacitance = "470 nF"\ncurrent_rating = "20 A"'))
    bank = own.heater("loaded").capacitors
    assert (bank.unit, bank.current_rating, bank.voltage_rating) == (470e-9, 20.0, 400.0)
    assert not bank.rests_on_part("current_rating")
    changed = Scenario.from_text(text).change({"capacitors.capacitance": "220 nF"}).heater("loaded").capacitors
    assert changed.unit == 220e-9
    other = Scenario.from_text(text).change({"capacitors.part": "generic PP 100 nF 1 kV"}).heater("loaded").capacitors
    assert other.unit == 100e-9 and other.current_rating == 8.0


def test_ratings_by_frequency_stand_in_place_of_the_parts_own(text: str) -> None:
    rails = '\n[capacitors.rails]\ncoil_connection = "same end"\nsegment_inductance = "5 nH"\nsegment_resistance = "0.1 mohm"\n'
    bars = Scenario.from_text(text + rails + 'rating = [["50 kHz", "30 A"]]\n').heater("loaded").capacitors
    assert bars.current_rating is None and bars.rails is not None and bars.rails.rating == ((50e3, 30.0),)


def test_findings_say_that_the_rating_is_from_memory(text: str) -> None:
    scenario = Scenario.from_text(text)
    heater = scenario.heater("loaded")
    bases = {each.unit: each.basis for each in case_limits(scenario, heater, {}) if each.part == "capacitors"}
    assert bases == {"A": "memory", "V": "memory"}
    assert any("not of a part one can buy" in each for each in capacitor_cautions(heater))
    own = scenario.change({"capacitors.current_rating": "20 A"})
    bases = {each.unit: each.basis for each in case_limits(own, own.heater("loaded"), {}) if each.part == "capacitors"}
    assert bases == {"A": "rating", "V": "memory"}


def test_a_part_whose_figures_are_all_ones_own_is_no_longer_warned_of(text: str) -> None:
    own = {"capacitors.capacitance": "220 nF", "capacitors.voltage_rating": "500 V", "capacitors.current_rating": "15 A"}
    assert not list(capacitor_cautions(Scenario.from_text(text).change(own).heater("loaded")))


def test_a_catalogue_of_ones_own(text: str, tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(OWN, "utf-8")
    changed = text.replace("[heater]", '[heater]\ncatalogue = "mine.toml"', 1).replace(NAME, "bank of mine")
    (tmp_path / "heater.toml").write_text(changed, "utf-8")
    heater = hs.load(tmp_path / "heater.toml").heater("loaded")
    assert (heater.capacitors.unit, heater.capacitors.voltage_rating) == (220e-9, None)
    assert not list(capacitor_cautions(heater)), "measured, not recalled"


@pytest.mark.parametrize(
    ("was", "now", "told"),
    [
        (f'part = "{NAME}"', 'part = "generic PP 330 nF 63 V"', ["part", "is not in the catalogue", NAME]),
        (f'part = "{NAME}"', "", ["capacitance", "is missing", "else that of the part"]),
        (f'part = "{NAME}"', "part = 3", ["part"]),
    ],
)
def test_faults_are_told_at_their_place(text: str, was: str, now: str, told: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        Scenario.from_text(text.replace(was, now))
    assert all(word in str(caught.value) for word in told)


def test_editors_accept_a_part_in_place_of_figures(text: str) -> None:
    schema = json_schema()
    validator = jsonschema.Draft202012Validator({**schema["$defs"]["CapacitorsTable"], "$defs": schema["$defs"]})
    assert validator.is_valid({"part": NAME, "count": 6})
    assert validator.is_valid({"capacitance": "1 nF", "dissipation_factor": "1 %", "count": 6})
    assert not validator.is_valid({"capacitance": "1 nF", "count": 6})


def test_a_field_is_written_beside_the_part(text: str) -> None:
    written = with_fields(Scenario.from_text(text), {"capacitors.count": 8}, "eight of them")
    assert (
        f'part = "{NAME}"' in written
        and "count = 8" in written
        and "capacitance" not in written.split("[capacitors]")[1].split("[")[0]
    )


@pytest.mark.parametrize("name", list(builtin().capacitors))
def test_built_in_parts_lose_what_their_class_does(name: str) -> None:
    """Polypropylene's tan delta is 2e-4 at 100 kHz within a factor of 2 (reference file, section 12), metal and leads come on top;
    polyester's is 110e-4 at 10 kHz."""
    part = builtin().capacitors[name]
    low, high = (55e-4, 220e-4) if "PET" in name else (2e-4, 10e-4)
    assert low <= part.dissipation_factor <= high
