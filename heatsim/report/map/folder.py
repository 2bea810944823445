# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of a map: report.html, the picture and results.json."""

from __future__ import annotations

from pathlib import Path

from heatsim.report.base.page import Shown
from heatsim.report.base.plain import json_file, write_files
from heatsim.report.map.page import CAPTION, TITLE, render_page
from heatsim.report.map.words import sentences
from heatsim.studies.map import MapResult


def plain(result: MapResult) -> dict[str, object]:
    """Plain data for results.json with the answer in words."""
    return result.as_dict() | {"sentences": list(sentences(result))}


def write_folder(result: MapResult, out: Path) -> list[Path]:
    """Write page, picture and results.json, and return the files, the page first. Raises OutputError."""
    from heatsim.report.base.pictures import files
    from heatsim.report.map.picture import figure
    from heatsim.report.map.zoomed import zoomed

    picture = files(figure(result), "map", TITLE)
    page = render_page(result, Shown.of(picture, TITLE, CAPTION), zoomed(result))
    return write_files(out, {"report.html": page} | picture | {"results.json": json_file(plain(result))})
