# SPDX-License-Identifier: GPL-3.0-or-later
"""How the files that a scenario and its points name travel with a continuation path."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import ContinuationPath, Point
from heatsim.studies.points.portable import Packing, unpacked

MODEL = ".model thing VDMOS(Vto=3 Kp=40 Rd=4m Rg=1 Cgs=5n Cgdmax=1n Cgdmin=0.1n Cjo=1n Is=1e-12{more})\n"


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def test_named_files_travel_with_the_work(heater: Scenario, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    there.mkdir()
    (here / "models").mkdir(parents=True)
    for name, more in (("base", ""), ("case", " Cjo=2n"), ("point", " Cjo=3n")):
        (here / "models" / f"{name}.lib").write_text(MODEL.format(more=more))
    text = heater.text.replace("[switch]", '[switch]\nmodel_file = "models/base.lib"\nmodel = "thing"', 1)
    text += '\n[case.other]\nset = { "switch.model_file" = "models/case.lib" }\n'
    local = Scenario.from_text(text, "heater.toml", here)
    point = Point((("switch.model_file", str(here / "models" / "point.lib")), ("supply.voltage", "30 V")), "loaded")
    scenario, path, files = pickle.loads(pickle.dumps(Packing(local, True)(ContinuationPath((point,)))))
    assert str(tmp_path) not in repr([path, scenario.tables, scenario.folder])
    monkeypatch.chdir(there)
    with unpacked(scenario, files) as far:
        changes = dict(point.fields), dict(path.points[0].fields)
        for case, change, change_there in (("loaded", {}, {}), ("other", {}, {}), ("loaded", *changes)):
            near = local.change(change).heater(case)
            assert far.change(change_there).heater(case) == near and near.switch.user_model
    assert list(there.iterdir()) == []


def test_a_file_that_is_not_there_is_missed_by_the_point_that_names_it(heater: Scenario, tmp_path: Path) -> None:
    point = Point((("switch.model_file", "absent.lib"), ("switch.model", "thing")), "loaded")
    packing = Packing(Scenario.from_text(heater.text, "x.toml", tmp_path), True)
    _, path, files = packing(ContinuationPath((point,)))
    assert files == {} and dict(path.points[0].fields)["switch.model_file"] == str(tmp_path / "absent.lib")


@pytest.mark.parametrize("remote", [False, True])
def test_what_names_no_file_is_sent_as_it_is(heater: Scenario, remote: bool) -> None:
    given = ContinuationPath((Point((("supply.voltage", "30 V"),), "loaded"),), "a state", False)
    scenario, path, files = Packing(heater, remote)(given)
    assert path == given and files == {}
    assert (scenario.text, scenario.tables, scenario.changes) == (heater.text, heater.tables, heater.changes)
    with unpacked(scenario, files) as there:
        assert there is scenario
