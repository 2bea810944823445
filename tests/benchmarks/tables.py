# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers of a run as tables of the results page."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tests.benchmarks.clock import Spread
from tests.benchmarks.estimate import Costs, Estimate, starts
from tests.benchmarks.methods import CHEAPEST, CHECK, FASTER, LOAD, METHODS, PLAIN, SETTLED, SINGLE, SUPPLY, Timing
from tests.benchmarks.profile import FUNCTIONS, REST, evaluation
from tests.benchmarks.results import Results
from tests.benchmarks.scaling import MILLION, Beside, Swept, cold_starts
from tests.benchmarks.truth import COLUMNS, Truth

TARGETS = (30, 50)
"""How many times faster a followed point was meant to be than the cheapest settled cold start: at least, and aim."""

MISSED = " ✗"
"""Put behind an error that is larger than allowed."""

NONE = "–"


def table(head: Sequence[str], rows: Sequence[Sequence[str]], left: int = 1) -> list[str]:
    """A Markdown table; the first `left` columns are text."""
    cells = [list(head), *map(list, rows)]
    widths = [max(3, *(len(row[k]) for row in cells)) for k in range(len(head))]

    def line(row: Sequence[str]) -> str:
        told = (
            text.ljust(width) if k < left else text.rjust(width) for k, (text, width) in enumerate(zip(row, widths, strict=True))
        )
        return f"| {' | '.join(told)} |"

    rule = [("-" * width if k < left else "-" * (width - 1) + ":") for k, width in enumerate(widths)]
    return [line(cells[0]), f"|{'|'.join(f' {each} ' for each in rule)}|", *map(line, cells[1:])]


def of(timed: Sequence[Timing], circuit: str, method: str) -> list[Timing]:
    """Those of one circuit by one method."""
    return [each for each in timed if each.circuit == circuit and each.method == method]


def millis(numbers: Sequence[float]) -> str:
    """Median and quartiles in ms: 41 (38–45)."""
    if not numbers:
        return NONE
    spread = Spread.of([1e3 * number for number in numbers])
    return spread_text(spread)


def spread_text(spread: Spread) -> str:
    """Median and quartiles."""
    told = [_short(number) for number in (spread.median, spread.low, spread.high)]
    return f"{told[0]} ({told[1]}–{told[2]})" if spread.count > 1 else told[0]


def _short(number: float) -> str:
    """Three digits, whole from a hundred on."""
    return f"{number:.0f}" if number >= 100 else f"{number:.3g}"


def error_text(error: float | None, column: int) -> str:
    """An error in percent, that of THD in points; marked when it is larger than allowed."""
    if error is None:
        return NONE + MISSED
    allowed = COLUMNS[column].allowed
    return f"{100 * error:+.3f}".replace("-", "−") + (MISSED if abs(error) > allowed else "")


def circuits_table(truths: Sequence[Truth], qualities: Sequence[float]) -> list[str]:
    """The circuits, their references, and when their cold starts are settled."""
    rows = []
    for truth, quality in zip(truths, qualities, strict=True):
        shorts = [NONE if short is None else f"{1e3 * short.stop:.2f} ms" for short in (truth.own, truth.free)]
        rise = NONE if truth.free is None else truth.free.rise
        told = f"{1e3 * truth.reached:.1f} ms" + ("" if truth.settled else ", still moving")
        rows.append(
            [
                truth.circuit.name,
                truth.circuit.told,
                f"{quality:.0f}",
                f"{truth.measures['tank.frequency_hz'] / 1e3:.2f} kHz",
                told,
                f"{1e3 * truth.check_stop:.2f} ms",
                shorts[0],
                shorts[1],
                rise,
            ]
        )
    return table(
        ["circuit", "what it is", "Q", "frequency", "reference", "settled", "cheapest settled", "faster supply", "its rise"],
        rows,
        2,
    )


