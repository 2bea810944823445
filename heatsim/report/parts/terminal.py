# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim parts` shows: a table a kind, the rings nearest to a measured one, and where each figure is known from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, TextIO

from heatsim.errors import printable
from heatsim.parts.provenance import Provenance
from heatsim.report.base.terminal import print_blocks, table
from heatsim.report.base.words import listed, value_text
from heatsim.studies.parts import KINDS, Kind, Origin, Part, PartsResult, kinds_in, size_words

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

COUNTED = {
    "ring": "rings",
    "material": "core materials",
    "metal": "metals of workpieces",
    "wire": "wire gauges",
    "device": "MOSFETs",
    "capacitor": "capacitors",
    "pad": "pads",
}
"""Each kind in a sentence."""

TITLES: Mapping[Kind, str] = {
    "ring": "Rings [mm], outer x inner x height, bare; A section [mm²] and l path [mm] of one; AL [nH] at a permeability of (mu)",
    "material": "Core materials; half: field [kA/m] that leaves half the permeability; B: saturation [T]; "
    "loss [kW/m³] at 100 mT peak and 100 kHz",
    "metal": "Metals of workpieces; resistivity [µΩ·m] and permeability or its curve, cold; data to: known hot up to there",
    "wire": "Round copper wire by gauge: bare and over the enamel of grade 2 [mm], section [mm²], resistance [mΩ/m] at 20 °C",
    "device": "MOSFETs for the switches; on-resistance hot, input capacitance",
    "capacitor": "Capacitors for the tank; tan δ, peak voltage and rms current near 100 kHz",
    "pad": "Layers between a MOSFET's case and its sink; known within the factor, both ways",
}

CLOSE = 0.05
"""Mean relative distance above which no ring is that of the catalogue: sizes differ by some per cent from one to the next."""

MOST_SOURCES = 20
"""Sources of one kind that are told; of more, the table names provenances only."""

WEAKEST: tuple[Provenance, ...] = ("measured", "published", "common practice", "memory")
"""Provenances, the weakest last."""

NARROW = 80
"""Columns below which a ring's size stands under its name."""

MANY = (
    "Where no number stands under from, it is the weakest provenance of the part's figures. Their sources are told of fewer parts "
    "at once (heatsim parts fe-si-al-60), and of all of them in --json."
)
"""What a table that names provenances only means."""

Cells = Callable[[Mapping[str, Any]], list[str]]


def _ring(figures: Mapping[str, Any]) -> list[str]:
    factors = ", ".join(f"{1e9 * henry:.3g} ({mu:g})" for mu, henry in figures["inductance_factors_h"])
    return [f"{1e6 * figures['area_m2']:.3g}", f"{1e3 * figures['path_length_m']:.3g}", factors or "–"]


def _material(figures: Mapping[str, Any]) -> list[str]:
    thousands = (_number(figures[name], 1e-3) for name in ("half_field_a_per_m", "loss_100mt_100khz_w_per_m3"))
    half, loss = thousands
    return [_number(figures["permeability"]), half, _number(figures["saturation_flux_density_t"]), loss]


def _number(value: float | None, scale: float = 1.0) -> str:
    """Three digits without exponent; a dash for what is not known."""
    if value is None:
        return "–"
    rounded = float(f"{scale * value:.3g}")
    return f"{rounded:.0f}" if abs(rounded) >= 100 else f"{rounded:g}"


def _metal(figures: Mapping[str, Any]) -> list[str]:
    resistivity = f"{1e6 * figures['resistivity_ohm_m']:.3g} ± {100 * figures['resistivity_band_ratio']:.0f} %"
    hot = (value_text(figures[name], "°C", 4) for name in ("curie_c", "highest_c"))
    return [resistivity, figures["curve"] or value_text(figures["permeability"], ""), *hot]


def _wire(figures: Mapping[str, Any]) -> list[str]:
    scaled = (("diameter_m", 1e3), ("overall_diameter_m", 1e3), ("area_m2", 1e6), ("resistance_20c_ohm_per_m", 1e3))
    return [_number(figures[name], scale) for name, scale in scaled]


def _device(figures: Mapping[str, Any]) -> list[str]:
    units = {"voltage_rating_v": "V", "on_resistance_ohm": "ohm", "current_rating_a": "A", "input_capacitance_f": "F"}
    return [value_text(figures[name], unit) for name, unit in units.items()]


def _capacitor(figures: Mapping[str, Any]) -> list[str]:
    units = {"capacitance_f": "F", "dissipation_factor": "ratio", "voltage_rating_v": "V", "current_rating_a": "A"}
    return [value_text(figures[name], unit) for name, unit in units.items()]


def _pad(figures: Mapping[str, Any]) -> list[str]:
    return [_number(figures["thickness_m"], 1e3), _number(figures["conductivity_w_per_m_k"]), f"{figures['band_factor']:g}"]


