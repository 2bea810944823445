# SPDX-License-Identifier: GPL-3.0-or-later
"""What heatsim says when something is amiss, read from its code: warnings of a verdict, and messages about input.

What varies in a message when it is printed is an ellipsis here.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

PACKAGE = Path(__file__).resolve().parents[1]

WARNINGS = "studies/check/warning.py"
"""The file of the warnings under a verdict, all of whose sentences are warnings."""

CAUTIONS = (
    "studies/check/bank.py",
    "studies/check/limits/conductor.py",
    "studies/check/limits/device.py",
    "studies/check/limits/gate_network.py",
    "studies/check/limits/water.py",
    "studies/heat/coils/study.py",
)
"""Files whose functions named after cautions hold more of them."""

SENTENCE = re.compile(r"[A-Z…].{25,}[.:…]", re.DOTALL)
"""A text that is told as a sentence of its own."""

VARIES = "…"


class Complaint(NamedTuple):
    """A message about an input: the fault in words, what is allowed or to be done, and the room it comes from."""

    what: str
    allowed: str
    room: str


def told(node: ast.expr | None) -> str:
    """An expression as the text it makes, an ellipsis for what varies."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(told(each) if isinstance(each, ast.Constant) else VARIES for each in node.values)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return told(node.left) + told(node.right)
    if isinstance(node, ast.IfExp):
        return told(node.body) or told(node.orelse)
    return "" if node is None else VARIES


def warnings() -> list[str]:
    """Every sentence that may stand under a verdict as a warning, as far as it is written out in the code."""
    places: list[ast.AST] = [_tree(WARNINGS)]
    for name in CAUTIONS:
        functions = (node for node in ast.walk(_tree(name)) if isinstance(node, ast.FunctionDef))
        places += [node for node in functions if "caution" in node.name]
    told_there = (told(node) for place in places for node in outermost(place))
    return list(dict.fromkeys(text for text in told_there if SENTENCE.fullmatch(text)))


def _tree(name: str) -> ast.Module:
    return ast.parse((PACKAGE / name).read_text(encoding="utf-8"))


def outermost(tree: ast.AST) -> Iterator[ast.expr]:
    """The texts of a file, none that is a part of another, no docstring."""
    for node in ast.iter_child_nodes(tree):
        bare = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        if isinstance(node, ast.Constant | ast.JoinedStr) or (isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add)):
            yield node
        elif not bare:
            yield from outermost(node)


@cache
def complaints() -> tuple[Complaint, ...]:
    """Every message about an input, by the room it comes from, each once."""
    found: dict[Complaint, None] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        room = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(call, ast.Call) and ast.unparse(call.func) in ("InputError.single", "Problem") and len(call.args) > 1:
                named = {each.arg: each.value for each in call.keywords}
                allowed = call.args[3] if len(call.args) > 3 else named.get("allowed")
                what = told(call.args[1])
                if what.strip(VARIES + " "):
                    found[Complaint(what, told(allowed), room)] = None
    return tuple(found)


@cache
def texts() -> frozenset[str]:
    """Every text in the code, as far as it is written out there."""
    trees = (ast.parse(path.read_text(encoding="utf-8")) for path in PACKAGE.rglob("*.py"))
    return frozenset(told(node) for tree in trees for node in outermost(tree))
