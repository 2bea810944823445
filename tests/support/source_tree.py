# SPDX-License-Identifier: GPL-3.0-or-later
"""The package's source files, parsed: their syntax trees and every import in them."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "heatsim"


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


def in_module(target: str, module: str) -> bool:
    """Whether an import's target is the module or lies in it."""
    return target == module or target.startswith(module + ".")


ALL_IMPORTS = [found for path in sources("heatsim") for found in imports(path)]
