# SPDX-License-Identifier: GPL-3.0-or-later
"""The rules of the house, enforced: which room may import which, what stays light, how long, how headed, how described.

A room that is not written yet breaks no rule. Each message says what to change.
"""

from __future__ import annotations

import ast
import json
import re
import statistics
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "heatsim"

BASE = {"errors", "files", "quantity", "constants"}
ROOMS = {
    "errors": set(),
    "files": {"errors"},
    "constants": set(),
    "quantity": {"errors", "constants"},
    "physics": BASE,
    "parts": BASE | {"physics"},
    "waves": BASE,
    "scenario": BASE | {"physics", "parts", "waves"},
    "netlist": BASE | {"physics", "parts", "scenario", "waves"},
    "engine": {"errors", "waves", "netlist.deck"},
    "measures": {"errors", "constants", "waves"},
    "verdict": {"errors", "constants", "measures"},
    "studies": BASE | {"physics", "parts", "scenario", "waves", "netlist", "engine", "measures", "verdict"},
    "report": BASE | {"physics", "parts", "scenario", "waves", "measures", "verdict", "studies"},
}
ROOMS["api"] = ROOMS["studies"] | {"studies"}
ROOMS["cli"] = ROOMS["api"] | {"api", "report"}
ROOMS["__init__"] = ROOMS["api"] | {"api"}
ROOMS["__main__"] = {"cli"}
ROOMS["bootstrap"] = set()
"""Room -> rooms and modules it may import, itself apart. `heatsim/__init__.py` and `api` are the Python interface."""

ONLY_IN = {"PySpice": {"engine"}, "matplotlib": {"report"}}
"""Library -> the rooms that may import it at all; cli may import matplotlib inside a function."""

LAZY = ("PySpice", "matplotlib", "scipy.optimize", "scipy.signal", "scipy.stats", "pandas", "ht", "fluids")
"""Libraries that cost a second or so: imported inside functions only, except at home."""

TOP_LEVEL = {
    ".ci",
    ".gitignore",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "heatsim",
    "netlists",
    "notebooks",
    "pyproject.toml",
    "scenarios",
    "tests",
}

LONGEST_FILE, MEDIAN_BODY, NINTH_DECILE_BODY = 400, 10, 40


class Import:
    """One import statement's target, and whether it waits inside a function (or is for type checkers only)."""

    def __init__(self, path: Path, line: int, target: str, inside: bool) -> None:
        self.path, self.line, self.target, self.inside = path, line, target, inside

    @property
    def where(self) -> str:
        """File and line."""
        return f"{self.path.relative_to(ROOT)}:{self.line}"


@cache
def tree(path: Path) -> ast.Module:
    """Syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def sources(*folders: str) -> list[Path]:
    """Python files of the folders."""
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def room_of(path: Path) -> str:
    """Room a file of the package belongs to."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def absolute(path: Path, node: ast.ImportFrom) -> str:
    """Full name of the module an import statement reads from."""
    if not node.level:
        return node.module or ""
    package = ("heatsim", *path.relative_to(PACKAGE).parts[:-1])
    return ".".join([*package[: len(package) - node.level + 1], *([node.module] if node.module else [])])


def imports(path: Path, within: ast.AST | None = None, inside: bool = False) -> Iterator[Import]:
    """Every import of a file; `from a import b` counts as a.b, which may be a module or a name."""
    for node in ast.iter_child_nodes(within or tree(path)):
        if isinstance(node, ast.Import):
            yield from (Import(path, node.lineno, alias.name, inside) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            source = absolute(path, node)
            yield from (Import(path, node.lineno, f"{source}.{alias.name}", inside) for alias in node.names)
        else:
            function = ast.FunctionDef | ast.AsyncFunctionDef
            for_types = isinstance(node, ast.If) and ast.unparse(node.test).endswith("TYPE_CHECKING")
            yield from imports(path, node, inside or for_types or isinstance(node, function))


ALL_IMPORTS = [found for path in sources("heatsim") for found in imports(path)]


def in_module(target: str, module: str) -> bool:
    """Whether an import's target is the module or lies in it."""
    return target == module or target.startswith(module + ".")


def test_imports_are_seen_wherever_they_stand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.modules[__name__], "PACKAGE", tmp_path)
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


def test_studies_use_only_public_names_of_each_other() -> None:
    wrong = []
    for found in ALL_IMPORTS:
        own = found.path.relative_to(PACKAGE).parts[1:2]
        parts = found.target.split(".")
        if room_of(found.path) != "studies" or parts[:2] != ["heatsim", "studies"] or len(parts) < 4:
            continue
        if own != (parts[2],) and own != (f"{parts[2]}.py",) and any(part.startswith("_") for part in parts[3:]):
            wrong.append(f"{found.where}: {found.target} is private to another study")
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


def test_no_star_imports() -> None:
    wrong = [found.where for found in ALL_IMPORTS if found.target.endswith(".*")]
    assert not wrong, f"name what you import: {wrong}"


