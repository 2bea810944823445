# SPDX-License-Identifier: GPL-3.0-or-later
"""report.html of a sweep: how many points hold, the picture, what decides, the best and worst points, what each field does.

However many points there are, the page holds summaries only: every row is in the store, and `--export` writes them.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from heatsim.report.base import sheet as base
from heatsim.report.base.sheet import Block, Cell, Grade, Items, Pairs, Picture, Prose, Section, Sheet, Told, table
from heatsim.report.base.words import field_words, limit_words, percent, value_text
from heatsim.report.sweep import summary
from heatsim.report.sweep.terminal import varied_words
from heatsim.report.sweep.view import SweepView
from heatsim.studies.store import SweepInfo
from heatsim.verdict import worst
from heatsim.verdict.finding import SEVERITY

SHOWN = 5
"""Points told of the worst and of the best."""

CAPTIONS = {
    "lines": (
        "Each line is a case, over the field that is varied. Below the line at zero a limit is broken; where a line crosses it, "
        "the limit that ends the use is named. Crosses: the circuit does not run there."
    ),
    "maps": (
        "Each field of colour is a simulated point; green-blue has room, brown has none. The thick line is where no headroom is "
        "left, and the limit that ends it is written beyond. Lines are interpolated between points."
    ),
    "influence": (
        "Left: how the least headroom spreads over the samples. Beside it: the same over how far each field is off, with what a "
        "plane through all samples says it does by itself."
    ),
}
"""What one should see, by the kind of picture."""

MOVED = (
    "How far each field moves the least headroom from one end of its tolerance to the other, all else nominal: the slope of a "
    "plane through all samples."
)
"""Above what moves the headroom."""

SENTENCES = {
    "holds": "{} {} with the headroom wanted",
    "marginal": "{} {} with less headroom than wanted",
    "unknown": "{} cannot be judged",
    "fails": "{} {}",
}


def render_page(info: SweepInfo, frame: Any, pictures: tuple[Picture, ...], beside: str) -> str:
    """The page. frame: of the sweep in its store; pictures: of it; beside: what files lie beside the page."""
    return base.render(sheet(info, frame, pictures, beside))


def sheet(info: SweepInfo, frame: Any, pictures: tuple[Picture, ...], beside: str) -> Sheet:
    """The page in parts."""
    view = SweepView(info.plan, frame)
    return Sheet(
        name=view.name,
        what=f"Sweep {info.number}: {varied_words(info.plan)}, {' and '.join(view.cases)}",
        tone=tone(info),
        word=headline(info),
        lead=tuple(_lead(info, view)),
        flags=tuple(_flags(info, view)),
        tally=base.simulated(info.plan["scenario"]["file"]),
        sections=tuple(_sections(info, view, pictures, beside)),
        cautions=base.HEATER_CAUTIONS,
        caution=base.NO_PROOF,
    )


def tone(info: SweepInfo) -> str:
    """The worst grade of all points."""
    return worst(info.grades)


def headline(info: SweepInfo) -> str:
    """How many points come to the worst grade there is: "2 of 100 points fail"."""
    of = f"of {info.done:,} points" + (" so far" if info.done < info.total else "")
    worst = tone(info)
    count = info.grades.get(worst, 0)
    if worst == "holds":
        every = "the only point holds" if info.done == 1 else f"all {info.done:,} points hold"
        return every + (" so far" if info.done < info.total else "")
    one = count == 1
    verbs = {"fails": "fails" if one else "fail", "marginal": "holds, but only just" if one else "hold, but only just"}
    return f"{count:,} {of} {verbs.get(worst, 'cannot be judged')}" if info.done else "nothing is simulated yet"


def _lead(info: SweepInfo, view: SweepView) -> Iterator[str]:
    """Where it is worst and best, and how many points have which grade."""
    places, headroom = summary.ranked(view), view.column("headroom")
    if places:
        worst, best = places[0], places[-1]
        ends = limit_words(str(view.texts("ends")[worst]))
        if np.isfinite(headroom[worst]):
            yield f"Least headroom {percent(headroom[worst], 1)} ({ends}), at {view.where(worst)}."
        else:
            yield f"At {view.where(worst)} it does not run: {ends}."
        if len(places) > 1 and np.isfinite(headroom[best]):
            yield f"Most headroom {percent(headroom[best], 1)}, at {view.where(best)}."
    told = [
        SENTENCES[grade].format(f"{count:,}", {"fails": _verb(count, "fail")}.get(grade, _verb(count, "hold")))
        for grade, count in sorted(info.grades.items(), key=lambda one: -SEVERITY[one[0]])
    ]
    if len(told) > 1:
        yield f"{'; '.join(told)}."


def _verb(count: int, verb: str) -> str:
    return f"{verb}s" if count == 1 else verb


def _flags(info: SweepInfo, view: SweepView) -> Iterator[str]:
    """What keeps the page from being the whole answer."""
    if info.done < info.total:
        yield f"{info.done:,} of {info.total:,} points are done; the same command goes on with the rest and writes this page anew."
    if summary.lost(view):
        yield f"{summary.lost(view):,} points have no result: {summary.causes(view)[0]}."
    if not info.current:
        yield "Computed by another heatsim or simulator than today's; a new run of the same sweep computes its points again."


def _sections(info: SweepInfo, view: SweepView, pictures: tuple[Picture, ...], beside: str) -> Iterator[Section]:
    yield Section("picture", "The sweep in a picture" if len(pictures) < 2 else "The sweep in pictures", pictures, "The picture")
    yield Section("decides", "What decides", tuple(_decides(view)))
    yield Section("points", "Best and worst points", tuple(_points(view)))
    fields = tuple(_fields(view))
    if fields:
        yield Section("fields", "What each field does", fields)
    yield Section("numbers", "Range of the numbers", tuple(_numbers(view)))
    yield Section("basis", "What this rests on", tuple(_basis(info, view, beside)))


def _decides(view: SweepView) -> Iterator[Block]:
    """The limits with the least headroom, and where."""
    rows = (
        (Told(one.limit, Told.limit(one.key).topic), f"{one.count:,}", _room(one.least), view.where(one.place))
        for one in summary.deciding(view)
    )
    yield Prose(
        "The limit with the least headroom at each point, and how many points it decides. Open one to read what it is.", "soft"
    )
    yield table("Limits that decide", ("limit", "points", "least headroom", "there"), rows, ("there",))
    grades = view.cube(view.texts("grade")).reshape(len(view.cases), -1)
    found = [grade for grade in sorted(SEVERITY, key=lambda name: SEVERITY[name]) if (grades == grade).any()]
    counts = ((case, *(f"{(row == grade).sum():,}" for grade in found)) for case, row in zip(view.cases, grades, strict=True))
    yield table("Points of each grade, by case", ("case", *found), counts)


def _room(headroom: float) -> str:
    return percent(headroom, 1) if np.isfinite(headroom) else "does not run"


def _points(view: SweepView) -> Iterator[Block]:
    """The worst points and the best ones."""
    places = summary.ranked(view)
    if not places:
        yield Prose("No point has a result.")
        return
    worst = places[:SHOWN]
    best = [place for place in reversed(places) if place not in worst][:SHOWN]
    for name, chosen in (("Worst", worst), ("Best", best)):
        if chosen:
            yield base.Heading(name)
            rows = [_point_row(view, place) for place in chosen]
            yield table(f"{name} points", ("point", "grade", "headroom", "decides"), rows, ("grade", "decides"))


def _point_row(view: SweepView, place: int) -> tuple[Cell, ...]:
    ends = str(view.texts("ends")[place])
    return view.where(place), Grade(str(view.texts("grade")[place])), _room(view.column("headroom")[place]), limit_words(ends)


def _fields(view: SweepView) -> Iterator[Block]:
    """For each varied field a table: by its value, how many points hold and where it is tightest."""
    for at, dimension in enumerate(view.dimensions):
        if len(dimension.values) > 1:
            yield base.Heading(f"By {dimension.label}")
            rows = (_stretch_row(view, each) for each in summary.stretches(view, at))
            headings = (dimension.label, "points", "hold", "only just", "fail", "least headroom", "decides there")
            yield table(f"By {dimension.label}", headings, rows, ("decides there",))
    if view.samples:
        yield from _influences(view)


def _stretch_row(view: SweepView, each: summary.Stretch) -> tuple[str, ...]:
    grades, headroom = view.texts("grade")[each.places], view.column("headroom")[each.places]
    counts = [int((grades == grade).sum()) for grade in ("holds", "marginal", "fails")]
    done = int((grades != "").sum())
    row = [each.label, f"{done:,}", *(f"{count:,}" for count in counts)]
    if not done:
        return (*row, "–", "not done yet")
    runs = np.where(np.isfinite(headroom), headroom, np.where(grades == "fails", -np.inf, np.inf))
    worst = int(np.argmin(runs))
    room = "–" if np.isposinf(runs[worst]) else _room(runs[worst])
    return (*row, room, limit_words(str(view.texts("ends")[each.places][worst])))


def _influences(view: SweepView) -> Iterator[Block]:
    """What moves the least headroom over the samples."""
    from heatsim.report.sweep.influence import moved_by

    rows = [(field_words(field), f"{points:+.2g} points".replace("-", "−")) for field, points in moved_by(view, "headroom")]
    if rows:
        yield base.Heading("What moves the headroom")
        yield Prose(MOVED, "soft")
        yield table("What moves the headroom", ("field", "moves it by"), rows)


def _numbers(view: SweepView) -> Iterator[Block]:
    """Least, middle and greatest of the main measures, and what they are at the worst point and at the best."""
    places, rows = summary.ranked(view), []
    for key in summary.told_measures(view):
        values = summary.largest(view, key)
        known = np.flatnonzero(np.isfinite(values))
        order = known[np.argsort(values[known], kind="stable")]
        chosen = (order[0], order[len(order) // 2], order[-1], places[0], places[-1])
        rows.append((summary.measure_name(key), *(summary.measure_text(view, key, int(place)) for place in chosen)))
    headings = ("measure", "least", "in the middle", "greatest", "at the worst point", "at the best point")
    yield table("Range of the main measures", headings, rows)
    yield Prose(
        "Of left and right the larger counts. Every measure of every point: heatsim sweep --store STORE --export points.csv", "soft"
    )


def _basis(info: SweepInfo, view: SweepView, beside: str) -> Iterator[Block]:
    """What was varied, how points were found, and what is left out."""
    yield base.Heading("What was varied")
    rows = [*summary.varied(info.plan)]
    if info.plan.get("samples"):
        samples = info.plan["samples"]
        rows.append(("samples", f"{samples['count']}, {samples['spread']}, seed {samples['seed']}"))
    yield Pairs((*rows, ("cases", ", ".join(view.cases))))
    causes = summary.causes(view)
    if causes:
        yield base.Heading("Points without a result")
        yield Items(tuple(causes))
    yield base.Heading("How it was computed")
    if summary.followed(view):
        yield Prose(summary.followed(view))
    yield Prose("What each value of the file, each temperature and each limit rests on, the page of heatsim check tells.")
    made = info.made_with
    seconds = value_text(float(np.nansum(view.column("wall_s"))), "s")
    programs = f"heatsim {made['heatsim']}, {made['simulator'] or 'no simulator'}; " if made else ""
    yield base.how_computed(info.plan["scenario"], f"{programs}{info.done:,} points, {seconds} of simulation in all", beside)
