# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences and cells about a match of meter readings, shared by terminal and page."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.errors import printable
from heatsim.report.base.words import listed, measure_words, sentence_case, value_text
from heatsim.report.match.words import SPREADS
from heatsim.studies.match.readings import NORMAL_95, Condition, Proposal, ReadingsResult

OFF = 2.0
"""Standard deviations from which a reading or a part is named as standing out."""

ERRORS = (
    "Errors are halves of 95 % intervals. Where none was stated, it is that of an ordinary meter of the kind, with half a last "
    "digit of rounding (common practice, no source). heatsim's own error is added before anything is compared."
)
"""Under the readings."""

LEFT_OUT = "Off by: how far a reading lies from what the scenario and all other readings lead to expect, in standard deviations."

CHECK_FIRST = (
    "Check first whether this is the scenario of the heater that was read, whether each case and supply voltage is right, and the "
    "reading that is furthest off: clamp meters and multimeters read high-frequency currents and voltages far too low. A fault "
    "looks like this too: an oscilloscope's capture tells which."
)
"""What to do about readings that no heater of the scenario gives."""


def condition(given: Condition, after: float | None = None) -> str:
    """A condition in words: "loaded, 42 V, after 10 min"."""
    more = f", {value_text(after, 's')} from cold" if after is not None else ""
    return f"{printable(given.case)}, {value_text(given.supply_voltage, 'V')}{more}"


def answer(result: ReadingsResult) -> str:
    """What the readings say, in one sentence or two."""
    if not result.at_rest:
        return "The fit did not come to rest: no heater near this scenario's was found that gives these readings."
    if not result.consistent:
        return (
            f"No heater of this scenario gives these readings (chance {chance(result)}). "
            f"Furthest off: {printable(result.furthest.reading.text)}, by {abs(result.furthest.left_out):.1f} standard deviations."
        )
    lead = f"A heater of this scenario gives these readings (chance of readings as far off: {chance(result)})."
    if not result.free:
        return lead
    groups: dict[str, list[str]] = {"yes": [], "partly": [], "no": []}
    for each in result.free:
        groups[each.told].append(SPREADS[each.name])
    texts = [
        f"{text} {listed(groups[told])}"
        for told, text in (("yes", "they tell the"), ("partly", "they tell in part the"), ("no", "they do not tell the"))
        if groups[told]
    ]
    return f"{lead} Of what was not known, {listed(texts)}."


def chance(result: ReadingsResult) -> str:
    """A chance as a percentage."""
    return "below 0.1 %" if result.chance < 1e-3 else f"{100 * result.chance:.2g} %"


def reading_rows(result: ReadingsResult) -> Iterator[tuple[str, str, str, str, str, str]]:
    """Reading, value with error, what the scenario and the fit say, how far off, and by what kind of error."""
    for each in result.compared:
        given = each.reading
        unit, words = given.what.unit, measure_words(given.what.measure)
        label = f"{words}, {condition(given.condition, given.after)}"
        error = value_text(NORMAL_95 * given.error, unit, 2)
        value, expected, fitted = (value_text(x, unit, 4) for x in (given.value, each.expected, each.fitted))
        source = "stated" if given.stated else given.what.meter.name
        yield label, f"{value} ± {error}", expected, fitted, f"{each.left_out:+.1f}".replace("-", "−"), source


def departures(result: ReadingsResult) -> list[str]:
    """Parts that stand out from what the scenario says, in words."""
    found = [each for each in result.departures if abs(each.size) > OFF and not each.free]
    return [f"{SPREADS[each.name]} by {each.size:+.1f} standard deviations".replace("-", "−") for each in found]


def proposal(each: Proposal, free: bool) -> str:
    """A reading to take next."""
    shown = f"expect {value_text(each.expected, each.unit, 4)}, to be read within {value_text(each.error, each.unit, 2)}"
    narrowed = "what was not known" if free else "the parts' spread"
    return (
        f"{sentence_case(measure_words(each.key))} ({condition(each.condition, each.after)}), "
        f"with {article(each.meter)} {each.meter}: {shown}. It narrows {narrowed} by {100 * each.gain:.0f} %."
    )


def article(word: str) -> str:
    """The indefinite article of a noun."""
    return "an" if word[0] in "aeiouAEIOU" else "a"


NOTHING_MORE = "No single further reading with an ordinary meter would tell much more."
