# SPDX-License-Identifier: GPL-3.0-or-later
"""Nine dialects of text, which are damaged in tests/support/robustness/captures.py."""

from __future__ import annotations

import pytest

from heatsim.waves.capture import read_capture
from tests.support.robustness.captures import TEXTS, V


@pytest.mark.parametrize("name", TEXTS)
def test_the_seeds_themselves_are_captures(name, tmp_path):
    (tmp_path / "x").write_text(TEXTS[name])
    found = read_capture(tmp_path / "x")
    wanted = 900 * V if name == "quoted" else V[:20] if name == "records" else V
    assert found.channels[0].samples == pytest.approx(wanted, abs=6.0 if name == "gaps" else 1e-3)
