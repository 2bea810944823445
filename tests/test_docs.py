# SPDX-License-Identifier: GPL-3.0-or-later
"""The documentation is whole: all there is stands in it, its command lines are such, the site builds, its links lead somewhere."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from heatsim.docs import build, commands, fields, messages, reference, scenarios
from heatsim.report.base.advice import advice
from heatsim.report.base.topics import shown_pattern, topics
from heatsim.scenario.scenario import Scenario, json_schema
from heatsim.studies.parts import find_parts
from tests.support import verdicts
from tests.support.once import checked
from tests.support.shown_commands import command_lines, fault_of, mentions

ROOT = build.ROOT
PAGES = {path.relative_to(build.FOLDER).as_posix(): path.read_text(encoding="utf-8") for path in build.FOLDER.rglob("*.md")}
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def written() -> dict[str, str]:
    """Every page that is written from the code."""
    return build.generated()


TEXTS = (README, *PAGES.values())
LINES = sorted({line for text in TEXTS for line in command_lines(text)})
MENTIONS = sorted({line for text in TEXTS for line in mentions(text)})


def test_command_lines_are_seen_where_they_stand() -> None:
    text = "    .venv/bin/heatsim new a.toml\n$ heatsim check b.toml \\\n    --quiet\nUse `heatsim map`, heatsim is a program.\n"
    assert list(command_lines(text)) == ["heatsim new a.toml", "heatsim check b.toml --quiet"]
    assert list(mentions(text)) == ["heatsim map"]
    assert fault_of("heatsim check b.toml --quite") and not fault_of("heatsim check b.toml --quiet")
    assert fault_of("heatsim map") and not fault_of("heatsim map", mentioned=True)
    assert fault_of("heatsim mop", mentioned=True)
    assert len(LINES) > 40 and len(MENTIONS) > 20


@pytest.mark.parametrize("line", LINES)
def test_a_command_line_is_one(line: str) -> None:
    assert not fault_of(line)


@pytest.mark.parametrize("line", MENTIONS)
def test_a_command_that_is_named_is_one(line: str) -> None:
    assert not fault_of(line, mentioned=True)


def test_the_readme_is_short_and_leads_to_files_that_are_there() -> None:
    assert len(README.splitlines()) < 150
    links = re.findall(r"\]\(([^)#]+)\)", README)
    assert len(links) > 3 and not [link for link in links if not (ROOT / link).exists()]


@pytest.mark.parametrize("text", [README, PAGES["how-to/index.md"]], ids=["readme", "how-to"])
def test_every_command_is_in_the_tables(text: str) -> None:
    assert not [name for name in commands.commands() if not re.search(rf"\| \[?`heatsim {name}\b", text)]


def test_every_command_has_a_page_with_its_help(written: dict[str, str]) -> None:
    for name in commands.commands():
        page = PAGES[f"how-to/{name}.md"]
        assert f"$ heatsim {name}" in page
        assert written[f"commands/_{name}.txt"].startswith(f"usage: heatsim {name}")
        assert f"/commands/_{name}.txt" in page or name == "schema"


def schema_fields(node: Any, definitions: dict[str, Any], path: tuple[str, ...] = ()) -> Iterator[str]:
    """Dotted fields of the JSON schema that hold a value; NAME for a name of one's own."""
    if not isinstance(node, dict):
        return
    if "$ref" in node:
        yield from schema_fields(definitions[node["$ref"].rpartition("/")[2]], definitions, path)
    for each in (*node.get("anyOf", ()), *(() if node.get("type") != "array" else (node.get("items"),))):
        yield from schema_fields(each, definitions, path)
    for name, each in node.get("properties", {}).items():
        inner = list(schema_fields(each, definitions, (*path, name)))
        yield from inner or [".".join((*path, name))]
    for each in (node.get("additionalProperties"), *node.get("patternProperties", {}).values()):
        yield from schema_fields(each, definitions, path if path == ("choke",) else (*path, "NAME"))


def test_every_field_of_the_schema_is_on_a_page_with_its_meaning(written: dict[str, str]) -> None:
    schema = json_schema()
    found = schema_fields(schema, schema["$defs"])
    sided = re.compile(r"choke\.(left|right|centre)\.")
    wanted = {path for path in found if not sided.match(path)} - {table.path for table in fields.tables()}
    assert len(wanted) > 250 and wanted == set(fields.field_paths())
    pages = "\n".join(text for name, text in written.items() if name.startswith("reference/fields/"))
    assert not [path for path in wanted if f"({reference.field_anchor(path)})=\n`{path}`\n: " not in pages]
    entries = [field for table in fields.tables() for field in table.fields]
    assert not [field.path for field in entries if not reference.meaning_of(field)], "say in heatsim/docs/meanings.toml"


