# SPDX-License-Identifier: GPL-3.0-or-later
"""The rules of the house that are not about imports: how long, how headed, how described, what lies at the top level.

Each message says what to change.
"""

from __future__ import annotations

import ast
import re
import statistics
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.source_tree import ALL_IMPORTS, ROOT, room_of, sources, tree

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