def methods_table(results: Results, circuit: str) -> list[str]:
    """Times and errors of every method for one circuit."""
    head = ["way", "simulator, CPU ms", "whole point, CPU ms", "whole point, clock ms", "periods"]
    head += [f"{column.name}, {'%' if column.relative else 'points'}" for column in COLUMNS]
    rows = []
    for method in METHODS:
        found = of(results.timings, circuit, method)
        if not found:
            rows.append([method] + [NONE] * (len(head) - 1))
            continue
        periods = [each.periods for each in found if each.periods is not None]
        judged = [each.off for each in found if each.off is not None]
        worst = [
            max((off[k] for off in judged), key=lambda error: abs(error) if error is not None else 9.0) for k in range(len(COLUMNS))
        ]
        rows.append(
            [
                method,
                *(millis([pick(each) for each in found]) for pick in PICKS),
                f"{Spread.of(periods).median:.0f}" if periods else NONE,
                *(error_text(error, k) for k, error in enumerate(worst)),
            ]
        )
    return table(head, rows)


PICKS: tuple[Callable[[Timing], float], ...] = (
    lambda each: each.sim.cpu,
    lambda each: each.whole.cpu,
    lambda each: each.whole.wall,
)

RATIOS = (
    (CHEAPEST, SUPPLY),
    (CHEAPEST, LOAD),
    (FASTER, SUPPLY),
    (SETTLED, SUPPLY),
    (SETTLED, LOAD),
    (PLAIN, SUPPLY),
    (SETTLED, SINGLE),
    (PLAIN, SETTLED),
    (SETTLED, CHECK),
)
"""Slower way, faster way."""


def ratio(results: Results, circuit: str, slow: str, fast: str, pick: Callable[[Timing], float]) -> Spread | None:
    """How many times longer the slow way takes, turn by turn, so that what the machine does beside it falls out."""
    found = []
    for turn in range(results.extent.turns):
        pair = [[pick(each) for each in of(results.timings, circuit, method) if each.turn == turn] for method in (slow, fast)]
        if all(pair):
            found.append(Spread.of(pair[0]).median / Spread.of(pair[1]).median)
    return Spread.of(found) if found else None


def ratios_table(results: Results) -> list[str]:
    """Ratios of processor time, simulator alone and whole point."""
    rows = []
    for slow, fast in RATIOS:
        for name, pick in (("simulator", PICKS[0]), ("whole point", PICKS[1])):
            row = [f"{slow} / {fast}", name]
            for truth in results.truths:
                spread = ratio(results, truth.circuit.name, slow, fast, pick)
                row.append(NONE if spread is None else spread_text(spread))
            rows.append(row)
    return table(["times longer", "of what", *(truth.circuit.name for truth in results.truths)], rows, 2)


def beside_table(beside: Sequence[Beside]) -> list[str]:
    """Whole sweeps beside plain ngspice."""
    rows = []
    for found in beside:
        cold = cold_starts(found.found)
        numbers = (found.workers, found.points, cold)
        rows.append([*map(str, numbers), f"{1e3 * found.sweep:.1f}", spread_text(_in_ms(found.plain)), f"{found.ratio:.1f}"])
    head = ["workers", "points", "cold starts", "whole sweep, CPU ms a point", "plain ngspice -b, CPU ms a point", "times longer"]
    return table(head, rows, 0)


def floor_table(results: Results) -> list[str]:
    """How many times the least there can be each way takes, whole points and whole sweeps; these are of the first circuit."""
    names = [truth.circuit.name for truth in results.truths]
    least = [results.floors.get(name) for name in names]
    rows = [["**netlist loaded, and two periods**", *(NONE if each is None else f"{1e3 * each:.1f} ms" for each in least)]]
    for method in METHODS:
        taken = [[each.whole.cpu for each in of(results.timings, name, method)] for name in names]
        medians = [Spread.of(some).median if some else None for some in taken]
        rows.append([method, *(_times(median, each) for median, each in zip(medians, least, strict=True))])
    for swept in results.beside:
        name = f"whole sweep of {swept.points} points, workers: {swept.workers}"
        rows.append([name, _times(swept.sweep, least[0]), *[NONE] * (len(names) - 1)])
    return table(["way", *names], rows)


def _times(taken: float | None, least: float | None) -> str:
    return NONE if taken is None or least is None else _short(taken / least)


def targets(results: Results) -> list[str]:
    """In words: how much faster a followed point is, and in how many circuits that reaches the targets."""
    told = []
    for slow in (CHEAPEST, FASTER, SETTLED):
        words = []
        for name, pick in (("simulator alone", PICKS[0]), ("whole point", PICKS[1])):
            spreads = [ratio(results, truth.circuit.name, slow, SUPPLY, pick) for truth in results.truths]
            known = [spread.median for spread in spreads if spread is not None]
            if known:
                reached = " and ".join(f"{target} in {sum(value >= target for value in known)}" for target in TARGETS)
                words.append(f"{name} {min(known):.0f} to {max(known):.0f} times (at least {reached} of {len(known)} circuits)")
        told.append(f"- against *{slow}*: {'; '.join(words) or 'nothing to compare'}.")
    return told


