# SPDX-License-Identifier: GPL-3.0-or-later
"""What coil advice shows: the coil to wind and the others on the terminal, and a folder with page, pictures and tables."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from heatsim.errors import printable
from heatsim.report.base.page import Shown, template
from heatsim.report.base.plain import json_file, write_files
from heatsim.report.base.terminal import print_blocks, table
from heatsim.report.base.words import SAFETY, duration, either_side, listed, split_key, value_text
from heatsim.scenario.overrides import put
from heatsim.studies.heat.coils.result import CoilAdvice, CoilEstimate, CoilShape, ConfirmedState, plain_estimate

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

SHOWN = 10
"""Rows of candidates on the terminal and on the page."""

COLUMNS = ("turns", "bore", "long", "fill", "kHz", "cold", "hot", "idle", "eff.", "A", "time", "limited by")
"""Headings of the table of coils."""

LEGEND = (
    "Bore and length in mm; fill: piece over bore, %; cold, hot: W into the piece at its start and as warm as wanted; idle: W lost "
    "in the empty coil; eff.: of the supply's energy into the piece, %; A: the coil's at most, rms; %: headroom of the worst "
    "limit. By the ideal stage."
)
"""What the columns are."""


def show_advice(advice: CoilAdvice, stream: TextIO | None = None, width: int | None = None) -> None:
    """Print an advice: what to wind, the coils side by side, what the simulations say."""
    print_blocks(_blocks(advice), stream, width)


def _blocks(advice: CoilAdvice) -> Iterator[RenderableType]:
    yield heading(advice)
    yield ""
    yield coil_table(advice)
    yield LEGEND
    if advice.confirmed:
        yield "\nSimulated from rest, and how far that is from the estimate:"
        yield confirmed_table(advice)
    yield ""
    for each in (*left_out(advice), *advice.cautions, SAFETY):
        yield printable(each)


def left_out(advice: CoilAdvice) -> Iterator[str]:
    """How many coils are not among those told of, and why."""
    for reason, count in advice.left_out.items():
        yield f"{count} more coils were left out: {reason}."


def coil_words(shape: CoilShape) -> str:
    """A coil in words."""
    return (
        f"{shape.turns:g} turns of {1e3 * shape.tube:g} mm tube, {1e3 * shape.bore:.3g} mm bore, {1e3 * shape.length:.3g} mm long"
    )


def heading(advice: CoilAdvice) -> str:
    """What was found, in a few sentences."""
    what = f"{advice.scenario.name}: {advice.piece}, to {advice.wanted:g} °C at its {advice.at}."
    looked = f"Of {len(advice.candidates)} coils {advice.keeping} keep every limit and get there, by the estimate"
    chosen = advice.recommended
    if chosen is not None:
        one = chosen.estimate
        name = f"the scenario's own coil ({coil_words(one.shape)})" if one.own else coil_words(one.shape)
        states = listed([each.name for each in chosen.states])
        return printable(
            f"{what} Wind {name}: {duration(one.time)}, {100 * one.efficiency:.0f} % of the supply's energy into the piece. "
            f"Simulated from rest with the piece {states}, every limit holds.{_own_too(advice)} {looked}."
        )
    tried = [each for each in advice.confirmed if not each.estimate.own]
    if not tried:
        return printable(f"{what} {looked}; none was simulated, so none is recommended.")
    ended = "; ".join(f"{_named(each.estimate)}: {each.ended_by or ends_words(each.estimate)}" for each in tried)
    simulated = f"none of the {len(tried)} simulated holds" if len(tried) > 1 else "the one that was simulated does not hold"
    return printable(f"{what} No coil is recommended. {looked}; {simulated} ({ended}).{_nearest(advice)}")


def _own_too(advice: CoilAdvice) -> str:
    """That the scenario's own coil does as well, where it is another one that is recommended."""
    held = [each.estimate for each in advice.confirmed if each.estimate.own and each.holds and each.estimate.time is not None]
    if not held or advice.recommended is None or advice.recommended.estimate.own:
        return ""
    return f" So it does with the scenario's own coil, which takes {duration(held[0].time)}."