COLUMNS: Mapping[Kind, tuple[tuple[str, ...], Cells]] = {
    "ring": (("A", "l", "AL"), _ring),
    "material": (("mu", "half", "B", "loss"), _material),
    "metal": (("resistivity", "mu", "Curie", "data to"), _metal),
    "wire": (("bare", "enamelled", "section", "resistance"), _wire),
    "device": (("rated", "on", "current", "input"), _device),
    "capacitor": (("value", "tan δ", "peak", "rms"), _capacitor),
    "pad": (("thick [mm]", "W/(m·K)", "factor"), _pad),
}
"""Headings and cells of each kind, between name and origin."""

Numbers = dict[Origin, int]
"""Sources told below the tables, and the number of each."""


def show(result: PartsResult, stream: TextIO | None = None, width: int | None = None) -> None:
    """Print a result: what was found, a table a kind, where it is from."""
    from rich.console import Console

    print_blocks(_blocks(result, Console(file=stream, width=width).width < NARROW), stream, width)


def _blocks(result: PartsResult, narrow: bool) -> Iterator[RenderableType]:
    yield heading(result)
    numbers: Numbers = {}
    many = False
    for kind, found in kinds_in(result.parts):
        told = len({origin for each in found for origin in each.origins}) <= MOST_SOURCES
        many |= not told
        yield f"\n{TITLES[kind]}"
        yield parts_table(kind, found, result, numbers if told else None, narrow)
    if numbers:
        yield "\nKnown from"
        yield origins_table(numbers)
    if any(each.own for each in result.parts):
        yield printable(f"\n* of {result.catalogue}")
    if result.near:
        yield f"\n{near_words(result)}"
    if many:
        yield f"\n{MANY}"


def heading(result: PartsResult) -> str:
    """What was found, or what there is instead."""
    if result.size is not None and result.parts:
        return f"The rings nearest to {size_words(result.size)}, of {result.held['ring']}."
    if result.parts:
        return f"{counted(result.parts)} found." if result.words or result.kind else f"The catalogues hold {counted(result.parts)}."
    return _nothing(result)


def counted(parts: Sequence[Part]) -> str:
    """How many of each kind, in words."""
    return listed([f"{len(found)} {_named(kind, len(found))}" for kind, found in kinds_in(parts)])


def _named(kind: Kind, count: int) -> str:
    words = COUNTED[kind]
    if count != 1:
        return words
    return "metal of workpieces" if kind == "metal" else words.removesuffix("s")


def _nothing(result: PartsResult) -> str:
    """What was not found, and what there is."""
    told = [f"No part has the word {word}{_meant(close)}." for word, close in result.strange]
    if not told:
        among = COUNTED[result.kind or "ring"] if result.kind or result.size else "parts"
        words = f"the word {result.words[0]}" if len(result.words) == 1 else f"all of the words {listed(result.words)}"
        told = [f"None of the {among} has {words}."]
    there = listed([f"{count} {_named(kind, count)} (--kind {KINDS[kind]})" for kind, count in result.held.items()])
    return printable(f"{' '.join(told)} There are {there}; without words all of them are listed.")


def _meant(close: Sequence[str]) -> str:
    return f" (did you mean {' or '.join(close)}?)" if close else ""


def parts_table(kind: Kind, parts: Sequence[Part], result: PartsResult, numbers: Numbers | None, narrow: bool = False) -> Table:
    """The parts of one kind.

    numbers: those that sources have so far, to which new ones are added; without it the table names provenances only
    narrow: a ring's size stands under its name
    """
    headings, cells = COLUMNS[kind]
    off = {id(each.part): f"{100 * each.distance:.1f} %{' c' if each.coated else ''}" for each in result.near}
    first = [*(["off"] if off else []), "name", *(["size"] if kind == "ring" and not narrow else [])]
    made = table(("name", "size", "mu" if kind == "metal" else "", "from"), *first, *headings, "from", wide=("name", "AL", "from"))
    for part in parts:
        name = [printable(part.name) + (" *" if part.own else "")]
        if kind == "ring":
            size = size_words(part.size).removesuffix(" mm")
            name = [f"{name[0]}\n{size}"] if narrow else [*name, size.replace(" ", "")]
        lead = [off[id(part)]] if off else []
        made.add_row(*lead, *name, *map(printable, cells(part.figures)), _from(part, numbers))
    return made


def _from(part: Part, numbers: Numbers | None) -> str:
    """Numbers of a part's sources, or the weakest provenance of them."""
    if numbers is None:
        return max((each.provenance for each in part.origins), key=WEAKEST.index)
    return " ".join(str(numbers.setdefault(each, len(numbers) + 1)) for each in part.origins)


def origins_table(numbers: Numbers) -> Table:
    """Provenance and source of each number."""
    made = table(("provenance", "source"), "", "provenance", "source", wide=("source",))
    for (what, provenance, source), number in numbers.items():
        made.add_row(str(number), provenance, printable(f"{what}: {source}"))
    return made


def near_words(result: PartsResult) -> str:
    """How the distance is meant, and what a size does not tell."""
    told = "off: mean relative distance of the three dimensions; c: of the ring with its coating."
    if result.near[0].distance > CLOSE:
        told += f" None is within {100 * CLOSE:.0f} %: it may be no ring of these catalogues."
    return f"{told} Size does not tell the material: a bench test and `heatsim ring` do."
