# SPDX-License-Identifier: GPL-3.0-or-later
"""The five lines of the package's docstring, and what they promise."""

import pytest

import heatsim as hs
from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from tests.report.heat import example as heats
from tests.support.map_pools import SUPPLY, FormulaPool
from tests.support.once import checked
from tests.support.results import matches


@pytest.mark.ngspice
def test_load_change_check_read_plot(checkout, tmp_path):
    heater = hs.load(checkout / "scenarios" / "bench-heater.toml")
    result = hs.check(heater.change(supply__voltage="38 V", supply__rise_time="300 us"), ["loaded"])
    assert result.verdict == "holds"
    assert result["loaded"].measures["tank.peak_voltage_v"] == pytest.approx(3.14159 * 38, rel=0.04)
    hs.plot(result).savefig(tmp_path / "loaded.png")  # of its only case
    assert (tmp_path / "loaded.png").stat().st_size > 20_000
    assert len(hs.plot(result, "loaded", names=["choke-currents"]).axes) == 1
    with pytest.raises(InputError, match="plot: has no such case; given molten; allowed: loaded"):
        hs.plot(result, "molten")
    with pytest.raises(InputError, match="has no such picture; given choke-current"):
        hs.plot(result, names=["choke-current"])
    beside = hs.plot(hs.compare(result, result), names=("one", "other"))
    assert [text.get_text() for text in beside.axes[0].get_legend().get_texts()] == ["one", "other"]
    findings = result.findings_frame()
    assert list(findings["limit"]) == [finding.limit for _, finding in result.findings]
    assert findings["headroom"].dropna().is_monotonic_increasing and set(findings["case"]) == {"loaded"}
    frame = result.frame()
    assert frame.loc["supply.power_w", "loaded"] == result["loaded"].measures["supply.power_w"]
    with pytest.raises(KeyError, match="there are loaded"):
        result["molten"]


@pytest.mark.slow
@pytest.mark.ngspice
def test_sweep_and_map_take_single_texts_and_a_path(checkout, tmp_path, monkeypatch):
    """The map by formula: a current that goes with load and volts is at its limit at 53 V. A notebook maps the simulated heater."""
    heater = hs.load(checkout / "scenarios" / "bench-heater.toml").change(
        supply__rise_time="300 us", simulate__steps_per_period=100
    )
    swept = hs.sweep(heater, "supply.voltage = 41 V, 42 V, 43 V", cases="loaded", store=tmp_path / "points.db", jobs=1)
    assert len(swept.frame()) == 3
    pool = FormulaPool(lambda load, volts: {SUPPLY: 1 - load * volts / 53}, 2)
    monkeypatch.setattr("heatsim.studies.points.local_pool", lambda workers=None: pool)
    mapped = hs.map(
        heater, "load = 90 % to 100 %", "supply.voltage = 50 V to 56 V", store=tmp_path / "map.db", first_look=3, accuracy=0.05
    )
    assert mapped.answer.reference.upper.ends == SUPPLY == "supply: mean current"
    assert mapped.answer.reference.stop == pytest.approx(53, abs=0.05 * 6)
    assert (tmp_path / "map.db").is_file()
    (least,) = hs.plot(swept, outputs=["headroom"]).axes
    assert list(least.lines[0].get_xdata()) == [41, 42, 43]
    assert "where it is usable" in hs.plot(mapped).texts[0].get_text()


def test_matches_and_heats_have_their_pictures():
    matched, heated = matches.result(), heats.example()
    assert len(hs.plot(matched).axes) == 6
    assert [bar.get_width() for bar in hs.plot(matched, evidence=True).axes[0].patches] == [
        c.probability for c in matched.candidates
    ]
    assert heated.wanted.reached in hs.plot(heated).axes[0].lines[-1].get_xdata()
    with pytest.raises(InputError, match="plot: has no picture of this; given str; allowed: one of CheckResult, Comparison"):
        hs.plot("loaded")


def test_a_notebook_shows_a_picture_without_pyplot(python):
    code = """
import sys
import IPython.core.formatters as formatters
from tests.support.results import matches
import heatsim as hs
shown = formatters.DisplayFormatter().format(hs.plot(matches.result()))[0]
assert "matplotlib.pyplot" not in sys.modules
assert shown["image/png"].startswith(b"\\x89PNG") and len(shown["image/png"]) > 20_000
"""
    assert python(code).stderr == ""


def test_a_winding_needs_a_drawer(checkout):
    with pytest.raises(InputError, match=r"has no \[wind\] table"):
        hs.wind(hs.load(checkout / "scenarios" / "bench-heater-forging.toml"))


@pytest.mark.ngspice
def test_remedies_give_the_changes_and_the_fixed_scenario(checkout):
    text = (checkout / "scenarios" / "bench-heater.toml").read_text().replace("[case.idle]\n", "")
    heater = Scenario.from_text(text).change(supply__rise_time="300 us", simulate__steps_per_period=120)
    weak = heater.change(capacitors__current_rating="16 A")
    found = hs.remedies(weak, jobs=1, seconds=None, enough=1)
    assert [change.kind for change in found.changes] == ["capacitors"] and found.single
    assert found.fixed.tables.capacitors.count > weak.tables.capacitors.count
    assert hs.check(found.fixed).verdict == "holds"


@pytest.mark.ngspice
def test_remedies_of_a_heater_that_holds_are_none(checkout):
    found = hs.remedies(checked(hs.load(checkout / "scenarios" / "bench-heater.toml")))
    assert found.changes == () and found.fixed is None and "nothing to mend" in found.why_not


def test_a_heat_is_the_study_s(checkout, monkeypatch):
    asked = []
    monkeypatch.setattr("heatsim.studies.heat.heat", lambda *given: asked.append(given) or "heated")
    forge = hs.load(checkout / "scenarios" / "bench-heater-forging.toml")
    assert hs.heat(forge, "states.db", confirm=False) == "heated"
    assert asked == [(forge, "states.db", None, False, None)]
