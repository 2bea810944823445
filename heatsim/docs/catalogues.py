# SPDX-License-Identifier: GPL-3.0-or-later
"""The page of parts: what scenarios may name, with figures and where each is known from."""

from __future__ import annotations

from collections.abc import Sequence

from heatsim.report.parts.terminal import COLUMNS, COUNTED, TITLES
from heatsim.studies.parts import Part, find_parts, kinds_in, size_words


def parts_page() -> dict[str, str]:
    """The tables, a section a kind."""
    return {"reference/_parts.md": "\n".join(_section(kind, found) for kind, found in kinds_in(find_parts().parts))}


def _section(kind: str, parts: Sequence[Part]) -> str:
    headings, cells = COLUMNS[kind]  # type: ignore[index]
    sources: dict[tuple[str, str], int] = {}
    rows = [("name", *(["size [mm]"] if kind == "ring" else []), *(each or "mu" for each in headings), "from")]
    for part in parts:
        numbers = [sources.setdefault((each.provenance, f"{each.what}: {each.source}"), len(sources) + 1) for each in part.origins]
        size = [size_words(part.size).removesuffix(" mm")] if kind == "ring" else []
        rows.append((f"`{part.name}`", *size, *cells(part.figures), " ".join(map(str, numbers))))
    table = "\n".join(_row(row) for row in (rows[0], ("---",) * len(rows[0]), *rows[1:]))
    told = "\n".join(f"{number}. *{provenance}*: {_plain(source)}" for (provenance, source), number in sources.items())
    title = TITLES[kind]  # type: ignore[index]
    heading = f"(parts-{kind})=\n## {COUNTED[kind][0].upper()}{COUNTED[kind][1:]}"
    return f"{heading}\n\n{_plain(title)}.\n\n{table}\n\nKnown from:\n\n{told}\n"


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(each.replace("|", "\\|") for each in cells) + " |"


def _plain(text: str) -> str:
    """A text without what Markdown would take for a sign of its own."""
    return text.replace("*", "\\*").replace("<", "&lt;").replace("[", "\\[")
