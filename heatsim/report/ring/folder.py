# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of an identified ring: report.html, files other commands read, the picture, results.json."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from heatsim.report.base.page import Shown, inline
from heatsim.report.base.plain import json_file, write_files
from heatsim.report.base.sheet import Picture
from heatsim.report.ring.page import CAPTION, RAMP_CAPTION, render_page
from heatsim.report.ring.terminal import sentence
from heatsim.studies.ring import RingResult, choke_toml, material_toml


def write_folder(result: RingResult, out: Path) -> list[Path]:
    """Write the folder and return its files, the page first; each is complete or not there. Raises OutputError."""
    from heatsim.report.base.pictures import files
    from heatsim.report.ring.picture import TITLE, draw

    picture = files(draw(result), "ring", TITLE)
    page = render_page(result, tuple(_pictures(result)))
    content: dict[str, str | bytes] = {
        "report.html": page,
        "material.toml": material_toml(result),
        "choke.toml": choke_toml(result),
    }
    return write_files(out, content | {"results.json": json_file(result.as_dict())} | picture)


def _pictures(result: RingResult) -> Iterator[Picture]:
    """The pictures of the page: the curve, which can be zoomed, and the ramp."""
    from heatsim.report.base.pictures import as_svg
    from heatsim.report.ring.picture import RAMP_TITLE, TITLE, inductance_figure, ramp_figure
    from heatsim.report.ring.zoomed import zoomed

    curve = Shown(TITLE, CAPTION, inline(as_svg(inductance_figure(result), TITLE)))
    yield Picture.of(curve, sentence(result), "38rem", zoomed(result))
    if result.data.ramp:
        ramp = Shown(RAMP_TITLE, RAMP_CAPTION, inline(as_svg(ramp_figure(result), RAMP_TITLE)))
        yield Picture.of(ramp, least="38rem")
