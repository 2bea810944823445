# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim tolerance` on the command line: words, files, exit codes, resumption; headrooms by formula, and once by simulation."""

import json
import math

import pytest

import heatsim as hs
from heatsim.cli import main
from heatsim.report.tolerance.page import tone
from heatsim.studies.store import Store
from tests.support.map_pools import SUPPLY, FormulaPool

BANDS = ["supply.voltage = 10 %", "gate.resistor = 5 %"]


@pytest.fixture
def sound(checkout) -> str:
    return str(checkout / "scenarios" / "bench-heater.toml")


def volts_only(volts: float, ohms: float):
    """Holds up to 44.1 V of a band from 37.8 V to 46.2 V: in 3/4 of all heaters."""
    return {SUPPLY: 1 - volts / 44.1, "switch.left: drain voltage": 1 - volts / 65 - 0.001 * ohms}


def never_fails(volts: float, ohms: float):
    return {SUPPLY: 1 - volts / 60, "switch.left: drain voltage": 0.5 - 0.001 * ohms}


def sometimes_dead(volts: float, ohms: float):
    return "dead" if volts > 45.36 else volts_only(volts, ohms)


class Readable(FormulaPool):
    """The formula's fields are a voltage and a resistance."""

    def result(self, scenario, point):
        from heatsim.quantity import parse_quantity
        from tests.support.map_pools import result_of

        (_, volts), (_, ohms) = point.fields
        return result_of(self.formula(parse_quantity(volts, "V"), parse_quantity(ohms, "ohm")))


@pytest.fixture
def by_formula(monkeypatch):
    """Makes every study one of headrooms by formula; returns the pools that were used."""
    used = []

    def use(formula, **more):
        def pool(workers=None):
            used.append(Readable(formula, workers or 2, **more))
            return used[-1]

        monkeypatch.setattr("heatsim.studies.points.local_pool", pool)
        return used

    return use


def run(sound: str, out, *more: str) -> int:
    return main(["tolerance", sound, *BANDS, "--out", str(out), *more])


def test_it_answers_in_words_and_leaves_page_picture_results_and_store(sound, by_formula, tmp_path, capsys) -> None:
    by_formula(volts_only)
    assert run(sound, tmp_path / "out") == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "of heaters built within these tolerances keep every limit" in told
    assert "First to fail: supply: mean current" in told and "simulated from rest" in told
    assert {"report.html", "tolerance.png", "tolerance.svg", "results.json", "points.db"} <= {
        p.name for p in (tmp_path / "out").iterdir()
    }
    found = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))
    assert found["schema"] == "heatsim.tolerance/1"
    assert found["yield"]["low"] - 0.002 <= 0.75 <= found["yield"]["high"] + 0.002
    assert found["worst"]["fields"]["supply.voltage"] == pytest.approx(46.2)
    assert found["worst"]["least_headroom"] == pytest.approx(1 - 46.2 / 44.1)
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert "What is toleranced" in page and "implants" in page and "nan" not in page


def test_all_that_holds_exits_with_0(sound, by_formula, tmp_path, capsys) -> None:
    by_formula(never_fails)
    assert run(sound, tmp_path) == 0
    assert "Practically every heater" in capsys.readouterr().out


def test_heaters_that_do_not_run_are_told(sound, by_formula, tmp_path, capsys) -> None:
    by_formula(sometimes_dead)
    assert run(sound, tmp_path, "--samples", "40", "--json", str(tmp_path / "found.json")) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "simulated heaters do not run" in out and "the share was known to 2 %" in out
    assert json.loads((tmp_path / "found.json").read_text())["yield"]["value"] < 0.8


def test_nothing_that_runs_exits_with_3(sound, by_formula, tmp_path, capsys) -> None:
    by_formula(lambda volts, ohms: "dead")
    assert run(sound, tmp_path) == 3
    assert "Nothing can be said of all heaters" in capsys.readouterr().out


