# SPDX-License-Identifier: GPL-3.0-or-later
"""The report folder: everything about a check on disk, each file complete or not there at all.

report.html                   the page
results.json                  keys as documented, SI units
CASE-netlist.cir              as it ran, for plain ngspice
CASE-waveforms.npz            the whole run
CASE-last-periods.csv         every signal over the last few periods
CASE-PICTURE.svg              each picture
CASE-circuit.svg              the circuit with its values, what each part carries and which fail
device-CURVE.svg              the MOSFET's curves, of the first case
*.png                         each of the pictures once more, where that is asked for: it takes twice as long as all the rest
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim.files import write_whole
from heatsim.parts.heater import Heater
from heatsim.parts.switch import Switch
from heatsim.report.base.aside import Aside
from heatsim.report.base.page import Shown, template
from heatsim.report.base.plain import json_file, remove_files, write_files
from heatsim.report.base.split_off import side_by_side
from heatsim.report.check import zoomed
from heatsim.report.check.page import render_page
from heatsim.report.check.zoomed import Zoomed
from heatsim.report.circuit import circuit_picture, lay_out
from heatsim.studies.check import CaseResult, CheckResult
from heatsim.studies.remedy import Remedies

if TYPE_CHECKING:
    from matplotlib.figure import Figure

CSV_PERIODS = 6
"""Periods in the CSV file."""

TEMPLATES = ("base.html", "report.html", "circuit.css", "circuit.html", "cautions.html")
"""Of the page."""

NETLIST, WAVEFORMS, LAST_PERIODS, CIRCUIT = "netlist.cir", "waveforms.npz", "last-periods.csv", "circuit"


def write_folder(
    result: CheckResult,
    out: Path,
    progress: Callable[[str], None] | None = None,
    remedies: Remedies | None = None,
    png: bool = False,
    aside: Aside | None = None,
) -> list[Path]:
    """Write the folder (made if need be) and return its files, the page first; it is written last.

    remedies: of a search; png: also write each picture as PNG; aside: a process that draws pictures, once `load_pictures` is done
    progress: called with a few words on what is being done. Files of the same cases left by an earlier run that this one does
    not write are removed, so that no old picture stands beside new numbers. Raises OutputError when it cannot be written.
    """
    tell = progress or (lambda _: None)
    written = write_files(out, {"results.json": json_file(whole_dict(result, remedies))})
    tell("drawing")
    *by_case, circuits, (together,), device = _everything(result, out, png, aside)
    tell("writing the report")
    pictures = {case.name: _shown(group) for case, group in zip(result.cases, by_case, strict=True)}
    figures = {case.name: [each.zoomed for each in group if each.zoomed] for case, group in zip(result.cases, by_case, strict=True)}
    page = render_page(result, pictures, remedies, _shown(device), _shown(circuits), figures, together.zoomed)
    written += [path for group in (*by_case, circuits, device) for each in group for path in each.paths]
    written = [write_whole(out / "report.html", page), *written]
    remove_files(set(_own(result, out)) - set(written))
    return written


def load(heater: Heater) -> None:
    """Load what draws, and draw what needs no results, which takes half a second, when there is nothing better to do."""
    load_page(heater)
    load_pictures(heater.switch)


@lru_cache(maxsize=4)
def load_pictures(switch: Switch) -> None:
    """Load matplotlib, and draw a first picture, which takes more than those after it, and the MOSFET's curves."""
    from heatsim.report.base.pictures import as_svg
    from heatsim.report.check.figures import figure_of

    as_svg(figure_of(lambda ax: ax.set_title("first")), "first")
    _device_pictures(switch)


def load_page(heater: Heater) -> None:
    """Load what writes the page and draws circuits."""
    for name in TEMPLATES:
        template(name)
    lay_out(heater)


def whole_dict(result: CheckResult, remedies: Remedies | None) -> dict[str, Any]:
    """Plain data of a check and of the search for remedies; None where there was none."""
    return result.as_dict() | {"remedies": None if remedies is None else remedies.as_dict()}


def stem(case: CaseResult) -> str:
    """Start of a case's file names."""
    return re.sub(r"[^A-Za-z0-9_-]", "_", case.name)


@dataclass(frozen=True)
class _Made:
    """Files written, and what of them is for the page."""

    paths: list[Path]
    shown: Sequence[Shown] = ()
    zoomed: Zoomed | None = None


Job = Callable[[], _Made]


def _everything(result: CheckResult, out: Path, png: bool, aside: Aside | None) -> list[list[_Made]]:
    """Everything but the page: of each case, the circuits, the cases over one another, and the MOSFET's curves."""
    if aside is None or not aside.here:
        load(result.cases[0].heater)
        done = _grouped([*_records(result, out, png), *_pictures(result, out, png)], side_by_side)
        records, pictures = done[: len(result.cases) + 2], done[len(result.cases) + 2 :]
    else:
        aside.begin(_drawn, result, out, png)
        records = _grouped(_records(result, out, png), lambda jobs: [job() for job in jobs])
        try:
            pictures = aside.answer()
        except EOFError:
            pictures = _drawn(result, out, png)
    *by_case, circuits, together = records
    *drawn, device = pictures
    return [*(own + more for own, more in zip(by_case, drawn, strict=True)), circuits, together, device]


