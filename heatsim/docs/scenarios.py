# SPDX-License-Identifier: GPL-3.0-or-later
"""The gallery: every scenario of the repository with what its head says, the verdict of a run, a picture, and the file."""

from __future__ import annotations

import csv
import re
import tomllib
from pathlib import Path

from heatsim.report.circuit import circuit_picture
from heatsim.scenario import Scenario
from heatsim.studies.check import case_deck

ROOT = Path(__file__).resolve().parents[2]
SCENARIOS = ROOT / "scenarios"
PICTURES = ROOT / "notebooks" / "pictures"
VERDICTS = Path(__file__).resolve().with_name("verdicts.csv")

SHOWN = {
    "bench-heater.toml": ("bench-heater-map.png", "Supply voltage against load: usable below the line, and what ends it above"),
    "bench-heater-small-rings.toml": (
        "small-rings-choke-currents.png",
        "Choke currents that run up to a point: the rings are too small",
    ),
    "bench-heater-forging.toml": (
        "bench-heater-forging-heat.png",
        "A bar from cold: surface and core, power, supply current and frequency",
    ),
}
"""Scenario -> a picture of it in the repository, and what it shows."""

GROUPS = {
    "bench": ("The bench heater", "One heater of about a kilowatt, and variants that show one thing each."),
    "gallery": ("Heaters to start from", "Copy one that is near to yours and change it."),
    "failures": (
        "Heaters that fail",
        "Each fails for one reason, which is named. Read them beside a heater of yours that misbehaves.",
    ),
    "rings": ("Bench tests of rings", "For `heatsim ring`; these describe a test, not a heater."),
}
"""Page -> title, and what it is for."""


def scenario_files() -> list[Path]:
    """Every scenario file of the repository."""
    return sorted(SCENARIOS.rglob("*.toml"))


def group_of(path: Path) -> str:
    """The page a scenario is on."""
    return "bench" if path.parent == SCENARIOS else path.parent.name


def verdicts() -> dict[str, dict[str, str]]:
    """Verdicts of real runs by scenario, as `python -m tests.support.verdicts` wrote them."""
    if not VERDICTS.exists():
        return {}
    with VERDICTS.open(encoding="utf-8", newline="") as handle:
        return {row["scenario"]: row for row in csv.DictReader(handle)}


def head(text: str) -> tuple[str, ...]:
    """The comment on top of a file, a paragraph a piece; without the lines that say how to check it and what comes of it."""
    rows: list[str] = []
    for row in text.splitlines():
        if not row.startswith("#"):
            break
        rows.append(_marked(row.lstrip("#").strip()))
    paragraphs = " ".join(row or "\n" for row in rows).split("\n")
    return tuple(filter(None, (re.sub(r"(Check it with|Verdict): ?.*", "", each).strip() for each in paragraphs)))


def _marked(row: str) -> str:
    """A row of a comment, its command in code marks."""
    plain, command, rest = row.partition("python3 heatsim/bootstrap.py ")
    return f"{_plain(plain)}`heatsim {rest}`" if command else _plain(row)


def circuit_of(path: Path) -> str:
    """The circuit of a scenario's last case, as a picture in SVG; not simulated."""
    scenario = Scenario.from_file(path)
    case = scenario.cases[-1]
    heading = f"{scenario.name}, case {case}"
    files, _ = circuit_picture(scenario.heater(case), case_deck(scenario, case).text, "circuit", heading, png=False)
    return str(files["circuit.svg"])


def circuit_files() -> dict[str, str]:
    """The pictures of the circuits, by their places among the sources."""
    return {f"gallery/circuits/{path.stem}.svg": circuit_of(path) for path in scenario_files() if group_of(path) != "rings"}


def gallery_pages() -> dict[str, str]:
    """A page a group."""
    pages = {}
    for group, (title, about) in GROUPS.items():
        own = [path for path in scenario_files() if group_of(path) == group]
        pages[f"gallery/{group}.md"] = f"# {title}\n\n{about}\n\n" + "\n".join(map(_scenario, own))
    return pages


def _scenario(path: Path) -> str:
    text, name = path.read_text(encoding="utf-8"), path.relative_to(SCENARIOS).as_posix()
    content = tomllib.loads(text)
    title = content.get("heater", content.get("ring", {})).get("name", path.stem)
    command = "ring" if group_of(path) == "rings" else "check"
    blocks = [f"## {title}", f"`scenarios/{name}`", *head(text)]
    if name in verdicts():
        row = verdicts()[name]
        blocks.append(f"{{.verdict .{row['verdict']}}}\n**{row['verdict'].upper()}** {_plain(row['sentence'])}")
    if name in SHOWN:
        picture, words = SHOWN[name]
        blocks.append(f"![{words}](/pictures/{picture})")
    if group_of(path) != "rings":
        blocks.append(_folded("The circuit", f"![Circuit of {title}](/gallery/circuits/{path.stem}.svg)"))
    blocks += [f"```console\n$ heatsim {command} scenarios/{name}\n```", _file(name)]
    return "\n\n".join(blocks) + "\n"


def _file(name: str) -> str:
    return _folded("The file", f"```{{literalinclude}} /scenarios/{name}\n:language: toml\n```")


def _folded(heading: str, content: str) -> str:
    return f"<details><summary>{heading}</summary>\n\n{content}\n\n</details>"


def _plain(text: str) -> str:
    return text.replace("*", "\\*").replace("<", "&lt;").replace("[", "\\[")
