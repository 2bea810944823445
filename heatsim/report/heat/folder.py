# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of a heat, beside the simulated states: report.html, results.json, heat.csv (every series against time), and each
picture as SVG and PNG.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np

from heatsim.report.base.page import Shown
from heatsim.report.base.plain import json_file, write_files
from heatsim.report.heat import origins
from heatsim.report.heat.page import render_page
from heatsim.studies.heat import HeatResult

DIGITS = 7
"""Significant digits in heat.csv."""


def write_folder(result: HeatResult, out: Path) -> list[Path]:
    """Write the folder and return its files, the page first. Raises OutputError when it cannot be written."""
    from heatsim.report.base.pictures import files
    from heatsim.report.heat import parts_picture, picture, piece_picture, zoomed

    curie = origins.curie(result)
    drawn = (
        ("heat", picture.figure(result, curie), picture.TITLE, picture.caption(result, curie)),
        ("piece", piece_picture.figure(result), piece_picture.TITLE, piece_picture.CAPTION),
        ("parts", parts_picture.figure(result), parts_picture.TITLE, parts_picture.CAPTION),
    )
    pictures: dict[str, str | bytes] = {}
    shown = []
    for stem, figure, title, caption in drawn:
        content = files(figure, stem, title)
        pictures |= content
        shown.append(Shown.of(content, title, caption))
    told = picture.caption(result, curie, "upright line")
    page = render_page(result, shown[0], shown[1], shown[2], zoomed.course(result, curie), told)
    return write_files(
        out, {"report.html": page, "results.json": json_file(result.as_dict()), "heat.csv": as_csv(result)} | pictures
    )


def as_csv(result: HeatResult) -> str:
    """Every series, one row an instant; a cell is empty where a value is not known."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(result.series)
    for row in zip(*result.series.values(), strict=True):
        table.writerow(f"{value:.{DIGITS}g}" if np.isfinite(value) else "" for value in row)
    return out.getvalue()
