# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of a moved piece: pull.html, results.json, and a picture of each way as SVG and PNG."""

from __future__ import annotations

from pathlib import Path

from heatsim.report.base.page import Shown, template
from heatsim.report.base.plain import json_file, write_files
from heatsim.report.base.sheet import simulated
from heatsim.report.heat.pull import words
from heatsim.report.heat.words import CAUTIONS
from heatsim.studies.heat.pull import PullResult

NO_PROOF = (
    "A simulation is no proof. Turn the supply down before a piece is moved, start at a low voltage with a current limit, measure, "
    "and stop when the numbers differ."
)
"""Before the cautions."""

STEMS = {True: "piece-leaves", False: "piece-goes-in"}
"""Names of the pictures' files, by whether the piece leaves."""


def write_pull(result: PullResult, out: Path) -> list[Path]:
    """Write the folder and return its files, the page first. Raises OutputError when it cannot be written."""
    from heatsim.report.base.pictures import files
    from heatsim.report.heat.pull import picture

    pictures: dict[str, str | bytes] = {}
    shown = {}
    for moved in (result.leaves, result.enters):
        content = files(picture.figure(moved), STEMS[moved.leaves], words.WAYS[moved.leaves])
        pictures |= content
        shown[moved.leaves] = Shown.of(content, words.WAYS[moved.leaves], picture.CAPTION)
    page = render(result, shown)
    return write_files(out, {"pull.html": page, "results.json": json_file(result.as_dict())} | pictures)


def render(result: PullResult, shown: dict[bool, Shown]) -> str:
    """The page; shown: the pictures, by whether the piece leaves."""
    file = result.scenario.label.rsplit("/", 1)[-1]
    return template("pull.html").render(
        result=result,
        words=words,
        ways=[(moved, shown[moved.leaves]) for moved in (result.leaves, result.enters)],
        caution=NO_PROOF,
        cautions=CAUTIONS,
        simulated=simulated(result.scenario.label),
        file=file,
    )
