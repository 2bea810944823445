# SPDX-License-Identifier: GPL-3.0-or-later
"""Time axes as files write them: rounded, repeated, uneven, with gaps, too short or very long."""

from __future__ import annotations

import time as clock

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.measures.gather import measure
from heatsim.waves.capture import read_capture
from tests.waves.capture.test_capture import AMPLITUDE, COUNT, FREQUENCY, STEP, TIME, VOLTS, told


def record(tmp_path, time=TIME, volts=VOLTS, form="%.9g", head="time [s],CH1 [V]", **options):
    rows = "\n".join(f"{form % t},{v:.9g}" for t, v in zip(time, volts, strict=True))
    (tmp_path / "x.csv").write_text(f"{head}\n{rows}\n")
    return read_capture(tmp_path / "x.csv", **options)


def frequency(capture):
    return measure(capture.waveforms({"CH1": "tank.voltage"}))["tank.frequency_hz"]


@pytest.mark.parametrize(
    ("form", "shift", "repeats"),
    [("%.6f", 0.01, True), ("%.5e", 1.0, True), ("%.3e", 0.0, False), ("%.7f", 0.0, False), ("%.6g", 0.1, True)],
)
def test_stamps_short_of_digits_are_made_an_even_axis_and_said(form, shift, repeats, tmp_path):
    found = record(tmp_path, TIME + shift, form=form)
    digit = float(np.median(np.diff(np.unique([float(form % t) for t in TIME + shift]))))
    assert np.ptp(np.diff(found.time)) < 1e-6 * STEP or not repeats
    assert np.max(np.abs(found.time - TIME - shift)) < 0.7 * digit
    assert np.mean(np.diff(found.time)) == pytest.approx(STEP, rel=2 * digit / (COUNT * STEP))
    assert any("time rebuilt" in note and "repeat" in note for note in found.notes) == repeats
    assert frequency(found) == pytest.approx(FREQUENCY, rel=max(3 * digit / (COUNT * STEP), 1e-3))


def test_a_stated_interval_gives_the_rebuilt_axis_its_step(tmp_path):
    found = record(tmp_path, TIME + 1.0, form="%.6f", head="Sample Interval,1.25e-7\ntime [s],CH1 [V]")
    assert any("stated sample interval" in note for note in found.notes)
    assert np.diff(found.time) == pytest.approx(STEP, rel=1e-6)
    assert frequency(found) == pytest.approx(FREQUENCY, rel=3e-4)


@settings(max_examples=60, deadline=None)
@example(digits=4, shift=0.0, step=5e-5, count=180)  # ties: half a digit a step
@example(digits=4, shift=0.0, step=5e-5, count=142)
@given(digits=st.integers(4, 9), shift=st.floats(-2, 2), step=st.floats(1e-8, 1e-4), count=st.integers(50, 400))
def test_rounding_moves_no_sample_by_more_than_a_digit(digits, shift, step, count, tmp_path_factory):
    """Whatever the digits, an axis that is rebuilt stays within a digit of the truth; refusals only for lost time."""
    time = shift + step * np.arange(count)
    text = [f"{t:.{digits}f}" for t in time]
    digit = 10.0**-digits
    try:
        found = record(tmp_path_factory.mktemp("x"), [float(x) for x in text], np.arange(count) % 7, f"%.{digits}f")
    except InputError:
        assert len(set(text)) <= 8, "from nine different stamps on a record can be read"
        return
    assert found.time.size == count
    assert np.max(np.abs(found.time - time)) <= 1.01 * digit


def test_repeats_that_rounding_does_not_explain_are_averaged_and_said(tmp_path):
    time, volts = TIME.copy(), VOLTS.copy()
    time[400] = time[399]
    found = record(tmp_path, time, volts)
    assert found.time.size == COUNT - 1 and any("1 samples share a time stamp" in fault for fault in found.faults)
    assert found["CH1"].samples[399] == pytest.approx(0.5 * (volts[399] + volts[400]), rel=1e-6)


def test_hardly_any_different_stamps_are_no_time_axis(tmp_path):
    message = told(lambda: record(tmp_path, form="%.4f"))
    assert "too few digits" in message and "more digits" in message


