# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim explain`: names of one word or several, the list, JSON, and names that are not known."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from heatsim.cli import main


def test_a_limit_of_two_words_is_explained(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "drain", "voltage"]) == 0
    told = capsys.readouterr()
    assert told.out.startswith("Drain voltage [V]\n") and "pi times the supply" in told.out and not told.err
    assert main(["explain", "drain voltage"]) == 0
    assert capsys.readouterr().out == told.out


def test_without_a_name_all_topics_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Verdict, grades and outcomes\n") and "  thd " in out and "  latched\n" in out


def test_an_unknown_name_exits_with_2_and_tells_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "choke", "temprature"]) == 2
    told = capsys.readouterr()
    assert told.out == "" and told.err.startswith("heatsim: explain: there is no such topic; given 'choke temprature'")
    assert "choke temperature" in told.err and told.err.rstrip().endswith("or see the list: heatsim explain")


def test_json_goes_to_standard_output_or_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "choke.left.ripple_current_a", "--json", "-"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["schema"] == "heatsim.explain/1" and [each["id"] for each in data["topics"]] == ["choke-ripple-current"]
    assert main(["explain", "--json", str(tmp_path / "all.json"), "--quiet"]) == 0
    assert capsys.readouterr().out == ""
    assert len(json.loads((tmp_path / "all.json").read_text(encoding="utf-8"))["topics"]) > 90


@pytest.mark.parametrize(
    "asked",
    [
        "coil cooling is not judged",
        "The coil's cooling is not judged: give [coil.cooling].",
        "The workpiece is judged at 20 °C only. While it heats up it can load the heater more, most of all just below 770 °C",
    ],
)
def test_a_warning_is_explained_by_its_words(asked: str, capsys: pytest.CaptureFixture[str]) -> None:
    """As it was printed, or by some words of it."""
    assert main(["explain", *asked.split()]) == 0
    out = capsys.readouterr().out
    assert "What it means" in out and "What to do" in out and "](" not in out and "`" not in out
    assert main(["explain", asked, "--json", "-"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["topics"] == [] and len(data["warnings"]) >= 1


def test_every_warning_is_found_by_its_own_words() -> None:
    from heatsim.report.base.advice import advice, warnings_with

    assert len(advice()) > 20
    for each in advice():
        assert each in warnings_with(each.says.replace("…", "42 V"))
    assert warnings_with("the") == () and warnings_with("no such words at all in it") == ()
