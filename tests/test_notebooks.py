# SPDX-License-Identifier: GPL-3.0-or-later
"""Notebooks: all of one shape, and what each says is what it computes. The one on `match` runs with that study's tests."""

import ast
import math
import re

import numpy as np
import pytest

import heatsim as hs
from tests.support import foreign_study
from tests.support.notebooks import FOLDER, MATCH, NOTEBOOKS, cells, decision, run, text_of

HEADINGS = ["Question", "Picture", "Answer", "Cautions"]

each_notebook = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def test_there_are_notebooks():
    assert MATCH in NOTEBOOKS and len(NOTEBOOKS) == 5


@each_notebook
def test_a_notebook_opens_with_its_decision_and_ends_with_its_cautions(path):
    words = "\n".join(cell["source"] for cell in cells(path, "markdown"))
    assert re.findall(r"^#+ (.*)$", words, re.MULTILINE)[1:] == HEADINGS
    opening = re.split(r"\n\n", words)
    assert opening[0].startswith("# ") and opening[1].startswith("**Decision: ") and opening[1].endswith("**")
    assert re.match(r"\*Runs in .* on two cores", opening[2])
    assert "no proof of a safe build" in text_of(path) or "rated for it" in text_of(path)
    assert text_of(path).endswith("Follow local codes.")


@each_notebook
def test_a_notebook_uses_what_users_have(path):
    """No test in sight, nothing but `import heatsim as hs` of heatsim, and no private name."""
    tree = ast.parse("\n".join(cell["source"] for cell in cells(path, "code")))
    imported = [each for each in ast.walk(tree) if isinstance(each, ast.Import | ast.ImportFrom)]
    own = {ast.unparse(each) for each in imported if "heatsim" in ast.unparse(each)}
    assert own == {"import heatsim as hs"}
    assert not [each for each in ast.walk(tree) if isinstance(each, ast.Assert)]
    attributes = [each for each in ast.walk(tree) if isinstance(each, ast.Attribute)]
    assert not [each.attr for each in attributes if each.attr.startswith("_")]
    called = {each.attr for each in attributes if isinstance(each.value, ast.Name) and each.value.id == "hs"}
    assert called and called <= set(hs.__all__)


@each_notebook
def test_a_notebook_keeps_what_it_printed_and_one_picture_or_two(path):
    code = cells(path, "code")
    outputs = [output for cell in code for output in cell["outputs"]]
    assert [cell["execution_count"] for cell in code] == list(range(1, len(code) + 1))
    assert not [output for output in outputs if output["output_type"] == "error" or output.get("name") == "stderr"]
    assert sum("image/png" in output.get("data", {}) for output in outputs) in (1, 2)


def test_what_is_said_of_the_trust_in_match_is_what_the_study_counted():
    sound, known = (foreign_study.counts_of(foreign_study.table(), foreign_study.UNSEEN, "2", kind) for kind in ("sound", "asked"))
    assert f"Of {sound.rows} sound ones it blamed {sound.decided}. Of {known.rows} with a fault" in text_of(MATCH)
    told = f"first in {known.right}, among the first two in {known.second}, and another was given as decided in {known.wrong}."
    assert f"the true cause was {told}" in text_of(MATCH)


def loaded(result):
    """Measures with the bar in, those of the left choke by the end of their keys."""
    return {key.removeprefix("choke.left."): value for key, value in result["loaded"].measures.items()}


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_is_this_heater_sound(tmp_path):
    """The rings that are too small fail and the large ones hold. For an ideal stage a drain peaks at pi times the supply, and a
    choke's flux linkage swings by 0.5511 V/f whatever the choke (closed form in tests/support/references.py), so that the ripple
    goes with the inductance, as far as the rings are saturated."""
    path = FOLDER / "is-this-heater-sound.ipynb"
    small, large = run(path, tmp_path, "small", "large").values()
    assert (small.verdict, large.verdict) == ("fails", "holds")
    idle, b, a = large["idle"].measures, loaded(small), loaded(large)
    assert idle["drain.left.peak_voltage_v"] == pytest.approx(math.pi * 42, rel=0.01)
    assert idle["choke.left.flux_swing_wb"] == pytest.approx(0.551101965822 * 42 / idle["tank.frequency_hz"], rel=0.01)
    swing, ripple, zero = (b[key] / a[key] for key in ("flux_swing_wb", "ripple_current_a", "inductance_zero_h"))
    assert swing * b["tank.frequency_hz"] / a["tank.frequency_hz"] == pytest.approx(1, abs=0.01)
    spared, left = a["inductance_remaining_ratio"], b["inductance_remaining_ratio"]
    assert swing / zero * spared < ripple < swing / zero / left
    assert "loses two thirds" in decision(path) and left == pytest.approx(1 / 3, abs=0.03) and spared > 0.8
    assert "some 180 °C hot" in decision(path) and b["temperature_c"] == pytest.approx(180, abs=5)
    assert "mean of 13 A" in text_of(path) and b["mean_current_a"] == pytest.approx(13, abs=0.5)
    assert "at 29 A" in text_of(path) and b["peak_current_a"] == pytest.approx(29, abs=0.5)
    lower = loaded(hs.check(small.scenario.change(supply__voltage="28 V"), ["loaded"]))  # the other way that the finding names
    assert lower["inductance_remaining_ratio"] > 0.5
    assert b["peak_current_a"] / 42 > 1.1 * lower["peak_current_a"] / 28  # it runs up faster than the volts


