# SPDX-License-Identifier: GPL-3.0-or-later
"""The report folder: everything about a check on disk, each file complete or not there at all.

report.html                   the page
results.json                  keys as documented, SI units
CASE-netlist.cir              as it ran, for plain ngspice
CASE-waveforms.npz            the whole run
CASE-last-periods.csv         every signal over the last few periods
CASE-PICTURE.svg, .png        each picture
device-CURVE.svg, .png        the MOSFET's curves, of the first case
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from heatsim.files import write_whole
from heatsim.report.base.page import Shown
from heatsim.report.base.plain import json_file, remove_files, write_files
from heatsim.report.check.page import render_page
from heatsim.studies.check import CaseResult, CheckResult
from heatsim.studies.remedy import Remedies

CSV_PERIODS = 6
"""Periods in the CSV file."""

NETLIST, WAVEFORMS, LAST_PERIODS = "netlist.cir", "waveforms.npz", "last-periods.csv"


def write_folder(
    result: CheckResult, out: Path, progress: Callable[[str], None] | None = None, remedies: Remedies | None = None
) -> list[Path]:
    """Write the folder (made if need be) and return its files, the page first; it is written last.

    remedies: of a search
    progress: called with a few words on what is being done. Files of the same cases left by an earlier run that this one does
    not write are removed, so that no old picture stands beside new numbers. Raises OutputError when it cannot be written.
    """
    tell = progress or (lambda _: None)
    written = write_files(out, {"results.json": json_file(whole_dict(result, remedies))})
    with ThreadPoolExecutor(1) as pool:  # compressing lets go of the interpreter: it runs beside the drawing
        records = [pool.submit(_record, case, out) for case in result.cases]
        pictures: dict[str, list[Shown]] = {}
        for case in result.cases:
            tell(f"drawing case {case.name}")
            drawn = list(_draw(case, out))
            pictures[case.name] = [shown for shown, _ in drawn]
            written += [path for _, paths in drawn for path in paths]
        device = list(_draw_device(result.cases[0], out))
        written += [path for _, paths in device for path in paths]
        tell("writing the report")
        for record in records:
            written += record.result()
    written = [write_whole(out / "report.html", render_page(result, pictures, remedies, [shown for shown, _ in device])), *written]
    remove_files(set(_own(result, out)) - set(written))
    return written


def whole_dict(result: CheckResult, remedies: Remedies | None) -> dict[str, Any]:
    """Plain data of a check and of the search for remedies; None where there was none."""
    return result.as_dict() | {"remedies": None if remedies is None else remedies.as_dict()}


def stem(case: CaseResult) -> str:
    """Start of a case's file names."""
    return re.sub(r"[^A-Za-z0-9_-]", "_", case.name)


def _record(case: CaseResult, out: Path) -> list[Path]:
    """Netlist and waveforms of a case."""
    from heatsim.report.check.figures import last_periods

    written = [write_whole(out / f"{stem(case)}-{NETLIST}", case.deck.text)]
    last = last_periods(case, CSV_PERIODS)
    if case.waveforms is not None and last is not None:
        whole, tail = out / f"{stem(case)}-{WAVEFORMS}", out / f"{stem(case)}-{LAST_PERIODS}"
        case.waveforms.save_npz(whole)
        last.save_csv(tail)
        written += [whole, tail]
    return written


def _draw(case: CaseResult, out: Path) -> Iterator[tuple[Shown, list[Path]]]:
    """Every picture of a case: for the page, and its files."""
    from heatsim.report.base.pictures import files
    from heatsim.report.check.figures import Scene, figure, pictures

    scene = Scene(case)
    for picture in pictures(case):
        content = files(figure(scene, picture), f"{stem(case)}-{picture.name}", picture.title)
        yield Shown.of(content, picture.title, picture.caption), write_files(out, content)


def _draw_device(case: CaseResult, out: Path) -> Iterator[tuple[Shown, list[Path]]]:
    """The curves of the switches' model: for the page, and their files."""
    from heatsim.report.base.pictures import files
    from heatsim.report.check.device import device_figures

    for name, title, caption, fig in device_figures(case.heater.switch):
        content = files(fig, name, title)
        yield Shown.of(content, title, caption), write_files(out, content)


def _own(result: CheckResult, out: Path) -> Iterator[Path]:
    """Every file that a check of these cases may write."""
    from heatsim.report.check.device import PICTURES as OF_DEVICE
    from heatsim.report.check.figures import PICTURES

    yield from (out / f"{name}.{ending}" for name, *_ in OF_DEVICE for ending in ("svg", "png"))
    pictures = (f"{picture.name}.{ending}" for picture in PICTURES for ending in ("svg", "png"))
    names = (NETLIST, WAVEFORMS, LAST_PERIODS, *pictures)
    yield from (out / f"{stem(case)}-{name}" for case in result.cases for name in names)
