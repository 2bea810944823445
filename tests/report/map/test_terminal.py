# SPDX-License-Identifier: GPL-3.0-or-later
"""A map on the terminal."""

import io

from heatsim.report import map as shown
from heatsim.report.map.words import upper_end
from heatsim.studies.map import MapProgress


def test_the_table_reads_at_80_columns(dead):
    out = io.StringIO()
    shown.show(dead, out, width=80)
    text = out.getvalue()
    assert max(map(len, text.splitlines())) <= 80
    assert "below: does not start" in " ".join(text.split())
    for reach in dead.answer.reaches:
        assert upper_end(dead, reach) in text
    assert "A simulation does not make a build safe." in " ".join(text.split())
    assert "check one to see how it starts" in " ".join(text.split())


def test_how_much_an_interrupted_map_has_done():
    assert shown.done_words(None) == shown.done_words(MapProgress(0, 0, "first look")) == ""
    assert shown.done_words(MapProgress(30, 2, "columns in between")) == "30 points"
