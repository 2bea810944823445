# SPDX-License-Identifier: GPL-3.0-or-later
"""A page of a study as plain parts: verdict first, then sections of prose, pictures and tables; `render` makes HTML of it.

Every text is escaped. Only `Picture.markup` and `Sheet.head` are put in as they are, and both are heatsim's own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from heatsim.errors import printable
from heatsim.report.base.page import Shown, template
from heatsim.report.base.topics import Topic, topic_of_limit
from heatsim.report.base.words import limit_words, setting_text


@dataclass(frozen=True)
class Prose:
    """A paragraph. look: "", "soft", "lead" or "flag"."""

    kind: ClassVar[str] = "prose"
    text: str
    look: str = ""


@dataclass(frozen=True)
class Heading:
    """A heading inside a section."""

    kind: ClassVar[str] = "heading"
    text: str


@dataclass(frozen=True)
class Items:
    """Sentences, one a bullet."""

    kind: ClassVar[str] = "items"
    texts: tuple[str, ...]


@dataclass(frozen=True)
class Pairs:
    """Terms and what belongs to each."""

    kind: ClassVar[str] = "pairs"
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Links:
    """Files beside the page. rows: file's name, what it is."""

    kind: ClassVar[str] = "links"
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Picture:
    """A picture. markup: HTML or SVG, put in as it is; told: what it shows, for those who do not see it; least: its width below
    which it is scrolled rather than shrunk; zoomed: the same to be zoomed, in whose place the picture stands on paper and without
    script, or empty.
    """

    kind: ClassVar[str] = "picture"
    title: str
    caption: str
    markup: str
    told: str = ""
    least: str = "42rem"
    zoomed: str = ""

    @classmethod
    def of(cls, shown: Shown, told: str = "", least: str = "42rem", zoomed: str = "") -> Picture:
        """A picture in SVG, and the same to be zoomed."""
        return cls(shown.title, shown.caption, shown.svg, told, least, zoomed)


@dataclass(frozen=True)
class Told:
    """A cell whose text opens to the paragraphs of a topic."""

    text: str
    topic: Topic | None

    @classmethod
    def limit(cls, key: str, both: bool = False) -> Told:
        """A limit by its key, as `choke.left: temperature`; both: the same of either side."""
        part, _, name = key.partition(": ")
        return cls(limit_words(key, both), topic_of_limit(part, name))


@dataclass(frozen=True)
class Grade:
    """A cell with a grade, and what is told beside it."""

    grade: str
    text: str = ""


Cell = str | Told | Grade


@dataclass(frozen=True)
class Table:
    """A table whose rows each begin with their heading. label: what it holds, for those who do not see it; words: headings of
    columns of words, the others are numbers.
    """

    kind: ClassVar[str] = "table"
    label: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    words: tuple[str, ...] = ()

    @property
    def wide(self) -> bool:
        """Whether it takes more than a column of prose."""
        return len(self.headings) > 4


@dataclass(frozen=True)
class Folded:
    """Blocks that are shown when asked for."""

    kind: ClassVar[str] = "folded"
    summary: str
    blocks: tuple[Any, ...]


Block = Prose | Heading | Items | Pairs | Links | Picture | Table | Folded


@dataclass(frozen=True)
class Section:
    """A section. id: for links to it; short: its name in the contents, where that is another."""

    id: str
    title: str
    blocks: tuple[Block, ...]
    short: str = ""


@dataclass(frozen=True)
class Sheet:
    """A page. name: its heading; what: the line below it; tone: grade that colours the verdict, "" for none; word: the verdict in
    a few words; lead: sentences below it; flags: warnings; tally: how it was found, small; cautions: what to heed, by heading, and
    before it a sentence.
    """

    name: str
    what: str
    tone: str
    word: str
    lead: tuple[str, ...]
    flags: tuple[str, ...]
    tally: str
    sections: tuple[Section, ...]
    cautions: tuple[tuple[str, str], ...]
    caution: str = ""

    @property
    def zooms(self) -> bool:
        """Whether any picture can be zoomed, which takes a script."""
        return any(isinstance(block, Picture) and bool(block.zoomed) for section in self.sections for block in section.blocks)


