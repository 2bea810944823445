# SPDX-License-Identifier: GPL-3.0-or-later
"""Reference pages written from the code: scenario fields, measures and limits, messages, words. Each is a text of Markdown by
the page's place in the site.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path

import heatsim
from heatsim.docs.fields import Entry, TableEntry, field_paths, tables
from heatsim.docs.messages import Complaint, complaints
from heatsim.report.base.advice import Advice, advice
from heatsim.report.base.topics import Topic, shown_pattern, topics

FOLDER = Path(__file__).resolve().parent

NOTE = "<!-- Written from the code when the site is built. -->\n\n"

PARTS = {
    "heater": "The heater as a whole",
    "supply": "Supply",
    "choke": "Feed chokes",
    "switch": "Switches (MOSFETs) and their cooling",
    "gate": "Gate drives",
    "capacitors": "Capacitor bank",
    "coil": "Work coil and its water",
    "case": "Cases and workpieces",
    "conductor": "Conductors and joints",
    "wind": "The drawer: rings and wire on hand",
    "heat": "What a heat is asked",
    "limits": "Your own limits",
    "simulate": "How it is simulated",
}
"""Top-level tables of a scenario, and what their pages are called."""

ROOMS = {
    "cli": "Command line",
    "scenario": "Scenario files",
    "parts": "Parts and catalogues",
    "waves": "Captures",
    "files": "Files",
    "studies": "Studies",
    "report": "Studies",
    "tasks": "Clusters",
    "netlist": "Values that a model cannot have",
    "physics": "Values that a model cannot have",
    "__init__": "Studies",
}
"""Where messages about input come from, in words."""


def field_anchor(path: str) -> str:
    """The target of a scenario field."""
    return "field-" + path.lower().replace(".", "-").replace("_", "-")


def topic_anchor(topic: str) -> str:
    """The target of a topic."""
    return f"topic-{topic}"


def field_link(path: str) -> str:
    """A field's name, linked where it is one field and not a table."""
    whole = re.sub(r"^choke\.(left|right|centre)\.", "choke.", path)
    known = whole in set(field_paths())
    target = field_anchor(whole) if known else f"table-{path.lower().replace('.', '-')}"
    return f"[`{path}`](#{target})" if known or path in {each.path for each in tables()} else f"`{path}`"


@cache
def given_words() -> Mapping[str, Mapping[str, str]]:
    """Meanings of fields that their tables do not describe, and what is written where the type does not say."""
    content: Mapping[str, Mapping[str, str]] = tomllib.loads((FOLDER / "meanings.toml").read_text(encoding="utf-8"))
    return content


def meaning_of(field: Entry) -> str:
    """What a field means, empty if nobody has said."""
    return field.meaning or given_words()["meaning"].get(field.path, "")


@cache
def moved_by(path: str) -> tuple[tuple[Topic, str], ...]:
    """Topics that a field moves, each with how."""
    return tuple((topic, topic.moves[path]) for topic in topics() if path in topic.moves)


def field_pages() -> dict[str, str]:
    """A page a top-level table, and the page that leads to them."""
    pages = {f"reference/fields/{part}.md": NOTE + _fields_of(part, title) for part, title in PARTS.items()}
    listed = "".join(f"- [`[{part}]`](fields/{part}.md): {title[0].lower() + title[1:]}\n" for part, title in PARTS.items())
    return pages | {"reference/_tables.md": listed}


def _fields_of(part: str, title: str) -> str:
    own = [table for table in tables() if table.path.split(".")[0] == part]
    return f"# {title}\n\n" + "\n".join(_table(table) for table in own)


def _table(table: TableEntry) -> str:
    head = f"(table-{table.path.lower().replace('.', '-')})=\n## `{table.head}`\n\n"
    about = f"{_sentence(table.about)}\n\n" if table.about else ""
    return head + about + "\n".join(_field(field) for field in table.fields)


def _field(field: Entry) -> str:
    """A field as an entry of a list: what is written, the default, what it means, what it moves."""
    written = given_words()["written"].get(field.path, field.written)
    default = "needed" if field.needed else f"default `{field.default}`" if field.default else "optional"
    moves = "; ".join(f"[{topic.title}](#{topic_anchor(topic.id)}): {how}" for topic, how in moved_by(field.path))
    meaning = _sentence(meaning_of(field))
    moved = f"\n\n  Moves: {moves}." if moves else ""
    put = _sentence(written).removesuffix(".")
    return f"({field_anchor(field.path)})=\n`{field.path}`\n: {meaning}\n\n  {put}; {default}.{moved}\n"


def _sentence(text: str) -> str:
    """A text with a capital letter first and a full stop last."""
    text = _safe(text.strip())
    return text and (text[0].upper() + text[1:]) + ("" if text[-1] in ".?!" else ".")


