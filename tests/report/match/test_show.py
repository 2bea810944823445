# SPDX-License-Identifier: GPL-3.0-or-later
"""A match as shown: words, tables, pictures, page and folder, from results made by hand."""

import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_hex

from heatsim.report.base.style import FAINT
from heatsim.report.base.terminal import WIDTH
from heatsim.report.match import show, terminal, watching, words, write_folder
from heatsim.report.match.picture import CAUSE, FIT, evidence, overlay
from heatsim.studies.match import Measure
from tests.support.results import matches
from tests.support.screen import Screen


def told(result):
    """The text in one line."""
    return " ".join(" ".join(terminal.lines(result)).split())


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The written folder of the demo's match, with pictures of an earlier one that are no longer made."""
    out = tmp_path_factory.mktemp("match")
    (out / "match-2.png").write_bytes(b"old")
    (out / "match.notes.txt").write_text("mine")
    write_folder(matches.result(), out)
    return out


@pytest.mark.parametrize(
    ("result", "sentence"),
    [
        (matches.result(), "Most likely: right choke weaker (odds 300 to 1 against the next, both chokes saturate)."),
        (
            matches.undecided(),
            "Undecided between right choke weaker and both chokes saturate: this capture cannot tell them apart.",
        ),
        (
            matches.led_by("nothing wrong"),
            "Nothing wrong: the capture is what the scenario leads to expect (odds 490 to 1 against the next, right choke weaker).",
        ),
        (
            matches.led_by("none of these"),
            "None of these causes explains the capture: the nearest, right choke weaker, leaves 3.1 "
            "times what noise and model allow.",
        ),
        (
            matches.led_by("heavy load", -40.0),
            "Most likely: heavy load (odds more than a million to 1 against the next, right choke weaker).",
        ),
    ],
)
def test_the_answer_is_one_sentence(result, sentence):
    assert words.answer(result) == sentence
    assert sentence in told(result)


def test_none_of_these_may_be_one_of_those_that_cannot_be_told_apart():
    result = replace(matches.led_by("none of these"), decided=False, alike=("none of these", matches.WEAKER.cause))
    assert words.answer(result).startswith("Undecided between none of these causes and right choke weaker:")


def test_what_was_read_is_told_with_its_errors_and_doubts():
    text = told(matches.result())
    for expected in (
        "CH1 is tank voltage, CH2 is left drain voltage",
        "case loaded, supply 42 V",
        "87.654 kHz ± 2.3 Hz, 17.53 periods",
        "tank distortion (THD) 9.12 % ± 0.02 %",
        "tank peak voltage 141.3 V ± 120 mV",
        "tank voltage 830 mV, left drain voltage 410 mV",
        "assumed or done: CH1: multiplied by 100",
        "harms the measurement: CH2: at its lowest value",
    ):
        assert expected in text


def test_a_supply_that_ripples_is_told():
    record = replace(matches.RECORD, ripple=(0.083, 100.0), noise={})
    assert "amplitude ripples by 8.3 % at 100 Hz" in told(matches.result(records=(record,)))


@pytest.mark.parametrize(
    ("measure", "unit", "text"),
    [
        (Measure(87_654.0, 2.3), "Hz", "87.654 kHz ± 2.3 Hz"),
        (Measure(141.31, None), "V", "141 V"),
        (Measure(0.0, 0.1), "V", "0 V"),
        (Measure(0.02, 0.05), "V", "20 mV ± 50 mV"),
        (Measure(-5.26, 0.5), "V", "−5.3 V ± 500 mV"),
        (Measure(1.5191, 0.0092), "", "1.519 ± 0.0092"),
    ],
)
def test_a_measure_has_the_digits_its_error_allows(measure, unit, text):
    assert words.found_text(measure, unit) == text


def test_causes_are_ranked_with_their_odds_and_those_ruled_out_marked():
    rows = {
        cells[0]: cells
        for line in terminal.lines(matches.result())
        if (cells := re.split(r"\s{2,}", line.strip())) and cells[0].isdigit()
    }
    assert rows["1"] == ["1", "one choke weaker than the other", "99.7 %", "–", "1.04"]
    assert rows["2"] == ["2", "both chokes saturating", "0.3 %", "1 to 300", "2.4"]
    assert rows["6"] == ["6", "heavy load", "< 0.1 %", "< 1 to 1e6", "11", "ruled out at first look"]
    assert rows["5"][-1] == "9", "none of these is no cause that a look could rule out"
    assert len(rows) == 8
    assert "right choke weaker" in [line.strip() for line in terminal.lines(matches.result())], "the kind stands below its cause"


