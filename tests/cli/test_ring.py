# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim ring`: words, folder and JSON."""

from __future__ import annotations

import json

import pytest

from heatsim.cli import main

pytestmark = pytest.mark.usefixtures("remembered")


def test_a_ring_is_told_and_left_in_files_for_other_commands(ring, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["ring", ring]) == 0
    told = capsys.readouterr().out
    assert "Relative permeability" in told and "fe-si-al-60" in told and "report.html, and 5 more beside it" in told
    names = {path.name for path in (tmp_path / "results" / "unknown-ring").iterdir()}
    assert names == {"report.html", "results.json", "material.toml", "choke.toml", "ring.png", "ring.svg"}


def test_json_on_standard_output_is_nothing_but_json(ring, tmp_path, capsys) -> None:
    assert main(["ring", ring, "--json", "-", "--out", str(tmp_path)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told == json.loads((tmp_path / "results.json").read_text())
    assert told["schema"] == "heatsim.ring/1" and told["path_rule"] == "logarithmic"


def test_quiet_prints_nothing(ring, tmp_path, capsys) -> None:
    assert main(["ring", ring, "--out", str(tmp_path), "--quiet"]) == 0
    assert capsys.readouterr() == ("", "")


def test_bad_input_exits_with_2(ring, tmp_path, capsys) -> None:
    assert main(["ring", "nowhere.toml", "--out", str(tmp_path)]) == 2
    assert main(["ring", ring, ring, "--out", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert "nowhere.toml" in told and "has no samples" in told
