# SPDX-License-Identifier: GPL-3.0-or-later
"""Words about meter readings beside a capture: what each cause makes of them."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.errors import printable
from heatsim.report.base.words import measure_words, value_text
from heatsim.studies.match import MatchResult, ReadingBeside

HEADING = "Readings beside the capture, fitted together with it"


def reading_label(reading: ReadingBeside) -> str:
    """What was read, in which case, with the error of meter and model."""
    read = f"{value_text(reading.value, reading.unit)} ± {value_text(1.96 * reading.error, reading.unit, 2)}"
    expected = value_text(reading.expected, reading.unit)
    return printable(f"{measure_words(reading.key)}, {reading.case}: read {read}, the scenario leads to expect {expected}")


def reading_rows(result: MatchResult, reading: ReadingBeside) -> Iterator[tuple[str, str]]:
    """Each cause that was simulated, the first one first, and what its best fit would show."""
    for each in result.candidates:
        if each.cause in reading.fitted and each.simulated:
            off = f"{reading.off(each.cause):+.1f}".replace("-", "−")
            against = ", contradicts it" if reading.against(each.cause) else ""
            yield (
                printable(each.cause),
                f"{value_text(reading.fitted[each.cause], reading.unit)} ({off} standard deviations{against})",
            )


def against(result: MatchResult) -> tuple[str, ...]:
    """Warnings of readings that contradict the nearest cause."""
    cause = result.nearest.cause
    return tuple(
        printable(f"Warning: the reading {each.text} contradicts the best fit of {cause}: check it, its case and supply voltage.")
        for each in result.readings
        if each.against(cause)
    )
