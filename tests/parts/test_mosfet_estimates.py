# SPDX-License-Identifier: GPL-3.0-or-later
"""Estimates of what a datasheet does not print: within their bands on every generic device with that figure left out, and on
devices that they were not set on; what is given is never touched; what they give makes a model that meets its figures."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest

from heatsim.parts.mosfet_curves import curve_points
from heatsim.parts.mosfet_estimates import CHARGES, NEEDED, RULES, completed, draft, missing, on_resistance, rated_current
from heatsim.parts.mosfet_model import channel, datasheet_points, miller_voltage
from heatsim.parts.switch import DatasheetCurves, Switch
from heatsim.quantity import parse_quantity
from heatsim.scenario.catalogue import builtin
from heatsim.studies.check.limits.device import CURVE_LIMIT, MODEL_LIMIT
from tests.netlist.test_mosfet_datasheet import DEVICES

GENERIC = {name: dict(device.figures) for name, device in builtin().devices.items()}
UNITS = {"capacitance": "F", "charge": "C", "current": "A", "resistance": "ohm", "transconductance": "S", "threshold": "V"}
ESTIMATED = [name for name, _ in RULES]


def of_the_bench(name: str) -> dict[str, float]:
    """A device of the netlist's bench, none of which the rules were set on."""
    return {key: parse_quantity(value, UNITS.get(key.split("_")[-1], "V")) for key, value in DEVICES[name].items()}


HELD_OUT = {name: of_the_bench(name) for name in ("55 V", "650 V")}


def modelled(figures: dict[str, float]) -> Switch:
    switch = draft(figures)
    return replace(switch, miller_voltage=miller_voltage(switch))


def assert_within_bands(figures: dict[str, float], left_out: tuple[str, ...]) -> None:
    found, origins = completed({key: value for key, value in figures.items() if key not in left_out})
    told = {each.field: each for each in origins if each.basis == "estimate"}
    assert set(left_out) & set(ESTIMATED) == set(told)
    for name, each in told.items():
        off = found[name] / figures[name]
        assert 1 / each.band < off < each.band, f"{name} is {off:.2f} of the datasheet's, told to be within {each.band:g}"
        assert each.words and 1 < each.band <= 4


@pytest.mark.parametrize("name", GENERIC)
@pytest.mark.parametrize(
    "left_out",
    [
        *((name,) for name in ESTIMATED),
        ("transconductance", "plateau_voltage"),
        ("transconductance", "transconductance_current", "plateau_voltage"),
        ("transconductance_current", "current_rating"),
        ("gate_drain_charge", "gate_charge"),
        ("gate_drain_charge", "reverse_capacitance"),
        ("reverse_capacitance", "output_capacitance"),
    ],
    ids=" and ".join,
)
def test_what_is_left_out_of_a_generic_device_comes_within_its_band(name: str, left_out: tuple[str, ...]) -> None:
    assert_within_bands(GENERIC[name], left_out)


@pytest.mark.parametrize("name", HELD_OUT)
@pytest.mark.parametrize("left_out", ["transconductance", "gate_drain_charge", "output_capacitance", "reverse_capacitance"])
def test_what_is_left_out_of_a_device_the_rules_were_not_set_on_comes_within_its_band(name: str, left_out: str) -> None:
    assert_within_bands(HELD_OUT[name], (left_out,))


@pytest.mark.parametrize("name", GENERIC)
def test_the_rating_by_loss_is_within_its_band_both_ways(name: str) -> None:
    figures = GENERIC[name]
    for estimate, field in ((rated_current(figures), "current_rating"), (on_resistance(figures), "on_resistance")):
        assert estimate is not None
        assert 1 / estimate[1] < estimate[0] / figures[field] < estimate[1]
    assert rated_current({}) is None and on_resistance({}) is None


@pytest.mark.parametrize("name", GENERIC)
def test_the_model_of_a_generic_device_meets_its_own_points(name: str) -> None:
    figures = GENERIC[name]
    switch = replace(
        modelled(completed(figures)[0]), curves=DatasheetCurves((), (), figures["plateau_voltage"], figures["gate_charge"])
    )
    assert max(abs(each.difference) for each in datasheet_points(switch)) < MODEL_LIMIT
    compared = {each.name: each.difference for each in curve_points(switch)}
    assert set(compared) == {"plateau of the gate", "gate charge in all"}
    assert max(map(abs, compared.values())) < CURVE_LIMIT


@pytest.mark.parametrize("name", GENERIC)
def test_the_least_that_must_be_given_makes_a_model_that_meets_it(name: str) -> None:
    for charge in CHARGES:
        least = {key: GENERIC[name][key] for key in (*NEEDED, charge)}
        assert missing(least, False) == ()
        found, origins = completed(least)
        assert all(found[key] == value for key, value in least.items())
        assert {each.field for each in origins} >= set(ESTIMATED) - {charge}
        assert max(abs(each.difference) for each in datasheet_points(modelled(found))) < MODEL_LIMIT


def test_what_nothing_stands_in_for_is_missing() -> None:
    whole = GENERIC["generic 200 V 20 mohm"]
    for name in NEEDED:
        assert missing({key: value for key, value in whole.items() if key != name}, False) == (name,)
    assert missing({key: value for key, value in whole.items() if key not in CHARGES}, False) == ("reverse_capacitance",)
    for one, other in combinations(CHARGES, 2):
        assert missing({key: value for key, value in whole.items() if key not in (one, other)}, False) == ()
    assert missing({}, True) == ("voltage_rating", "on_resistance")
    assert missing({"voltage_rating": 200.0, "current_rating": 60.0}, True) == ()


def test_all_that_is_given_stays_and_nothing_is_estimated_of_a_whole_datasheet() -> None:
    for figures in GENERIC.values():
        found, origins = completed(figures)
        assert found.items() >= figures.items() and not [each for each in origins if each.basis == "estimate"]


def test_a_transconductance_by_plateau_puts_the_gate_on_the_plateau() -> None:
    figures = {key: value for key, value in GENERIC["generic 150 V 18 mohm"].items() if key != "transconductance"}
    for plateau in (4.9, 5.6, 6.5):
        found, _ = completed({**figures, "plateau_voltage": plateau})
        assert channel(draft(found)).plateau(50.0) == pytest.approx(plateau, abs=1e-3)


def test_a_plateau_that_no_channel_reaches_is_seen_in_the_comparison() -> None:
    """The threshold of 4 V at 250 uA is one of some 4.35 V of the square law; a plateau below that cannot be."""
    figures = {key: value for key, value in GENERIC["generic 150 V 18 mohm"].items() if key != "transconductance"}
    switch = replace(draft(completed({**figures, "plateau_voltage": 4.05})[0]), curves=DatasheetCurves(plateau_voltage=4.05))
    assert curve_points(switch)[0].difference > 0.03
