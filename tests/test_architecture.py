# SPDX-License-Identifier: GPL-3.0-or-later
"""Which room, sub-package and file may import which, and what stays light. Each message says what to change."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.support import source_tree
from tests.support.source_tree import ALL_IMPORTS, PACKAGE, ROOT, imports, in_module, room_of, sources

BASE = {"errors", "files", "quantity", "constants"}
ROOMS = {
    "errors": set(),
    "files": {"errors"},
    "constants": set(),
    "quantity": {"errors", "constants"},
    "physics": BASE,
    "parts": BASE | {"physics"},
    "waves": BASE,
    "tasks": {"errors"},
    "scenario": BASE | {"physics", "parts", "waves"},
    "netlist": BASE | {"physics", "parts", "scenario", "waves"},
    "identity": {"netlist.library"},
    "engine": {"errors", "waves", "netlist.deck", "tasks"},
    "measures": {"errors", "constants", "waves"},
    "verdict": {"errors", "constants", "measures"},
    "studies": BASE | {"physics", "parts", "scenario", "waves", "netlist", "engine", "tasks", "measures", "verdict", "identity"},
    "report": BASE | {"physics", "parts", "scenario", "waves", "measures", "verdict", "studies"},
}
ROOMS["api"] = ROOMS["studies"] | {"studies"}
ROOMS["cli"] = ROOMS["api"] | {"api", "report"}
ROOMS["__init__"] = ROOMS["api"] | {"api"}
ROOMS["docs"] = ROOMS["cli"] | {"cli"}
ROOMS["__main__"] = {"cli"}
ROOMS["bootstrap"] = set()
"""Room -> rooms and modules it may import, itself apart. `heatsim/__init__.py` and `api` are the Python interface."""

ONLY_IN = {"PySpice": {"engine"}, "matplotlib": {"report"}}
"""Library -> the rooms that may import it at all; cli may import matplotlib inside a function."""

LAZY = ("PySpice", "matplotlib", "scipy.optimize", "scipy.signal", "scipy.stats", "pandas", "ht", "fluids")
"""Libraries that cost a second or so: imported inside functions only, except at home."""


def test_imports_are_seen_wherever_they_stand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source_tree, "PACKAGE", tmp_path)
    planted = tmp_path / "waves" / "planted.py"
    planted.parent.mkdir()
    planted.write_text(
        "import scipy.signal as s\nfrom . import ledger\nfrom ..engine.run import *\n"
        "class C:\n    def f(self):\n        if 1:\n            from PySpice import Spice\n"
    )
    assert [(found.target, found.line, found.inside) for found in imports(planted)] == [
        ("scipy.signal", 1, False),
        ("heatsim.waves.ledger", 2, False),
        ("heatsim.engine.run.*", 3, False),
        ("PySpice.Spice", 7, True),
    ]


def test_every_room_is_known() -> None:
    strangers = {room_of(path) for path in sources("heatsim")} - ROOMS.keys()
    assert not strangers, f"not in the table of rooms, so nobody knows what they may import: {sorted(strangers)}"


def test_arrows_of_the_table_make_no_circle() -> None:
    seen: list[str] = []
    while left := [room for room in ROOMS if room not in seen]:
        free = [room for room in left if all(on.split(".")[0] in seen for on in ROOMS[room])]
        assert free, f"these rooms lead back to themselves: {left}"
        seen += free


def test_imports_point_one_way() -> None:
    wrong = []
    for found in ALL_IMPORTS:
        room = room_of(found.path)
        if not found.target.startswith("heatsim.") or in_module(found.target, f"heatsim.{room}"):
            continue
        if found.target == "heatsim.__version__":
            continue
        if room == "__init__" and found.inside and in_module(found.target, "heatsim.report"):
            continue  # the plots of the Python interface, loaded when asked for
        allowed = ROOMS.get(room, set())
        if not any(in_module(found.target, f"heatsim.{other}") for other in allowed):
            wrong.append(f"{found.where}: {room} may not import {found.target}, only {sorted(allowed) or 'nothing'}")
    assert not wrong, "\n".join(wrong)


def test_heavy_libraries_stay_at_home() -> None:
    wrong = []
    for found in ALL_IMPORTS:
        room = room_of(found.path)
        for library, homes in ONLY_IN.items():
            lent = library == "matplotlib" and room == "cli" and found.inside
            if in_module(found.target, library) and room not in homes and not lent:
                wrong.append(f"{found.where}: {library} may be imported in {sorted(homes)} only, not in {room}")
        for library in LAZY:
            if in_module(found.target, library) and not found.inside and room not in ONLY_IN.get(library, set()):
                wrong.append(f"{found.where}: import {found.target} inside the function that needs it")
    assert not wrong, "\n".join(wrong)


def test_bootstrap_needs_the_standard_library_only() -> None:
    wrong = [
        f"{found.where}: {found.target}"
        for found in imports(PACKAGE / "bootstrap.py")
        if found.target.split(".")[0] not in sys.stdlib_module_names
    ]
    assert not wrong, f"bootstrap runs before anything is installed: {wrong}"


def declared() -> set[str]:
    """Import names of the libraries pyproject.toml asks for."""
    return import_names(project()["dependencies"])


def project() -> dict[str, Any]:
    """The project's table in pyproject.toml."""
    table: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return table


def import_names(requirements: list[str]) -> set[str]:
    """Import names of libraries, from what a requirement says."""
    names = {re.split(r"[^\w-]", text)[0] for text in requirements}
    return {name if name == "PySpice" else name.lower() for name in names}


def extras() -> set[str]:
    """Import names of the libraries of the optional extras that are for users."""
    return import_names([text for name, some in project()["optional-dependencies"].items() if name != "dev" for text in some])


def test_libraries_in_use_are_declared() -> None:
    known = declared() | extras() | set(sys.stdlib_module_names) | {"heatsim", "pydantic_core"}  # the latter is half of pydantic
    wrong = [f"{found.where}: {found.target}" for found in ALL_IMPORTS if found.target.split(".")[0] not in known]
    assert not wrong, f"not among the dependencies of pyproject.toml: {wrong}"


def test_libraries_of_extras_are_imported_inside_functions() -> None:
    wrong = [
        f"{found.where}: {found.target}" for found in ALL_IMPORTS if found.target.split(".")[0] in extras() and not found.inside
    ]
    assert not wrong, f"an ordinary installation has them not: {wrong}"


def test_declared_libraries_are_in_use() -> None:
    idle = declared() - {found.target.split(".")[0] for found in ALL_IMPORTS}
    assert not idle, f"take out of pyproject.toml's dependencies, nothing imports them: {sorted(idle)}"


@pytest.mark.parametrize("module", ["heatsim", "heatsim.cli"])
def test_import_is_light(module: str) -> None:
    code = f"import json, sys, {module}; print(json.dumps(sorted(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    loaded = [library for library in LAZY if library in json.loads(done.stdout)]
    assert not loaded, f"`import {module}` loads {loaded}; find out who with: python -X importtime -c 'import {module}'"
