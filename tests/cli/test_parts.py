# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim parts`: words, options, JSON and exit codes."""

from __future__ import annotations

import json

import pytest

from heatsim.cli import main
from tests.support import commands


def test_what_has_all_words_is_listed(capsys) -> None:
    assert main(["parts", "fe-si-al", "60"]) == 0
    out, err = capsys.readouterr()
    assert "fe-si-al-60" in out and "fe-si-al-125" not in out and "Known from" in out and err == ""


def test_a_ring_on_the_bench_is_found_by_its_size(capsys) -> None:
    assert main(["parts", "--near", '1 9/16 x 15/16 x 9/16 "', "powder"]) == 0
    first = next(line for line in capsys.readouterr().out.splitlines() if "powder-" in line)
    assert "powder-39.9x24.1x14.5" in first and "1.1 %" in first


def test_nothing_found_is_1_and_says_what_there_is(capsys) -> None:
    assert main(["parts", "unobtainium"]) == 1
    out, err = capsys.readouterr()
    assert "No part has the word unobtainium" in out and "--kind rings" in out and err == ""


def test_json_on_standard_output_is_nothing_but_json(capsys) -> None:
    assert main(["parts", "--kind", "wire", "14", "--json", "-"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [each["name"] for each in told["parts"]] == ["AWG 14"] and told["held"]["wire"] == 44
    assert main(["parts", "unobtainium", "--json", "-"]) == 1
    assert json.loads(capsys.readouterr().out)["parts"] == []


def test_quiet_prints_nothing(tmp_path, capsys) -> None:
    assert main(["parts", "--quiet", "--json", str(tmp_path / "parts.json")]) == 0
    assert capsys.readouterr() == ("", "") and json.loads((tmp_path / "parts.json").read_text())["schema"] == "heatsim.parts/1"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--near", "40 x 24 mm"], ["--near: is not a ring's size", "outer x inner diameter x height"]),
        (["--near", "40 x 24 x 14.5"], ["--near: has no unit"]),
        (["--near", "40 x 24 x 14.5 mm", "--kind", "wire"], ["--near: is for rings", "--kind rings"]),
        (["--kind", "core\x1b[31m"], ["--kind: is no kind of parts", "rings, materials, metals, wire, devices, capacitors, pads"]),
        (["--catalogue", "none.toml"], ["none.toml", "a catalogue file in TOML"]),
        (["--catalogue", "wrong.toml"], ["wrong.toml:2: ring.a.height", '"3/8 in"']),
    ],
)
def test_bad_input_is_2_with_one_message(arguments, words, tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    good = 'outer_diameter = "2 in"\ninner_diameter = "1 in"\npath_rule = "iec"\nprovenance = "measured"\nsource = "x"\n'
    (tmp_path / "wrong.toml").write_text(f"[ring.a]\nheight = 3\n{good}")
    assert main(["parts", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == "" and len(err.splitlines()) == 1 and err.startswith("heatsim: ") and "\x1b" not in err
    assert all(word in err for word in words)


def test_what_cannot_be_printed_is_3(tmp_path) -> None:
    with open("/dev/full", "w") as full:
        done = commands.heatsim("parts", "--kind", "pads", cwd=tmp_path, stdout=full)
    assert done.returncode == 3 and "cannot be written" in done.stderr and "Traceback" not in done.stderr