def _named(one: CoilEstimate) -> str:
    return f"{one.shape.turns:g} turns, bore {1e3 * one.shape.bore:.3g} mm{', own' if one.own else ''}"


def _nearest(advice: CoilAdvice) -> str:
    """What stands between the nearest coil and the wanted temperature, where it takes far less power hot than before."""
    one = advice.candidates[0]
    most, hot = max(each.power for each in one.states), one.states[-1].power
    if most < 2 * hot:
        return ""
    taken, left, lost = (value_text(each, "W", 2) for each in (most, hot, one.states[-1].given_off))
    return (
        f" The nearest takes {taken} on the way and {left} as warm as wanted, where it gives off {lost}: a stronger supply, a "
        "sleeve round the piece or a lower temperature would help."
    )


def ends_words(one: CoilEstimate) -> str:
    """What ends a coil, by the estimate; "holds" for one that keeps every limit and gets there."""
    if one.doubts:
        return one.doubts[0]
    worst = one.short[0] if one.short else None
    if worst is not None:
        return f"{either_side(f'{worst.part}: {worst.limit}')} {_signed(worst.headroom)}"
    return f"stands still at {one.stalls:.0f} °C" if one.stalls is not None else "holds"


def _signed(share: float | None, decimals: int = 0) -> str:
    """A share with its sign [%]; empty for None."""
    if share is None:
        return ""
    return f"{round(100 * share, decimals) + 0.0:+.{decimals}f} %".replace("-", "−")


def coil_row(one: CoilEstimate) -> list[str]:
    """A coil as a row of `COLUMNS`."""
    shape, cold, hot = one.shape, one.states[0], one.states[-1]
    reached = duration(one.time) if one.time is not None else f"{one.stalls:.0f} °C" if one.stalls else "–"
    numbers = (
        1e3 * shape.bore,
        1e3 * shape.length,
        100 * one.fill,
        cold.frequency / 1e3,
        cold.power,
        hot.power,
        one.idle.coil_loss,
    )
    return [
        f"{shape.turns:g}{' (own)' if one.own else ''}",
        *(f"{each:.0f}" for each in numbers),
        f"{100 * one.efficiency:.0f}",
        f"{one.current:.0f}",
        reached,
        printable(ends_words(one)),
    ]


def coil_rows(advice: CoilAdvice) -> list[list[str]]:
    """The scenario's own coil, then the best."""
    return [coil_row(each) for each in (advice.own, *advice.candidates[:SHOWN])]


def coil_table(advice: CoilAdvice) -> Table:
    """The coils side by side."""
    made = table(("turns", "limited by"), *COLUMNS, wide=("limited by",))
    for row in coil_rows(advice):
        made.add_row(*row)
    return made


NAMES = {
    "workpiece.power_w": "power",
    "supply.mean_current_a": "supply",
    "tank.frequency_hz": "tank",
    "coil.rms_current_a": "coil",
    "capacitor.rms_current_a": "capacitors",
}
"""Headings of what is held against the estimate."""


def confirmed_table(advice: CoilAdvice) -> Table:
    """Every simulated state: its grade, and each number with how far it is from the estimate."""
    keys = ("workpiece.power_w", "supply.mean_current_a", "coil.rms_current_a")
    words = ("coil", "piece", "found")
    made = table(words, *words, *(NAMES[key] for key in keys), wide=("coil", "found"))
    for row in confirmed_rows(advice, keys):
        made.add_row(*row)
    return made


