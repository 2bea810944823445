# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim match` and `heatsim.match`: what they pass on, exit codes, and what they refuse; the match itself made by hand."""

import json
import math
from dataclasses import replace
from types import SimpleNamespace

import pytest

import heatsim as hs
from heatsim.cli import main
from heatsim.errors import InputError
from heatsim.studies.match import user_folder
from heatsim.waves.capture import Probe
from tests.support.results import matches


@pytest.fixture
def scenario(checkout):
    return str(checkout / "scenarios" / "bench-heater-small-rings.toml")


@pytest.fixture
def capture(checkout):
    return str(checkout / "scenarios" / "captures" / "distorted.csv")


@pytest.fixture
def asked(monkeypatch):
    """Puts a match by hand in place of the real one; returns what it was asked, and `asked.result` is what it answers."""
    fake = SimpleNamespace(result=matches.result(), calls=[], folder=None)

    def match(scenario, taken, workers=None, progress=None, folder=None, readings=()):
        fake.calls.append((scenario, taken, workers))
        fake.readings = readings
        fake.folder = folder
        return fake.result

    monkeypatch.setattr("heatsim.studies.match.match", match)
    return fake


@pytest.fixture
def unwritten(monkeypatch):
    """Leaves the folder out, whose pictures take most of the time."""
    monkeypatch.setattr("heatsim.report.match.write_folder", lambda result, folder: [folder / "index.html"])


def test_it_tells_the_answer_and_leaves_a_folder(scenario, capture, asked, tmp_path, capsys):
    assert main(["match", scenario, capture, "--out", str(tmp_path / "out")]) == 1
    assert "Most likely: right choke weaker (odds more than 50 to 1" in capsys.readouterr().out
    assert {"index.html", "match.png", "fitted.toml", "results.json"} < {path.name for path in (tmp_path / "out").iterdir()}
    ((_, (taken,), workers),) = asked.calls
    assert (str(taken.path), taken.case, taken.supply_voltage, taken.signals, taken.probes) == (capture, "loaded", None, {}, {})
    assert workers is None and asked.folder == user_folder() is not None


def test_readings_beside_a_capture_are_of_its_case_and_voltage(scenario, capture, asked, unwritten, tmp_path):
    """An ammeter's 1.5 % and 20 mA with 0.4 % of the model's own, at 95 % and one standard deviation."""
    given = ["--reading", "supply.mean_current = 8.20 A", "--reading", "loaded tank.frequency = 95.6 kHz ± 0.2 kHz"]
    main(["match", scenario, capture, "--supply", "40 V", "--quiet", "--out", str(tmp_path), *given])
    current, frequency = asked.readings
    assert (current.case, current.supply_voltage, current.key, current.value) == ("loaded", 40.0, "supply.mean_current_a", 8.2)
    assert current.error == pytest.approx(math.hypot((0.015 * 8.2 + 0.02) / 1.96, 0.004 * 8.2), rel=2e-3)
    assert frequency.error == pytest.approx(math.hypot(200 / 1.96, 0.0005 * 95.6e3))
    hs.match(hs.load(scenario), capture, readings=["supply.mean_current = 8.20 A"])
    assert asked.readings[0].supply_voltage == 42.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("loaded choke.left.temperature after 10 min = 71 °C", "cannot be fitted together with a capture"),
        ("tank.freqency = 1 kHz", "did you mean tank.frequency"),
    ],
)
def test_a_reading_that_does_not_go_with_a_capture_is_refused(scenario, capture, asked, capsys, text, words):
    assert main(["match", scenario, capture, "--reading", text]) == 2
    assert words in capsys.readouterr().err and not asked.calls


def test_nothing_kept_is_used_where_none_is_wanted(scenario, capture, asked, unwritten, tmp_path):
    main(["match", scenario, capture, "--anew", "--quiet", "--out", str(tmp_path)])
    assert asked.folder is None
    hs.match(hs.load(scenario), capture, anew=True)
    assert asked.folder is None
    hs.match(hs.load(scenario), capture)
    assert asked.folder == user_folder()


def test_settings_go_to_all_captures_or_to_one(scenario, capture, asked, unwritten, tmp_path):
    main(
        [
            "match",
            scenario,
            capture,
            capture,
            "--case",
            "idle",
            "--case",
            "loaded",
            "--supply",
            "24 V",
            "--signal",
            "CH1=tank.voltage",
            "--signal",
            "2:CH2 = drain.left.voltage",
            "--probe",
            "CH1=100",
            "--invert",
            "2:CH1",
            "--coupling",
            "1:CH2=AC",
            "--jobs",
            "3",
            "--set",
            "choke.turns=18",
            "--quiet",
            "--out",
            str(tmp_path),
        ]
    )
    ((changed, (one, two), workers),) = asked.calls
    assert changed.heater("loaded").chokes[0].core.winding.turns == 18 and workers == 3
    assert (one.case, two.case, one.supply_voltage, two.supply_voltage) == ("idle", "loaded", 24.0, 24.0)
    assert one.signals == {"CH1": "tank.voltage"} and two.signals == {"CH1": "tank.voltage", "CH2": "drain.left.voltage"}
    assert one.probes == {"CH1": Probe(100.0), "CH2": Probe(coupling="ac")}
    assert two.probes == {"CH1": Probe(100.0, inverted=True)}


