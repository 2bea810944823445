# SPDX-License-Identifier: GPL-3.0-or-later
"""JSON that every reader accepts."""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from heatsim.report.base.plain import as_json, plain
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
