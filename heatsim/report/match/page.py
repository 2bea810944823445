# SPDX-License-Identifier: GPL-3.0-or-later
"""index.html of a match: one file that needs nothing else, with the answer first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from heatsim.report.base.page import Shown, template
from heatsim.report.base.words import sentence_case
from heatsim.report.match import words
from heatsim.studies.match.faults import NOTHING
from heatsim.studies.match.result import NONE_OF_THESE, Candidate, MatchResult


def render(result: MatchResult, pictures: Sequence[Shown], evidence: Shown) -> str:
    """The page. pictures: of the records; evidence: of the causes. All texts are escaped but the SVG, which is ours."""
    return template("match.html").render(
        result=result,
        answer=words.answer(result),
        tone=tone(result),
        captures=words.captures(result),
        pictures=pictures,
        single=len({trace.signal for trace in result.traces}) == 1,
        evidence=evidence,
        ranking=[_ranked(rank, each) for rank, each in enumerate(result.candidates, start=1)],
        explained=[_explained(each) for each in words.alike(result)],
        records=[(record, list(words.record_rows(record))) for record in result.records],
        estimates=[words.estimate_cells(each) for each in result.best.estimates],
        tied=[words.tied_sentence(each, result.best.estimates) for each in result.best.tied],
        residuals=words.residual_rows(result),
        cautions=words.CAUTIONS,
        untold=any(each.told < words.PARTLY for each in result.best.estimates),
        cure=result.cure,
        cure_sentence=words.cure_sentence(result.cure) if result.cure else "",
        cure_rows=words.cure_rows(result.cure) if result.cure else [],
        cure_fields=words.fields_text(result.cure.fields) if result.cure else "",
    )


def tone(result: MatchResult) -> str:
    """Colour of the answer: holds for nothing wrong, fails for a cause, unknown where it is open."""
    if not result.decided or result.best.cause == NONE_OF_THESE:
        return "unknown"
    return "holds" if result.best.cause == NOTHING else "fails"


def _ranked(rank: int, each: Candidate) -> dict[str, Any]:
    kind = each.kind if each.simulated and each.kind != each.cause else ""
    return {
        "rank": rank,
        "cause": each.cause,
        "kind": kind,
        "probability": words.probability(each),
        "odds": words.behind_words(each),
        "misfit": words.misfit_text(each),
        "remark": words.remark(each),
    }


def _explained(each: Candidate) -> dict[str, Any]:
    return {"name": sentence_case(words.phrase(each)), "feature": each.feature, "settle": each.settle, "remedy": each.remedy}
