# SPDX-License-Identifier: GPL-3.0-or-later
"""WAV, NPZ, NPY and Parquet captures: read, refused when damaged or dangerous, and never executed."""

from __future__ import annotations

import builtins
import io
import pickle
import zipfile

import numpy as np
import pytest
from scipy.io import wavfile

from heatsim.errors import InputError
from heatsim.waves import Waveforms
from heatsim.waves.capture import Probe, read_capture

F, RATE = 9.1e3, 192_000
T = np.arange(6000) / RATE
V = 120.0 * np.sin(2 * np.pi * F * T)


def told(path, **options):
    with pytest.raises(InputError) as caught:
        read_capture(path, **options)
    return str(caught.value)


@pytest.mark.parametrize("kind", ["<i2", "<i4", "u1", "<f4"])
def test_a_wav_is_read_as_shares_of_full_scale(kind, tmp_path):
    full = {"<i2": 32767, "<i4": 2147483647, "u1": 127, "<f4": 1.0}[kind]
    wave = np.column_stack([V / 200, -V / 400]) * full + (128 if kind == "u1" else 0)
    wavfile.write(tmp_path / "x.wav", RATE, (wave if kind == "<f4" else np.round(wave)).astype(kind))
    found = read_capture(tmp_path / "x.wav", {"CH1": Probe(200.0, unit="V"), "CH2": Probe(400.0, inverted=True, unit="V")})
    assert found.time == pytest.approx(T)
    for channel in found.channels:
        assert channel.samples == pytest.approx(V, abs=2.5 * channel.probe.factor / 2 / full if kind != "<f4" else 1e-4)
    assert any("shares of full scale" in note for note in found.notes)
    assert found.channels[0].unit == "V" and read_capture(tmp_path / "x.wav").channels[0].unit == ""


def test_a_wav_at_its_ends_is_called_clipped(tmp_path):
    wavfile.write(tmp_path / "x.wav", RATE, np.clip(V * 400, -32768, 32767).astype(np.int16))
    assert read_capture(tmp_path / "x.wav").channels[0].clipped == (True, True)


def test_our_own_npz_comes_back(tmp_path):
    waves = Waveforms(T, {"tank.voltage": V, "coil.current": 0.2 * V}, {"tank.voltage": "V", "coil.current": "A"}, "made")
    waves.save_npz(tmp_path / "x.npz")
    found = read_capture(tmp_path / "x.npz")
    assert found.names == ("tank.voltage", "coil.current") and [c.unit for c in found.channels] == ["V", "A"]
    back = found.waveforms({name: name for name in found.names})
    assert back["tank.voltage"] == pytest.approx(V, rel=1e-6) and back.time == pytest.approx(T)


@pytest.mark.parametrize(
    "arrays",
    [{"time": T, "CH1": V}, {"t": T, "CH1": V}, {"dt": 1 / RATE, "CH1": V}, {"fs": float(RATE), "CH1": V}, {"x": T, "CH1": V},
     {"Time [ms]": T * 1e3, "CH1 [mV]": V * 1e3}, {"both": np.column_stack([T, V])}, {"both": np.vstack([T, V])}],
    ids=["time", "t", "dt", "fs", "x", "units", "table", "wide-table"],
)  # fmt: skip
def test_plain_arrays_with_time_or_interval(arrays, tmp_path):
    np.savez(tmp_path / "x.npz", **arrays)
    found = read_capture(tmp_path / "x.npz")
    assert found.time == pytest.approx(T) and found.channels[0].samples == pytest.approx(V)


def test_npy_needs_a_time_step_unless_it_is_a_table(tmp_path):
    np.save(tmp_path / "x.npy", V.astype(np.float32))
    assert "states no sample interval" in told(tmp_path / "x.npy")
    assert "no sample interval" in told(tmp_path / "x.npy")
    np.save(tmp_path / "x.npy", np.column_stack([T, V]))
    assert read_capture(tmp_path / "x.npy").time == pytest.approx(T)


def test_parquet_with_its_library_and_a_clear_word_without(tmp_path, monkeypatch):
    pd = pytest.importorskip("pandas")
    pytest.importorskip("pyarrow")
    pd.DataFrame({"time [us]": T * 1e6, "CH1 [V]": V, "remark": ["x"] * T.size}).to_parquet(tmp_path / "x.dat")
    found = read_capture(tmp_path / "x.dat")
    assert found.names == ("CH1",) and found.time == pytest.approx(T) and found["CH1"].samples == pytest.approx(V)
    real = builtins.__import__

    def without(name, *rest, **named):
        if name.split(".")[0] == "pyarrow":
            raise ImportError(name)
        return real(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", without)
    assert "pip install 'heatsim[parquet]'" in told(tmp_path / "x.dat")


class Trap:
    """Unpickling this writes a file."""

    def __init__(self, path):
        self.path = path

    def __reduce__(self):
        return (builtins.open, (str(self.path), "w"))


def test_nothing_in_a_file_is_executed(tmp_path):
    mark = tmp_path / "executed"
    np.save(tmp_path / "x.npy", np.array([Trap(mark)] * 3, dtype=object), allow_pickle=True)
    np.savez(tmp_path / "x.npz", time=T, CH1=np.array([Trap(mark)] * T.size, dtype=object))
    (tmp_path / "x.pkl").write_bytes(pickle.dumps(Trap(mark)))
    for name in ("x.npy", "x.npz", "x.pkl"):
        told(tmp_path / name)
    assert not mark.exists()


def test_claims_of_size_are_not_believed(tmp_path):
    head = io.BytesIO()
    np.lib.format.write_array_header_1_0(head, {"descr": "<f8", "fortran_order": False, "shape": (10**13,)})
    (tmp_path / "x.npy").write_bytes(head.getvalue() + b"\0" * 800)
    assert "too many samples; given 10000000000000" in told(tmp_path / "x.npy")
    with zipfile.ZipFile(tmp_path / "x.npz", "w", zipfile.ZIP_DEFLATED) as archive:
        for name in ("time", "CH1", "CH2", "CH3", "CH4"):
            with archive.open(f"{name}.npy", "w") as member:
                np.lib.format.write_array(member, np.zeros(4_800_000, dtype=np.int8))
    assert "unpacks to too much" in told(tmp_path / "x.npz")


@pytest.mark.parametrize(
    ("arrays", "words"),
    [
        ({"time": T, "CH1": V[:-1]}, "different lengths"),
        ({"time": T}, "no channels"),
        ({"time": T[::-1], "CH1": V}, "time runs backwards"),
        ({"CH1": V}, "no sample interval"),
        ({"names": np.array(["a", "b"])}, "no channels"),
    ],
)
def test_arrays_that_make_no_capture_are_refused(arrays, words, tmp_path):
    np.savez(tmp_path / "x.npz", **arrays)
    assert words in told(tmp_path / "x.npz")


def test_infinite_samples_of_an_array_are_missing_ones(tmp_path):
    np.savez(tmp_path / "x.npz", time=T, CH1=np.where(np.arange(T.size) % 1000 == 500, np.inf, V))
    found = read_capture(tmp_path / "x.npz")
    assert any("6 of" in fault for fault in found.faults) and found["CH1"].samples == pytest.approx(V, abs=6.0)


def test_a_wav_cut_short_is_told(tmp_path):
    wavfile.write(tmp_path / "x.wav", RATE, (V * 100).astype(np.int16))
    data = (tmp_path / "x.wav").read_bytes()
    (tmp_path / "x.wav").write_bytes(data[:30])
    assert "not a whole WAV file" in told(tmp_path / "x.wav")
