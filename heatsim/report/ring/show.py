# SPDX-License-Identifier: GPL-3.0-or-later
"""An identified ring for people: the text on the terminal, the picture, and the folder."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import numpy as np

from heatsim.report.base.plain import as_json, write_whole
from heatsim.report.base.terminal import print_text
from heatsim.report.base.words import value_text
from heatsim.studies.ring import CurvePoints, MaterialMatch, Quantity, RingResult, choke_toml, material_toml, predict

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from heatsim.physics.numeric import FloatArray

QUANTITIES = {
    "permeability": ("relative permeability", ""),
    "inductance_zero_h": ("inductance at zero current", "H"),
    "half_current_a": ("50 % point: half the inductance left at", "A"),
    "half_field_a_per_m": ("  which is a field of", "A/m"),
    "exponent": ("exponent of the soft form", ""),
    "core_half_current_a": ("  half of the core's own share left at", "A"),
    "knee_ratio": ("half width of the knee", "ratio"),
    "saturation_flux_density_t": ("saturation flux density", "T"),
    "air_inductance_h": ("air-core inductance", "H"),
    "series_resistance_ohm": ("series resistance in the ramp", "ohm"),
}
"""Label and unit of each quantity, in the order shown."""

FORMS = {"linear": "straight, no saturation seen", "soft": "soft: a powder core", "gapped": "with a knee: a gapped ferrite"}

PATHS = {"iec": "IEC 60205", "logarithmic": "pi (d1 - d2)/ln(d1/d2)", "mean": "pi (d1 + d2)/2"}
"""Path length of each convention."""

WIDTH = 100
BEST = 5
"""Materials listed."""

CAUTION = (
    "A choke carrying current is a store of energy: opened suddenly it makes whatever voltage it needs. Give the test "
    "loop a freewheel path, keep clear of it, and let the capacitors discharge first."
)


def show(result: RingResult, out: Path | None = None, stream: TextIO | None = None) -> None:
    """Print a result to `stream` (standard output), in signs it has; out: the folder to be named at the end."""
    print_text("\n".join(lines(result, out)) + "\n", stream)


def lines(result: RingResult, out: Path | None = None) -> Iterator[str]:
    """The text, line by line."""
    yield result.test.name
    yield from textwrap.wrap(sentence(result), WIDTH, break_on_hyphens=False)
    yield ""
    yield f"{'':42}{'found':>12}   {'95 % interval':<26}fixed by the data"
    for key in QUANTITIES:
        if key in result.quantities:
            yield _row(result.quantities[key])
    yield f"Path length: {PATHS[result.test.tables.ring.path_rule]} ({result.test.tables.ring.path_rule}); {_evidence(result)}"
    yield ""
    yield from _materials(result)
    notes = [text for _, text in result.flags] + list(_reasons(result))
    if notes:
        yield ""
        yield "To know"
    for note in notes:
        yield from textwrap.wrap(
            note[0].upper() + note[1:] + ".", WIDTH, initial_indent="- ", subsequent_indent="  ", break_on_hyphens=False
        )
    yield ""
    if out is not None:
        yield f"Written: {out}: material.toml, choke.toml, results.json, ring.png, ring.svg"
    yield from textwrap.wrap(CAUTION, WIDTH)


def sentence(result: RingResult) -> str:
    """The answer in a few sentences."""
    mu = result.quantities["permeability"]
    first = f"Relative permeability {_number(mu.value)} ({_number(mu.low)} to {_number(mu.high)}). "
    if not result.data.reach:
        first += "Nothing is known of its saturation. "
    else:
        sure = "" if result.decided else ", though another form fits nearly as well"
        first += f"Saturation: {FORMS[result.fit.kind]}{sure}. "
    if not result.fitting:
        return first + "None of the catalogue's materials fits."
    names = ", ".join(match.material.name for match in result.fitting[:3])
    more = f" and {len(result.fitting) - 3} more" if len(result.fitting) > 3 else ""
    return first + f"It may be {names}{more}."


def _number(value: float | None) -> str:
    return "–" if value is None else f"{value:.4g}"


def _value(value: float | None, unit: str) -> str:
    from heatsim.quantity import format_quantity

    if value is None:
        return "–"
    return format_quantity(value, unit, 4) if unit and unit != "ratio" else value_text(value, unit)


def _row(estimate: Quantity) -> str:
    label, unit = QUANTITIES[estimate.key]
    low, high = _value(estimate.low, unit), _value(estimate.high, unit)
    interval = f"above {low}" if estimate.high is None else f"{low} to {high}"
    if estimate.low is None:
        interval = "–"
    return f"{label:<42}{_value(estimate.value, unit):>12}   {interval:<26}{'yes' if estimate.identifiable else 'no':<18}".rstrip()


def _reasons(result: RingResult) -> Iterator[str]:
    """Why a quantity is not fixed by the data, or what it rests on."""
    grouped: dict[str, list[str]] = {}
    for key, (label, _) in QUANTITIES.items():
        estimate = result.quantities.get(key)
        if estimate and estimate.note:
            grouped.setdefault(estimate.note, []).append(label.split(":")[0].strip())
    yield from (f"{', '.join(labels)}: {note}" for note, labels in grouped.items())


def _evidence(result: RingResult) -> str:
    """How the forms compare, in words."""
    best, *others = result.fits.values()
    if not others or not result.data.reach:
        return "one reading, no form to choose"
    rivals = ", ".join(f"{fit.kind} {fit.bic - best.bic:+.0f}" for fit in others)
    return f"{best.kind} form by Schwarz's criterion ({rivals} behind)"


def _materials(result: RingResult) -> Iterator[str]:
    if not result.fitting:
        yield "None of the catalogue's materials fits; nearest:"
    else:
        yield "Materials, best fitting first (misfit 1 is the edge of what tolerance and uncertainty allow)"
    yield f"{'material':<26}{'fits':<6}{'misfit':>7}{'mu here':>9}{'listed':>8}{'curve off':>11}   judged on"
    for match in result.materials[: max(BEST, min(len(result.fitting), 9))]:
        yield _material_row(match)


def _material_row(match: MaterialMatch) -> str:
    off = "–" if match.share_deviation is None else f"{100 * match.share_deviation:+.0f} pts"
    gap = f"; gap {match.gap * 1e3:.2g} mm" if match.gap else ""
    memory = " (estimate)" if match.material.provenance == "memory" else ""
    return (
        f"{match.material.name:<26}{'yes' if match.fits else 'no':<6}{match.misfit:>7.2g}{match.permeability:>9.4g}"
        f"{match.material.permeability:>8.4g}{off:>11}   {match.judged_on}{gap}{memory}"
    )


MARKS = ((0, (6, 2)), (0, (2, 1.4)), (0, (6, 1.6, 1.2, 1.6)))
"""Dashes of the candidates, so that they can be told apart without colour."""


def inductance_axes(result: RingResult, ax: Axes) -> Axes:
    """L(I): what was measured, the fit with its 95 % band, and up to three catalogue candidates."""
    from heatsim.report.base.style import CENTRE, FAINT, INK, LEFT, RIGHT, SUPPLY, engineering, legend

    factor, unit = engineering("H", result.fit.curve.inductance_zero)
    curve = result.curve
    ax.fill_between(curve.current, curve.low * factor, curve.high * factor, color=LEFT, alpha=0.22, linewidth=0)
    ax.plot(curve.current, curve.inductance * factor, color=LEFT, label=f"{result.fit.kind} form, 95 % band")
    chosen = result.fitting[:3] or result.materials[:2]
    for match, colour, dash in zip(chosen, (RIGHT, CENTRE, SUPPLY), MARKS, strict=False):
        if match.curve is not None:
            name = match.material.name + ("" if match.fits else " (does not fit)")
            ax.plot(
                curve.current,
                match.curve.inductance(curve.current) * factor,
                color=colour,
                linestyle=dash,
                label=name,
                linewidth=1.2,
            )
    if result.direct:
        _points(ax, result.direct, factor, INK)
    bench = result.data.readings
    if bench:
        ax.plot(
            bench.current,
            bench.inductance * factor,
            "s",
            color=INK,
            markersize=4,
            markerfacecolor="none",
            label="readings",
            clip_on=False,
        )
    if result.data.lcr:
        ax.plot([0], [result.data.lcr[0] * factor], "D", color=INK, markersize=5, label="LCR reading", clip_on=False)
    half = result.quantities.get("half_current_a")
    if half and half.value and half.value <= 1.02 * result.data.reach:
        ax.plot([half.value, half.value], [0, result.fit.curve.inductance_zero * factor / 2], color=FAINT, linewidth=0.9)
        ax.annotate(f"50 % at {half.value:.3g} A", (half.value, 0), (3, 4), textcoords="offset points", fontsize=8)
    ax.set(xlabel="direct current [A]", ylabel=f"differential inductance [{unit}]", xlim=(0, curve.current[-1]), ylim=(0, None))
    ax.set_title(f"{result.test.name}: inductance against current", pad=36)
    legend(ax, 3)
    return ax


def _points(ax: Axes, direct: CurvePoints, factor: float, colour: str) -> None:
    spread = np.array([direct.inductance - direct.low, direct.high - direct.inductance]) * factor
    ax.errorbar(
        direct.current,
        direct.inductance * factor,
        yerr=np.clip(spread, 0, None),
        fmt="o",
        color=colour,
        markersize=3,
        elinewidth=0.8,
        capsize=1.5,
        label="slopes of the ramp",
        zorder=3,
    )


def ramp_axes(result: RingResult, ax: Axes) -> Axes:
    """The captured ramp and the fit through it."""
    from heatsim.report.base.style import FAINT, LEFT, engineering, legend

    ramp = result.data.ramp
    assert ramp is not None
    scale = engineering("s", float(np.ptp(ramp.time)))[0]
    fine = np.linspace(ramp.time[0], ramp.time[-1], 800)
    ax.plot(ramp.time * scale, ramp.current, ".", color=FAINT, markersize=2.5, label="captured")
    ax.plot(
        fine * scale,
        predict(result.fit.curve, result.fit.values, ramp, fine),
        color=LEFT,
        label=f"{result.fit.kind} form with series resistance",
    )
    ax.set(ylabel="current [A]", xlim=(ramp.time[0] * scale, ramp.time[-1] * scale))
    ax.set_title("Captured ramp")
    ax.tick_params(labelbottom=False)
    legend(ax)
    return ax


def residual_axes(result: RingResult, ax: Axes) -> Axes:
    """What the fit leaves of the ramp, and its running mean, which shows a pattern that noise does not make."""
    from heatsim.report.base.style import FAINT, LEFT, engineering, legend

    ramp = result.data.ramp
    assert ramp is not None
    scale, unit = engineering("s", float(np.ptp(ramp.time)))
    milli, amps = engineering("A", float(np.max(result.data.deviation)))
    rest = (ramp.current - predict(result.fit.curve, result.fit.values, ramp, ramp.time)) * milli
    ax.plot(ramp.time * scale, rest, ".", color=FAINT, markersize=2.5, label="captured less fit")
    ax.plot(*_running(ramp.time * scale, rest), color=LEFT, label="mean of neighbours")
    ax.set(xlabel=f"time [{unit}]", ylabel=f"residual [{amps}]", xlim=(ramp.time[0] * scale, ramp.time[-1] * scale))
    legend(ax)
    return ax


def _running(time: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Means of some 40 equal pieces."""
    pieces: Sequence[FloatArray] = np.array_split(np.arange(time.size), min(40, time.size))
    return (
        np.array([time[rows.astype(int)].mean() for rows in pieces]),
        np.array([values[rows.astype(int)].mean() for rows in pieces]),
    )


