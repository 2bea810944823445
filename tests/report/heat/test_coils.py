# SPDX-License-Identifier: GPL-3.0-or-later
"""What coil advice shows: the sentences, the tables, the pictures and the folder, from a few coils and made-up simulations."""

from __future__ import annotations

import csv
import html
import io
import json
import tomllib
from collections.abc import Iterator
from dataclasses import replace

import pytest

from heatsim.report.heat.coils import advice as report
from heatsim.report.heat.coils import picture as pictures
from heatsim.scenario.scenario import Scenario
from heatsim.studies.heat.coils import study as coils
from heatsim.studies.heat.coils.result import CoilAdvice, CoilEstimate, Compared, ConfirmedCoil, ConfirmedState
from heatsim.verdict import Finding
from tests.support.forging import forging

FORGING = forging()


@pytest.fixture(scope="module")
def advice() -> Iterator[CoilAdvice]:
    """Twelve coils, none of them simulated."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(coils, "TURNS", (6, 10, 14))
        patch.setattr(coils, "CLEARANCES", (5e-3, 16e-3, 30e-3, 60e-3))
        patch.setattr(coils, "PITCHES", (1.2,))
        yield coils.coil_advice(FORGING.change({"heat.wanted": "500 °C", "supply.current_rating": "35 A"}), confirm=0)


def finding(value: float) -> Finding:
    """Of the supply's current, rated 35 A."""
    left = 1 - value / 35
    grade = "holds" if left >= 0.1 else "marginal" if left >= 0 else "fails"
    return Finding("supply", "mean current", value, 35.0, "A", left, grade, "estimate")  # type: ignore[arg-type]


def made_up(one: CoilEstimate, supply: float) -> ConfirmedCoil:
    """A simulation that draws a supply current [A], and takes 2 % more power than estimated."""
    states = tuple(
        ConfirmedState(
            name,
            state.celsius,
            "settled",
            "",
            (finding(supply),),
            (
                Compared("workpiece.power_w", state.power, 1.02 * state.power),
                Compared("supply.mean_current_a", state.supply_current, supply),
            ),
        )
        for name, state in (("cold", one.states[0]), ("as wanted", one.states[-1]))
    )
    return ConfirmedCoil(one, states)


@pytest.fixture(scope="module")
def held(advice: CoilAdvice) -> CoilAdvice:
    """The own coil does not hold, the best one does."""
    return replace(advice, confirmed=(made_up(advice.own, 60.0), made_up(advice.candidates[0], 29.0)))


def shown(advice: CoilAdvice, width: int = 100) -> str:
    out = io.StringIO()
    report.show_advice(advice, out, width)
    return out.getvalue()


def test_the_sentence_says_what_to_wind_and_that_it_was_simulated(held):
    one, told = held.candidates[0], report.heading(held)
    assert held.recommended is not None and held.recommended.estimate == one
    assert f"Wind {one.shape.turns:g} turns of 6 mm tube, {1e3 * one.shape.bore:.3g} mm bore" in told
    assert "Simulated from rest with the piece cold and as wanted, every limit holds" in told
    assert f"Of {len(held.candidates)} coils {held.keeping} keep every limit" in told


def test_an_own_coil_that_holds_too_is_said(advice):
    both = replace(advice, confirmed=(made_up(replace(advice.own, seconds=100.0), 30.0), made_up(advice.candidates[0], 29.0)))
    assert "So it does with the scenario's own coil, which takes 1 min 4" in report.heading(both)
    assert both.recommended is not None and not both.recommended.estimate.own


def test_without_one_that_holds_it_says_which_limit_ended_each(advice):
    tried = replace(advice, confirmed=(made_up(advice.own, 60.0), made_up(advice.candidates[0], 36.0)))
    told = report.heading(tried)
    assert tried.recommended is None and tried.exit_code == 1
    assert "No coil is recommended" in told and "the one that was simulated does not hold" in told
    assert "supply: mean current (cold)" in told
    assert "none was simulated, so none is recommended" in report.heading(advice)


