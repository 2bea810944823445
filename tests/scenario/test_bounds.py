# SPDX-License-Identifier: GPL-3.0-or-later
"""Files that are small and become large, or never end: each is refused within seconds and without much memory."""

from __future__ import annotations

import io
import os
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.support.limited import outcomes

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads its own size from /proc")

ROWS = "\n".join(f"{k}e-6,{k % 7}" for k in range(60))
RING_TEST = """[ring]
name = "x"
outer_diameter = "27 mm"
inner_diameter = "15 mm"
height = "11 mm"
[winding]
turns = 26
"""


def texts(folder: Path) -> dict[tuple[str, str], str]:
    """Reader and name -> content of a file of text that a careless parser takes long over."""
    found = {
        ("scenario", "dotted keys"): ".".join(["a"] * 20_000) + " = 1\n",
        ("scenario", "dotted lines"): "".join(f"heater.a{k}.b.c = 1\n" for k in range(20_000)),
        ("scenario", "keys"): "[heater]\n" + "".join(f"k{k} = 1\n" for k in range(40_000)),
        ("scenario", "unknown keys"): "[heater]\n" + "".join(f"k{k} = 1\n" for k in range(15_000)),
        ("scenario", "brackets"): "a = " + "[" * 900 + "]" * 900 + "\n",
        ("scenario", "inline tables"): "a = " + "{a=" * 900 + "1" + "}" * 900 + "\n",
        ("scenario", "digits"): "a = " + "9" * 5_000 + "\n",
        ("scenario", "hexadecimal digits"): "a = 0x" + "f" * 20_000 + "\n",
        ("scenario", "big number"): "a = 123456789012345678901234567890\n",
        ("scenario", "blanks"): '[supply]\nvoltage = "1' + " " * 150_000 + 'V"\n',
        ("scenario", "header blanks"): "[" + " " * 150_000 + "x\n",
        ("scenario", "key blanks"): "a" + " " * 150_000 + "b\n",
        ("scenario", "exponent"): '[supply]\nvoltage = "1e9999999 V"\n',
        ("catalogue", "unknown keys"): "[ring.x]\n" + "".join(f"k{k} = 1\n" for k in range(15_000)),
        ("catalogue", "names"): "".join(f"[ring.k{k}]\n" for k in range(15_000)),
        ("model", "blanks"): ".model mypart" + " " * 150_000 + "vdmos(\n",
        ("model", "continuations"): ".model other vdmos\n" + "+ a=1\n" * 100_000,
        ("model", "braces"): ".subckt x a b c\nr1 a b " + "{" * 200_000 + "\n.ends\n",
        ("model", "quotes"): ".subckt x a b c\nr1 a b " + "'{" * 200_000 + "\n.ends\n",
        ("ring test", "brackets"): "a = " + "[" * 900 + "]" * 900 + "\n",
        ("ring test", "pairs"): RING_TEST + "[bias]\nreadings = [" + '["0 A", "1 uH"],' * 15_000 + "]\n",
        ("capture", "digits"): f"t,v\n{ROWS}\n" + f"61e-6,{'9' * 19_000}x\n" * 30 + "62e-6,1\n",
        ("capture", "points"): f"t,v\n{ROWS}\n" + f"61e-6,{'1.' * 9_000}\n" * 30 + "62e-6,1\n",
        ("capture", "names"): "t (" * 6_000 + f"\n{ROWS.replace(',', ' ')}\nx\n62e-6 1\n",
        ("capture", "blank names"): "t" + " " * 19_000 + f"v\n{ROWS}\nx\n62e-6,1\n",
        ("capture", "control signs"): "t,v\n" + "\x01" * 100_000,
    }
    long_path = f'[heater]\nname = "x"\ncatalogue = "{"x" * 5000}"\n'
    return {**found, ("scenario", "long path"): long_path, ("scenario", "nul"): long_path.replace("x" * 5000, "a\\u0000b")}


def npz(folder: Path) -> bytes:
    """Zeros that unpack to 2.4 GB."""
    head = io.BytesIO()
    np.lib.format.write_array_header_1_0(head, {"descr": "|i1", "fortran_order": False, "shape": (300_000_000,)})
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive, archive.open("CH1.npy", "w", force_zip64=True) as member:
        member.write(head.getvalue())
        for _ in range(300):
            member.write(bytes(1_000_000))
    return data.getvalue()


