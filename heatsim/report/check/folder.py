# SPDX-License-Identifier: GPL-3.0-or-later
"""The report folder: everything about a check on disk, each file complete or not there at all.

results.json                  keys as documented, SI units
report.html                   the page
CASE-netlist.cir              as it ran, for plain ngspice
CASE-waveforms.npz            the whole run
CASE-last-periods.csv         every signal over the last few periods
CASE-PICTURE.svg, .png        each picture
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from heatsim.report.base.plain import as_json, write_whole
from heatsim.report.check.page import Shown, render_page
from heatsim.studies.check import CaseResult, CheckResult

CSV_PERIODS = 6
"""Periods in the CSV file."""

NETLIST, WAVEFORMS, LAST_PERIODS = "netlist.cir", "waveforms.npz", "last-periods.csv"


def write_folder(result: CheckResult, out: Path, progress: Callable[[str], None] | None = None) -> list[Path]:
    """Write the folder (made if need be) and return its files in the order written; the page comes last.

    progress: told in a few words what is being done. Files of the same cases left by an earlier run that this one does
    not write are removed, so that no old picture stands beside new numbers. Raises OSError when it cannot be written.
    """
    tell = progress or (lambda _: None)
    out.mkdir(parents=True, exist_ok=True)
    written = [write_whole(out / "results.json", (as_json(result.as_dict()) + "\n").encode())]
    with ThreadPoolExecutor(1) as pool:  # compressing lets go of the interpreter: it runs beside the drawing
        records = [pool.submit(_record, case, out) for case in result.cases]
        pictures: dict[str, list[Shown]] = {}
        for case in result.cases:
            tell(f"drawing case {case.name}")
            pictures[case.name] = []
            for shown, paths in _draw(case, out):
                pictures[case.name].append(shown)
                written += paths
        tell("writing the report")
        for record in records:
            written += record.result()
    written.append(write_whole(out / "report.html", render_page(result, pictures).encode()))
    _remove_stale(result, out, written)
    return written


def stem(case: CaseResult) -> str:
    """Start of a case's file names."""
    return re.sub(r"[^A-Za-z0-9_-]", "_", case.name)


def _record(case: CaseResult, out: Path) -> list[Path]:
    """Netlist and waveforms of a case."""
    from heatsim.report.check.figures import last_periods

    written = [write_whole(out / f"{stem(case)}-{NETLIST}", case.deck.text.encode())]
    last = last_periods(case, CSV_PERIODS)
    if case.waveforms is not None and last is not None:
        whole, tail = out / f"{stem(case)}-{WAVEFORMS}", out / f"{stem(case)}-{LAST_PERIODS}"
        case.waveforms.save_npz(whole)
        last.save_csv(tail)
        written += [whole, tail]
    return written


def _draw(case: CaseResult, out: Path) -> Iterator[tuple[Shown, list[Path]]]:
    """Every picture of a case: for the page, and its files."""
    from heatsim.report.check.figures import Scene, as_png, as_svg, figure, pictures
    from heatsim.report.check.page import inline

    scene = Scene(case)
    for picture in pictures(case):
        fig = figure(scene, picture)
        svg = as_svg(fig, picture.title)
        base = out / f"{stem(case)}-{picture.name}"
        paths = [write_whole(base.with_suffix(".svg"), svg.encode()), write_whole(base.with_suffix(".png"), as_png(fig))]
        yield Shown(picture.title, picture.caption, inline(svg)), paths


def _remove_stale(result: CheckResult, out: Path, written: list[Path]) -> None:
    """Take away what an earlier run left of these cases; only names this module itself gives."""
    from heatsim.report.check.figures import PICTURES

    names = [NETLIST, WAVEFORMS, LAST_PERIODS, *(f"{p.name}.{kind}" for p in PICTURES for kind in ("svg", "png"))]
    for case in result.cases:
        for path in (out / f"{stem(case)}-{name}" for name in names):
            if path not in written:
                path.unlink(missing_ok=True)