def test_tables_have_every_coil_and_what_ends_it(held):
    told = shown(held)
    own = next(line for line in told.splitlines() if "(own)" in line)
    assert "supply: mean current" in own and "−" in own
    assert told.count("holds") >= held.keeping
    assert "+2.0 %" in told and "A simulation does not make a build safe." in told
    assert all(len(line) <= 100 for line in told.splitlines())
    wide = next(each for each in held.candidates if each.stalls is not None)
    assert report.ends_words(replace(wide, findings=(), doubts=())) == f"stands still at {wide.stalls:.0f} °C"


def test_coils_left_out_are_counted(advice):
    assert "3 more coils were left out: the sleeve does not fit." in shown(replace(advice, left_out={"the sleeve does not fit": 3}))


def test_nothing_is_shown_as_simulated_that_was_not(advice):
    assert "Simulated" not in shown(advice)


def test_the_folder_is_complete(held, tmp_path):
    names = [path.name for path in report.write_advice(held, tmp_path)]
    assert names[0] == "coils.html"
    assert {"wound-coil.toml", "results.json", "coils.csv", "coil-maps.png", "coil-maps.svg", "coil-power.png"} <= set(names)
    page = html.unescape((tmp_path / "coils.html").read_text(encoding="utf-8"))
    assert report.heading(held) in page and page.count("<svg") == 2 and "supply: mean current" in page
    rows = list(csv.DictReader(io.StringIO((tmp_path / "coils.csv").read_text(encoding="utf-8"))))
    assert len(rows) == 1 + len(held.candidates)
    assert float(rows[1]["time_s"]) == pytest.approx(held.candidates[0].time)
    data = json.loads((tmp_path / "results.json").read_text(encoding="utf-8"))
    assert data["recommended"]["turns"] == held.candidates[0].shape.turns


def test_the_scenario_with_the_coil_is_a_scenario_with_its_comments(held, tmp_path):
    report.write_advice(held, tmp_path)
    text = (tmp_path / "wound-coil.toml").read_text(encoding="utf-8")
    one, wound = held.candidates[0], Scenario.from_text(text, "wound-coil.toml")
    assert wound.tables.coil.diameter == pytest.approx(one.shape.diameter)
    assert wound.tables.coil.turns == one.shape.turns and wound.tables.coil.length == pytest.approx(one.shape.length)
    assert "# soft start of the source" in text and "chosen by heatsim heat --coils" in text
    assert tomllib.loads(text)["capacitors"] == tomllib.loads(FORGING.text)["capacitors"]
    assert wound.tables.case["loaded"] == FORGING.tables.case["loaded"] and wound.tables.heat.wanted == 500.0
    assert wound.heater("idle") == coils.with_coil(FORGING, "loaded", one.shape, {}).heater("idle")


def test_a_folder_of_another_answer_loses_the_wound_coil(advice, held, tmp_path):
    report.write_advice(held, tmp_path)
    report.write_advice(advice, tmp_path)
    assert not (tmp_path / "wound-coil.toml").exists()


def test_the_maps_have_a_field_for_every_turns_and_clearance(held):
    figure = pictures.maps(held)
    for ax in figure.axes:
        assert len(ax.texts) == 12
    hatched = [patch for patch in figure.axes[0].patches if patch.get_hatch()]
    assert len(hatched) == sum(each.excess > 0 for each in held.candidates)
    framed = [patch for patch in figure.axes[0].patches if not patch.get_hatch()]
    assert len(framed) == 1
    turns, clearances = (6, 10, 14), (5, 16, 30, 60)
    one = held.candidates[0]
    place = (turns.index(int(one.shape.turns)), clearances.index(round(1e3 * one.clearance)))
    assert framed[0].get_xy() == place


def test_the_curves_pass_through_what_was_estimated(held):
    ax = pictures.power(held).axes[0]
    labels = [text.get_text() for text in ax.get_legend().get_texts()]
    assert labels[0].startswith("recommended: ") and any(each.startswith("own: ") for each in labels)
    first = ax.lines[0]
    assert list(first.get_ydata()) == [each.power for each in held.candidates[0].states]
    dots = [line for line in ax.lines if line.get_marker() == "o"]
    assert [list(line.get_xdata()) for line in dots] == [[25.0, 500.0], [25.0, 500.0]]
