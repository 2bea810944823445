# SPDX-License-Identifier: GPL-3.0-or-later
"""Captures written in every way we know of and read back: the samples, the units, and a sine's frequency and rms.

Rows of dialects are of our own making: what a table of text can look like, not what any instrument writes.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.measures.gather import measure
from heatsim.waves.capture import Probe, read_capture
from tests.support.robustness.captures import cell, table

FREQUENCY, AMPLITUDE, STEP, COUNT = 87.3e3, 140.0, 1.25e-7, 900
TIME = STEP * np.arange(COUNT) - 2e-5
VOLTS = AMPLITUDE * np.sin(2 * np.pi * FREQUENCY * TIME + 0.3)
AMPS = 12.0 * np.cos(2 * np.pi * FREQUENCY * TIME)


def written(tmp_path, text, encoding="utf-8", name="x.csv"):
    (tmp_path / name).write_bytes(text.encode(encoding))
    return tmp_path / name


def told(call):
    with pytest.raises(InputError) as caught:
        call()
    return str(caught.value)


def assert_sine(capture, channel, *, time=TIME, volts=VOLTS, rel=2e-6):
    """Samples and time as written; frequency and rms of the sine by the measures simulations are measured with.

    Frequency from interpolated crossings; rms of a sine is A/sqrt(2).
    """
    assert capture.time == pytest.approx(time, abs=2e-3 * STEP)
    assert capture[channel].samples == pytest.approx(volts, abs=rel * AMPLITUDE)
    found = measure(capture.waveforms({channel: "tank.voltage"}))
    assert found["tank.frequency_hz"] == pytest.approx(FREQUENCY, rel=3e-4)
    assert found["tank.rms_voltage_v"] == pytest.approx(AMPLITUDE / np.sqrt(2), rel=1e-3)


SEPARATORS = [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), (" ", "."), ("  ", ","), ("|", "."), (", ", ".")]
HEADERS = {
    "brackets": lambda sep: sep.join(("time [s]", "CH1 [V]", "CH2 [A]")),
    "units-row": lambda sep: sep.join(("Time", "CH1", "CH2")) + "\n" + sep.join(("(s)", "(V)", "(A)")),
    "remark": lambda sep: "# two probes\n\n" + sep.join(("t[s]", "CH1[V]", "CH2[A]")),
}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=["lf", "crlf", "cr"])
def test_encodings_and_line_ends(encoding, end, tmp_path):
    text = "Prüfling: Spule\n" if encoding == "latin-1" else ""
    text = (text + "time [s],CH1 [V]\n" + table((TIME, VOLTS))).replace("\n", end)
    found = read_capture(written(tmp_path, text, encoding))
    assert_sine(found, "CH1")
    assert any("Latin-1" in note for note in found.notes) == (encoding == "latin-1")


@pytest.mark.parametrize("header", HEADERS)
@pytest.mark.parametrize(("separator", "decimal"), SEPARATORS)
def test_separators_decimals_and_headers(separator, decimal, header, tmp_path):
    text = HEADERS[header](separator) + "\n" + table((TIME, VOLTS, AMPS), separator, decimal)
    found = read_capture(written(tmp_path, text))
    assert found.names == ("CH1", "CH2") and [channel.unit for channel in found.channels] == ["V", "A"]
    assert_sine(found, "CH1")
    assert found["ch2"].samples == pytest.approx(AMPS, abs=1e-6)


@pytest.mark.parametrize(
    ("head", "factors"),
    [
        ("Time (us),CH1 (mV)", (1e6, 1e3)),
        ("time [ms],A [kV]", (1e3, 1e-3)),
        ("Time/µs,U/V", (1e6, 1.0)),
        ("t in ns,CH1 in mV", (1e9, 1e3)),
        ("X,CH1\nSecond,Volt", (1.0, 1.0)),
        ("x-axis,1\nsecond,VOLT", (1.0, 1.0)),
        ("Time,Channel A\n(ms),(mV)", (1e3, 1e3)),
        ('"Time [us]","CH1 [V]"', (1e6, 1.0)),
        ("MS,MV", (1e3, 1e3)),
    ],
)
def test_units_are_read_with_their_prefix(head, factors, tmp_path):
    text = head + "\n" + table((TIME * factors[0], VOLTS * factors[1]))
    found = read_capture(written(tmp_path, text))
    assert found.channels[0].unit == "V"
    assert_sine(found, "1")


@pytest.mark.parametrize(
    ("preamble", "start"),
    [
        ("Sample Interval,1.25E-7\nCH1 [V]", 0.0),
        ("Record Length,900,Points\nSample Interval,1.25E-7,s\nVertical Units,V\n", 0.0),
        ("Sampling rate: 8 MSa/s\nVolts", 0.0),
        ("Sample rate = 8000000 Hz\nStart time = -2e-5 s\nV", -2e-5),
        ("dt [us],0.125\nstart,-2e-5\nvolt", -2e-5),
        ("Sampling Period(ns);125\nV", 0.0),
    ],
)
def test_a_sample_interval_stands_in_for_a_time_column(preamble, start, tmp_path):
    found = read_capture(written(tmp_path, preamble.rstrip("\n") + "\n" + table((VOLTS,))))
    assert found.channels[0].unit == "V"
    assert_sine(found, "1", time=STEP * np.arange(COUNT) + start)


def test_keys_in_a_row_above_their_values_with_numbered_samples(tmp_path):
    rows = "".join(f"{k},{v:.9g},\n" for k, v in enumerate(VOLTS))
    text = "X,CH1,Start,Increment,\nSequence,VOLT,-2e-5,1.25e-7\n" + rows
    found = read_capture(written(tmp_path, text))
    assert found.names == ("CH1",)
    assert_sine(found, "CH1")


def test_a_preamble_beside_the_table(tmp_path):
    beside = ["Record Length,900", "Sample Interval,1.25e-7", "Vertical Units,V", "Probe Atten,10", ",", "Note,x y"]
    pairs = itertools.chain(beside, itertools.repeat(","))
    text = "".join(f"{next(pairs)},,{t:.9g},{v:.9g},\n" for t, v in zip(TIME, VOLTS, strict=True))
    found = read_capture(written(tmp_path, text))
    assert any("probe factor" in note for note in found.notes)
    assert_sine(found, "CH1")


@pytest.mark.parametrize(
    ("head", "names", "units"),
    [
        ("Time,A,B", ("A", "B"), ("", "")),
        ("Time,Channel A,Channel B", ("Channel A", "Channel B"), ("", "")),
        ("Time,Channel A,Channel B\n(s),(V),(A)\n", ("Channel A", "Channel B"), ("V", "A")),
        ("s,V,A", ("V", "A"), ("V", "A")),
        ("'Time','U/V','I/A'", ("U", "I"), ("V", "A")),
        ("t in s,U in V,I in A", ("U", "I"), ("V", "A")),
        ("Time,CH1,CH1", ("CH1", "CH1 (2)"), ("", "")),
        ("Time,Temp [°C],Level [dB]", ("Temp", "Level"), ("", "")),
    ],
)
def test_letters_of_channels_are_not_units(head, names, units, tmp_path):
    found = read_capture(written(tmp_path, head + "\n" + table((TIME, VOLTS, AMPS))))
    assert found.names == names and tuple(channel.unit for channel in found.channels) == units
    for name, unit in zip(names, units, strict=True):
        assert unit or any(note.startswith(f"{name}: ") for note in found.notes)


@pytest.mark.parametrize("order", ["first", "last"])
def test_time_need_not_be_the_first_column(order, tmp_path):
    """Also after a column that counts the samples."""
    columns = (np.arange(COUNT), TIME * 1e6, VOLTS)
    heads = ("no,time,ch1\n,us,V", "no,ch1,time\n,V,us")
    chosen = columns if order == "first" else (columns[0], columns[2], columns[1])
    found = read_capture(written(tmp_path, heads[order == "last"] + "\n" + table(chosen)))
    assert found.names == ("ch1",)
    assert_sine(found, "ch1")


def test_a_time_column_that_is_there_twice_is_one(tmp_path):
    text = "time,ch1,time,ch2\ns,V,s,A\n" + table((TIME, VOLTS, TIME, AMPS))
    assert read_capture(written(tmp_path, text)).names == ("ch1", "ch2")
    text = "time,ch1,time,ch2\ns,V,s,A\n" + table((TIME, VOLTS, TIME + 1e-3, AMPS))
    assert "time column twice" in told(lambda: read_capture(written(tmp_path, text)))


def test_a_long_preamble_of_any_kind(tmp_path):
    lines = [f"setting {k},value {k * k}" for k in range(300)] + ["Date: 2031-04-05 06:07:08", "", "a;b;c", "!!!"]
    text = "\n".join(lines) + "\nTime,CH1,CH2\ns,V,A\n" + table((TIME, VOLTS, AMPS))
    found = read_capture(written(tmp_path, text))
    assert_sine(found, "CH1")
    assert found.header == 305


@pytest.mark.parametrize(
    ("rewrite", "separator"),
    [
        (lambda v: f"{v:,.3f}", ";"),
        (lambda v: f"{v:,.3f}".replace(",", "'"), ","),
        (lambda v: f"{v:,.3f}".translate(str.maketrans(",.", ".,")), "\t"),
        (lambda v: f'"{v:,.3f}"', ","),
        (lambda v: f'"{v:.4f}"'.replace(".", ","), ","),
        (lambda v: f"{v:,.3f}".replace(",", "\u202f"), ";"),
        (lambda v: f"{v:.9E}", ","),
        (lambda v: f"{v:.9e}".replace("e", "D"), ","),
        (lambda v: f"{v:+.6f}", ","),
        (lambda v: f"{v:.6f}".replace("-", "\u2212"), ","),
    ],
    ids=["thousands", "apostrophes", "points-for-thousands", "quoted-thousands", "quoted-commas", "thin-blanks", "capital-E",
         "Fortran-D", "plus-signs", "true-minus"],
)  # fmt: skip
def test_numbers_however_grouped_and_signed(rewrite, separator, tmp_path):
    decimal_comma = rewrite(0.5).strip('"').startswith("0,5")
    stamp = lambda t: f'"{t:.9g}"'.replace(".", ",") if decimal_comma else f"{t:.9g}"  # noqa: E731
    rows = "\n".join(separator.join((stamp(t), rewrite(50 * v))) for t, v in zip(TIME, VOLTS, strict=True))
    found = read_capture(written(tmp_path, f"time [s]{separator}CH1 [mV]\n{rows}\n"))
    assert found["CH1"].samples == pytest.approx(0.05 * VOLTS, abs=2e-6)


def test_commas_before_three_digits_that_nothing_settles_are_decimal_and_said(tmp_path):
    rows = "\n".join(f"{1000 + k};{10000 + 3 * k % 7777}" for k in range(200))
    rows = "\n".join(";".join(x[:-3] + "," + x[-3:] for x in row.split(";")) for row in rows.split("\n"))
    found = read_capture(written(tmp_path, "t [s];u [V]\n" + rows))
    assert found["u"].samples[:2] == pytest.approx([10.000, 10.003])
    assert any("decimal commas, not as thousands" in note for note in found.notes)


def test_commas_for_both_purposes_are_refused(tmp_path):
    rows = "\n".join(f"0,{k:04d},1,{k % 10}" for k in range(50))
    assert "commas both" in told(lambda: read_capture(written(tmp_path, "time,volts\n" + rows)))


numbers = st.floats(-1e6, 1e6, allow_nan=False, width=32)


@settings(max_examples=150, deadline=None)
@given(
    rows=st.lists(st.tuples(numbers, numbers), min_size=8, max_size=40),
    dialect=st.sampled_from(SEPARATORS),
    form=st.sampled_from(["%.9g", "%.8e", "%.9f"]),
    header=st.sampled_from([*HEADERS, None]),
    step=st.sampled_from([1e-9, 2.5e-7, 1e-3, 1.0]),
    end=st.sampled_from(["\n", "\r\n"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    trailing=st.booleans(),
    start=st.integers(-50, 50),
)
def test_any_samples_in_any_dialect_come_back(rows, dialect, form, header, step, end, encoding, trailing, start, tmp_path_factory):
    """What was printed is what is read, to the last printed digit."""
    separator, decimal = dialect
    time = step * (start + np.arange(len(rows)))
    lines = [
        separator.join((cell(t, decimal, "%.12g"), cell(a, decimal, form), cell(b, decimal, form)))
        for t, (a, b) in zip(time, rows, strict=True)
    ]
    ending = separator.strip(" ") if trailing else ""
    head = HEADERS[header](separator).split("\n") if header else []
    text = end.join(line + ending for line in [*head, *lines])
    found = read_capture(written(tmp_path_factory.mktemp("x"), text, encoding))
    assert len(found.channels) == 2
    for k, channel in enumerate(found.channels):
        printed = [float(form % row[k]) for row in rows]
        assert channel.samples.tolist() == pytest.approx(printed, rel=1e-12, abs=0)
    assert found.time == pytest.approx(time, abs=1e-9 * step * max(50, abs(start)))


def test_probes_are_stated_by_name_or_number(tmp_path):
    path = written(tmp_path, "time [s],CH1 [V],CH2 [V]\n" + table((TIME, VOLTS / 10, -AMPS / 50)))
    probes = {"ch1": Probe(10.0, offset=1.0), "2": Probe(50.0, inverted=True, unit="A")}
    found = read_capture(path, probes)
    assert [channel.unit for channel in found.channels] == ["V", "A"]
    assert found["CH1"].samples == pytest.approx(VOLTS - 1.0, abs=1e-6)
    assert found["CH2"].samples == pytest.approx(AMPS, abs=1e-6)
    assert any("multiplied by 50" in note and "inverted" in note for note in found.notes)
    assert "did you mean CH2" in told(lambda: read_capture(path, {"CH22": Probe()}))
    waves = found.waveforms({"CH1": "tank.voltage", "CH2": "coil.current"})
    assert waves.origin == "capture x.csv" and waves.units == {"tank.voltage": "V", "coil.current": "A"}
    assert "in A, but CH1 is not" in told(lambda: found.waveforms({"CH1": "coil.current"}))
    assert "two channels for one" in told(lambda: found.waveforms({"CH1": "tank.voltage", "CH2": "tank.voltage"}))


def test_time_must_be_there_and_probes_are_checked(tmp_path):
    path = written(tmp_path, "volt\n" + table((VOLTS,)))
    assert "has no time column" in told(lambda: read_capture(path))
    assert "factor" in told(lambda: Probe(0.0))
    assert "unit" in told(lambda: Probe(unit="W"))


def test_what_the_file_does_not_say_is_in_the_notes(tmp_path):
    found = read_capture(written(tmp_path, table((TIME, VOLTS))))
    words = " ".join(found.notes)
    assert "unit of time" in words and "CH1: the file says no unit" in words and "probe factor 1" in words
    assert found.channels[0].unit == ""
    assert found.waveforms({"CH1": "tank.voltage"}).units == {"tank.voltage": "V"}


def test_the_first_of_several_records_is_read_and_said(tmp_path):
    head = "time [s],CH1 [V]\n"
    parts = [head + table((TIME, k * VOLTS)) for k in (1, 2, 3)]
    for text in ("\n\n".join(parts), "".join(parts), parts[0] + "".join(p.removeprefix(head) for p in parts[1:])):
        path = written(tmp_path, text)
        found = read_capture(path)
        assert_sine(found, "CH1")
        assert "3 records: only the first is read" in found.notes[0]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda lines: [*lines[:50], "1e-6,abc", *lines[50:]], ["x.csv:51", "column 2", "'abc'"]),
        (lambda lines: [*lines[:50], "1e-6", *lines[50:]], ["x.csv:51", "too few columns"]),
        (lambda lines: [*lines[:50], "1e-6,1e33", *lines[50:]], ["x.csv:51", "beyond all measure"]),
        (lambda lines: [*lines[:50], "1e-6,inf", *lines[50:]], ["x.csv:51", "not a finite number"]),
        (lambda lines: [*lines[:50], "x" * 30000, *lines[50:]], ["x.csv:51", "too long"]),
        (lambda lines: [*lines[:50], "-1,0", *lines[50:]], ["x.csv:51", "backwards"]),
        (lambda lines: [*lines[:50], "a\0b,0", *lines[50:]], ["x.csv:51", "is not text", "0x0"]),
        (lambda lines: [",".join(["1"] * 80)] * 50, ["too many columns", "up to 64"]),
        (lambda lines: lines[:6], ["too few samples", "8 or more"]),
        (lambda lines: ["Sample Interval,1e-6", *["V", *"314159"] * 2], ["too few samples", "8 or more"]),
        (lambda lines: lines[:1], ["no samples"]),
        (lambda lines: ["time [s],CH1 [V]", *["1,1"] * 50], ["too few digits"]),
    ],
)
def test_a_bad_file_gets_the_row_and_the_reason(spoil, words, tmp_path):
    lines = spoil(("time [s],CH1 [V]\n" + table((TIME, VOLTS))).splitlines())
    message = told(lambda: read_capture(written(tmp_path, "\n".join(lines))))
    for word in words:
        assert word in message


def test_a_row_cut_short_at_the_end_is_left_out_and_said(tmp_path):
    text = "time [s],CH1 [V]\n" + table((TIME, VOLTS)).rstrip("\n")
    found = read_capture(written(tmp_path, text[: text.rindex(",")]))
    assert found.time.size == COUNT - 1
    assert any("left out from line 901" in note for note in found.notes)
