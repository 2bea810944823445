# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim ring` shows: the answer, the quantities with their intervals, the materials that fit, and what to know."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TextIO

from heatsim.errors import printable
from heatsim.report.base.terminal import WIDTH, print_lines, room, stacked, wrapped
from heatsim.report.base.words import percent, sentence_case, value_text
from heatsim.studies.ring import MaterialMatch, Quantity, RingResult

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

FORMS = {
    "linear": "straight, no saturation seen",
    "soft": "soft, as of a powder core",
    "gapped": "with a knee, as of a gapped ferrite",
}

PATHS = {"iec": "IEC 60205", "logarithmic": "pi (d1 - d2)/ln(d1/d2)", "mean": "pi (d1 + d2)/2"}
"""Path length of each convention."""

BEST = 5
"""Materials listed."""

NARROW = 80
"""Columns of the table of quantities at its narrowest."""

CAUTION = (
    "A choke carrying current is a store of energy: opened suddenly it makes whatever voltage it needs. Give the test "
    "loop a freewheel path, keep clear of it, and let the capacitors discharge first."
)


def show(result: RingResult, stream: TextIO | None = None) -> None:
    """Print a result to `stream` (standard output), in signs it has."""
    print_lines(lines(result), stream)


def lines(result: RingResult) -> Iterator[str]:
    """The text, line by line."""
    yield printable(result.test.name)
    yield from wrapped(sentence(result))
    yield ""
    yield from _quantities(quantity_rows(result))
    yield from wrapped(
        f"Path length: {PATHS[result.test.tables.ring.path_rule]} ({result.test.tables.ring.path_rule}); {evidence(result)}"
    )
    yield ""
    yield from _materials(result)
    notes = [text for _, text in result.flags] + list(reasons(result))
    if notes:
        yield ""
        yield "To know"
    for note in notes:
        yield from wrapped(f"{sentence_case(note)}.", "- ", "  ")
    yield ""
    yield from wrapped(CAUTION)


def sentence(result: RingResult) -> str:
    """The answer in a few sentences."""
    mu = result.quantities["permeability"]
    first = f"Relative permeability {_value(mu.value, '')} ({_value(mu.low, '')} to {_value(mu.high, '')}). "
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


def _value(value: float | None, unit: str) -> str:
    return value_text(value, unit, 3 if unit == "ratio" else 4)


def quantity_rows(result: RingResult) -> list[tuple[str, str, str, str]]:
    """Each quantity in cells: what it is, its value, its 95 % interval, whether the data fix it."""
    return [_cells(result.quantities[key]) for key in QUANTITIES if key in result.quantities]


def _cells(estimate: Quantity) -> tuple[str, str, str, str]:
    label, unit = QUANTITIES[estimate.key]
    low, high = _value(estimate.low, unit), _value(estimate.high, unit)
    interval = f"above {low}" if estimate.high is None else f"{low} to {high}"
    if estimate.low is None:
        interval = "–"
    return label, _value(estimate.value, unit), interval, "yes" if estimate.identifiable else "no"


def _quantities(rows: Sequence[tuple[str, str, str, str]]) -> Iterator[str]:
    """A table, or running text where there is no room for it."""
    if room() < NARROW:
        for label, value, interval, fixed in rows:
            yield from stacked(label, [("", value), ("95 % interval", interval), ("fixed by the data:", fixed)])
        return
    first, second, third, asked = (42, 12, 26, "fixed by the data") if room() >= WIDTH else (40, 9, 22, "fixed")
    yield f"{'':{first}}{'found':>{second}}  {'95 % interval':<{third}} {asked}"
    for label, value, interval, fixed in rows:
        yield f"{label:<{first}}{value:>{second}}  {interval:<{third}} {fixed}"


def reasons(result: RingResult) -> Iterator[str]:
    """Why a quantity is not fixed by the data, or what it rests on."""
    grouped: dict[str, list[str]] = {}
    for key, (label, _) in QUANTITIES.items():
        estimate = result.quantities.get(key)
        if estimate and estimate.note:
            grouped.setdefault(estimate.note, []).append(label.split(":")[0].strip())
    yield from (f"{', '.join(labels)}: {note}" for note, labels in grouped.items())


def evidence(result: RingResult) -> str:
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
        yield from wrapped("Materials, best fitting first (misfit 1 is the edge of what tolerance and uncertainty allow)")
    heads = ("fits", "misfit", "mu here", "listed", "curve off", "judged on")
    rows = [_material_cells(match) for match in listed_materials(result)]
    if room() < WIDTH:
        for name, *cells in rows:
            yield from stacked(name, zip(heads, cells, strict=True))
        return
    yield f"{'material':<26}{heads[0]:<6}{heads[1]:>7}{heads[2]:>9}{heads[3]:>8}{heads[4]:>11}   {heads[5]}"
    for name, fits, misfit, here, given, off, judged in rows:
        yield f"{name:<26}{fits:<6}{misfit:>7}{here:>9}{given:>8}{off:>11}   {judged}"


def listed_materials(result: RingResult) -> tuple[MaterialMatch, ...]:
    """The materials that are told, best fitting first."""
    return result.materials[: max(BEST, min(len(result.fitting), 9))]


def _material_cells(match: MaterialMatch) -> tuple[str, ...]:
    """Name, whether it fits, misfit, permeability here and as listed, how far its curve is off, what it was judged on."""
    off = percent(match.share_deviation).replace(" %", " pts")
    gap = f"; gap {match.gap * 1e3:.2g} mm" if match.gap else ""
    memory = " (estimate)" if match.material.provenance == "memory" else ""
    numbers = f"{match.misfit:.2g}", f"{match.permeability:.4g}", f"{match.material.permeability:.4g}", off
    return match.material.name, "yes" if match.fits else "no", *numbers, f"{match.judged_on}{gap}{memory}"