NO_PROOF = (
    "A simulation is no proof. It can only tell what follows from the values it was given. Start at a low voltage with a current "
    "limit, measure, compare with the numbers here, and stop when they differ."
)
"""Before the cautions of every page about a heater."""

HEATER_CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "Mains",
        "The supply hangs on the mains. Work on it belongs to people licensed for it, under the codes of the place. Use an "
        "isolated supply, a fuse, protective earth and a residual-current device.",
    ),
    (
        "Voltage and stored charge",
        "The tank carries more than three times the supply voltage at a hundred amperes and more, at a frequency that burns deeply "
        "without much warning. Capacitors stay charged after switching off: discharge them through a resistor, measure, and only "
        "then touch.",
    ),
    (
        "Red-hot metal",
        "Workpieces glow, drip and stay hot enough to burn long after they look cold. Hold them in something that does not "
        "conduct; keep face, clothes and cables away.",
    ),
    (
        "Magnetic field and implants",
        "The field round the coil heats rings, watches and tools and can disturb pacemakers and other implants. Wearers keep well "
        "away; everybody else keeps hands out of the coil.",
    ),
    (
        "Water and steam",
        "A cooled coil that loses its flow boils at once. Watch the flow, let steam escape, and keep water off the electronics; "
        "cooling water in contact with the tank carries its voltage.",
    ),
    ("Fumes", "Hot oil, paint, flux and plating give off poisonous fumes; zinc, cadmium and lead above all. Ventilate."),
    (
        "Fire",
        "Work on a surface that does not burn, with an extinguisher for electrical fires at hand, and never leave a heater running "
        "alone.",
    ),
    ("Interference", "An unshielded heater can disturb radio services; the limits of the place apply."),
)
"""Of every page about a heater."""


def simulated(label: str) -> str:
    """Under a verdict. label: of the scenario"""
    file = printable(label.rsplit("/", 1)[-1])
    return f"Computed from {file} by simulation; nothing here was measured on a built heater."


def render(sheet: Sheet) -> str:
    """The page as HTML, which needs nothing else."""
    from heatsim.report.base.zoom import HOW, script

    return template("sheet.html").render(sheet=sheet, caution=sheet.caution, cautions=sheet.cautions, script=script, how=HOW)


def table(label: str, headings: Sequence[str], rows: Iterable[Sequence[Cell]], words: Sequence[str] = ()) -> Table:
    """A table from any rows, without the columns that are empty in all of them."""
    kept = [tuple(row) for row in rows]
    filled = [k for k in range(len(headings)) if k == 0 or any(row[k] for row in kept)]
    return Table(label, tuple(headings[k] for k in filled), tuple(tuple(row[k] for k in filled) for row in kept), tuple(words))


def explained(keys: Iterable[str]) -> tuple[Folded, ...]:
    """A fold for each limit, as `choke.left: temperature`: what it is, why it matters and what moves it; alike ones once."""
    topics: dict[str, Topic] = {}
    for key in keys:
        part, _, name = key.partition(": ")
        topic = topic_of_limit(part, name)
        if topic is not None:
            topics.setdefault(topic.id, topic)
    return tuple(Folded(each.title, _topic_blocks(each)) for each in topics.values())


def _topic_blocks(topic: Topic) -> tuple[Block, ...]:
    moves = (Prose("What moves it:"), Pairs(tuple(topic.moves.items()))) if topic.moves else ()
    return (Prose(topic.what), Prose(topic.why), *moves)


def how_computed(identity: Mapping[str, Any], programs: str, beside: str) -> Pairs:
    """Scenario, changes, programs and files, for the end of a page. identity: of the scenario, as in results.json."""
    changed = "; ".join(f"{field} = {setting_text(value)}" for field, value in dict(identity["changes"]).items())
    rows = [
        ("scenario", f"{str(identity['file']).rsplit('/', 1)[-1]}, SHA-256 of its content {identity['sha256']}"),
        ("changed for this run", changed),
        ("programs", programs),
        ("beside this page", beside),
    ]
    return Pairs(tuple(row for row in rows if row[1]))
