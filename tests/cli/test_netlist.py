# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim netlist`: what it writes, where, and that plain ngspice runs it."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from heatsim.cli import main
from tests.cli.conftest import QUICK


def test_netlist_to_standard_output_runs_under_plain_ngspice(sound, tmp_path, capsys) -> None:
    assert main(["netlist", sound, *QUICK]) == 0
    (tmp_path / "x.cir").write_text(capsys.readouterr().out)
    out = subprocess.run(["ngspice", "-b", "x.cir"], capture_output=True, text=True, timeout=60, cwd=tmp_path).stdout
    found = {
        line.split("=")[0].strip(): float(line.split("=")[1].split()[0])
        for line in out.splitlines()
        if line.startswith(("tank_", "drain_", "choke_", "supply_"))
    }
    assert found["tank_frequency_hz"] == pytest.approx(87.0e3, rel=0.01)
    assert found["drain_left_peak_v"] == pytest.approx(130, rel=0.02)


def test_netlists_of_every_case_go_to_a_folder(sound, tmp_path, capsys) -> None:
    assert main(["netlist", sound, "--out", str(tmp_path / "decks")]) == 0
    paths = [str(tmp_path / "decks" / f"{case}.cir") for case in ("idle", "loaded")]
    assert capsys.readouterr().out.split() == sorted(map(str, (tmp_path / "decks").iterdir())) == paths


def test_netlists_as_json(sound, capsys) -> None:
    assert main(["netlist", sound, "--json", "-"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "heatsim.netlist/1" and list(told["netlists"]) == ["idle", "loaded"]


def test_several_netlists_need_a_folder(sound, capsys) -> None:
    assert main(["netlist", sound]) == 2
    assert "--out: is needed to write more than one case; given idle, loaded" in capsys.readouterr().err


def test_the_circuit_is_drawn_beside_the_netlist_without_a_simulation(sound, tmp_path, capsys) -> None:
    assert main(["netlist", sound, "--case", "loaded", "--picture", "--out", str(tmp_path)]) == 0
    assert [Path(line).name for line in capsys.readouterr().out.split()] == [
        "loaded.cir",
        "loaded-circuit.svg",
        "loaded-circuit.png",
    ]
    assert "work coil 1.77 µH" in (tmp_path / "loaded-circuit.svg").read_text(encoding="utf-8")


def test_a_picture_needs_a_folder(sound, capsys) -> None:
    assert main(["netlist", sound, "--case", "loaded", "--picture"]) == 2
    assert "--picture: needs a folder to write to" in capsys.readouterr().err
