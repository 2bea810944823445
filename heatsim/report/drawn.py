# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of any study's result, by its class; each report is loaded only where it is asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from heatsim.errors import InputError


def drawn(result: Any, case: str | None, **options: Any) -> Any:
    """A matplotlib figure of a result; see `heatsim.plot`. Raises InputError for what has no picture, or for a case that is not
    there."""
    draw = _PICTURES.get(type(result).__name__)  # by name, so that no study is loaded that was not run
    if draw is None:
        raise InputError.single("plot", "has no picture of this", type(result).__name__, f"one of {', '.join(_PICTURES)}")
    if type(result).__name__ in _OF_CASES:
        return draw(result, case, **options)
    if case is not None:
        raise InputError.single("plot", "has no cases in this", case, "no case")
    return draw(result, **options)


def _case_of(names: Sequence[str], case: str | None) -> str:
    """A case that was asked for, or the only one. Raises InputError."""
    if case in names or (case is None and len(names) == 1):
        return case or names[0]
    raise InputError.single("plot", "needs a case" if case is None else "has no such case", case, ", ".join(names))


def _plot_check(result: Any, case: str | None, names: Sequence[str] | None = None) -> Any:
    from heatsim.report.check.figures import PICTURES, sheet

    known = [picture.name for picture in PICTURES]
    if unknown := [name for name in names or () if name not in known]:
        raise InputError.single("plot", "has no such picture", unknown[0], ", ".join(known))
    return sheet(result[_case_of([each.name for each in result.cases], case)], names)


def _plot_comparison(result: Any, case: str | None, names: Sequence[str] | None = None) -> Any:
    from heatsim.report.check.overlay import overlay

    rows = {row.name: row.results for row in result.cases}
    return overlay(rows[_case_of(list(rows), case)], names or result.names)


def _plot_wind(result: Any) -> Any:
    from heatsim.report.wind.picture import figure

    return figure(result)


def _plot_sweep(result: Any, outputs: Sequence[str] = ()) -> Any:
    from heatsim.report.sweep.pictures import draw

    return draw(result.as_dict()["plan"], result.frame(), outputs)


def _plot_map(result: Any) -> Any:
    from heatsim.report.map.picture import figure

    return figure(result)


def _plot_tolerance(result: Any) -> Any:
    from heatsim.report.tolerance.picture import figure

    return figure(result)


def _plot_match(result: Any, record: int = 0, evidence: bool = False) -> Any:
    from heatsim.report.match import picture

    return picture.evidence(result) if evidence else picture.overlay(result, record)


def _plot_heat(result: Any) -> Any:
    from heatsim.report.heat.origins import curie
    from heatsim.report.heat.picture import figure

    return figure(result, curie(result))


_PICTURES: Mapping[str, Callable[..., Any]] = {
    "CheckResult": _plot_check,
    "Comparison": _plot_comparison,
    "WindResult": _plot_wind,
    "SweepResult": _plot_sweep,
    "MapResult": _plot_map,
    "ToleranceResult": _plot_tolerance,
    "MatchResult": _plot_match,
    "HeatResult": _plot_heat,
}
"""What draws a result, by its class."""

_OF_CASES = ("CheckResult", "Comparison")
"""Classes of results with cases, one of which is drawn."""
