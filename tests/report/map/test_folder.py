# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of a map."""

import json

from heatsim.report import map as shown
from heatsim.report.map.words import headline


def test_results_json(dead, tmp_path):
    paths = shown.write_folder(dead, tmp_path / "map")
    assert [path.name for path in paths] == ["report.html", "map.png", "map.svg", "results.json"]
    told = json.loads(paths[3].read_text(encoding="utf-8"))
    assert told["schema"] == "heatsim.map/1"
    assert told["sentences"][0] == headline(dead)
    assert told["answer"]["at_reference"]["lower"]["ends"] == "dead"
    assert {point["outcome"] for point in told["points"]} == {"settled", "dead", "latched"}
    assert all((point["headroom"] is None) == (point["outcome"] != "settled") for point in told["points"])
    assert paths[2].read_text(encoding="utf-8").count("<svg") == 1