def test_no_print_outside_the_command_line() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in sources("heatsim")
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "print"
        and room_of(path) not in ("cli", "bootstrap")
    ]
    assert not wrong, f"return the text instead of printing it: {wrong}"


@pytest.mark.parametrize("folder", ["heatsim", "tests"])
def test_no_file_is_too_long(folder: str) -> None:
    lengths = {str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines()) for path in sources(folder)}
    long = {name: length for name, length in lengths.items() if length > LONGEST_FILE}
    assert not long, f"more than {LONGEST_FILE} lines, split by subject: {long}"


def body_lines(function: ast.FunctionDef) -> int:
    """Lines of a function's body without its docstring."""
    body = function.body[1:] if ast.get_docstring(function, clean=False) is not None else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


@pytest.mark.parametrize("folder", ["heatsim", "tests"])
def test_functions_are_short(folder: str) -> None:
    sizes = {
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name}": body_lines(node)
        for path in sources(folder)
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef)
    }
    longest = sorted(sizes.items(), key=lambda item: -item[1])[:10]
    median, tenth = statistics.median(sizes.values()), statistics.quantiles(sizes.values(), n=10)[-1]
    assert median <= MEDIAN_BODY, f"half of the function bodies have more than {median} lines; longest: {longest}"
    assert tenth <= NINTH_DECILE_BODY, f"a tenth of the function bodies have over {tenth} lines; longest: {longest}"


def headed(path: Path) -> bool:
    """Whether the SPDX line stands where it should: on the first line, in a notebook or script near it."""
    lines = path.read_text(encoding="utf-8").splitlines()[:20]
    first = lines[:1] if path.suffix == ".py" and "notebooks" not in path.parts else lines
    return any("SPDX-License-Identifier: GPL-3.0-or-later" in line for line in first)


def test_every_source_file_names_its_licence() -> None:
    files = [*sources("heatsim", "tests", "notebooks"), *(ROOT / "netlists").glob("*.lib"), ROOT / ".ci" / "run"]
    wrong = [str(path.relative_to(ROOT)) for path in files if not headed(path)]
    assert not wrong, f"first line `# SPDX-License-Identifier: GPL-3.0-or-later` (`*` in a .lib) is missing: {wrong}"


def public(node: ast.FunctionDef | ast.ClassDef) -> bool:
    """Whether a definition is for others to use."""
    return not node.name.startswith("_")


def undocumented(path: Path) -> Iterator[str]:
    """What of a file lacks a docstring: the file, public classes, functions and methods.

    A method described in one class of the file need not be described again in the others that have it.
    """
    module = tree(path)
    if module.body and ast.get_docstring(module) is None:
        yield f"{path.relative_to(ROOT)}:1 the module"
    classes = [node for node in module.body if isinstance(node, ast.ClassDef) and public(node)]
    methods = [node for owner in classes for node in owner.body if isinstance(node, ast.FunctionDef) and public(node)]
    described = {node.name for node in methods if ast.get_docstring(node)}
    functions = [node for node in module.body if isinstance(node, ast.FunctionDef) and public(node)]
    bare = [node for node in [*classes, *functions] if not ast.get_docstring(node)]
    for node in [*bare, *(node for node in methods if node.name not in described)]:
        yield f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"


def test_everything_public_is_described() -> None:
    wrong = [item for path in sources("heatsim") for item in undocumented(path)]
    assert not wrong, "no docstring:\n" + "\n".join(wrong)


def tracked() -> list[Path]:
    """Files under version control; without git, all that .gitignore's folders do not hide."""
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True)
    if done.returncode:
        pytest.skip("not a git checkout")
    return [ROOT / name for name in done.stdout.split("\0") if name and (ROOT / name).is_file()]


def test_top_level_holds_nothing_unexpected() -> None:
    strangers = {path.relative_to(ROOT).parts[0] for path in tracked()} - TOP_LEVEL
    assert not strangers, f"does not belong at the top level: {sorted(strangers)}"


HOSTS = (
    r"pypi\.org",
    r"pythonhosted\.org",
    r"npmjs\.(?:org|com)",
    r"deb\.debian\.org",
    r"security\.debian\.org",
    r"archive\.ubuntu\.com",
    r"proxy\.golang\.org",
    r"index-url",
    r"find-links",
)
PLACES = re.compile("|".join([*HOSTS, r"(?<![\w.])/(?:work|root|home/\w+|opt/pypi)\b"]))


def test_no_path_of_a_machine_and_no_registry() -> None:
    wrong = []
    for path in tracked():
        if path == Path(__file__):
            continue
        lines = path.read_bytes().decode("utf-8", "replace").splitlines()
        wrong += [
            f"{path.relative_to(ROOT)}:{number} {found.group()}"
            for number, line in enumerate(lines, 1)
            if (found := PLACES.search(line))
        ]
    assert not wrong, f"tied to one machine or one registry: {wrong}"
