# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of a map: the picture and results.json."""

from __future__ import annotations

from pathlib import Path

from heatsim.report.base.plain import json_file, write_files
from heatsim.report.map.words import sentences
from heatsim.studies.map import MapResult


def plain(result: MapResult) -> dict[str, object]:
    """Plain data for results.json with the answer in words."""
    return result.as_dict() | {"sentences": list(sentences(result))}


def write_folder(result: MapResult, out: Path) -> list[Path]:
    """Write the picture and results.json, and return the files. Raises OutputError when they cannot be written."""
    from heatsim.report.base.pictures import files
    from heatsim.report.map.picture import figure

    return write_files(out, files(figure(result), "map", "Operating map") | {"results.json": json_file(plain(result))})