def confirmed_rows(advice: CoilAdvice, keys: Sequence[str]) -> Iterator[list[str]]:
    """A row a simulated state; one for a coil that could not be simulated."""
    for each in advice.confirmed:
        name = _named(each.estimate)
        if each.problem:
            yield [name, "–", printable(each.problem), *("–" for _ in keys)]
        for state in each.states:
            told = {
                row.key: f"{value_text(row.simulated, split_key(row.key)[1])} {_signed(row.difference, 1)}"
                for row in state.compared
            }
            piece = f"case {state.name}" if state.celsius is None else f"{state.name}, {state.celsius:.0f} °C"
            yield [name, piece, printable(_found(state)), *(told.get(key, "–") for key in keys)]


def _found(state: ConfirmedState) -> str:
    """What became of a simulated state, in a few words."""
    if state.outcome != "settled" or not state.short:
        return "holds" if state.outcome == "settled" else state.outcome
    worst = state.short[0]
    return f"{either_side(f'{worst.part}: {worst.limit}')} {_signed(worst.headroom)}"


def write_advice(advice: CoilAdvice, out: Path) -> list[Path]:
    """Write the folder and return its files, the page first. Raises OutputError."""
    from heatsim.report.base.pictures import files
    from heatsim.report.heat.coils import picture as pictures

    maps = files(pictures.maps(advice), "coil-maps", pictures.MAPS)
    power = files(pictures.power(advice), "coil-power", pictures.POWER)
    content: dict[str, str | bytes] = {"coils.html": _page(advice, maps, power)}
    if advice.recommended is not None and not advice.recommended.estimate.own:
        content["wound-coil.toml"] = coil_text(advice)
    content["results.json"] = json_file(advice.as_dict())
    content["coils.csv"] = coils_csv(advice)
    return write_files(out, content | maps | power, (out / "wound-coil.toml",))


def _page(advice: CoilAdvice, maps: dict[str, str | bytes], power: dict[str, str | bytes]) -> str:
    from heatsim.report.heat.coils import picture as pictures

    return template("coils.html").render(
        name=advice.scenario.name,
        sha256=advice.scenario.hash,
        heading=heading(advice),
        columns=COLUMNS,
        legend=LEGEND,
        rows=coil_rows(advice),
        count=len(advice.candidates),
        keys=list(NAMES.values()),
        confirmed=list(confirmed_rows(advice, tuple(NAMES))),
        pictures=[Shown.of(maps, pictures.MAPS, pictures.MAPS_CAPTION), Shown.of(power, pictures.POWER, pictures.POWER_CAPTION)],
        cautions=(*left_out(advice), *advice.cautions, SAFETY),
    )


def coils_csv(advice: CoilAdvice) -> str:
    """The scenario's own coil and every candidate, best first: numbers in SI."""
    out = io.StringIO()
    rows = [_flat(each) for each in (advice.own, *advice.candidates)]
    written = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    written.writeheader()
    written.writerows(rows)
    return out.getvalue()


def _flat(one: CoilEstimate) -> dict[str, Any]:
    found = {name: value for name, value in plain_estimate(one).items() if not isinstance(value, dict | list)}
    worst = {
        name: max(getattr(each, name) for each in one.states)
        for name in ("power", "supply_current", "coil_current", "capacitor_current")
    }
    found |= {f"largest_{name}": value for name, value in worst.items()}
    found |= {"cold_power": one.states[0].power, "hot_power": one.states[-1].power, "cold_frequency": one.states[0].frequency}
    return found | {"idle_loss": one.idle.coil_loss, "ends": ends_words(one)}


def coil_text(advice: CoilAdvice) -> str:
    """The scenario file, changed as it was asked about, with the recommended coil written into it; its comments are kept."""
    import tomlkit

    assert advice.recommended is not None
    document: Any = tomlkit.parse(advice.scenario.text)
    for field, value in advice.scenario.changes:
        put(document, field, value)
    document["coil"].pop("measured", None)
    for field, value in advice.recommended.estimate.shape.fields.items():
        document["coil"][field] = int(value) if isinstance(value, float) and math.isclose(value, round(value)) else value
        document["coil"][field].comment("chosen by heatsim heat --coils")
    return str(tomlkit.dumps(document))