def _grouped(groups: Sequence[Sequence[Job]], do: Callable[[Sequence[Job]], list[_Made]]) -> list[list[_Made]]:
    """What jobs return, in their groups."""
    made = iter(do([job for group in groups for job in group]))
    return [[next(made) for _ in group] for group in groups]


def _drawn(result: CheckResult, out: Path, png: bool) -> list[list[_Made]]:
    """Pictures of each case, and the MOSFET's curves."""
    return _grouped(_pictures(result, out, png), side_by_side)


def _records(result: CheckResult, out: Path, png: bool) -> list[list[Job]]:
    """What writes netlist and waveforms of each case and its figures that can be zoomed; circuits; the cases over one another."""
    figures = zoomed.of_case(len(result.cases))
    cases: list[list[Job]] = [
        [partial(_record, case, out), *(partial(_zoomed, draw, case) for draw in figures)] for case in result.cases
    ]
    circuits: list[Job] = [partial(_circuit, case, out, png) for case in result.cases]
    return [*cases, circuits, [partial(_zoomed, zoomed.over_one_another, result.cases)]]


def _pictures(result: CheckResult, out: Path, png: bool) -> list[list[Job]]:
    """What draws the pictures of each case, and the MOSFET's curves."""
    return [*(list(_of_case(case, out, png)) for case in result.cases), [partial(_device, result.cases[0], out, png)]]


def _shown(group: Sequence[_Made]) -> list[Shown]:
    return [shown for each in group for shown in each.shown]


def _of_case(case: CaseResult, out: Path, png: bool) -> Iterator[Job]:
    """What draws each picture of a case."""
    from heatsim.report.check.figures import Scene, figure, pictures

    scene = Scene(case)
    for each in pictures(case):
        yield partial(_picture, partial(figure, scene, each), out, f"{stem(case)}-{each.name}", each.title, each.caption, png)


def _zoomed(draw: Callable[[Any], Zoomed | None], shown: Any) -> _Made:
    """A figure for the page that can be zoomed."""
    return _Made([], zoomed=draw(shown))


def _device(case: CaseResult, out: Path, png: bool) -> _Made:
    """The curves of the switches' model, as files and for the page."""
    from heatsim.report.base.pictures import as_png
    from heatsim.report.check.device import device_figures

    content, shown = _device_pictures(case.heater.switch)
    drawn = {f"{name}.png": as_png(draw()) for name, _, _, draw in device_figures(case.heater.switch) if png}
    return _Made(write_files(out, content | drawn), shown)


@lru_cache(maxsize=4)
def _device_pictures(switch: Switch) -> tuple[dict[str, str | bytes], tuple[Shown, ...]]:
    """SVG files by name, and for the page."""
    from heatsim.report.base.pictures import files
    from heatsim.report.check.device import device_figures

    content: dict[str, str | bytes] = {}
    shown = []
    for name, title, caption, draw in device_figures(switch):
        made = files(draw(), name, title, png=False)
        content |= made
        shown.append(Shown.of(made, title, caption))
    return content, tuple(shown)


def _record(case: CaseResult, out: Path) -> _Made:
    """Netlist and waveforms of a case."""
    from heatsim.report.check.figures import last_periods

    written = [write_whole(out / f"{stem(case)}-{NETLIST}", case.deck.text)]
    last = last_periods(case, CSV_PERIODS)
    if case.waveforms is not None and last is not None:
        whole, tail = out / f"{stem(case)}-{WAVEFORMS}", out / f"{stem(case)}-{LAST_PERIODS}"
        case.waveforms.save_npz(whole)
        last.save_csv(tail)
        written += [whole, tail]
    return _Made(written)


def _picture(draw: Callable[[], Figure], out: Path, name: str, title: str, caption: str, png: bool) -> _Made:
    """A picture as files and for the page."""
    from heatsim.report.base.pictures import files

    content = files(draw(), name, title, png)
    return _Made(write_files(out, content), [Shown.of(content, title, caption)])


def _circuit(case: CaseResult, out: Path, png: bool) -> _Made:
    """The circuit of a case, as files and for the page."""
    name, heading = f"{stem(case)}-{CIRCUIT}", f"Circuit, case {case.name}"
    content, shown = circuit_picture(case.heater, case.deck.text, name, heading, case, png)
    return _Made(write_files(out, content), [shown])


def _own(result: CheckResult, out: Path) -> Iterator[Path]:
    """Every file that a check of these cases may write."""
    from heatsim.report.check.device import PICTURES as OF_DEVICE
    from heatsim.report.check.figures import PICTURES

    yield from (out / f"{name}.{ending}" for name, *_ in OF_DEVICE for ending in ("svg", "png"))
    pictures = (f"{picture.name}.{ending}" for picture in PICTURES for ending in ("svg", "png"))
    names = (NETLIST, WAVEFORMS, LAST_PERIODS, f"{CIRCUIT}.svg", f"{CIRCUIT}.png", *pictures)
    yield from (out / f"{stem(case)}-{name}" for case in result.cases for name in names)