def profile_table(results: Results) -> list[str]:
    """Parts of a followed point."""
    whole = evaluation(results.parts)
    rows = []
    for part in results.parts:
        inside = part.name in (*FUNCTIONS, REST)
        share = f"{100 * part.took.cpu / whole.cpu:.1f}" if inside else NONE
        rows.append([part.name, f"{1e3 * part.took.cpu:.2f}", share, f"{1e3 * part.took.wall:.2f}"])
    rows.insert(
        sum(part.name in (*FUNCTIONS, REST) for part in results.parts),
        ["**a followed point**", f"**{1e3 * whole.cpu:.2f}**", "**100**", f"**{1e3 * whole.wall:.2f}**"],
    )
    return table(["part", "CPU ms", "share %", "clock ms"], rows)


def sweeps_table(results: Results) -> list[str]:
    """Whole sweeps."""
    rows = []
    for each in results.swept:
        ends = cold_starts(each.methods)
        rows.append(
            [
                str(each.workers),
                str(each.points),
                str(ends),
                f"{each.took.wall:.1f}",
                f"{each.rate:.1f}",
                f"{1e3 * each.took.cpu / each.points:.0f}",
                f"{1e3 * each.parent / each.points:.1f}",
                f"{1e3 * each.put.wall:.1f}",
                f"{each.size / each.points / 1024:.1f}",
            ]
        )
    return table(
        [
            "workers",
            "points",
            "cold starts",
            "s",
            "points/s",
            "CPU ms a point",
            "of it the keeper",
            "clock ms to store one",
            "kB a row",
        ],
        rows,
        0,
    )


def sizes_table(results: Results) -> list[str]:
    """Circuits by size."""
    rows = [
        [each.name, str(each.states), spread_text(_in_ms(each.followed)), spread_text(_in_ms(each.sim)), f"{1e3 * each.period:.2f}"]
        for each in results.sized
    ]
    return table(["circuit", "nodes and inductors", "followed point, CPU ms", "of it simulator", "cold period, CPU ms"], rows)


def _in_ms(spread: Spread) -> Spread:
    return Spread(1e3 * spread.median, 1e3 * spread.low, 1e3 * spread.high, spread.count)


def explained(results: Results, each: Costs) -> tuple[Swept, float]:
    """The longest sweep, and which share of the processor time of all its processes the costs add up to [1]."""
    swept = max(results.swept, key=lambda one: one.points)
    besides = swept.planned.besides + swept.unplanned
    return swept, each.sweep(swept.points, swept.planned.first, besides, swept.workers) / swept.took.cpu


def costs_table(each: Costs) -> list[str]:
    """What the paper estimate is made of."""
    plan, besides = each.planned, each.end - each.followed
    rows = [
        (
            "followed points",
            "neighbours among the million, in one process, without instruments",
            MILLION - plan.first,
            each.followed,
        ),
        ("points without a neighbour", "coarse start, then its periodic state, in one process", plan.first, each.first),
        ("ends of paths, corners", "coarse start beside the followed point, in one process", plan.besides, besides),
        (
            "further cold starts",
            "the same; as many a path as in those sweeps and the ones above",
            each.besides - plan.besides,
            besides,
        ),
        ("messages, store, bookkeeping", "whole sweeps of such points by one worker, less all of the above", MILLION, each.around),
        ("starts of workers", "the same", starts(MILLION), each.start),
    ]
    cells = [[name, where, f"{many:.0f}", f"{1e3 * cost:.3g}", f"{many * cost / 3600:.2f}"] for name, where, many, cost in rows]
    return table(["what", "where it was measured", "times", "CPU ms each", "hours"], cells, 2)


def estimates_table(found: Sequence[Estimate]) -> list[str]:
    """Hours for a million points."""
    rows = [[str(each.workers), f"{each.hours:.1f}", f"{1e6 / 3600 / each.hours:.0f}", each.held_up_by] for each in found]
    return table(["workers, a core each", "hours", "points/s", "held up by"], rows, 0)
