# SPDX-License-Identifier: GPL-3.0-or-later
"""What a sweep leaves beside its store: report.html, and the picture as SVG and PNG where it is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from heatsim.report.base.page import Shown
from heatsim.report.base.pictures import files
from heatsim.report.base.plain import write_files
from heatsim.report.base.sheet import Picture
from heatsim.report.sweep.page import CAPTIONS, render_page
from heatsim.report.sweep.pictures import draw, kind
from heatsim.report.sweep.view import SweepView
from heatsim.report.sweep.zoomed import zoomed
from heatsim.studies.store import Store

BESIDE = {
    True: "the picture as SVG and PNG; {store}: every point with all its measures",
    False: "{store}: every point with all its measures; with --plot the picture as SVG and PNG",
}
"""Files beside the page, by whether the picture is one."""


def write_folder(store: Store, path: Path, number: int, out: Path, outputs: Sequence[str] = (), plot: bool = False) -> list[Path]:
    """Write the page of a sweep as it stands, finished or not, and return the files, the page first. Raises OutputError.

    path: of the store, to be told; number: of the sweep; outputs: drawn instead of the usual ones; plot: write the picture too
    """
    (info,) = [told for told in store.sweeps() if told.number == number]
    frame, stem = store.frame(number), f"sweep-{number}"
    figure = draw(info.plan, frame, outputs)
    drawn = files(figure, stem, "Sweep", png=plot)
    view = SweepView(info.plan, frame)
    shown = Shown.of(drawn, "The sweep", CAPTIONS[kind(view)])
    picture = Picture.of(shown, "The tables below hold its numbers", zoomed=zoomed(view, outputs))
    page = render_page(info, frame, (picture,), BESIDE[plot].format(store=path.name))
    return write_files(out, {"report.html": page} | (drawn if plot else {}))
