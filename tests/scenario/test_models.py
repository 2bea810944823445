# SPDX-License-Identifier: GPL-3.0-or-later
"""A user's model file: models and subcircuits get through, nothing else does."""

import re
import subprocess

import pytest

from heatsim.errors import InputError
from heatsim.scenario.models import read_user_model
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck
from tests.support.robustness.sound import GOOD, REFUSED


@pytest.fixture
def model_file(tmp_path):
    path = tmp_path / "maker.lib"
    path.write_text(GOOD, encoding="utf-8")
    return path


def test_models_and_subcircuits_are_found(model_file):
    model = read_user_model(model_file, "MyPart")
    assert not model.subcircuit and model.name == "mypart"
    assert ".model mypart vdmos(vto=3.8 kp=50 rd=9m" in model.text
    assert read_user_model(model_file, "whole").subcircuit


def test_nothing_but_models_and_subcircuits_is_kept(model_file):
    text = read_user_model(model_file, "whole").text
    heads = {line.split()[0] for line in text.splitlines()}
    assert heads == {".model", ".subckt", ".param", "r1", "m1", "c1", "c2", "c3", "d1", ".ends"}


@pytest.mark.parametrize(("text", "word"), REFUSED)
def test_everything_else_is_refused_with_file_and_line(tmp_path, text, word):
    path = tmp_path / "maker.lib"
    path.write_text("* head\n" + text, encoding="utf-8")
    with pytest.raises(InputError, match=word) as caught:
        read_user_model(path, "mypart")
    (problem,) = caught.value.problems
    assert problem.where.startswith(str(path)) and problem.allowed
    if word != "no such model" and "switch" not in word:
        assert re.match(r":[2-4]$", problem.where.removeprefix(str(path)))


@pytest.mark.ngspice
@pytest.mark.parametrize("name", ["mypart", "whole"])
def test_a_heater_runs_on_the_users_model(checkout, model_file, name, tmp_path):
    scenario = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")
    own = scenario.change(
        {"switch.model_file": str(model_file), "switch.model": name, "supply.rise_time": "200 us", "gate.resistor": "15 ohm"}
    )
    deck = tmp_path / "x.cir"
    deck.write_text(case_deck(own, "loaded").text, encoding="utf-8")
    out = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, timeout=60, cwd=tmp_path)
    frequency = [line.split("=")[1] for line in out.stdout.splitlines() if line.startswith("tank_frequency_hz")]
    assert 80e3 < float(frequency[0]) < 95e3
