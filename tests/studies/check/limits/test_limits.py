# SPDX-License-Identifier: GPL-3.0-or-later
"""The limits of a case without a simulation: what each allows, and that its remedy is enough."""

import re
from dataclasses import replace

import pytest

import heatsim as hs
from heatsim.engine import Outcome
from heatsim.studies.check import case_limits
from heatsim.studies.check.limits import outcome_finding
from heatsim.studies.check.limits.oscillator import OUTCOMES
from heatsim.studies.points.point import deciding
from heatsim.verdict import Finding, judge


@pytest.fixture(scope="module")
def scenario(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater.toml")


def limits(scenario, measures=None):
    """Limits of the loaded case by part and name."""
    found = case_limits(scenario.case("loaded"), scenario.heater("loaded"), measures or {})
    named = {(limit.part, limit.name): limit for limit in found}
    assert len(named) == len(found)
    return named


def test_every_part_has_its_limits_in_a_fixed_order(scenario):
    parts = list(dict.fromkeys(part for part, _ in limits(scenario)))
    assert parts == [
        "switch.left",
        "gate.left",
        "switch.right",
        "gate.right",
        "capacitors",
        "supply",
        "tank",
        "run",
        "choke.left",
        "choke.right",
    ]


def test_without_measures_nothing_is_passed(scenario):
    findings = judge({}, limits(scenario).values(), 0.1)
    assert {finding.grade for finding in findings} == {"unknown"}
    assert all("nan" not in finding.cause + finding.remedy for finding in findings)


def test_a_remedy_says_in_words_what_moves_its_limit(scenario):
    """Numbers in advice come from simulated remedies alone."""
    far_off = {limit.key: 1e9 for limit in limits(scenario).values()}
    found = limits(scenario, far_off)
    assert all(limit.remedy for limit in found.values())
    assert not [limit.remedy for limit in found.values() if re.search(r"\d|estimated", limit.remedy)]


def test_a_rating_that_is_not_given_is_unknown_and_asked_for(scenario):
    text = scenario.text.replace('current_rating = "24 A"\n', "")
    assert text != scenario.text
    limit = limits(scenario.from_text(text), {"capacitor.rms_current_a": 100.0})["capacitors", "current of one capacitor, rms"]
    (finding,) = judge({"capacitor.rms_current_a": 100.0}, [limit], 0.1)
    assert finding.grade == "unknown" and finding.remedy.startswith("Give the capacitor's current rating")


def test_whatever_varies_with_use_needs_the_headroom_that_is_wanted(scenario):
    """At 0.6 % of headroom none holds where 10 % are wanted, but for what is a yes or no."""
    found = set()
    for limit in limits(scenario, {f"drain.{side}.peak_voltage_v": 100.0 for side in ("left", "right")}).values():
        if limit.allowed is not None:
            close = limit.allowed + (0.006 if limit.lower else -0.006) * abs(limit.allowed)
            (finding,) = judge({limit.key: close * limit.share}, [limit], 0.1)
            found |= {(limit.part.split(".")[0], finding.grade)}
    assert {part for part, grade in found if grade == "marginal"} >= {"switch", "gate", "capacitors", "supply", "tank", "choke"}
    assert {part for part, grade in found if grade == "holds"} <= {"run", "choke", "workpiece"}


def test_the_least_headroom_of_a_point_agrees_with_its_grade():
    """A limit that holds with less than wanted asks for none: it decides only where it fails."""
    finding = Finding("run", "energy balance", 0.0098, 0.01, "ratio", 0.02, "holds", "estimate")
    room = replace(finding, part="tank", headroom=0.3)
    assert deciding((finding, room), 0.1) == (0.3, "tank: energy balance")
    failing = replace(finding, headroom=-0.1, grade="fails")
    assert deciding((failing, room), 0.1) == (-0.1, "run: energy balance")
    short = replace(room, headroom=0.05, grade="marginal")
    assert deciding((finding, short), 0.1) == (0.05, "tank: energy balance")


def test_the_energy_balance_is_judged_at_one_per_cent(scenario):
    limit = limits(scenario)["run", "energy balance"]
    grades = [judge({limit.key: value}, [limit], 0.1)[0].grade for value in (0.0099, 0.0101)]
    assert grades == ["holds", "fails"]


def test_every_outcome_of_a_run_has_its_finding_and_only_settled_holds():
    assert set(OUTCOMES) == set(Outcome.__args__)
    grades = {outcome: outcome_finding(outcome, "") for outcome in OUTCOMES}
    assert [outcome for outcome, finding in grades.items() if finding.grade == "holds"] == ["settled"]
    assert all(finding.cause and finding.remedy for outcome, finding in grades.items() if outcome != "settled")


@pytest.mark.parametrize("detail", ["the time step became too small", "the time step became too small."])
def test_the_simulators_detail_is_a_sentence_of_its_own(detail):
    assert outcome_finding("unsolved", detail).cause.endswith("circuit. The time step became too small.")
    assert outcome_finding("settled", detail).cause == ""


def test_without_its_own_rating_every_limit_names_the_field_that_would_settle_it(scenario):
    """Each optional rating and figure taken out of the file; the finding names it as it is written there."""
    ratings = ["supply.current_rating", "switch.current_rating", "capacitors.voltage_rating", "capacitors.current_rating"]
    text, table = [], ""
    for line in scenario.text.splitlines():
        table = line.split("]")[0][1:] if line.startswith("[") else table
        if f"{table}.{line.split(' ')[0]}" not in ratings:
            text.append(line)
    bare = scenario.from_text("\n".join(text))
    everything = {limit.key: 1.0 for limit in limits(scenario).values()}
    found = judge(everything, limits(bare, everything).values(), 0.1)
    unknown = [finding for finding in found if finding.grade == "unknown"]
    assert all(any(f"({field})" in finding.remedy for finding in unknown) for field in ratings)
    assert len(unknown) == len(ratings) + 1  # both banks of switches


def test_a_choke_known_by_measurement_only_has_its_temperature_and_density_as_unknown(scenario):
    choke = re.search(r"\[choke\].*?(?=\[switch\])", scenario.text, re.DOTALL)
    measured = '[choke.measured]\ninductance = "65 uH"\nresistance = "8 mohm"\n'
    found = limits(scenario.from_text(scenario.text.replace(choke[0], measured)))
    judged = {limit.name: finding for limit in found.values() for finding in judge({}, [limit], 0.1) if limit.part == "choke.left"}
    assert set(judged) == {"inductance left at the peak", "current density in the copper, rms", "temperature"}
    assert "choke.left.measured.table" in judged["inductance left at the peak"].remedy
    assert "choke.left.measured.copper_area" in judged["current density in the copper, rms"].remedy
    assert "[choke.core]" in judged["temperature"].remedy


def test_a_material_without_loss_is_told_from_a_value_that_could_not_be_measured(scenario, tmp_path):
    (tmp_path / "own.toml").write_text(
        '[material.odd]\nalloy = "odd powder"\npermeability = 60\npath_rule = "mean"\nprovenance = "measured"\nsource = "mine"\n'
        '[material.odd.bias]\npoints = [["50 Oe", "80 %"], ["100 Oe", "60 %"]]\ntolerance = "2 %"\n'
        'provenance = "measured"\nsource = "mine"\n'
    )
    odd = scenario.change({"heater.catalogue": str(tmp_path / "own.toml"), "choke.core.material": "odd"})
    measures = {"choke.left.temperature_low_c": 87.0}
    (finding,) = judge(measures, [limits(odd, measures)["choke.left", "temperature"]], 0.1)
    assert finding.grade == "unknown" and "core loss of odd powder is not in the catalogue" in finding.cause
    assert "87 °C" in finding.cause and "material.odd.loss" in finding.remedy


def test_the_coil_is_judged_where_the_scenario_says_what_it_may_carry(scenario):
    assert not [name for part, name in limits(scenario) if part == "coil"]
    rated = scenario.change({"coil.current_density_rating": "50 A/mm2"})
    measures = {"tank.frequency_hz": 84e3, "coil.rms_current_a": 150.0}
    (unknown,) = judge(measures, [limits(rated, measures)["coil", "current density in the tube, rms"]], 0.1)
    assert unknown.grade == "unknown" and "coil.tube_diameter" in unknown.remedy
    tube = rated.change({"coil.tube_diameter": "8 mm", "coil.tube_wall": "1 mm"})
    (judged,) = judge(measures, [limits(tube, measures)["coil", "current density in the tube, rms"]], 0.1)
    depth = 503.292 * (1.7241e-8 * 1.0786 / 84e3) ** 0.5  # copper at 40 degC; IEC 60028
    assert judged.value == pytest.approx(150.0 / (3.14159265 * ((4e-3) ** 2 - (4e-3 - depth) ** 2)), rel=1e-3)


@pytest.mark.parametrize(("material", "points"), [("fe-si-al-60", 5), ("mpp-125", 13)])
def test_a_recalled_curve_is_told_with_its_own_tolerance(scenario, material, points):
    chosen = scenario.change({"choke.core.material": material})
    measures = {"choke.left.inductance_remaining_ratio": 0.4, "choke.left.peak_current_a": 20.0}
    limit = limits(chosen, measures)["choke.left", "inductance left at the peak"]
    assert f"from memory, good to about {points} points" in limit.cause


@pytest.mark.parametrize(("delay", "reached"), [(0.1e-6, 13.0), (2e-6, 13.0), (2e-6, 8.0), (0.1e-6, 8.0)])
def test_advice_on_a_gate_goes_one_way(scenario, delay, reached):
    """A gate is never to be driven harder and softer in one answer; a late one says how late."""
    measures = {"tank.frequency_hz": 85e3}
    for side in ("left", "right"):
        measures |= {f"gate.{side}.rise_delay_s": delay, f"gate.{side}.max_voltage_v": reached}
        measures |= {f"drain.{side}.peak_voltage_v": 130.0}
    found = limits(scenario, measures)
    turn_on, drive = found["switch.left", "drain voltage at turn-on"], found["gate.left", "gate drive reached"]
    harder = delay > 1e-6 or reached < 10.0
    assert turn_on.remedy.startswith("Use a smaller pull-up" if harder else "Weaken the pull-up")
    assert "Weaken" not in drive.remedy and drive.remedy.startswith("Use a smaller pull-up" if harder else "Raise the gate supply")
    assert f"rises {delay * 1e6:g}" in turn_on.cause.replace("100 ns", "0.1") and "half cycle lasts 5.88 µs" in turn_on.cause


def test_a_gate_that_falls_late_is_the_cause_of_a_current_peak(scenario):
    found = limits(scenario, {"tank.frequency_hz": 85e3, "gate.left.fall_delay_s": 1.1e-6})
    assert "falls 1.1 µs after the opposite drain" in found["switch.left", "peak current of a device"].cause
    assert "gate resistor" in found["switch.left", "peak current of a device"].remedy
    assert "gate" not in found["switch.right", "peak current of a device"].remedy
