# SPDX-License-Identifier: GPL-3.0-or-later
"""JSON that every reader accepts."""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from heatsim.errors import OutputError
from heatsim.report.base.plain import as_json, plain, write_files
from tests.support.results import checks as made


def refuse(token):
    raise AssertionError(f"{token} is not JSON")


def test_what_is_not_finite_becomes_null():
    content = {
        "a": math.nan,
        "b": [math.inf, -math.inf, np.float64("nan"), 1.5],
        "c": np.float32(0.5),
        "d": np.int64(3),
        "e": (1, True, None, "µ"),
        "f": np.array([1.0, np.nan]),
        "g": np.bool_(True),
    }
    assert json.loads(as_json(content), parse_constant=refuse) == {
        "a": None,
        "b": [None, None, None, 1.5],
        "c": 0.5,
        "d": 3,
        "e": [1, True, None, "µ"],
        "f": [1.0, None],
        "g": True,
    }


def test_what_has_no_plain_form_is_refused():
    with pytest.raises(TypeError, match="PosixPath|WindowsPath"):
        plain({"path": Path("x")})


def test_a_result_keeps_the_documented_keys():
    found = json.loads(as_json(made.result().as_dict()), parse_constant=refuse)
    assert {"schema", "heatsim_version", "simulator_version", "scenario", "verdict", "cases"} <= found.keys()
    assert found["schema"] == "heatsim.check/1" and found["verdict"] == "fails"
    loaded = found["cases"][1]
    assert {"name", "outcome", "outcome_detail", "measures", "findings", "attempts"} <= loaded.keys()
    assert loaded["measures"]["gate.left.ringing_frequency_hz"] is None
    assert loaded["measures"]["tank.frequency_hz"] == made.FREQUENCY
    assert loaded["findings"][3] == {
        "part": "capacitors",
        "limit": "peak voltage",
        "value": 131.0,
        "allowed": None,
        "unit": "V",
        "headroom": None,
        "grade": "unknown",
        "basis": "rating",
        "cause": "Cannot be judged: the rating is not given.",
        "remedy": "Give the capacitor's voltage rating.",
    }


def test_files_replace_links_and_stale_ones_go(tmp_path):
    outside = tmp_path / "mine.txt"
    outside.write_text("mine")
    out = tmp_path / "out"
    out.mkdir()
    for name in ("results.json", "results.json.part", ".results.json.part"):
        (out / name).symlink_to(outside)
    (out / "old.png").write_bytes(b"old")
    paths = write_files(out, {"results.json": "{}", "new.png": b"new"}, [out / "old.png", out / "new.png"])
    assert [path.name for path in paths] == ["results.json", "new.png"]
    assert outside.read_text() == "mine" and not (out / "results.json").is_symlink()
    assert not (out / "old.png").exists() and (out / "new.png").read_bytes() == b"new"


def test_a_folder_that_cannot_be_written_is_an_output_error(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="file"):
        write_files(tmp_path / "file" / "deeper", {"a": "b"})
    (tmp_path / "results.json").mkdir()
    with pytest.raises(OutputError, match=r"results\.json: cannot be written"):
        write_files(tmp_path, {"results.json": "{}"})
    assert not [path.name for path in tmp_path.iterdir() if path.name.endswith(".part")]
