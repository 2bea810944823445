# SPDX-License-Identifier: GPL-3.0-or-later
"""report.html of a heat: verdict first, then the answers, pictures, what happens when, every limit, and what it all rests on."""

from __future__ import annotations

from heatsim.report.base.page import Shown, template
from heatsim.report.base.sheet import NO_PROOF, simulated
from heatsim.report.base.words import BASES
from heatsim.report.base.zoom import HOW, script
from heatsim.report.heat import origins, words
from heatsim.studies.heat import HeatResult


def render_page(result: HeatResult, course: Shown, piece: Shown, parts: Shown, zoomed: str = "", caption: str = "") -> str:
    """The page. All texts are escaped but SVG and figures, which are ours. zoomed: figure shown instead of the course where scripts
    run; caption: under it.
    """
    rows, file = words.lines(result), result.scenario.label.rsplit("/", 1)[-1]
    return template("heat.html").render(
        result=result,
        words=words,
        course=course,
        zoomed=zoomed,
        zoomed_caption=caption,
        head=script() if zoomed else "",
        how=HOW,
        piece=piece,
        parts=parts,
        rows=rows,
        short=[line for line in rows if line.watched.grade != "holds" and (line.watched.worst.cause or line.watched.worst.remedy)],
        compared=words.confirmed_measures(result),
        material=origins.material_rows(result),
        bases=origins.limit_rows(result),
        BASES=BASES,
        caution=NO_PROOF,
        cautions=words.CAUTIONS,
        simulated=simulated(result.scenario.label),
        file=file,
    )
