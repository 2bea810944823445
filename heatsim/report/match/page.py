# SPDX-License-Identifier: GPL-3.0-or-later
"""index.html of a match, with the answer first."""

from __future__ import annotations

from collections.abc import Sequence

from heatsim.report.base.page import Shown, template
from heatsim.report.match import words
from heatsim.studies.match import NONE_OF_THESE, NOTHING, MatchResult


def render(result: MatchResult, pictures: Sequence[Shown], evidence: Shown) -> str:
    """The page. pictures: of the records; evidence: of the causes. All texts are escaped but the SVG, which is ours."""
    single = len({trace.signal for trace in result.traces}) == 1
    page = template("match.html")
    return page.render(result=result, words=words, tone=tone(result), pictures=pictures, single=single, evidence=evidence)


def tone(result: MatchResult) -> str:
    """Colour of the answer: holds for nothing wrong, fails for a cause, unknown where it is open."""
    if not result.decided or result.best.cause == NONE_OF_THESE:
        return "unknown"
    return "holds" if result.best.cause == NOTHING else "fails"