def by_hand(choke, measures):
    """What a pocket calculator makes of the choke: (value, heatsim's, relative tolerance) of each figure. Copper of IEC 60028, the
    catalogue's loss formula 44.30 B^1.988 f^1.541 mW/cm3, and 0.5511 V/f; the hand's mean turn leaves out the core's coating."""
    core, frequency = choke.core, measures["tank.frequency_hz"]
    n, stack, size, wire = core.winding.turns, core.ring.stack, core.ring.size, core.winding.overall
    area, path = stack * core.ring.area, core.ring.path_length
    swing = 0.5511 * (42 - 0.02 * measures["supply.mean_current_a"]) / frequency
    loss = 44.30 * (swing / (n * area) / 2) ** 1.988 * (frequency / 1e3) ** 1.541 * (area * path * 1e6) / 1e3 * 0.984
    turn = (size.outer_diameter - size.inner_diameter) + 2 * stack * size.height + math.pi * wire
    ohms = n * turn / (58e6 * core.winding.strands * math.pi * core.winding.diameter**2 / 4)
    warm = 1 + 3.93e-3 * (measures["choke.left.temperature_c"] - 20)
    direct = (measures["supply.mean_current_a"] / 2) ** 2 * ohms
    return {
        "inductance": (4e-7 * math.pi * 60 * n**2 * area / path, measures["choke.left.inductance_zero_h"], 0.01),
        "flux swing": (swing, measures["choke.left.flux_swing_wb"], 0.02),
        "core loss": (loss, measures["choke.left.core_loss_w"], 0.06),
        "resistance": (ohms, core.winding.resistance(core.ring, 20.0), 0.04),
        "direct current's loss, cold": (direct, measures["choke.left.copper_dc_loss_w"] / warm, 0.05),
    }


def temperature_by_hand(core, watts):
    """°C at which the hull of a wound ring sheds its loss: 8 W/m2K by convection in still air, emissivity 0.85, 25 °C around."""
    from scipy.optimize import brentq

    outer, inner, height = core.winding.wound(core.ring)
    hull = math.pi * outer * height + math.pi / 2 * (outer**2 - inner**2) + math.pi * inner * height * 0.5
    return brentq(lambda t: watts / hull - 8.0 * (t - 25) - 0.85 * 5.67e-8 * ((t + 273.15) ** 4 - 298.15**4), 25.0, 300.0)


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_simulate_a_choke_before_winding_it(tmp_path):
    """What is recommended holds, and stands a check by hand."""
    path = FOLDER / "simulate-a-choke-before-winding-it.ipynb"
    best = run(path, tmp_path, "best")["best"]
    one, measures = best.candidate, best.result["loaded"].measures
    assert best.result.verdict == "holds"
    assert (one.turns, one.strands, one.wire, one.stack, one.ring) == (21, 2, "1.6 mm enamelled", 1, "40 mm ring")
    assert decision(path).startswith("wind each choke with 21 turns of two 1.6 mm wires on one 40 mm ring.")
    for what, (hand, computed, tolerance) in by_hand(one.choke, measures).items():
        assert computed == pytest.approx(hand, rel=tolerance), what
    warm = temperature_by_hand(one.choke.core, measures["choke.left.core_loss_w"] + measures["choke.left.copper_loss_w"])
    assert measures["choke.left.temperature_low_c"] < warm < measures["choke.left.temperature_high_c"]
    assert "near 60 °C" in decision(path) and measures["choke.left.temperature_c"] == pytest.approx(60, abs=4)


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_will_it_bring_this_bar_to_forging_heat(tmp_path):
    path = FOLDER / "will-it-bring-this-bar-to-forging-heat.ipynb"
    result = run(path, tmp_path, "result")["result"]
    told, wanted = result.series, result.wanted
    assert result.verdict == "holds"
    assert "after a minute, for 0.02 kWh" in decision(path) and "goes on to 1100 °C" in decision(path)
    assert wanted.reached == pytest.approx(60, abs=10) and wanted.energy / 3.6e6 == pytest.approx(0.02, abs=0.005)
    assert result.equilibrium_c == pytest.approx(1100, abs=25)
    assert result.band.fastest < wanted.reached < result.band.slowest
    assert told["piece_power_w"][told["surface_c"] > 800].max() < 0.5 * told["piece_power_w"].max()
    assert result.findings[0].at < 0.5 * wanted.reached  # the heater works hardest long before the bar is hot