def npz_of_many(folder: Path) -> bytes:
    """Forty arrays, each as large as may be."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        whole = io.BytesIO()
        np.save(whole, np.zeros(4_900_000, dtype=np.int8))
        for k in range(40):
            archive.writestr(f"CH{k}.npy", whole.getvalue())
    return data.getvalue()


def parquet(kind: str) -> Callable[[Path], bytes]:
    """Many equal values, which the format counts instead of repeating them."""

    def made(folder: Path) -> bytes:
        import pyarrow as pa
        from pyarrow import parquet as pq

        if kind == "numbers":
            columns = {"t": pa.array(np.zeros(30_000_000, dtype=np.int8))}
        elif kind == "texts":
            columns = {
                "t": pa.DictionaryArray.from_arrays(np.zeros(400_000, dtype=np.int32), ["x" * 1000]),
                "v": pa.array(np.arange(400_000.0)),
            }
        else:
            columns = {f"c{k}": pa.array(np.zeros(1_000_000)) for k in range(60)}
        sink = io.BytesIO()
        pq.write_table(pa.table(columns), sink, compression="zstd")
        return sink.getvalue()

    return made


BINARIES: dict[str, Callable[[Path], bytes]] = {
    "npz": npz,
    "npz of many arrays": npz_of_many,
    "parquet of numbers": parquet("numbers"),
    "parquet of columns": parquet("columns"),
    "wav": lambda folder: (
        b"RIFF\xff\xff\xff\xffWAVEfmt \x10\0\0\0\x01\0\xff\xff\x40\x1f\0\0\0\0\0\0\xff\xff\x08\0data\xff\xff\xff\xff" + bytes(9)
    ),
    "npy": lambda folder: npy((1 << 40,)),
    "npy of texts": lambda folder: npy((1,), "<U100000000"),
}


def npy(shape: tuple[int, ...], kind: str = "<f8") -> bytes:
    head = io.BytesIO()
    np.lib.format.write_array_header_1_0(head, {"descr": kind, "fortran_order": False, "shape": shape})
    return head.getvalue() + bytes(800)


@pytest.mark.slow
def test_small_files_that_would_become_large_are_refused(tmp_path: Path) -> None:
    files: list[tuple[str, Path]] = []
    for (reader, name), content in texts(tmp_path).items():
        files.append((reader, tmp_path / f"{reader}, {name}"))
        files[-1][1].write_text(content)
    for name, made in BINARIES.items():
        files.append(("capture", tmp_path / name))
        files[-1][1].write_bytes(made(tmp_path))
        assert files[-1][1].stat().st_size < 500_000
    found = {path.name: one for (_, path), one in zip(files, outcomes(files), strict=True)}
    wrong = {name: one for name, one in found.items() if one["outcome"] != "refused" or one["seconds"] > 10}
    assert not wrong
    assert all("allowed: " in one["told"] for one in found.values())


def test_a_parquet_files_texts_stay_unread(tmp_path: Path) -> None:
    """400 MB of equal texts beside a column of numbers, in a file of some 3 MB."""
    (tmp_path / "x.parquet").write_bytes(parquet("texts")(tmp_path))
    (one,) = outcomes([("capture", tmp_path / "x.parquet")])
    assert one["outcome"] == "refused" and "time" in one["told"]


@pytest.mark.parametrize("reader", ["scenario", "catalogue", "model", "ring test", "capture"])
def test_what_never_ends_is_refused_at_once(tmp_path: Path, reader: str) -> None:
    os.mkfifo(tmp_path / "pipe")
    with (tmp_path / "sparse").open("wb") as sparse:
        sparse.truncate(30_000_000_000)
    (tmp_path / "folder").mkdir()
    (tmp_path / "loop").symlink_to("loop")
    names = [
        tmp_path / "pipe",
        tmp_path / "sparse",
        tmp_path / "folder",
        tmp_path / "loop",
        tmp_path / "none",
        tmp_path / ("x" * 5000),
    ]
    found = outcomes([(reader, path) for path in [Path("/dev/zero"), *names]])
    assert [one["outcome"] for one in found] == ["refused"] * 7
    assert max(one["seconds"] for one in found) < 2
    words = ["is a device", "is a pipe", "is too long", "is a folder", "cannot be read", "cannot be read", "cannot be read"]
    for one, word in zip(found, words, strict=True):
        assert word in one["told"] and "allowed: " in one["told"]
