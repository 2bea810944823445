# SPDX-License-Identifier: GPL-3.0-or-later
"""Builds the documentation: pages by hand and pages from the code are put together in a folder, and Sphinx makes a site of them."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from heatsim.docs.catalogues import parts_page
from heatsim.docs.commands import help_pages
from heatsim.docs.reference import field_pages, message_pages, python_page, topic_pages, word_page
from heatsim.docs.scenarios import PICTURES, SCENARIOS, circuit_files, gallery_pages

ROOT = Path(__file__).resolve().parents[2]
FOLDER = Path(__file__).resolve().parent

TARGET = ROOT / "results" / "docs"
"""Where the site is built, unless told otherwise."""


def generated() -> dict[str, str]:
    """Every page written from the code, by its place among the sources."""
    writers = (field_pages, topic_pages, message_pages, word_page, python_page, parts_page, gallery_pages, help_pages)
    return {name: text for write in writers for name, text in write().items()}


def sources(folder: Path) -> Path:
    """Put all sources together in a folder, made anew; returns it."""
    if folder.exists():
        shutil.rmtree(folder)
    skipped = shutil.ignore_patterns("*.py", "meanings.toml", "*.csv", "__pycache__")
    shutil.copytree(FOLDER, folder, ignore=skipped)
    shutil.copytree(SCENARIOS, folder / "scenarios", ignore=shutil.ignore_patterns("*.csv"))
    shutil.copytree(PICTURES, folder / "pictures")
    shutil.copy(ROOT / "heatsim" / "CHANGELOG.md", folder / "_changelog.md")
    shutil.copy(ROOT / "DEVELOPERS.md", folder / "_developers.md")
    for name, text in (generated() | circuit_files()).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def build(target: Path = TARGET, quiet: bool = False) -> int:
    """Build the site in a folder, every warning an error. Returns Sphinx's exit code; the site's first page is html/index.html."""
    target = target.resolve()  # Sphinx runs in the checkout
    staged = sources(target / "_staged")
    options = [
        "-b",
        "html",
        "-n",
        "-W",
        "--keep-going",
        "-c",
        str(FOLDER),
        "-d",
        str(target / "doctrees"),
        *(["-q"] if quiet else []),
    ]
    command = [sys.executable, "-m", "sphinx", *options, str(staged), str(target / "html")]
    paths = os.pathsep.join(filter(None, (str(ROOT), os.environ.get("PYTHONPATH", ""))))
    return subprocess.run(command, cwd=ROOT, env=os.environ | {"PYTHONPATH": paths}).returncode
