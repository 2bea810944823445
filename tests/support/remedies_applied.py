# SPDX-License-Identifier: GPL-3.0-or-later
"""Sixty random heaters, every remedy named for them applied and checked: `python -m tests.support.remedies_applied [NUMBER ...]`.

Takes some half an hour on two cores. Prints a line a heater and ends with 1 if a remedy did not hold.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence

import heatsim as hs
from heatsim.scenario.scenario import Scenario
from heatsim.studies.remedy import find_remedies, fixed_text
from tests.support.failing import failing

HEATERS = 60


def tried(number: int) -> tuple[str, list[str]]:
    """Verdict of a heater as drawn, and those of each remedy applied to its file."""
    scenario = failing(number)
    result = hs.check(scenario)
    remedies = find_remedies(result, seconds=math.inf)
    texts = [fixed_text(scenario, remedy) for remedy in remedies.found]
    return result.verdict, [hs.check(Scenario.from_text(text, scenario.label, scenario.folder)).verdict for text in texts]


def main(numbers: Sequence[int]) -> int:
    """Try them and tell."""
    wrong = 0
    for number in numbers or range(HEATERS):
        verdict, applied = tried(number)
        wrong += sum(each != "holds" for each in applied)
        sys.stdout.write(f"{number:2d}  {verdict:8s} remedies applied: {', '.join(applied) or 'none found'}\n")
        sys.stdout.flush()
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main([int(word) for word in sys.argv[1:]]))
