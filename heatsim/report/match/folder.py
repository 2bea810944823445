# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of a match: page, pictures, fitted scenario, results.json."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from heatsim.report.base.page import Shown, template
from heatsim.report.base.plain import json_file, write_files
from heatsim.report.base.zoom import HOW, script
from heatsim.report.match import beside, words, zoomed
from heatsim.studies.match import NONE_OF_THESE, NOTHING, MatchResult

PICTURE = (
    "Above, the capture should lie on the best fit. It leaves the scenario where something is wrong. In the middle is the "
    "same less the scenario: the dots should follow the area. Below is what neither explains: it should stay within the grey band."
)
"""What one should see in the picture of a record."""


def plain(result: MatchResult) -> dict[str, Any]:
    """Plain data for results.json with the answer in words."""
    return result.as_dict() | {"answer": words.answer(result)}


def tone(result: MatchResult) -> str:
    """Colour of the answer on the page: holds for nothing wrong, fails for a cause, unknown where it is open."""
    if result.best.cause == NOTHING and result.clearly_first:
        return "holds"
    return "fails" if result.decided and result.best.cause != NONE_OF_THESE else "unknown"


def write_folder(result: MatchResult, out: Path) -> list[Path]:
    """Write the folder and return its files, the page first. Pictures of an earlier match that this one does not make are removed.

    Raises OutputError when it cannot be written.
    """
    from heatsim.report.base.pictures import files
    from heatsim.report.match.picture import evidence, overlay

    content: dict[str, str | bytes] = {}
    shown, figures = [], []
    for record in sorted({trace.record for trace in result.traces}):
        stem, title = "match" if len(result.records) == 1 else f"match-{record + 1}", f"Capture {record + 1} and its best fit"
        pair = files(overlay(result, record), stem, title)
        content |= pair
        shown.append(Shown.of(pair, title, PICTURE))
        figures.append(zoomed.overlay(result, record))
    bars = files(evidence(result), "evidence", "Probability of each cause")
    told = {
        "result": result,
        "words": words,
        "beside": beside,
        "tone": tone(result),
        "pictures": shown,
        "figures": figures,
        "head": script() if figures else "",
        "how": HOW,
        "evidence": Shown.of(bars, "Evidence"),
    }
    page = template("match.html").render(**told, single=len({trace.signal for trace in result.traces}) == 1)
    content |= {"evidence.png": bars["evidence.png"], "fitted.toml": result.fitted, "results.json": json_file(plain(result))}
    stale = [path for path in (*out.glob("match.*"), *out.glob("match-*.*")) if path.suffix in (".png", ".svg")]
    return write_files(out, {"index.html": page} | content, stale)
