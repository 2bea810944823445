# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of an identified ring: files other commands read, the picture, results.json."""

from __future__ import annotations

from pathlib import Path

from heatsim.report.base.plain import json_file, write_files
from heatsim.studies.ring import RingResult, choke_toml, material_toml


def write_folder(result: RingResult, out: Path) -> list[Path]:
    """Write the folder and return its files; each is complete or not there. Raises OutputError when it cannot be written."""
    from heatsim.report.base.pictures import files
    from heatsim.report.ring.picture import draw

    content: dict[str, str | bytes] = {"material.toml": material_toml(result), "choke.toml": choke_toml(result)}
    content["results.json"] = json_file(result.as_dict())
    return write_files(out, content | files(draw(result), "ring", "Inductance against current"))
