# SPDX-License-Identifier: GPL-3.0-or-later
"""Which code made a committed table: a hash of what decides numbers, the same after a change of words or layout."""

from __future__ import annotations

import ast
import hashlib
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

SHOWING = ("cli", "docs", "report")
"""Sub-packages of heatsim that show numbers and do not make them."""


def deciding_code(top: Path) -> str:
    """Sixteen hex digits for a checkout: heatsim without what only shows results, its data, and the model library.

    Python files count without comments, docstrings and layout.
    """
    package = top / "heatsim"
    files = [path for path in package.rglob("*") if path.is_file() and path.relative_to(package).parts[0] not in SHOWING]
    digest = hashlib.sha256()
    for path in sorted((*files, *(top / "netlists").glob("*.lib"))):
        if path.suffix in (".py", ".toml", ".csv", ".lib"):
            content = _bare(path.read_text("utf-8")) if path.suffix == ".py" else path.read_text("utf-8")
            digest.update(f"{path.relative_to(top).as_posix()}\0{hashlib.sha256(content.encode()).hexdigest()}\n".encode())
    return digest.hexdigest()[:16]


@cache
def this_code() -> str:
    """The same for this checkout, read once in a process."""
    return deciding_code(ROOT)


def _bare(code: str) -> str:
    """Code without docstrings, comments and layout."""
    tree = ast.parse(code)
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list):
            node.body = [each for each in body if not _is_docstring(each)]  # type: ignore[attr-defined]
    return ast.unparse(tree)


def _is_docstring(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
