# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of a tolerance study: report.html, the picture and results.json."""

from __future__ import annotations

from pathlib import Path

from heatsim.report.base.page import Shown
from heatsim.report.base.plain import json_file, write_files
from heatsim.report.tolerance.page import CAPTION, TITLE, render_page
from heatsim.report.tolerance.words import sentences
from heatsim.studies.tolerance import ToleranceResult


def plain(result: ToleranceResult) -> dict[str, object]:
    """Plain data for results.json with the answer in words."""
    return result.as_dict() | {"sentences": list(sentences(result))}


def write_folder(result: ToleranceResult, out: Path) -> list[Path]:
    """Write page, picture and results.json, and return the files, the page first. Raises OutputError."""
    from heatsim.report.base.pictures import files
    from heatsim.report.tolerance.picture import figure

    picture = files(figure(result), "tolerance", "Tolerances")
    page = render_page(result, Shown.of(picture, TITLE, CAPTION))
    return write_files(out, {"report.html": page} | picture | {"results.json": json_file(plain(result))})
