# SPDX-License-Identifier: GPL-3.0-or-later
"""The bench test's file and its capture: what is read, and what is refused with place, fault, given and allowed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.scenario.ramp import read_ramp
from heatsim.scenario.ringtest import RingTest

HEAD = """[ring]
name = "x"
outer_diameter = "27 mm"
inner_diameter = "15 mm"
height = "11 mm"
[winding]
turns = 26
"""
LCR = '[lcr]\ninductance = "60 uH"\nfrequency = "10 kHz"\n'
RAMP = '[ramp]\nfile = "x.csv"\nvoltage = "12 V"\n'
ROWS = [(k * 1e-6, 0.5 * k) for k in range(40)]


def csv(tmp_path, rows=ROWS, header="time [s],current [A]", separator=",", name="x.csv"):
    text = "\n".join([header] * bool(header) + [separator.join(f"{x:.9g}" for x in row) for row in rows]) + "\n"
    (tmp_path / name).write_text(text)
    return tmp_path / name


def problems(call):
    with pytest.raises(InputError) as caught:
        call()
    return str(caught.value)


def test_the_demo_file_is_read(checkout):
    test = RingTest.from_file(checkout / "scenarios" / "rings" / "unknown-ring.toml")
    assert test.name == "Grey ring from the drawer"
    assert test.winding.turns == 26 and test.tables.lcr.frequency == 10e3
    assert test.capture.time.size == 1250 and test.capture.voltage.size == 1250
    assert test.capture.time[0] == pytest.approx(-15.6e-6) and np.max(test.capture.current) == pytest.approx(50.5, abs=1)


def test_another_capture_takes_the_place_of_the_one_named(tmp_path):
    (tmp_path / "t.toml").write_text(HEAD + RAMP)
    other = csv(tmp_path, name="other.csv")
    assert RingTest.from_file(tmp_path / "t.toml", other).capture.label.endswith("other.csv")


def test_printed_path_length_and_area_win_for_the_files_own_convention_only():
    text = HEAD.replace("[winding]", 'path_length = "63.5 mm"\narea = "65.4 mm2"\nstack = 2\n[winding]') + LCR
    test = RingTest.from_text(text)
    assert test.ring().path_length == pytest.approx(63.5e-3) and test.ring().total_area == pytest.approx(130.8e-6)
    assert test.ring("mean").path_length == pytest.approx(np.pi * 21e-3)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", ["ring: is missing", "winding: is missing"]),
        (HEAD, ["has no measurement", "[lcr], [bias], [ramp]"]),
        (HEAD.replace("27 mm", "14 mm") + LCR, ["ring.inner_diameter", "below outer_diameter"]),
        (HEAD.replace('"27 mm"', "27") + LCR, ["t.toml:3: ring.outer_diameter", "bare number", "given 27", "a text with unit m"]),
        (HEAD.replace("27 mm", "27 m") + LCR, ["out of range", "3 mm to 500 mm"]),
        (HEAD.replace("outer_diameter", "outer_diamter") + LCR, ["t.toml:3", "not a known key", "did you mean outer_diameter"]),
        (HEAD.replace("26", "2.5") + LCR, ["winding.turns", "2.5"]),
        (HEAD + LCR.replace("60 uH", "60 uF"), ["lcr.inductance", "unit 'uF'"]),
        (HEAD + LCR.replace("60", "6,0"), ["has a comma"]),
        (HEAD + '[bias]\nreadings = [["0 A", "60 uH"], ["1 A", "59 uH"]]\n', ["bias.readings"]),
        (HEAD + '[bias]\nreadings = [["0 A", "60 uH"], ["1 A", "59 uH"], ["1 A", "58 uH"]]\n', ["has a current twice"]),
        (HEAD + '[bias]\nreadings = [["0 A", "60 uH"], ["1 A", 59], ["2 A", "58 uH"]]\n', ["bias.readings.1.1", "given 59"]),
        (HEAD + RAMP + "bits = 8\n", ["ramp.bits", "full_scale"]),
        (HEAD + RAMP + "bits = 99\n", ["ramp.bits", "99"]),
        (HEAD + RAMP.replace("12 V", "12"), ["ramp.voltage", "has no unit"]),
        (HEAD.replace('"x"', '"x\\n.control"') + LCR, ["ring.name", "signs that are not allowed"]),
        (HEAD.replace("[winding]", 'path_rule = "median"\n[winding]') + LCR, ["ring.path_rule", "'iec', 'logarithmic' or 'mean'"]),
        (HEAD.replace("[winding]", 'accuracy = "2 mm"\n[winding]').replace("11 mm", "5 mm") + LCR, ["ring.accuracy", "too coarse"]),
        (HEAD + 'wire_diameter = "9.9 mm"\n' + LCR.replace("60", "61") + RAMP.replace("12", "0"), ["ramp.voltage"]),
        (HEAD.replace("15 mm", "9 mm") + 'wire_diameter = "9 mm"\n' + LCR, ["does not pass the bore", "8.1 mm"]),
        ("[ring\n", ["t.toml:1", "is not TOML"]),
    ],
)
def test_a_faulty_file_is_refused_with_what_where_given_and_allowed(text, words, tmp_path):
    (tmp_path / "t.toml").write_text(text)
    told = problems(lambda: RingTest.from_file(tmp_path / "t.toml"))
    for word in words:
        assert word in told


def test_a_ramp_needs_a_capture_and_a_voltage(tmp_path):
    (tmp_path / "t.toml").write_text(HEAD + "[ramp]\n")
    assert "ramp.file: is missing" in problems(lambda: RingTest.from_file(tmp_path / "t.toml"))
    csv(tmp_path)
    (tmp_path / "t.toml").write_text(HEAD + '[ramp]\nfile = "x.csv"\n')
    assert "ramp.voltage: is missing" in problems(lambda: RingTest.from_file(tmp_path / "t.toml"))
    (tmp_path / "t.toml").write_text(HEAD + LCR)
    assert "ramp: is missing" in problems(lambda: RingTest.from_file(tmp_path / "t.toml", tmp_path / "x.csv"))


@pytest.mark.parametrize(
    ("header", "separator", "change"),
    [
        ("time [us],current [mA]", ",", lambda t, i: (t * 1e6, i * 1e3)),
        ("Time (ms);I (A)", ";", lambda t, i: (t * 1e3, i)),
        ('"t"\t"amps"', "\t", lambda t, i: (t, i)),
        ("# a remark\n\ncurrent [kA],time [s]", ",", lambda t, i: (i * 1e-3, t)),
        ("", ",", lambda t, i: (t, i)),
    ],
    ids=["us-mA", "semicolon", "tab", "swapped", "headless"],
)
def test_columns_are_found_by_name_and_unit(header, separator, change, tmp_path):
    found = read_ramp(csv(tmp_path, [change(t, i) for t, i in ROWS], header, separator))
    assert found.time == pytest.approx([t for t, _ in ROWS]) and found.current == pytest.approx([i for _, i in ROWS])
    assert found.voltage is None


def test_decimal_commas_are_read_where_columns_are_not_parted_by_them(tmp_path):
    rows = "\n".join(f"{t:.9g};{i:.9g}".replace(".", ",") for t, i in ROWS)
    (tmp_path / "x.csv").write_text("time [s];current [A]\n" + rows)
    assert read_ramp(tmp_path / "x.csv").current == pytest.approx([i for _, i in ROWS])


def test_a_file_as_an_oscilloscope_writes_it_is_read(tmp_path):
    """UTF-16, a preamble, units in a row of their own, decimal commas; channels known by their units."""
    rows = "\r\n".join(f"{1e3 * t:.9g};{12 - k % 2 / 10:g};{i:g}".replace(".", ",") for k, (t, i) in enumerate(ROWS))
    text = "Model;x\r\nProbe;1\r\n\r\nTime;CH1;CH2\r\n(ms);(V);(A)\r\n" + rows
    (tmp_path / "x.csv").write_bytes(text.encode("utf-16"))
    found = read_ramp(tmp_path / "x.csv")
    assert found.current == pytest.approx([i for _, i in ROWS]) and found.voltage[:2] == pytest.approx([12.0, 11.9])
    shunted = read_ramp(csv(tmp_path, [(t, 0.01 * i) for t, i in ROWS], "Second,CH1 [V]"), shunt=0.01)
    assert shunted.current == pytest.approx([i for _, i in ROWS])


def test_a_shunts_voltage_becomes_current_and_a_third_column_is_the_voltage(tmp_path):
    rows = [(t, 0.01 * i, 12.0) for t, i in ROWS]
    found = read_ramp(csv(tmp_path, rows, "time [s],current [V],voltage [V]"), shunt=0.01)
    assert found.current == pytest.approx([i for _, i in ROWS]) and found.voltage == pytest.approx([12.0] * 40)


def test_equal_time_stamps_are_averaged_and_counted(tmp_path):
    rows = [(k // 2 * 1e-6, float(k)) for k in range(80)]
    found = read_ramp(csv(tmp_path, rows))
    assert found.joined == 40 and found.current[:3] == pytest.approx([0.5, 2.5, 4.5])


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda lines: lines[:10] + ["1e-5,abc"] + lines[10:], ["x.csv:11", "column 2", "'abc'", "such as 1.25e-6"]),
        (lambda lines: lines[:10] + ["1e-5,nan"] + lines[10:], ["x.csv:11", "not a finite number"]),
        (lambda lines: lines[:10] + ["1e-5,1e999"] + lines[10:], ["x.csv:11", "not a finite number"]),
        (lambda lines: lines[:10] + ["1e-5"] + lines[10:], ["x.csv:11", "too few columns", "2 columns"]),
        (lambda lines: lines[:10] + ["1e-9,3"] + lines[10:], ["x.csv:11", "time runs backwards", "at least"]),
        (lambda lines: lines[:10], ["too few or too many samples", "given 9"]),
        (lambda lines: [], ["has no samples"]),
        (lambda lines: ["time [s],current [V]", *lines[1:]], ["x.csv:1", "another unit than A"]),
        (lambda lines: ["time [s],time [s]", *lines[1:]], ["column twice"]),
        (lambda lines: ["time [s],colour", *lines[1:]], ["unknown column", "'colour'"]),
        (lambda lines: ["voltage [V],current [A]", *lines[1:]], ["has no time column"]),
        (lambda lines: [lines[0], *(line.split(",")[0] + ",3" for line in lines[1:])], ["current never changes"]),
        (lambda lines: ["0,1,2,3"] * 40, ["no header", "two or three columns"]),
    ],
)
def test_a_faulty_capture_is_refused_with_its_row(spoil, words, tmp_path):
    path = csv(tmp_path)
    path.write_text("\n".join(spoil(path.read_text().splitlines())))
    told = problems(lambda: read_ramp(path))
    for word in words:
        assert word in told


def test_folders_binaries_and_missing_files_are_refused(tmp_path):
    (tmp_path / "b.csv").write_bytes(b"time,current\n\xff\xfe\x00")
    assert "b.csv:2" in problems(lambda: read_ramp(tmp_path / "b.csv"))
    assert "is a folder" in problems(lambda: read_ramp(tmp_path))
    assert "cannot be read" in problems(lambda: read_ramp(tmp_path / "none.csv"))


@given(st.binary(max_size=400))
def test_no_bytes_whatever_lead_to_anything_but_an_input_error(data):
    import tempfile
    from pathlib import Path

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.csv"
        path.write_bytes(data)
        with pytest.raises(InputError):
            read_ramp(path)
