# SPDX-License-Identifier: GPL-3.0-or-later
"""A match on the terminal."""

import io
from dataclasses import replace

import pytest

from heatsim.report.base.terminal import WIDTH
from heatsim.report.match import show, terminal, watching, words
from heatsim.studies.match import NotRanked
from tests.support.results import checks, matches
from tests.support.screen import Screen


def told(result):
    """The text in one line."""
    return " ".join(" ".join(terminal.lines(result)).split())


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
    assert "Where the capture does not pin a number down, it comes from the scenario" in text


def test_the_cure_is_told_before_and_after():
    text = told(matches.result())
    assert "Simulated without this fault, all else as fitted: the distortion is then within the scenario's limit." in text
    assert "tank distortion (THD) 9.15 % 2.41 %" in text and "tank peak voltage 141 V 133 V" in text
    assert "Change in the fitted scenario: choke.right.turns = 20" in text
    assert "still exceeds the scenario's limit" in told(matches.result(cure=replace(matches.CURE, clean=False)))
    assert "Put right" not in told(matches.led_by("nothing wrong"))


def test_the_cured_heater_is_judged_as_a_whole():
    assert "was not judged" in told(matches.result())
    cure = replace(matches.CURE, checked=checks.result())
    text = told(matches.result(cure=cure))
    assert "in every case, at the scenario's supply voltage, it then still fails." in text
    assert "2 of 12 limits fail; the worst: right choke, inductance left at the peak" in text
    plain = matches.result(cure=cure).as_dict()["cure"]
    assert plain["verdict"] == "fails" and {each["grade"] for each in plain["findings"]} == {"fails", "unknown", "marginal"}


def test_the_fitted_heater_is_judged_temperature_and_saturation_included():
    assert "no one file describes the fitted heater in every case. Check before use." in told(matches.result())
    text = told(matches.result(checked=checks.result()))
    assert "heatsim check says of fitted.toml: fails. 2 of 12 limits fail" in text
    rows = words.fitted_findings(matches.result(checked=checks.result()))
    short = [grade for grade, _, _ in rows if grade != "holds"]
    assert short == [finding.grade for _, finding in checks.result().findings if finding.grade != "holds"]
    assert any("inductance left at the peak" in words for _, _, words in rows)
    assert "As fitted, judged" not in told(matches.outside())
    plain = matches.result(checked=checks.result()).as_dict()
    assert plain["fitted_verdict"] == "fails" and len(plain["fitted_findings"]) == len(short)


def test_what_the_fit_leaves_is_compared_with_noise():
    assert "tank voltage: 847 mV rms per sample is left over; the noise is 830 mV: nothing beyond noise" in told(matches.result())
    assert words.residual_words(2.0, 0.5, "V") == "2 V rms per sample is left over; the noise is 500 mV: 4 times as much"


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


def test_progress_is_silent_off_a_terminal():
    stream = io.StringIO()
    with watching(stream=stream) as progress:
        progress("fitting", 0.5)
    screen = Screen()
    with watching(hushed=True, stream=screen) as progress:
        progress("fitting", 0.5)
    assert not stream.getvalue() and not screen.getvalue()


def test_nothing_of_a_capture_steers_the_terminal():
    stream = io.StringIO()
    record = replace(matches.RECORD, signals={"CH\x1b[2J1": "tank.voltage"}, notes=("\x1b]0;x\x07",))
    show(matches.result(records=(record,)), stream)
    assert "CH" in stream.getvalue() and not set("\x1b\x07") & set(stream.getvalue())


BESIDE = (
    NotRanked(
        "CH3",
        "supply.current",
        "A",
        {"mean": 12.3, "rms": 12.4, "peak": 13.0},
        {"mean": 8.1, "rms": 8.15, "peak": 8.6},
        ("mean", "rms", "peak"),
    ),
    NotRanked(
        "CH4", "gate.left.voltage", "V", {"mean": 5.0, "rms": 8.0, "peak": 12.1}, {"mean": 5.1, "rms": 8.1, "peak": 12.0}, ()
    ),
)
"""A supply's current that the best fit does not have, and a gate as it has it; numbers invented."""


def test_channels_beside_the_ranking_are_named_below_the_answer():
    result = matches.result(records=(replace(matches.RECORD, not_ranked=BESIDE),))
    text = told(result)
    assert "Not used for the ranking, measured only: supply current (CH3) and left gate voltage (CH4)." in text
    warning = "Warning: supply current, mean: 12.3 A captured, 8.1 A in the best fit (rms 12.4 A and 8.15 A; peak 13 A and 8.6 A)."
    assert warning in text and "gate voltage, " not in text
    assert text.index(words.answer(result)) < text.index(warning) < text.index("Not used for the ranking") < text.index("Read from")
    outside = replace(matches.outside(), records=result.records)
    assert "8.1 A in the nearest fit" in told(outside)
    assert "Not used" not in told(matches.result()) and "Warning: " not in told(matches.result())


def test_a_signal_that_the_fit_has_not_is_told():
    one = replace(BESIDE[0], signal="choke.centre.current", fitted=None, differs=())
    record = replace(matches.RECORD, not_ranked=(one,))
    text = told(matches.result(records=(matches.RECORD, record)))
    assert (
        "Warning: centre choke current of capture 2: the best fit has no such signal, so there is nothing to compare it with."
        in text
    )
    assert "Not used for the ranking of capture 2, measured only: centre choke current (CH3)." in text


@pytest.mark.parametrize("columns", [40, 60, 80, 99])
def test_a_narrow_terminal_gets_every_cause_and_number(columns, monkeypatch):
    wide = " ".join(terminal.lines(matches.result())).split()
    monkeypatch.setenv("COLUMNS", str(columns))
    lines = list(terminal.lines(matches.result()))
    told = " ".join(" ".join(lines).split())
    assert all(each.cause in told for each in matches.result().candidates)
    numbers = [word for word in wide if any(sign.isdigit() for sign in word)]
    assert len(numbers) > 60 and all(number.strip("(),;") in told for number in numbers)
    assert told.count("pull-up of the gates") == " ".join(wide).count("pull-up of the gates"), "each fitted quantity once"
    table = [line for line in lines if line.startswith("  ") and "put right" not in line]
    assert max(map(len, lines if columns >= 80 else table)) <= max(columns, 64)