def test_feature_settling_measurement_and_remedy_are_told_of_each_that_may_be_it():
    sure, open_ = told(matches.result()), told(matches.undecided())
    assert "Seen: Even harmonics" in sure and "To settle it: Measure both chokes" in sure and "Remedy: Wind the right" in sure
    assert "Use a larger ring" not in sure, "what is ruled out asks for no remedy"
    assert "Remedy if so: Wind the right" in open_ and "Remedy if so: Use a larger ring" in open_


def test_fitted_quantities_say_whether_the_capture_tells_them():
    lines = list(terminal.lines(matches.result()))
    row = next(line for line in lines if line.startswith("inductance of the right choke"))
    assert row.split()[-8:] == ["24.3", "%", "to", "28.1", "%", "100", "%", "yes"]
    assert next(line for line in lines if line.startswith("current at which the right choke")).endswith("partly")
    assert next(line for line in lines if line.startswith("pull-up of the gates")).endswith("68 Ω  no")
    text = told(matches.result())
    assert "Only a combination of (inductance of the right choke, over the scenario's) and (current at which" in text
    assert "(correlation −0.91)" in text
    assert "Where the capture does not fix a number, it is what the scenario" in text


@pytest.mark.parametrize(("misfit", "text"), [(1.0, "1"), (1.234, "1.23"), (998.0, "998"), (1e4, "> 999"), (np.inf, "–")])
def test_a_misfit_has_three_digits(misfit, text):
    assert words.misfit_text(replace(matches.WEAKER, misfit=misfit)) == text


@pytest.mark.parametrize(("share", "word"), [(0.7, "yes"), (0.69, "partly"), (0.3, "partly"), (0.29, "no")])
def test_the_borders_of_being_told(share, word):
    assert words.found_word(replace(matches.ESTIMATES[0], shrinkage=share)) == word


def test_the_cure_is_told_before_and_after():
    text = told(matches.result())
    assert "Right choke wound with 20 turns again: the distortion is then within the scenario's limit." in text
    assert "tank distortion (THD) 9.15 % 2.41 %" in text and "tank peak voltage 141 V 133 V" in text
    assert "Change in the fitted scenario: choke.right.turns = 20" in text
    assert "still exceeds the scenario's limit" in told(matches.result(cure=replace(matches.CURE, clean=False)))
    assert "Put right" not in told(matches.led_by("nothing wrong"))


def test_what_the_fit_leaves_is_compared_with_noise():
    assert "tank voltage: 847 mV rms a sample is left, noise is 830 mV: nothing beyond noise" in told(matches.result())
    assert words.residual_words(2.0, 0.5, "V") == "2 V rms a sample is left, noise is 500 mV: 4 times as much"


def test_cautions_end_the_text():
    text = told(matches.result())
    for expected in ("Hundreds of volts", "differential probes rated for the peak voltage", "pacemakers", "local codes"):
        assert expected in text


@pytest.mark.parametrize("result", [matches.result(), matches.undecided(), matches.led_by("none of these")])
def test_lines_fit_the_width(result):
    assert max(len(line) for line in terminal.lines(result)) <= WIDTH


def test_the_text_fits_an_output_without_greek():
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    show(matches.result(), stream=stream)
    stream.flush()
    text = stream.buffer.getvalue().decode("ascii")
    assert "?" not in text.replace("distorted.csv?", "") and "87.654 kHz +- 2.3 Hz" in text and "68 ohm" in text


def labelled(ax):
    """Labels of an axes' legend."""
    return [text.get_text() for text in ax.get_legend().get_texts()]


