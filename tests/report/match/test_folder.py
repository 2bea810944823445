# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of a match and its page."""

import json
import re
from dataclasses import replace

import pytest

from heatsim.report.base.words import value_text
from heatsim.report.match import terminal, words, write_folder
from heatsim.studies.match import NotRanked
from tests.support.browser import opened, without_scripts
from tests.support.results import matches


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The written folder of the demo's match, with pictures of an earlier one that are no longer made."""
    out = tmp_path_factory.mktemp("match")
    (out / "match-2.png").write_bytes(b"old")
    (out / "match.notes.txt").write_text("mine")
    write_folder(matches.result(), out)
    return out


def told(result):
    """The text in one line."""
    return " ".join(" ".join(terminal.lines(result)).split())


def test_the_folder_holds_page_pictures_fitted_scenario_and_results(folder):
    names = {path.name for path in folder.iterdir()}
    assert names == {"index.html", "match.png", "match.svg", "evidence.png", "fitted.toml", "results.json", "match.notes.txt"}
    assert all((folder / name).read_bytes().startswith(b"\x89PNG") for name in ("match.png", "evidence.png"))
    assert (folder / "fitted.toml").read_text(encoding="utf-8") == matches.result().fitted
    data = json.loads((folder / "results.json").read_text(encoding="utf-8"))
    assert data["schema"] == "heatsim.match/1" and data["cause"] == matches.WEAKER.cause
    assert data["answer"] == words.answer(matches.result())
    assert data["candidates"][0]["estimates"]["choke.right.strength_ratio"]["low_95"] == 0.243
    assert data["cure"]["after"]["tank.thd_ratio"] == 0.0241


def test_each_of_several_records_has_its_picture(tmp_path):
    result = matches.result(records=(matches.RECORD, matches.RECORD), traces=(matches.trace(), matches.trace(record=1)))
    write_folder(result, tmp_path)
    assert {"match-1.png", "match-1.svg", "match-2.png", "match-2.svg"} < {path.name for path in tmp_path.iterdir()}
    assert "tank voltage, capture 2: 847 mV rms" in told(result)


@pytest.mark.slow
@pytest.mark.parametrize("dark", [False, True])
def test_the_page_in_a_browser(folder, dark):
    trace = matches.result().traces[0]
    place = trace.time.size // 3
    with opened(folder / "index.html", 400, dark) as shown:
        read = shown.point(trace.time[place])
        assert read["capture"] == value_text(float(trace.measured[place]), trace.unit, 4)
        shown.assert_sound(figures=1)


def test_the_page_stands_alone_and_tells_all(folder):
    page = without_scripts((folder / "index.html").read_text(encoding="utf-8"))
    assert not re.search(r"(?:src|href)\s*=\s*[\"'](?!#)|@import|url\((?!#)", page), "nothing is fetched"
    assert page.count("<svg") == 2
    for expected in (
        "Most likely: right choke weaker (odds more than 50 to 1",
        "ruled out at first look",
        "24.3 % to 28.1 %",
        "partly",
        "Only a combination of",
        "2.41 %",
        "Even harmonics",
        "Measure both chokes with an LCR meter",
        "turns = 10",
        "differential probes",
        "local codes",
        "87.654 kHz ± 2.3 Hz",
        'class="card answer fails"',
    ):
        assert expected in page
    assert "<b>clipped</b>" not in page and "&lt;b&gt;clipped&lt;/b&gt; &amp; cut" in page


@pytest.mark.parametrize(
    ("result", "tone"),
    [(matches.undecided(), "unknown"), (matches.led_by("nothing wrong"), "holds"), (matches.led_by("none of these"), "unknown")],
)
def test_the_page_of_other_answers(result, tone, tmp_path):
    write_folder(result, tmp_path)
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert f'class="card answer {tone}"' in page and words.answer(result) in page
    assert ("Put right, simulated" in page) == (result.cure is not None)


def test_a_picture_of_one_signal_is_not_blown_up(folder, tmp_path):
    write_folder(matches.result(traces=(matches.trace(),)), tmp_path)
    one = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert one.count('class="card small"') == one.count('class="card still small"') == 1
    assert (folder / "index.html").read_text(encoding="utf-8").count('class="card still wide"') == 1


def test_page_and_results_name_what_the_ranking_did_not_use(tmp_path):
    numbers = {"mean": 12.3, "rms": 12.4, "peak": 13.0}
    beside = NotRanked("<3>", "supply.current", "A", numbers, numbers | {"mean": 8.1}, ("mean",))
    result = matches.result(records=(replace(matches.RECORD, not_ranked=(beside,)),))
    write_folder(result, tmp_path)
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert "Not used for the ranking, measured only: supply current (&lt;3&gt;)." in page
    assert "Warning: supply current, mean: 12.3 A captured, 8.1 A in the best fit." in page
    (told_of,) = json.loads((tmp_path / "results.json").read_text(encoding="utf-8"))["records"][0]["not_used_for_ranking"]
    assert told_of == {
        "channel": "<3>",
        "signal": "supply.current",
        "unit": "A",
        "captured": numbers,
        "fitted": numbers | {"mean": 8.1},
        "differs": ["mean"],
    }
