# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim map` on the command line: words, files, exit codes, resumption; headrooms by formula, and once by simulation."""

import json

import pytest

from heatsim.cli import main
from heatsim.studies.store import Store
from tests.support.map_pools import FormulaPool, dead_below, island, two_limits


@pytest.fixture
def sound(checkout):
    return str(checkout / "scenarios" / "bench-heater.toml")


@pytest.fixture
def by_formula(monkeypatch):
    """Makes every map one of headrooms by formula; returns the pools that were used."""
    used = []

    def use(formula, **more):
        def pool(workers=None):
            used.append(FormulaPool(formula, workers or 2, **more))
            return used[-1]

        monkeypatch.setattr("heatsim.studies.points.local_pool", pool)
        return used

    return use


def test_it_answers_in_words_and_leaves_picture_results_and_store(sound, by_formula, tmp_path, capsys):
    by_formula(two_limits)
    assert main(["map", sound, "--range", "supply.voltage = 20 V to 60 V", "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out
    assert "Usable up to 43.5 V at full load; the supply sets the limit: mean current." in told
    assert {"map.png", "map.svg", "results.json", "points.db"} <= {path.name for path in (tmp_path / "out").iterdir()}
    assert (tmp_path / "out" / "map.png").read_bytes().startswith(b"\x89PNG")
    assert json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))["schema"] == "heatsim.map/1"


def test_json_to_standard_output_is_the_only_output(sound, by_formula, tmp_path, capsys):
    by_formula(two_limits)
    assert main(["map", sound, "--json", "-", "--out", str(tmp_path), "--accuracy", "1 %"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["accuracy_ratio"] == 0.01 and told["case"] == "loaded"


def test_nothing_usable_exits_with_1(sound, by_formula, tmp_path, capsys):
    by_formula(island)
    assert main(["map", sound, "--range", "supply.voltage = 20 V to 60 V", "--out", str(tmp_path)]) == 1
    assert "Nothing is usable below 32 % or above 68 % load." in " ".join(capsys.readouterr().out.split())


def test_a_scenario_beyond_the_boundary_exits_with_1(sound, by_formula, tmp_path):
    by_formula(two_limits)
    assert main(["map", sound, "--set", "supply.voltage=50 V", "--quiet", "--out", str(tmp_path)]) == 1


def test_nothing_simulated_exits_with_3(sound, by_formula, tmp_path):
    by_formula(lambda load, volts: "unsolved")
    assert main(["map", sound, "--quiet", "--out", str(tmp_path)]) == 3


def test_interrupted_it_keeps_its_points_and_goes_on(sound, by_formula, tmp_path, capsys):
    by_formula(dead_below, most=30)
    assert main(["map", sound, "--out", str(tmp_path)]) == 130
    assert "Run the same command again to continue" in capsys.readouterr().err
    used = by_formula(dead_below)
    assert main(["map", sound, "--out", str(tmp_path)]) == 0
    assert "30 of them known before" in " ".join(capsys.readouterr().out.split())
    with Store.open(tmp_path / "points.db", create=False) as store:
        assert sum(told.done for told in store.sweeps()) == 30 + len(used[-1].seen)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--against", "supply.voltage = 20 V to 60 V"], "the same field"),
        (["--range", "supply.volts = 20 V to 60 V"], "did you mean supply.voltage"),
        (["--accuracy", "fine"], "--accuracy"),
        (["--accuracy", "50 %"], "0.05 % to 5 %"),
        (["--case", "idle", "--against", "load = 0 % to 50 %"], "needs a case with a workpiece"),
        (["--case", "hot"], "no such case"),
        (["--jobs", "2", "--cluster", "tcp://127.0.0.1:1"], "goes without --cluster"),
    ],
)
def test_bad_input_exits_with_2_and_says_what_is_allowed(sound, by_formula, tmp_path, capsys, arguments, words):
    by_formula(two_limits)
    assert main(["map", sound, "--out", str(tmp_path / "out"), *arguments]) == 2
    assert words in capsys.readouterr().err