def test_meanings_are_given_once_and_for_fields_that_are_there() -> None:
    described = {field.path for table in fields.tables() for field in table.fields if field.meaning}
    given = reference.given_words()
    assert not set(given["meaning"]) & described, "the schema says it"
    assert not (set(given["meaning"]) | set(given["written"])) - set(fields.field_paths())


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("supply.voltage", "Unit V, 5 V to 400 V; needed."),
        ("choke.wire.grade", '"1" or "2"; default `2`.'),
        ("heat.wanted", "Unit °C, 40 °C to 3000 °C; default `850 °C`."),
        ("choke.turns", "Whole number, from 1 to 1000; optional."),
        ("switch.cooling.plate_emissivity", "Number, from 0 to 1; default `0.1`."),
    ],
)
def test_a_field_has_unit_range_and_default(written: dict[str, str], path: str, words: str) -> None:
    page = written[f"reference/fields/{path.partition('.')[0]}.md"]
    entry = page.partition(f"\n`{path}`\n")[2].partition("\n(")[0]
    assert words in entry, entry


def test_every_measure_and_limit_is_on_a_page(written: dict[str, str]) -> None:
    pages = "\n".join(text for name, text in written.items() if name.startswith("reference/topics/"))
    keys = [shown_pattern(key) for topic in topics() for key in topic.keys]
    limits = [limit for topic in topics() for limit in topic.limits]
    assert len(keys) > 100 and len(limits) > 40
    assert not [each for each in (*keys, *limits) if f"`{each}`" not in pages]


def test_every_part_is_on_the_page_with_its_sources(written: dict[str, str]) -> None:
    page = written["reference/_parts.md"]
    parts = find_parts().parts
    assert len(parts) > 100 and not [each.name for each in parts if f"| `{each.name}` |" not in page]
    sources = {
        origin.source.replace("*", "\\*").replace("<", "&lt;").replace("[", "\\[") for each in parts for origin in each.origins
    }
    assert not [source for source in sources if source not in page]


def test_every_scenario_is_in_the_gallery_with_the_verdict_of_a_run(written: dict[str, str]) -> None:
    pages = "\n".join(text for name, text in written.items() if name.startswith("gallery/"))
    files = [path.relative_to(scenarios.SCENARIOS).as_posix() for path in scenarios.scenario_files()]
    assert len(files) > 20 and not [name for name in files if f"`scenarios/{name}`" not in pages]
    judged = {path.relative_to(scenarios.SCENARIOS).as_posix() for path in verdicts.scenarios()}
    assert judged == set(scenarios.verdicts()), "python -m tests.support.verdicts"


@pytest.mark.slow
@pytest.mark.parametrize("name", ["gallery/one-choke.toml", "failures/latch.toml"])
def test_a_verdict_of_the_gallery_comes_out_again(name: str) -> None:
    assert scenarios.verdicts()[name]["verdict"] == checked(Scenario.from_file(scenarios.SCENARIOS / name)).verdict


def test_every_warning_has_its_advice_and_none_is_stale() -> None:
    known = {each.says for each in advice()}
    assert len(messages.warnings()) > 20
    assert not [text for text in messages.warnings() if text not in known], "say in heatsim/report/base/advice.toml what to do"
    assert not [text for text in known if text not in messages.texts()]


def test_messages_about_input_are_read_from_the_code(written: dict[str, str]) -> None:
    found = {each.what for each in messages.complaints()}
    assert len(found) > 150 and {"is missing", "is not a known key", "needs FIELD=VALUE"} <= found
    assert not reference.unknown_rooms(), "give the room a heading in heatsim/docs/reference.py"
    assert "- needs FIELD=VALUE (allowed:" in written["reference/_complaints.md"]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site, built with every warning an error."""
    target = tmp_path_factory.mktemp("docs")
    assert build.build(target, quiet=True) == 0
    return target / "html"


class Page(HTMLParser):
    """What a page links to, what it loads, and the targets in it."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.links: list[str] = []
        self.loads: list[str] = []
        self.targets = {""}
        self.feed(path.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.targets.add(found.get("id") or "")
        if tag == "a":
            self.links += filter(None, [found.get("href")])
        else:
            self.loads += filter(None, [found.get("src"), found.get("href") if tag == "link" else None])


def test_a_page_is_read(tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    path.write_text('<link href="a.css"><script src="https://b/c.js"></script><h1 id="top"><a href="d.html#e">f</a>')
    page = Page(path)
    assert (page.links, page.loads, page.targets) == (["d.html#e"], ["a.css", "https://b/c.js"], {"", "top"})


@pytest.mark.slow
def test_links_lead_somewhere_and_nothing_is_fetched(site: Path) -> None:
    pages = {path: Page(path) for path in site.rglob("*.html")}
    assert len(pages) > 50
    lost, fetched = [], []
    for path, page in pages.items():
        fetched += [f"{path.name}: {each}" for each in page.loads if re.match(r"(https?:)?//", each)]
        for link in page.links:
            if re.match(r"[a-z]+:", link):
                continue
            file, _, target = link.partition("#")
            there = (path.parent / file).resolve() if file else path
            if not there.exists() or (there in pages and target not in pages[there].targets):
                lost.append(f"{path.relative_to(site)}: {link}")
    assert not lost and not fetched, (lost, fetched)


@pytest.mark.slow
def test_every_page_written_by_hand_is_in_the_site(site: Path) -> None:
    assert not [name for name in PAGES if not (site / name).with_suffix(".html").exists() and not Path(name).name.startswith("_")]