NIGHT = FOLDER / "sweep-the-supply-overnight.ipynb"


@pytest.fixture(scope="module")
def night(tmp_path_factory):
    """What the notebook on sweeps found; its store stays as long as the tests."""
    names = ("heater", "volts", "again", "drawn", "end", "knob", "left", "bands")
    return run(NIGHT, tmp_path_factory.mktemp("night"), *names)


def case_of(night, case):
    table = night["volts"].frame()
    return table[table["case"] == case].reset_index(drop=True)


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_sweep_the_supply_overnight(night):
    """The volts at which a limit is met agree with a pocket calculator: pi times the supply across the capacitors, and a supply
    current in proportion to the voltage."""
    idle, loaded = case_of(night, "idle"), case_of(night, "loaded")
    bank, supply = night["heater"].tables.capacitors, night["heater"].tables.supply
    assert (night["volts"].evaluated, night["volts"].progress.failed, night["again"].evaluated) == (20, 0, 0)
    assert (idle["tank.peak_voltage_v"] / (np.pi * idle["supply.voltage_v"])).between(0.97, 1.0).all()
    by_hand = bank.current_rating * math.sqrt(2) / (2 * math.pi**2 * idle["tank.frequency_hz"].iloc[-1] * bank.capacitance)
    slope = (idle["headroom"].iloc[-2] - idle["headroom"].iloc[-1]) / 4
    assert 60 + idle["headroom"].iloc[-1] / slope == pytest.approx(by_hand, abs=0.5)
    own = loaded[loaded["supply.voltage_v"] == 40].iloc[0]
    assert 40 * supply.current_rating / own["supply.mean_current_a"] == pytest.approx(night["end"], abs=0.5)
    assert (idle["headroom"] > 0).all() and idle["ends"].iloc[-1] == "capacitors: current of one capacitor, rms"
    assert loaded["ends"].iloc[-1] == "supply: mean current"
    assert not night["volts"].frame()["ends"].str.startswith("choke").any()
    assert np.ptp(idle["headroom"][idle["ends"].str.startswith("gate")]) < 0.01  # flat: the gate does not see the supply
    assert f"would go to {night['end']:.0f} V" in decision(NIGHT)
    danger = loaded[loaded["supply.voltage_v"].between(52, 56)]
    assert (danger["tank.peak_voltage_v"] > 160).all() and danger["coil.rms_current_a"].between(120, 135).all()


@pytest.mark.slow
def test_a_sweep_starts_its_ends_from_rest_and_follows_the_rest(night):
    table = night["volts"].frame()
    cold = table["method"].str.startswith("cold start")
    assert table.index[cold].tolist() == [0, 9, 10, 19]
    assert table["wall_s"][cold].mean() > 3 * table["wall_s"][~cold].mean()
    assert table["startup.time_s"][table["method"] != "cold start"].isna().all()  # how it started is known of cold starts alone


@pytest.mark.slow
def test_heaters_drawn_at_random_scatter_as_the_parts_say(night):
    """The mean current goes with V C / L and with the load: a per cent of each moves the headroom by a per cent of the current.
    What the worst of them needs is told by that, and holds when it is started from rest."""
    samples, heater = night["drawn"].frame(), night["heater"]
    nominal = case_of(night, "loaded").set_index("supply.voltage_v")["headroom"][48]
    drawn_as = {
        "capacitors.capacitance_f": heater.tables.capacitors.capacitance,
        "load_ratio": 1.0,
        "supply.voltage_v": 48.0,
        "case.loaded.workpiece.measured.inductance_h": heater.tables.case["loaded"].workpiece.measured.inductance,
    }
    offsets = samples[list(drawn_as)] / list(drawn_as.values()) - 1
    plane = np.linalg.lstsq(np.column_stack([offsets, np.ones(len(samples))]), samples["headroom"], rcond=None)[0]
    assert len(samples) == 32 and samples["outcome"].eq("settled").all() and set(samples["ends"]) == {"supply: mean current"}
    assert samples["headroom"].median() == pytest.approx(nominal, abs=0.02)
    assert np.sign(plane[:4]).tolist() == [-1, -1, -1, 1]
    assert np.abs(plane[:4]) == pytest.approx([1 - nominal] * 4, abs=0.15)
    worst, knob = samples["headroom"].min(), night["knob"]
    assert night["left"] == pytest.approx(1 - (1 - worst) * knob / 48, abs=0.005)
    assert decision(NIGHT).startswith(f"set the knob to {knob} V.")
    assert "at its limit at 48 V" in decision(NIGHT) and abs(worst) < 0.01 and 0.1 <= night["left"] < 0.125
