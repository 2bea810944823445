# SPDX-License-Identifier: GPL-3.0-or-later
"""A map on the terminal."""

import io

from heatsim.report import map as shown
from heatsim.report.map.words import upper_end


def test_the_table_reads_at_80_columns(dead):
    out = io.StringIO()
    shown.show(dead, out, width=80)
    text = out.getvalue()
    assert max(map(len, text.splitlines())) <= 80
    assert "below: does not start" in " ".join(text.split())
    for reach in dead.answer.reaches:
        assert upper_end(dead, reach) in text
    assert "A simulation does not make a build safe." in " ".join(text.split())


def test_an_interrupted_map_says_how_to_go_on(tmp_path):
    out = io.StringIO()
    shown.say_interrupted(None, tmp_path / "points.db", out)
    assert "Run the same command again to continue" in out.getvalue()
