# SPDX-License-Identifier: GPL-3.0-or-later
"""A tolerance study in words: how many heaters keep their limits, what the worst is like, what it hangs on, how sure that is."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.errors import printable
from heatsim.report.base.words import (
    field_words,
    limit_words,
    listed,
    measure_words,
    named_measure,
    percent,
    sentence_case,
    value_text,
)
from heatsim.studies.points import Band
from heatsim.studies.tolerance import Influence, Sample, Spread, ToleranceResult

LAWS = {
    "uniform": "parts lie evenly in their bands",
    "normal": "parts lie normally in their bands, which are three standard deviations either way",
}

MENTIONED = 0.05
"""Share of the spread from which on a field is named."""


def sentences(result: ToleranceResult) -> Iterator[str]:
    """The study in a few sentences, the answer first."""
    yield headline(result)
    yield from first_to_fail(result)
    yield from worst(result)
    yield from hangs_on(result)


def headline(result: ToleranceResult) -> str:
    """The single answer: "99.6 % of heaters keep every limit, give or take 0.5 %."."""
    if result.share is None:
        failing = len(result.failing)
        return f"Nothing can be said of all heaters: {failing} of {len(result.samples)} simulated ones do not run or fail."
    share = result.share
    if share.low >= 1 - result.wanted and not result.failing:
        return f"Practically every heater built within these tolerances keeps every limit (at least {_share(share.low)})."
    told = f"{_share(share.value)} of heaters built within these tolerances keep every limit"
    return f"{told}, between {_share(share.low)} and {_share(share.high)}."


def _share(ratio: float) -> str:
    if 0.9995 <= ratio < 1:
        return "over 99.9 %"
    return f"{100 * ratio:.3g} %"


def first_to_fail(result: ToleranceResult) -> Iterator[str]:
    """What fails first in those that do not."""
    if result.ends:
        key, share = next(iter(result.ends.items()))
        rest = len(result.ends) - 1
        more = f"; {rest} other limit{'s' if rest > 1 else ''} in the rest" if rest else ""
        yield f"First to fail: {limit_of(key)} (in {_share(share)} of all){more}."


def worst(result: ToleranceResult) -> Iterator[str]:
    """The worst heater within all tolerances."""
    if result.worst is None:
        return
    sample = result.worst.sample
    at = listed([value_of(result, sample, k) for k in range(len(result.bands))])
    if not sample.runs:
        case, why = next(iter(sample.trouble.items()))
        yield printable(f"What should be the worst heater within all tolerances does not run in case {case} ({why}): {at}.")
        return
    room, key = sample.least
    found = f"has a headroom of {percent(room, 1)}: {limit_of(key)}"
    yield f"The worst heater within all tolerances, simulated from rest, {found}, with {at}."


def hangs_on(result: ToleranceResult) -> Iterator[str]:
    """Which fields make the least headroom spread."""
    if result.room is None:
        return
    named = [one for one in result.room.influences if one.total >= MENTIONED]
    told = [f"{field_words(one.field)} ({100 * one.total:.0f} %)" for one in named]
    idle = [field_words(one.field) for one in result.room.influences if one.total < 0.01]
    if told:
        yield f"What makes the least headroom spread: {listed(told)}."
    if idle:
        yield f"It hardly matters: {listed(idle)}."


def doubts(result: ToleranceResult) -> Iterator[str]:
    """What could not be judged, and what was not reached."""
    if result.unjudged:
        yield f"Could not be judged in some heaters and are left out: {listed([limit_of(key) for key in result.unjudged])}."
    idle = [each for each in result.samples if not each.runs]
    if idle:
        case, why = next(iter(idle[0].trouble.items()))
        yield printable(
            f"{len(idle)} of {len(result.samples)} simulated heaters do not run, the first of them in case {case}: {why}."
        )
    if result.share is not None and not result.reached:
        yield (
            f"The number of samples ran out before the share was known to {100 * result.wanted:g} %: it is known to "
            f"{100 * result.share.error:.2g} %. Allow more with --samples."
        )


def how_sure(result: ToleranceResult) -> Iterator[str]:
    """How the numbers are known."""
    count = len(result.samples)
    each = f" in {len(result.cases)} cases each" if len(result.cases) > 1 else ""
    yield (
        f"{count} heaters simulated{each}: {result.even} spread evenly, the others where they tell most. Between them headrooms "
        "are interpolated; errors are what samples left out of it show, at 95 %."
    )
    if result.missed:
        yield (
            "All evenly spread ones ran. Heaters that do not run at all would be missed by them as long as they are fewer "
            f"than {_share(result.missed)} (rule of three)."
        )
    if result.worst is not None and result.worst.sample.runs:
        yield (
            f"Before it was simulated the worst one had been told a headroom of {percent(result.worst.told, 1)}, give or take "
            f"{100 * result.worst.error:.2g} points."
        )
    yield f"It was assumed that {LAWS[result.law]}, each by itself."


def band_words(result: ToleranceResult, band: Band, place: int) -> str:
    """A tolerance: "capacitors capacitance 330 nF ± 5 %"."""
    nominal = result.nominals[result.cases[0]][place]
    width = f"{100 * band.width:g} %" if band.relative else value_text(band.width, band.field.unit)
    return f"{field_words(band.field.path)} {value_text(nominal, band.field.unit)} ± {width}"


def value_of(result: ToleranceResult, sample: Sample, place: int) -> str:
    """A field of a heater: "supply voltage 47 V"."""
    band = result.bands[place]
    value = result.offsets_as_values(sample, result.cases[0])[band.field.path]
    return f"{field_words(band.field.path)} {value_text(value, band.field.unit)}"


def limit_of(key: str) -> str:
    """`loaded: supply: mean current` -> "supply: mean current, case loaded"."""
    case, _, limit = key.partition(": ")
    return f"{limit_words(limit)}, case {case}"


def spread_row(result: ToleranceResult, spread: Spread, limit: bool) -> tuple[str, str, str, str, str]:
    """Name, nominal value, middle nine tenths, error, and the field that moves it most."""
    case, _, name = spread.key.partition(": ")
    most = spread.influences[0] if spread.influences and spread.deviation > 0 else None
    moved = f"{field_words(most.field)} ({100 * most.total:.0f} %)" if most else "–"
    if limit:
        numbers = (percent(each, 1) for each in (spread.nominal, spread.low, spread.high))
        nominal, low, high = numbers
        return limit_of(spread.key), nominal, f"{low} to {high}", f"± {100 * spread.error:.2g} points", moved
    unit = named_measure(name)[2]
    nominal, low, high, error = (value_text(each, unit) for each in (spread.nominal, spread.low, spread.high, spread.error))
    return f"{sentence_case(measure_words(name))}, case {case}", nominal, f"{low} to {high}", f"± {error}", moved


def moves_text(moves: float) -> str:
    """How far a field moves the least headroom: "−7.56 points"."""
    return f"{100 * moves:+.3g} points".replace("-", "−")


def influences(result: ToleranceResult) -> dict[str, Influence]:
    """What each field does to the least headroom, by field; empty where that is not known."""
    return {} if result.room is None else {one.field: one for one in result.room.influences}


def of_limits(result: ToleranceResult) -> list[Spread]:
    """The spreads that are those of limits, the tightest first."""
    return [one for one in result.spreads if any(one.key in each.rooms for each in result.samples)]
