# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim match --reading`: what it passes on, exit codes, and what it refuses; the match itself made by hand."""

import json
from types import SimpleNamespace

import pytest

import heatsim as hs
from heatsim.cli import main
from tests.support.results import readings


@pytest.fixture
def scenario(checkout):
    return str(checkout / "scenarios" / "bench-heater-small-rings.toml")


@pytest.fixture
def asked(monkeypatch):
    """Puts a match by hand in place of the real one."""
    fake = SimpleNamespace(result=readings.result(), calls=[])

    def match_readings(scenario, given, free, workers, progress, folder):
        fake.calls.append((given, free, workers, folder))
        return fake.result

    monkeypatch.setattr("heatsim.studies.match.readings.match_readings", match_readings)
    return fake


def test_readings_are_matched_without_a_capture(scenario, asked, tmp_path, capsys):
    given = [part for text in readings.TEXTS for part in ("--reading", text)]
    more = ["--free", "ring", "--free", "reach", "--supply", "40 V", "--jobs", "1", "--anew", "--out", str(tmp_path / "out")]
    assert main(["match", scenario, *given, *more]) == 0
    assert "A heater of this scenario gives these readings" in capsys.readouterr().out
    (((current, warm), free, workers, folder),) = asked.calls
    assert current.condition.supply_voltage == 40.0 and warm.after == 1200.0
    assert (free, workers, folder) == (["ring", "reach"], 1, None)
    assert (tmp_path / "out" / "fitted.toml").is_file()


def test_the_exit_code_says_whether_a_heater_gives_them(scenario, asked, tmp_path):
    asked.result = readings.result(chance=1e-3)
    assert main(["match", scenario, "--reading", readings.TEXTS[0], "--quiet", "--out", str(tmp_path)]) == 1


def test_the_folder_is_named_after_the_scenario(scenario, asked, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    main(["match", scenario, "--reading", readings.TEXTS[0], "--json", "-"])
    assert json.loads(capsys.readouterr().out)["consistent"]
    assert (tmp_path / "results" / "bench-heater-small-rings-readings" / "index.html").is_file()


def test_from_python_it_is_the_same(scenario, asked):
    found = hs.match_readings(hs.load(scenario), *readings.TEXTS, supply="40 V", free=["ring"], jobs=1, anew=True)
    (((current, _), free, workers, folder),) = asked.calls
    assert found is asked.result and current.condition.supply_voltage == 40.0
    assert (free, workers, folder) == (["ring"], 1, None)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "match: has nothing to match"),
        (["--free", "ring"], "--free: goes with readings only"),
        (["capture.csv", "--free", "ring", "--reading", readings.TEXTS[0]], "--free: goes with readings only"),
        (["--reading", readings.TEXTS[0], "--case", "idle"], "--case: does not go with readings; given idle"),
        (["--reading", readings.TEXTS[0], "--probe", "CH1=10"], "--probe: does not go with readings"),
        (["--reading", readings.TEXTS[0], "--supply", "1 V", "--supply", "2 V"], "--supply: is given more than once"),
        (["--reading", "idle tank.freqency = 1 kHz"], "did you mean tank.frequency"),
    ],
)
def test_what_would_have_no_effect_is_refused(scenario, asked, capsys, arguments, words):
    assert main(["match", scenario, *arguments]) == 2
    assert words in capsys.readouterr().err and not asked.calls
