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
    assert "Relative permeability" in told and "report.html, and 5 more beside it" in told
    names = {path.name for path in (tmp_path / "results" / "unknown-ring").iterdir()}
    assert {"report.html", "material.toml", "choke.toml", "results.json", "ring.png"} <= names


def test_json_on_standard_output_is_nothing_but_json(ring, tmp_path, capsys) -> None:
    assert main(["ring", ring, "--json", "-", "--out", str(tmp_path)]) == 0
    assert json.loads(capsys.readouterr().out) == json.loads((tmp_path / "results.json").read_text())