def test_an_interrupted_study_goes_on(sound, by_formula, tmp_path, capsys) -> None:
    by_formula(volts_only, most=9)
    assert run(sound, tmp_path) == 130
    assert "Run the same command again" in capsys.readouterr().err
    with Store.open(tmp_path / "points.db") as store:
        kept = len(list(store.results()))
    assert kept >= 8
    pools = by_formula(volts_only)
    assert run(sound, tmp_path, "--quiet") == 1
    again = json.loads((tmp_path / "results.json").read_text("utf-8"))
    by_formula(volts_only)
    assert run(sound, tmp_path / "fresh", "--quiet") == 1
    fresh = json.loads((tmp_path / "fresh" / "results.json").read_text("utf-8"))
    assert again["yield"] == fresh["yield"]
    assert len(pools[1].seen) == len(pools[2].seen) - kept, "what was kept is not simulated again"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["supply.voltage = 0 %"], "out of range"),
        (["supply.voltag = 5 %"], "did you mean supply.voltage"),
        (["supply.voltage = 5 %", "supply.voltage = 1 V"], "given twice"),
        (["choke.turns = 1"], "makes no sense for whole numbers"),
        (["gate.supply_rise = 5 %", "--samples", "3"], "samples: is out of range"),
        (["supply.voltage = 5 %", "--error", "90 %"], "error: is out of range"),
        (["supply.voltage = 5 %", "--error", "0.1 %"], "0.5 % to 50 %"),
        (["supply.voltage = 5 %", "--error", "2 V"], "--error"),
        (["supply.voltage = 99 %"], "supply.voltage"),
    ],
)
def test_bad_input_exits_with_2_and_leaves_nothing(sound, tmp_path, capsys, arguments, told) -> None:
    assert main(["tolerance", sound, *arguments, "--out", str(tmp_path / "new")]) == 2
    assert told in capsys.readouterr().err and not (tmp_path / "new").exists()


def test_the_tone_is_that_of_the_nominal_heater_at_best(sound, by_formula) -> None:
    by_formula(volts_only)
    result = hs.tolerance(hs.load(sound), *BANDS)
    assert tone(result) == "marginal" and result.exit_code == 1
    assert result.share is not None and math.isfinite(result.share.error)
    assert hs.plot(result).axes, "it has a picture"


def test_what_even_heaters_may_miss_is_told_where_only_the_worst_does_not_run(sound, by_formula, tmp_path) -> None:
    by_formula(lambda volts, ohms: "dead" if volts > 46.19 else volts_only(volts, ohms))
    assert run(sound, tmp_path, "--quiet", "--samples", "40") == 1
    found = json.loads((tmp_path / "results.json").read_text("utf-8"))
    even, dead = found["evenly_spread"], [k for k, each in enumerate(found["samples"]) if each["trouble"]]
    assert dead and min(dead) >= even
    assert found["may_not_run"] == pytest.approx(3 / even), "the rule of three"


def test_a_store_of_a_study_is_no_sweep_to_be_drawn(sound, by_formula, tmp_path, capsys) -> None:
    by_formula(volts_only)
    assert run(sound, tmp_path, "--quiet") == 1
    store = str(tmp_path / "points.db")
    assert main(["sweep", "--status", store]) == 0
    assert "supply voltage" in capsys.readouterr().out
    assert main(["sweep", "--store", store, "--plot"]) == 2
    assert "is not for a tolerance" in capsys.readouterr().err


def test_a_field_of_some_cases_is_for_these(sound, by_formula, tmp_path) -> None:
    """Load has no meaning for an empty coil."""

    def loaded(volts, ohms):
        return never_fails(volts, ohms)

    class OnLoad(Readable):
        def result(self, scenario, point):
            from tests.support.map_pools import result_of

            assert point.case == "loaded"
            return result_of(loaded(42.0, 4.7))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("heatsim.studies.points.local_pool", lambda workers=None: OnLoad(loaded, workers or 2))
        assert main(["tolerance", sound, "load = 10 %", "--out", str(tmp_path), "--quiet"]) == 0
    assert json.loads((tmp_path / "results.json").read_text("utf-8"))["cases"] == ["loaded"]


@pytest.mark.slow
def test_by_simulation_it_agrees_with_a_plain_sweep(sound, tmp_path) -> None:
    """Two fields that move the supply's current: 64 samples by chance within both errors, the worst corner started from rest."""
    scenario = hs.load(sound)
    bands = ["supply.voltage = 25 %", "case.loaded.workpiece.measured.resistance = 20 %"]
    found = hs.tolerance(scenario, *bands, cases="loaded")
    plain = hs.sweep(scenario, tolerance=bands, cases="loaded", samples=64, seed=5, store=tmp_path / "plain.db").frame()
    share = float((plain["headroom"] >= 0).mean())
    assert found.share is not None and found.reached and len(found.samples) < 40
    assert abs(share - found.share.value) <= found.share.error + 2 * math.sqrt(share * (1 - share) / 64)
    assert found.worst is not None and found.worst.sample.cold
    assert found.worst.sample.least[0] == pytest.approx(found.worst.told, abs=max(found.worst.error, 0.01))
    assert found.worst.sample.least[0] <= plain["headroom"].min() + 0.01
