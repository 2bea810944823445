# SPDX-License-Identifier: GPL-3.0-or-later
"""The winding card, the table, the picture and the wound scenario, from a real search."""

import csv
import io
import json

import pytest
from matplotlib.figure import Figure

from heatsim.report.wind import picture, show, write_folder
from heatsim.scenario.scenario import Scenario
from heatsim.studies.wind import plain_result, wilson

pytestmark = pytest.mark.ngspice


@pytest.fixture(scope="module")
def folder(found, tmp_path_factory):
    out = tmp_path_factory.mktemp("wind")
    return {path.name: path for path in write_folder(*found, out)}


def test_the_card_carries_the_numbers_of_the_choke(found, folder):
    result, proof, _ = found
    page = folder["winding-card.html"].read_text(encoding="utf-8")
    one = result.best.candidate
    for text in (
        one.ring,
        one.wire,
        f"{proof.strands} × {proof.cut_length:.2f} m",
        str(one.turns),
        "A second ring or more turns?",
        "Follow local codes",
    ):
        assert text in page
    assert proof.inductance_least < proof.inductance < proof.inductance_greatest
    assert proof.step_time == pytest.approx(float(one.choke.curve.flux(proof.peak_current)) / 12.0)
    assert proof.at_current / proof.inductance == pytest.approx(
        min(c.measures["choke.left.inductance_remaining_ratio"] for c in result.best.result.cases), abs=0.02
    )


def test_the_cut_length_is_turns_times_mean_turn_and_two_tails(found):
    result, proof, _ = found
    core = result.best.candidate.choke.core
    assert proof.cut_length == pytest.approx(core.winding.turns * core.winding.mean_turn(core.ring) + 2 * 0.15)


def test_the_wound_scenario_is_a_scenario_with_its_comments_kept(folder, found):
    text = folder["wound.toml"].read_text(encoding="utf-8")
    wound = Scenario.from_text(text, "wound.toml")
    assert wound.heater("loaded").chokes[0].core.winding.turns == found[0].best.candidate.turns
    assert "# LCR meter at 100 kHz, empty coil" in text and "chosen by heatsim wind" in text


def test_tables_are_complete_and_plain(folder, found):
    result = found[0]
    rows = list(csv.DictReader(io.StringIO(folder["candidates.csv"].read_text())))
    assert len(rows) == len(result.candidates)
    assert float(rows[0]["temperature_c"]) == pytest.approx(result.candidates[0].estimate.temperature)
    data = json.loads(folder["results.json"].read_text())
    assert data["schema"] == "heatsim.wind/1" and data["verdict"] == "holds"
    assert data == json.loads(json.dumps(plain_result(*found)))


def test_the_picture_shows_every_candidate_once(found):
    ax = picture.front_picture(found[0], Figure().add_subplot())
    groups = [len(scatter.get_offsets()) for scatter in ax.collections]
    assert sum(groups[:2]) == len(found[0].candidates)


@pytest.mark.parametrize("width", [80, 120])
def test_the_terminal_says_what_to_wind_and_what_to_expect(found, width):
    stream = io.StringIO()
    show(*found, stream, width)
    text = " ".join(stream.getvalue().split())
    one = found[0].best.candidate
    assert f"wind {one.turns} turns of {one.strands} × {one.wire}" in text
    assert "A second ring or more turns?" in text and "keep every choke limit" in text
    assert max(map(len, stream.getvalue().splitlines())) <= width


def test_the_yield_counts_builds_and_names_what_matters(found):
    built = found[2]
    assert 0.9 < built.share <= 1.0
    assert built.interval[0] <= built.share <= built.interval[1]
    assert abs(built.doublings[-1][1] - built.doublings[-2][1]) < 0.01
    assert built.total[built.matters_most] == max(built.total.values()) > 0.3


def test_wilson_interval_has_its_closed_form():
    # Wilson 1927: for a share of 0 in n trials the upper end is z^2/(n+z^2)
    assert wilson(0.0, 100)[1] == pytest.approx(1.959964**2 / (100 + 1.959964**2))
    low, high = wilson(0.5, 400)
    assert low == pytest.approx(1 - high) and high - low == pytest.approx(0.0975, abs=0.0005)


def test_the_card_shows_how_the_winding_lies(found, folder):
    page, one = folder["winding-card.html"].read_text(encoding="utf-8"), found[0].best.candidate
    layers = f"in {one.layers} layer{'s' if one.layers > 1 else ''}"
    assert f"{one.turns} turns of" in page and f"{one.turns * one.strands} wires through the hole {layers}" in page
    assert page.count(f"{found[1].strands} × {found[1].cut_length:.2f} m") == 2  # in the table and beside the drawing
    assert page.count("<svg") == 2 and {"winding.svg", "winding.png"} <= folder.keys()
