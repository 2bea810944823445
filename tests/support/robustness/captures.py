# SPDX-License-Identifier: GPL-3.0-or-later
"""Spoiled captures of every format that is read: text of nine dialects and three encodings, WAV, NPZ, NPY, Parquet."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from scipy.io import wavfile

from heatsim.errors import InputError
from heatsim.waves import Waveforms
from heatsim.waves.capture import Capture, read_capture
from tests.support.robustness.mutations import assert_readable

COUNT = 3000


def cell(value: float, decimal: str = ".", form: str = "%.9g") -> str:
    """A number as a text."""
    return (form % value).replace(".", decimal)


def table(columns: Sequence[Any], separator: str = ",", decimal: str = ".", form: str = "%.9g", end: str = "\n") -> str:
    """Columns of numbers as lines of text."""
    return end.join(separator.join(cell(x, decimal, form) for x in row) for row in zip(*columns, strict=True)) + end


N = 48
T = 1e-6 * np.arange(N)
V = np.round(20 * np.sin(2 * np.pi * 1.1e5 * T) / 0.25) * 0.25

TEXTS = {
    "plain": "time [s],CH1 [V]\n" + table((T, V)),
    "comma": "Zeit;Kanal 1;Kanal 2\n(us);(V);(A)\n" + table((T * 1e6, V, -V), ";", ","),
    "preamble": "Model,x\nSample Interval,1e-6,s\nSource,CH1\n\nV\n" + table((V,)),
    "beside": "Sample Interval,1e-6,,0,0,\n" + "".join(f",,,{t:g},{v:g},\n" for t, v in zip(T[1:], V[1:], strict=True)),
    "below": "X,CH1,Start,Increment,\nSequence,V,0,1e-6,\n" + "".join(f"{k},{v:g},,,\n" for k, v in enumerate(V)),
    "quoted": "".join(f'"{t:g}","{v:,.3f}"\r\n' for t, v in zip(T, 900 * V, strict=True)),
    "blanks": "t [s]  u [V]\n" + table((T, V), "  "),
    "records": ("time [s],CH1 [V]\n" + table((T[:20], V[:20]))) * 3,
    "gaps": "t[s]\tu[V]\n" + table((T, V), "\t").replace("0.25\n", "----\n").replace("\t-20\n", "\t\n"),
}  # fmt: skip


def binaries(folder) -> dict[str, bytes]:
    """One file of each binary kind."""
    waves = Waveforms(T, {"tank.voltage": V, "coil.current": -V}, {"tank.voltage": "V", "coil.current": "A"}, "made")
    waves.save_npz(folder / "own.npz")
    plain, single, wav = io.BytesIO(), io.BytesIO(), io.BytesIO()
    np.savez(plain, dt=1e-6, CH1=V, CH2=-V)
    np.save(single, np.column_stack([T, V]))
    wavfile.write(wav, 48000, (V * 1000).astype(np.int16))
    found = {"own": (folder / "own.npz").read_bytes(), "npz": plain.getvalue(), "npy": single.getvalue(),
             "wav": wav.getvalue()}  # fmt: skip
    try:
        import pandas as pd

        pd.DataFrame({"time [s]": T, "CH1 [V]": V}).to_parquet(folder / "x.parquet", engine="pyarrow")
        found["parquet"] = (folder / "x.parquet").read_bytes()
    except ImportError:
        pass
    return found


def flip(data: bytearray, rng) -> None:
    for at in rng.integers(0, len(data), rng.integers(1, 6)):
        data[at] ^= 1 << int(rng.integers(0, 8))


def overwrite(data: bytearray, rng) -> None:
    for at in rng.integers(0, len(data), rng.integers(1, 6)):
        data[at] = int(rng.choice([0, 255, 44, 59, 34, 10, 13, 45, 46, 101, 57, 32, 9, 35]))


def cut(data: bytearray, rng) -> None:
    start = int(rng.integers(0, len(data)))
    del data[start : start + int(rng.integers(1, len(data) + 1))]


def truncate(data: bytearray, rng) -> None:
    del data[int(rng.integers(0, len(data))) :]


def insert(data: bytearray, rng) -> None:
    words = (b"1e308", b"-1e308", b"9.91e37", b"1e-320", b"nan", b"inf", b"\0\0", b"----", b",,,,", b"\n\n", b'"', b"\xff\xfe",
             b"9" * 400, b"1" + b",000" * 50, b"e" * 50, b"#", b"-", b"\xef\xbb\xbf", b"time [s],time [s]\n", b"0\n" * 30,
             b" " * 3000, b"-(" * 200, b"sample interval,0\n", b"fs: 1e400\n", b"1_0", "Ω٣²".encode())  # fmt: skip
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.integers(0, len(data) + 1))
        data[at:at] = words[int(rng.integers(0, len(words)))]


def shuffle_lines(data: bytearray, rng) -> None:
    lines = bytes(data).split(b"\n")
    a, b = (int(rng.integers(0, len(lines))) for _ in range(2))
    kind = int(rng.integers(0, 4))
    if kind == 0:
        lines[a], lines[b] = lines[b], lines[a]
    elif kind == 1:
        del lines[a]
    elif kind == 2:
        lines[a:a] = [lines[b]] * int(rng.integers(1, 30))
    else:
        lines[a] = lines[a] + lines[b]
    data[:] = b"\n".join(lines)


def double(data: bytearray, rng) -> None:
    data += data[int(rng.integers(0, len(data))) :]


MUTATIONS: tuple[Callable[[bytearray, np.random.Generator], None], ...] = (
    flip, overwrite, cut, truncate, insert, shuffle_lines, double)  # fmt: skip


def mutated(seed: bytes, rng) -> bytes:
    """One to three mutations, one on the other."""
    data = bytearray(seed)
    for _ in range(int(rng.integers(1, 4))):
        if data:
            MUTATIONS[int(rng.integers(0, len(MUTATIONS)))](data, rng)
    return bytes(data)


def assert_sound(found: Capture) -> None:
    """A capture that came through holds what its description promises."""
    assert found.channels and np.all(np.isfinite(found.time)) and np.all(np.diff(found.time) > 0)
    for channel in found.channels:
        assert channel.samples.shape == found.time.shape and np.all(np.isfinite(channel.samples))
        assert np.isfinite(channel.noise) and channel.noise >= 0 and channel.unit in ("V", "A", "")
        assert channel.step is None or channel.step > 0


def prepare(folder: Path) -> tuple[Path, list[bytes]]:
    """Where the file stands, and sound captures."""
    texts = [text.encode() for text in TEXTS.values()]
    wide = [TEXTS["plain"].encode("utf-16"), ("µ;" + TEXTS["comma"]).encode("latin-1")]
    return folder, [*texts, *wide, *binaries(folder).values()]


def attempt(number: int, seed: int, prepared: tuple[Path, list[bytes]]) -> str:
    """A capture that keeps its promises, or an InputError."""
    folder, sound = prepared
    path = folder / "record.dat"
    path.write_bytes(mutated(sound[number % len(sound)], np.random.default_rng([seed, number])))
    try:
        found = read_capture(path)
    except InputError as error:
        assert_readable(error)
        return "refused"
    assert_sound(found)
    return "accepted"
