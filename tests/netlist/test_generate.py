# SPDX-License-Identifier: GPL-3.0-or-later
"""The netlist: readable, complete, harmless, and carrying the scenario's values. No simulator is needed here."""

import functools
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.engine.guard import check_deck
from heatsim.netlist.generate import make_deck
from heatsim.netlist.library import library_folder
from heatsim.scenario.scenario import Scenario

DRIVER = {"source_resistance": "2 ohm", "sink_resistance": "1 ohm", "source_current": "3 A", "sink_current": "5 A"}
VARIANTS = [
    {},
    {"heater.topology": "one-choke"},
    {"choke.core.material": "mnzn-power-ferrite", "choke.core.gap": "1.5 mm"},
    {"choke.measured.inductance": "60 uH", "choke.measured.resistance": "8 mohm"},
    {
        "choke.measured.resistance": "8 mohm",
        "choke.measured.table": [["0 A", "65 uH"], ["10 A", "60 uH"], ["20 A", "45 uH"], ["30 A", "30 uH"]],
    },
    {"choke.right.turns": 18},
    {"gate.supply": "main"},
    {"gate.drive": "push-pull", "gate.driver": DRIVER | {"kind": "totem-pole"}},
    {"gate.drive": "push-pull", "gate.supply": "main", "gate.driver": DRIVER | {"kind": "integrated"}},
]


@pytest.fixture(scope="module")
def scenario(checkout):
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def deck_of(scenario, case="loaded", **change):
    return make_deck(scenario.change(change).heater(case), "Bench heater, loaded")


@pytest.mark.parametrize("change", VARIANTS, ids=str)
@pytest.mark.parametrize("case", ["idle", "loaded"])
def test_every_variant_is_complete_and_allowed(scenario, change, case):
    deck = make_deck(scenario.change(change).heater(case), "x")
    text = deck.text
    check_deck(text)
    called = set(re.findall(r"\b(hs_[a-z_]+)\b", text))
    defined = set(re.findall(r"^\.subckt (hs_[a-z_]+)", text, re.MULTILINE))
    assert called == defined
    assert text.count(".subckt") == text.count("\n.ends")
    assert text == text.lower() or text.splitlines()[0] == "* x"


def test_a_person_can_read_it(scenario):
    text = deck_of(scenario).text
    comments = [line for line in text.splitlines() if line.startswith("*")]
    assert len(comments) >= 20
    for words in (
        "choke, left",
        "switch bank, right",
        "gate network",
        "bars from the drains",
        "supply",
        "tank",
        "analysis",
        "ngspice -b",
    ):
        assert any(words in line for line in comments), words
    assert max(map(len, text.splitlines())) <= 130


def test_values_of_the_scenario_stand_in_it(scenario):
    text = deck_of(scenario).text
    assert re.search(r"xsupply bus hs_supply\n\+ v=42 tr=0.002 rs=0.02 ls=1e-06", text)
    assert re.search(r"c=1.98e-06", text)
    assert re.search(r"rup=68 rdown=10000 vz=16", text)
    assert re.search(r"\bn=2 rgx=4.7", text)


def test_saved_vectors_are_those_the_signals_need_and_each_once(scenario):
    deck = deck_of(scenario)
    saved = re.findall(r"^\.save (.*)$", deck.text, re.MULTILINE)
    vectors = " ".join(saved).split()
    assert sorted(vectors) == sorted(set(vectors)) == sorted(deck.vectors)
    assert {"tank.voltage", "drain.left.voltage", "choke.left.flux", "supply.current"} <= {s.name for s in deck.signals}


def test_every_name_in_the_ledger_is_a_signal(scenario):
    from heatsim.measures.energy import needed

    for change in VARIANTS:
        deck = make_deck(scenario.change(change).heater("loaded"), "x")
        assert set(needed(deck.ledger)) <= {signal.name for signal in deck.signals}


def test_longer_runs_and_other_options_leave_the_circuit_alone(scenario):
    deck = deck_of(scenario)
    longer = deck.lasting(9e-3).with_options(max_step=1e-8, reltol="1e-4")
    assert longer.circuit == deck.circuit
    assert ".tran" in longer.text and "0.009 0 1e-08 uic" in longer.text and "reltol=1e-4" in longer.text
    assert deck.text != longer.text


def test_the_title_is_one_harmless_line(scenario):
    heater = scenario.heater("loaded")
    deck = make_deck(heater, 'a\n.control\nshell touch owned\n.endc; quit "x" {y}')
    first = deck.text.splitlines()[0]
    assert first.startswith("* a") and not re.search(r"[;\"{}]", first)
    assert not any(line.strip().lower().startswith((".control", "shell", "quit")) for line in deck.text.splitlines())


@given(title=st.text(max_size=60))
def test_no_title_adds_a_line(title):
    deck = make_deck(idle_heater(), title)
    assert len(deck.text.splitlines()) == len(make_deck(idle_heater(), "x").text.splitlines())
    check_deck(deck.text)


@functools.lru_cache(maxsize=1)
def idle_heater():
    return Scenario.from_file(Path(__file__).parents[2] / "scenarios" / "bench-heater.toml").heater("idle")


def test_the_library_stands_by_itself():
    for path in sorted(library_folder().glob("*.lib")):
        text = path.read_text(encoding="utf-8")
        assert text.startswith("* SPDX-License-Identifier: GPL-3.0-or-later")
        names = re.findall(r"^\.subckt (\S+)", text, re.MULTILINE)
        assert names and all(f".ends {name}" in text for name in names)
        check_deck(f"* x\n{text}\n.end\n")