def test_without_rebuilding_stamps_stay(tmp_path):
    found = record(tmp_path, TIME + 0.01, form="%.6f", rebuild=False)
    assert np.any(np.diff(found.time) == 0)
    assert "repeat" in told(lambda: found.waveforms({"CH1": "tank.voltage"}))


def test_uneven_steps_are_kept_and_said(tmp_path):
    time = np.sort(TIME + 0.3 * STEP * np.random.default_rng(1).standard_normal(COUNT))
    found = record(tmp_path, time, AMPLITUDE * np.sin(2 * np.pi * FREQUENCY * time))
    assert any("uneven time steps" in note for note in found.notes)
    assert found.time == pytest.approx(time) and frequency(found) == pytest.approx(FREQUENCY, rel=3e-4)


def test_gaps_in_time_are_counted(tmp_path):
    there = np.ones(COUNT, bool)
    there[100:109] = there[500] = False
    found = record(tmp_path, TIME[there], VOLTS[there])
    assert any("2 gaps in time: 10 samples are missing, 9 of them in the longest" in fault for fault in found.faults)


@pytest.mark.parametrize("word", ["", "NaN", "----", "n/a", "9.91E+37", "***", "null"])
def test_missing_samples_are_bridged_and_counted(word, tmp_path):
    rows = [f"{t:.9g},{word if k in (70, 71, 300) else format(v, '.9g')}" for k, (t, v) in
            enumerate(zip(TIME, VOLTS, strict=True))]  # fmt: skip
    (tmp_path / "x.csv").write_text("time [s],CH1 [V]\n" + "\n".join(rows))
    found = read_capture(tmp_path / "x.csv")
    assert any("3 of 900 samples are missing" in fault for fault in found.faults)
    assert found["CH1"].samples[300] == pytest.approx(0.5 * (VOLTS[299] + VOLTS[301]), rel=1e-6)
    assert "x.csv:72" in told(lambda: read_capture(tmp_path / "x.csv", missing=False))


def test_a_missing_stamp_is_put_between_its_neighbours(tmp_path):
    rows = [f"{'' if k == 50 else format(t, '.9g')},{v:.9g}" for k, (t, v) in enumerate(zip(TIME, VOLTS, strict=True))]
    (tmp_path / "x.csv").write_text("time [s],CH1 [V]\n" + "\n".join(rows))
    found = read_capture(tmp_path / "x.csv")
    assert found.time[50] == pytest.approx(TIME[50], abs=1e-12)
    assert any("1 time stamps are missing" in fault for fault in found.faults)


@pytest.mark.parametrize(("periods", "said"), [(1.4, True), (2.6, False), (1500.0, False)])
def test_few_and_many_periods(periods, said, tmp_path):
    count = int(periods * 40)
    time = np.arange(count) / (40 * FREQUENCY)
    found = record(tmp_path, time, AMPLITUDE * np.sin(2 * np.pi * FREQUENCY * time - 0.5))
    assert any("fewer than two whole periods" in fault for fault in found.faults) == said
    if not said:
        assert found.periods == pytest.approx(periods, rel=2e-2)
        assert frequency(found) == pytest.approx(FREQUENCY, rel=2e-3)


@pytest.mark.slow
def test_a_million_rows_of_three_columns_take_less_than_three_seconds(tmp_path):
    """28 MB; processor time, so that other work on the machine does not count."""
    count = 1_000_000
    time = 1e-8 * np.arange(count)
    volts = np.round(140 * np.sin(2 * np.pi * FREQUENCY * time) / 1.1) * 1.1
    with (tmp_path / "x.csv").open("w") as handle:
        handle.write("time [s],CH1 [V],CH2 [A]\n")
        handle.writelines(f"{t:.9g},{v:.9g},{0.1 * v:.9g}\n" for t, v in zip(time, volts, strict=True))
    assert (tmp_path / "x.csv").stat().st_size > 20e6
    start = clock.process_time()
    found = read_capture(tmp_path / "x.csv")
    assert clock.process_time() - start < 3.0
    assert found.time.size == count and found.periods == pytest.approx(1e-2 * FREQUENCY, rel=1e-2)
    assert found["CH1"].step == pytest.approx(1.1, rel=1e-6)
