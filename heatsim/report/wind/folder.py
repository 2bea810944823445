# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of a winding: page, card, picture, the table of candidates, and the scenario with the chosen winding in it."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

from heatsim.report.base.page import Shown, template
from heatsim.report.base.plain import json_file, write_files
from heatsim.report.base.sheet import Picture
from heatsim.report.wind.page import CAPTION, render_page
from heatsim.report.wind.terminal import heading, what_if_row, yield_sentence
from heatsim.studies.wind import Card, WindResult, YieldResult, plain_candidate, plain_result, ring_or_turns, wound_changes

OF_THE_BEST = ("winding-card.html", "wound.toml", "winding.svg", "winding.png")
"""Files that there are only where a winding was found."""


def write_folder(result: WindResult, proof: Card | None, built: YieldResult | None, out: Path) -> list[Path]:
    """Write the folder and return its files, the page first. Raises OutputError."""
    from heatsim.report.base.pictures import files
    from heatsim.report.wind import drawing
    from heatsim.report.wind.picture import TITLE, figure

    picture = files(figure(result), "windings", TITLE)
    shown = [Picture.of(Shown.of(picture, TITLE, CAPTION), heading(result), "34rem")]
    content: dict[str, str | bytes] = {}
    if result.best is not None and proof is not None:
        core = result.best.candidate.choke.core
        assert core is not None
        drawn = files(drawing.figure(core), "winding", drawing.TITLE)
        lies = Shown.of(drawn, drawing.TITLE, " ".join(drawing.told(core, proof.cut_length)))
        content["winding-card.html"] = card_page(result, proof, built, Shown.of(picture, TITLE), lies)
        shown.insert(0, Picture.of(lies, lies.caption, "34rem"))
        picture |= drawn
        content["wound.toml"] = wound_text(result)
    content["results.json"] = json_file(plain_result(result, proof, built))
    content["candidates.csv"] = candidates_csv(result)
    page: dict[str, str | bytes] = {"report.html": render_page(result, proof, built, tuple(shown))}
    return write_files(out, page | content | picture, tuple(out / name for name in OF_THE_BEST))


def candidates_csv(result: WindResult) -> str:
    """Every estimated winding, best first."""
    rows = [plain_candidate(one) for one in result.candidates]
    out = io.StringIO()
    table = csv.DictWriter(out, list(rows[0]) if rows else [], lineterminator="\n")
    table.writeheader()
    table.writerows(rows)
    return out.getvalue()


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


def card_page(result: WindResult, proof: Card, built: YieldResult | None, picture: Shown, drawn: Shown) -> str:
    """The printable card. picture: of all windings; drawn: the one it is about."""
    assert result.best is not None
    return template("winding-card.html").render(
        name=result.scenario.name,
        proof=proof,
        picture=picture,
        drawn=drawn,
        heading=heading(result),
        sha256=result.scenario.hash,
        ways=[what_if_row(way) for way in ring_or_turns(result.best.candidate, result.duty)],
        yield_sentence=yield_sentence(built) if built else "",
    )
