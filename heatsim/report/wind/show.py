# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim wind` shows and leaves: a table, the picture of what no other winding beats, and the winding card."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

import numpy as np

from heatsim.quantity import format_quantity as q
from heatsim.studies.wind import (
    Card,
    WhatIf,
    WindingCandidate,
    WindResult,
    YieldResult,
    plain_candidate,
    plain_result,
    ring_or_turns,
    wound_changes,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from rich.table import Table


def show(
    result: WindResult,
    proof: Card | None,
    built: YieldResult | None,
    out: Path | None,
    stream: TextIO | None = None,
    width: int | None = None,
) -> None:
    """Print a result: the simulated windings, the question of ring or turns, the yield, and where the card lies."""
    from rich.console import Console

    console = Console(file=stream, highlight=False, markup=False, emoji=False, width=width)
    console.print(heading(result))
    console.print()
    if result.confirmed:
        console.print(confirmed_table(result))
        console.print()
    if result.best is not None and proof is not None:
        console.print("A second ring or more turns? At the same volts and load:")
        console.print(what_if_table(ring_or_turns(result.best.candidate, result.duty)))
        console.print()
        console.print(card_sentence(proof))
        if built is not None:
            console.print(yield_sentence(built))
    if out is not None:
        console.print(f"\nCard, picture and tables: {out}")


def heading(result: WindResult) -> str:
    """One sentence that says what was found."""
    looked = f"{result.considered} combinations, {len(result.candidates)} of them fit bore and drawer"
    if result.best is None:
        tried = f"none of the {len(result.confirmed)} simulated holds" if result.confirmed else "none keeps every limit"
        return f"{result.scenario.name}: no winding found. Looked at {looked}; {tried}."
    return f"{result.scenario.name}: wind {named(result.best.candidate)}. Looked at {looked}; simulated {len(result.confirmed)}."


def named(one: WindingCandidate) -> str:
    """A winding in words."""
    rings = f"{one.stack} x {one.ring}" if one.stack > 1 else f"one {one.ring}"
    return f"{one.turns} turns of {one.strands} x {one.wire} on {rings}"


def confirmed_table(result: WindResult) -> Table:
    """The simulated windings, best first."""
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    for name in ("grade", "rings", "turns", "wire", "L0", "left", "choke", "copper", "cost"):
        table.add_column(name, justify="left" if name in ("grade", "rings", "wire") else "right", no_wrap=True)
    for each in result.confirmed:
        one, side = each.candidate, each.candidate.choke.side
        cases = [case.measures for case in each.result.cases]
        left = [m.get(f"choke.{side}.inductance_remaining_ratio") for m in cases]
        hot = [m.get(f"choke.{side}.temperature_c") for m in cases]
        table.add_row(
            each.result.verdict,
            f"{one.stack} x {_short(one.ring, 'ring')}",
            str(one.turns),
            f"{one.strands} x {_short(one.wire, 'enamelled')}",
            q(one.choke.curve.inductance_zero, "H"),
            q(min((float(x) for x in left if isinstance(x, float)), default=None), "ratio"),
            q(max((float(x) for x in hot if isinstance(x, float)), default=None), "°C"),
            f"{1e3 * one.copper_mass:.0f} g",
            "-" if one.cost is None else f"{one.cost:.2f}",
        )
    return table


def _short(name: str, word: str) -> str:
    """A drawer name without the word every such name has."""
    return name.replace(f" {word}", "") or name


def what_if_table(ways: tuple[WhatIf, ...]) -> Table:
    """What a second ring and what more turns would do, side by side."""
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    for name in ("estimated", "L0", "swing", "left", "core", "copper", "choke"):
        table.add_column(name, justify="left" if name == "estimated" else "right", no_wrap=True)
    for each in ways:
        core, found = each.choke.core, each.estimate
        assert core is not None
        table.add_row(
            each.change,
            q(each.choke.curve.inductance_zero, "H"),
            q(core.flux_density(found.flux_swing), "T"),
            q(found.remaining, "ratio"),
            q(found.core_loss, "W"),
            q(found.copper_loss, "W"),
            q(found.temperature, "°C"),
        )
    return table


def card_sentence(proof: Card) -> str:
    """What to cut and what to measure."""
    return (
        f"Cut {proof.strands} x {proof.cut_length:.2f} m for each choke. Expect {q(proof.inductance, 'H')} on the meter "
        f"({q(proof.inductance_least, 'H')} to {q(proof.inductance_greatest, 'H')}) and {q(proof.resistance, 'ohm')} at "
        f"20 °C."
    )


def yield_sentence(built: YieldResult) -> str:
    """How many builds would keep every choke limit."""
    low, high = built.interval
    return (
        f"Of {built.samples} builds with everything a little off, {100 * built.share:.0f} % keep every choke limit "
        f"(95 % interval {100 * low:.0f} to {100 * high:.0f} %, estimated); what matters most: {built.matters_most}."
    )


def front_picture(result: WindResult, ax: Axes) -> Axes:
    """Every estimated winding by copper and temperature, coloured by headroom; those nothing beats ringed; the choice."""
    from heatsim.report.base.style import INK, LEFT, LIMIT, RIGHT

    def place(one: WindingCandidate) -> tuple[float, float]:
        return 1e3 * one.copper_mass, one.estimate.temperature or np.nan

    groups = (
        ([c for c in result.candidates if c.headroom < 0], LIMIT, "breaks a limit", 6, 0.25),
        ([c for c in result.candidates if c.headroom >= 0], LEFT, "keeps every limit", 8, 0.5),
    )
    for group, colour, label, size, alpha in groups:
        if group:
            x, y = zip(*map(place, group), strict=True)
            ax.scatter(x, y, s=size, color=colour, alpha=alpha, linewidths=0, rasterized=True, label=f"{label} ({len(group)})")
    front = [c for c in result.front if c.headroom >= 0]
    if front:
        x, y = zip(*map(place, front), strict=True)
        ax.scatter(x, y, s=26, facecolors="none", edgecolors=INK, linewidths=0.8, label="no other beats it")
    if result.best is not None:
        x0, y0 = place(result.best.candidate)
        ax.scatter([x0], [y0], s=90, marker="D", color=RIGHT, edgecolors="white", zorder=5, label="simulated, holds")
    ceiling = result.scenario.tables.limits.choke_temperature
    ax.set(xlabel="copper in one choke, g", ylabel="choke temperature, °C", title="Every winding the drawer allows")
    ax.set_ylim(bottom=result.duty.ambient, top=1.6 * ceiling)
    ax.axhline(ceiling, color=LIMIT, linestyle=(0, (1, 1.4)), linewidth=1.2)
    ax.legend(loc="upper right", fontsize=7.5)
    return ax


def write_folder(result: WindResult, proof: Card | None, built: YieldResult | None, out: Path) -> list[Path]:
    """Table of candidates, picture, winding card, and the scenario with the chosen winding in it."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from heatsim.report.base.plain import as_json, write_whole
    from heatsim.report.base.style import house
    from heatsim.report.check.figures import as_png, as_svg

    with house():
        figure = Figure(figsize=(6.4, 4.2), layout="constrained")
        FigureCanvasAgg(figure)
        front_picture(result, figure.add_subplot())
        svg, png = as_svg(figure, "Every winding the drawer allows"), as_png(figure)
    files: dict[str, str | bytes] = {
        "results.json": as_json(plain_result(result, proof, built)) + "\n",
        "candidates.csv": candidates_csv(result),
        "windings.svg": svg,
        "windings.png": png,
    }
    if result.best is not None and proof is not None:
        files["winding-card.html"] = card_page(result, proof, built, svg)
        files["wound.toml"] = wound_text(result)
    return [write_whole(out / name, content) for name, content in files.items()]


def candidates_csv(result: WindResult) -> str:
    """Every estimated winding, best first."""
    rows = [plain_candidate(one) for one in result.candidates]
    names = list(rows[0]) if rows else []
    lines = [",".join(names)] + [",".join("" if row[n] is None else str(row[n]) for n in names) for row in rows]
    return "\n".join(lines) + "\n"


def wound_text(result: WindResult) -> str:
    """The scenario file with the chosen winding written into it, everything else as it stands, comments included."""
    import tomlkit

    assert result.best is not None
    document: Any = tomlkit.parse(result.scenario.text)
    for field, value in wound_changes(result.scenario, result.best.candidate).items():
        table, _, key = field.partition(".")
        document[table][key] = value
        if isinstance(value, dict):
            document[table][key].comment("chosen by heatsim wind")
    for side in ("left", "right", "centre"):
        own = document["choke"].get(side)
        for key in ("turns", "core", "wire"):
            if own is not None and key in own:
                del own[key]
    document["choke"].pop("measured", None)
    return str(tomlkit.dumps(document))


def card_page(result: WindResult, proof: Card, built: YieldResult | None, picture: str) -> str:
    """The printable card."""
    from jinja2 import Environment, PackageLoader, select_autoescape

    environment = Environment(loader=PackageLoader("heatsim.report"), autoescape=select_autoescape(default=True))
    environment.filters["q"] = q
    assert result.best is not None
    return environment.get_template("winding-card.html").render(
        name=result.scenario.name,
        proof=proof,
        built=built,
        picture=picture[picture.index("<svg") :],
        heading=heading(result),
        sha256=result.scenario.hash,
        ways=ring_or_turns(result.best.candidate, result.duty),
        yield_sentence=yield_sentence(built) if built else "",
    )
