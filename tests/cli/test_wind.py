# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim wind`: words, folder, JSON and exit code; what is done with a supply voltage that the drawer's table names."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from heatsim.cli import main

pytestmark = pytest.mark.usefixtures("remembered")


def test_no_winding_that_holds_exits_with_1_and_leaves_its_tables(drawer, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["wind", drawer]) == 1
    told = capsys.readouterr().out
    assert "no winding found" in told and f"Written: {Path('results/drawer-wind/report.html')}" in told
    assert (tmp_path / "results" / "drawer-wind" / "results.json").is_file()
    assert main(["wind", drawer, "--json", "-", "--out", str(tmp_path / "out")]) == 1
    assert json.loads(capsys.readouterr().out) == json.loads((tmp_path / "out" / "results.json").read_text())


def test_a_voltage_that_the_drawer_replaces_is_told(drawer, tmp_path, capsys) -> None:
    text = (
        Path(drawer).read_text().replace("[wind] ", '[wind]\nhighest_supply = "50 V" ').replace('case = "loaded"', 'case = "none"')
    )
    (tmp_path / "x.toml").write_text(text)
    assert main(["wind", str(tmp_path / "x.toml"), "--set", "supply.voltage=38 V"]) == 2
    assert "heatsim: note: wind.highest_supply = 50 V replaces supply.voltage; set it instead" in capsys.readouterr().err