def draw(result: RingResult) -> Figure:
    """The whole picture: inductance, and with a capture the ramp and its residual."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from heatsim.report.base.style import house

    with house():
        figure = Figure(figsize=(7.2, 8.4 if result.data.ramp else 4.2), layout="constrained")
        FigureCanvasAgg(figure)
        if result.data.ramp is None:
            inductance_axes(result, figure.add_subplot())
            return figure
        upper, middle, lower = figure.subplots(3, 1, height_ratios=[1.35, 1.0, 0.6])
        inductance_axes(result, upper)
        ramp_axes(result, middle)
        residual_axes(result, lower)
    return figure


def write(result: RingResult, out: Path) -> list[Path]:
    """Write the folder and return its files; each is complete or not there. Raises OSError when it cannot be written."""
    import io

    from heatsim.report.base.style import house

    out.mkdir(parents=True, exist_ok=True)
    figure, content = draw(result), {}
    with house():
        for kind in ("png", "svg"):
            buffer = io.BytesIO()
            figure.savefig(buffer, format=kind, dpi=140, metadata={"Date": None} if kind == "svg" else None)
            content[f"ring.{kind}"] = buffer.getvalue()
    content |= {
        "results.json": (as_json(result.as_dict()) + "\n").encode(),
        "material.toml": material_toml(result).encode(),
        "choke.toml": choke_toml(result).encode(),
    }
    return [write_whole(out / name, data) for name, data in content.items()]