def _safe(text: str) -> str:
    """A text without what Markdown would take for a sign of its own."""
    return re.sub(r"([*<>\[\]_|])", r"\\\1", text) if "`" not in text else text


def topic_pages() -> dict[str, str]:
    """A page a group of topics: what each is, why it matters, what moves it."""
    groups: dict[str, list[Topic]] = {}
    for topic in topics():
        groups.setdefault(topic.group, []).append(topic)
    pages, listed = {}, ""
    for group, members in groups.items():
        name = re.sub(r"[^a-z]+", "-", group.lower())
        pages[f"reference/topics/{name}.md"] = f"{NOTE}# {group}\n\n" + "\n".join(map(_topic, members))
        links = " · ".join(f"[{topic.title}](#{topic_anchor(topic.id)})" for topic in members)
        listed += f"[{group}](topics/{name}.md)\n: {links}\n\n"
    return pages | {"reference/_topics.md": listed}


def _topic(topic: Topic) -> str:
    rows = [
        f"({topic_anchor(topic.id)})=\n## {_safe(topic.title)}\n",
        f"{_safe(topic.what)}\n",
        f"**Why it matters.** {_safe(topic.why)}\n",
    ]
    if topic.limits:
        rows.append("Judged as: " + "; ".join(f"`{each}`" for each in topic.limits) + ".\n")
    if topic.keys:
        measures = "".join(f"- `{shown_pattern(key)}`: {_safe(what)}\n" for key, what in topic.keys.items())
        rows.append(f"Measures in `results.json`:\n\n{measures}")
    if topic.moves:
        fields = "".join(f"- {field_link(field)}: {_safe(how)}\n" for field, how in topic.moves.items())
        rows.append(f"What moves it:\n\n{fields}")
    if topic.see:
        titles = {each.id: each.title for each in topics()}
        rows.append("See also: " + ", ".join(f"[{_safe(titles[each])}](#{topic_anchor(each)})" for each in topic.see) + ".\n")
    rows.append(f"On the terminal: `heatsim explain {topic.id.replace('-', ' ')}`\n")
    return "\n".join(rows)


def word_page() -> dict[str, str]:
    """Words of the trade in the order of the alphabet, each with what it is and where more is told."""
    rows = []
    for topic in sorted(topics(), key=lambda each: each.title.lower()):
        also = [name for name in topic.names if name.lower() not in topic.title.lower()]
        known = f" (also {', '.join(map(_safe, also))})" if also else ""
        rows.append(f"[{_safe(topic.title)}](#{topic_anchor(topic.id)}){known}\n: {_safe(_first_sentence(topic.what))}\n")
    return {"reference/_words.md": "\n".join(rows)}


def _first_sentence(text: str) -> str:
    return re.split(r"(?<=[a-z)%][.?]) (?=[A-Z])", text)[0]


def python_page() -> dict[str, str]:
    """The functions of the package, each with its description."""
    rows = "\n".join(f".. autofunction:: heatsim.{name}\n" for name in sorted(heatsim.__all__) if name != "__version__")
    return {"_python.md": f"```{{eval-rst}}\n{rows}```\n"}


def message_pages() -> dict[str, str]:
    """Warnings with what they mean and what to do, and every message about input."""
    return {
        "reference/_warnings.md": "\n".join(_advice(each) for each in advice()),
        "reference/_complaints.md": "\n".join(_complaints_of(heading) for heading in dict.fromkeys(ROOMS.values())),
    }


def _advice(each: Advice) -> str:
    return f"{_safe(each.says)}\n: {each.means}\n\n  **Do:** {each.do}\n"


def _complaints_of(heading: str) -> str:
    rooms = [room for room, name in ROOMS.items() if name == heading]
    rows = sorted({(each.what, each.allowed) for each in complaints() if each.room in rooms})
    return f"### {heading}\n\n" + "".join(map(_complaint, _joined(rows))) + "\n"


def _joined(rows: Iterable[tuple[str, str]]) -> Iterator[tuple[str, list[str]]]:
    """Messages with all that may be allowed with each."""
    found: dict[str, list[str]] = {}
    for what, allowed in rows:
        found.setdefault(what, []).extend([allowed] if re.search("[a-z]{3}", allowed) else [])
    yield from found.items()


def _complaint(row: tuple[str, list[str]]) -> str:
    what, allowed = row
    return f"- {_safe(what)}" + (f" (allowed: {_safe(' or: '.join(allowed))})" if allowed else "") + "\n"


def unknown_rooms() -> set[str]:
    """Rooms with messages that no heading is known for."""
    return {each.room for each in complaints() if isinstance(each, Complaint)} - ROOMS.keys()