@pytest.mark.parametrize(
    ("result", "code"),
    [
        (matches.led_by("nothing wrong"), 0),
        (matches.led_by("none of these"), 1),
        (matches.undecided(), 1),
        (matches.led_by("nothing wrong", -1.0), 0),
        (matches.led_by("nothing wrong", -0.3), 1),
        (matches.result(candidates=tuple(replace(each, simulated=False) for each in matches.result().candidates)), 3),
    ],
)
def test_the_exit_code_says_whether_something_is_wrong(scenario, capture, asked, unwritten, tmp_path, result, code):
    asked.result = result
    assert main(["match", scenario, capture, "--quiet", "--out", str(tmp_path)]) == code


def test_json_to_standard_output_is_nothing_else(scenario, capture, asked, unwritten, tmp_path, capsys):
    main(["match", scenario, capture, "--json", "-", "--out", str(tmp_path)])
    assert json.loads(capsys.readouterr().out)["schema"] == "heatsim.match/1"


def test_the_folder_is_named_after_the_first_capture(scenario, capture, asked, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    main(["match", scenario, capture])
    assert (tmp_path / "results" / "distorted-match" / "index.html").is_file()
    assert "distorted-match" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--case", "hot"], "no such case"),
        (
            ["--case", "idle", "--case", "loaded"],
            "--case: does not go with 1 capture; given 2 times; allowed: once for all captures",
        ),
        (["--supply", "42"], "--supply: has no unit; given 42"),
        (["--supply", "-3 V"], "--supply: must be positive"),
        (["--supply", "24 V", "--supply", "42 V"], "--supply: does not go with 1 capture"),
        (["--signal", "tank.voltage"], "--signal: needs CH=VALUE or N:CH=VALUE; given tank.voltage; allowed: CH1=tank.voltage or"),
        (["--signal", "=tank.voltage"], "--signal: needs a channel's name or number"),
        (["--signal", "CH1=tank voltage"], "--signal: is not the name of a signal; given tank voltage"),
        (
            ["--signal", "2:CH1=tank.voltage"],
            "--signal: names a capture that is not there; given 2:CH1; allowed: a number from 1 to 1",
        ),
        (["--probe", "CH1"], "--probe: needs CH=VALUE"),
        (["--probe", "CH1=ten"], "--probe: has a factor that is not a number; given ten"),
        (["--probe", "CH1=0"], "probe factor: is out of range"),
        (["--probe", "CH1=nan"], "probe factor: is out of range"),
        (["--invert", "0:CH1"], "--invert: names a capture that is not there"),
        (["--coupling", "CH1=both"], "--coupling: is neither ac nor dc; given both"),
        (["--set", "choke.turns"], "--set"),
    ],
)
def test_bad_input_exits_with_2_and_says_what_is_allowed(scenario, capture, asked, tmp_path, capsys, arguments, words):
    assert main(["match", scenario, capture, "--out", str(tmp_path / "out"), *arguments]) == 2
    assert words in capsys.readouterr().err
    assert not asked.calls and not (tmp_path / "out").exists()


def test_a_capture_that_is_not_there_exits_with_2(scenario, asked, tmp_path, capsys):
    assert main(["match", scenario, str(tmp_path / "none.csv")]) == 2
    assert "none.csv: is not there" in capsys.readouterr().err
    assert main(["match", scenario, str(tmp_path)]) == 2
    assert "is a folder" in capsys.readouterr().err


def test_help_names_options_and_the_danger(capsys):
    with pytest.raises(SystemExit) as left:
        main(["match", "--help"])
    text = " ".join(capsys.readouterr().out.split())
    assert left.value.code == 0
    for words in (
        "--signal CH=SIGNAL",
        "--coupling CH=ac|dc",
        "N:CH means channel CH of the Nth capture alone",
        "differential probes",
    ):
        assert words in text


def test_from_python_settings_stand_for_all_or_for_each(scenario, capture, asked):
    heater = hs.load(scenario)
    found = hs.match(
        heater,
        capture,
        capture,
        case=["idle", "loaded"],
        supply="24 V",
        signals={"CH1": "tank.voltage"},
        probes=[{"CH1": Probe(10.0)}, {}],
        jobs=1,
    )
    assert found.best.cause == matches.WEAKER.cause
    ((_, (one, two), workers),) = asked.calls
    assert (one.case, two.case, two.supply_voltage, workers) == ("idle", "loaded", 24.0, 1)
    assert one.signals == two.signals == {"CH1": "tank.voltage"} and one.probes == {"CH1": Probe(10.0)} and two.probes == {}


def test_from_python_a_match_needs_a_capture(scenario, asked):
    with pytest.raises(InputError, match="has no capture to match"):
        hs.match(hs.load(scenario))