def test_the_overlay_has_a_column_a_signal_and_shows_capture_fit_scenario_cause_and_rest():
    figure = overlay(matches.result())
    assert len(figure.axes) == 6 and figure._suptitle.get_text() == "distorted.csv: best fit is right choke weaker"
    cycle, drain, added, _, rest, _ = figure.axes
    assert labelled(cycle) == ["scenario as written", "best fit", "capture, ± 2 standard errors"]
    assert cycle.get_title(loc="left") == "Tank voltage over one period"
    assert drain.get_title(loc="left") == "Left drain voltage over one period"
    assert labelled(added) == ["what the cause adds", "capture"]
    assert added.get_title(loc="left") == "Departure from the scenario: most at 3.4 µs (tank positive)"
    assert rest.get_title(loc="left") == "847 mV rms a sample is left, noise is 830 mV: nothing beyond noise"
    period = 1e6 / matches.FREQUENCY
    assert cycle.get_xlim() == pytest.approx((0, period))


def test_the_overlay_draws_the_numbers_of_the_trace():
    trace = matches.trace()
    cycle, added, rest = overlay(matches.result(traces=(trace,))).axes
    best = next(line for line in cycle.lines if line.get_color() == FIT)
    np.testing.assert_allclose(best.get_ydata(), trace.best)
    area = next(patch for patch in added.collections if to_hex(patch.get_facecolor()[0]) == CAUSE)
    assert area.get_paths()[0].vertices[:, 1].max() == pytest.approx(np.max(trace.best - trace.sound))
    band = rest.collections[0].get_paths()[0].vertices[:, 1]
    assert (band.min(), band.max()) == pytest.approx((-0.18, 0.18))
    np.testing.assert_allclose(rest.lines[0].get_ydata(), trace.measured - trace.best)


def test_halves_are_marked_only_where_the_tank_shows_them():
    def marks(**changes):
        return [text.get_text().split("\n")[1] for ax in overlay(matches.result(**changes)).axes for text in ax.texts]

    assert marks() == ["right bank on", "left bank on"] * 2
    assert marks(traces=(matches.trace("drain.left.voltage"),)) == []
    tank = matches.trace()
    assert marks(traces=(replace(tank, best=np.sin(12 * np.pi * tank.time * matches.FREQUENCY)),)) == []


def test_of_a_sound_heater_no_cause_is_drawn():
    added = overlay(matches.led_by("nothing wrong")).axes[2]
    assert labelled(added)[0] == "what ordinary spread of parts adds"
    same = replace(matches.trace(), best=matches.trace().sound)
    assert overlay(matches.result(traces=(same,))).axes[1].get_title(loc="left").endswith("too small to be seen")


def test_the_overlay_is_of_one_record():
    result = matches.result(
        records=(matches.RECORD, replace(matches.RECORD, label="idle.csv")), traces=(matches.trace(), matches.trace(record=1))
    )
    assert len(overlay(result, 1).axes) == 3 and overlay(result, 1)._suptitle.get_text().startswith("idle.csv")
    with pytest.raises(IndexError, match="record 2 has no traces"):
        overlay(result, 2)


def test_evidence_has_a_bar_a_cause_grey_where_ruled_out():
    ax = evidence(matches.result()).axes[0]
    assert [bar.get_width() for bar in ax.patches][:2] == [0.9967, 0.0033] and len(ax.patches) == 8
    grey = [to_hex(bar.get_facecolor()) == FAINT for bar in ax.patches]
    assert grey == [False, False, False, False, False, True, False, True]
    said = [text.get_text() for text in ax.texts]
    assert said[0] == "99.7 %" and said[1] == "0.3 %   odds 1 to 300, log odds −5.7" and said[3] == "< 0.1 %   log odds −31.0"
    assert "ruled out at first look" in said[-1]


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


def test_the_page_stands_alone_and_tells_all(folder):
    page = (folder / "index.html").read_text(encoding="utf-8")
    assert not re.search(r"(?:src|href)\s*=\s*[\"'](?!#)|@import|url\((?!#)", page), "nothing is fetched"
    assert page.count("<svg") == 2
    for expected in (
        "Most likely: right choke weaker (odds 300 to 1",
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
    assert (tmp_path / "index.html").read_text(encoding="utf-8").count('class="card small"') == 2
    assert (folder / "index.html").read_text(encoding="utf-8").count('class="card wide"') == 1


def test_progress_is_silent_off_a_terminal():
    stream = io.StringIO()
    with watching(stream=stream) as progress:
        progress("fitting", 0.5)
    screen = Screen()
    with watching(hushed=True, stream=screen) as progress:
        progress("fitting", 0.5)
    assert not stream.getvalue() and not screen.getvalue()
