# SPDX-License-Identifier: GPL-3.0-or-later
"""Part and name of every limit in the code, read from its text: what a run of one heater cannot show."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from itertools import product
from pathlib import Path

LIMITS = Path(__file__).resolve().parents[2] / "heatsim" / "studies" / "check" / "limits"


def limit_names() -> set[str]:
    """`part: name` of each call of Limit and Finding there, a star for what is put in when it runs."""
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(LIMITS.glob("*.py"))}
    shared = [node for tree in trees.values() for node in tree.body if isinstance(node, ast.Assign)]
    found = set()
    for tree in trees.values():
        for function in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
            own = [node for node in ast.walk(function) if isinstance(node, ast.Assign)]
            for call in ast.walk(function):
                if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in ("Limit", "Finding"):
                    both = (set(texts(call.args[k], [*shared, *own])) for k in (0, 1))
                    found |= {f"{part}: {name}" for part, name in product(*both)}
    return found


def texts(node: ast.expr, known: list[ast.Assign]) -> Iterator[str]:
    """What an expression may be as a text; a star for what cannot be told. known: assignments before it, in their order."""
    if isinstance(node, ast.Constant):
        yield str(node.value)
    elif isinstance(node, ast.IfExp):
        yield from (*texts(node.body, known), *texts(node.orelse, known))
    elif isinstance(node, ast.BinOp):
        yield from (left + right for left, right in product(texts(node.left, known), texts(node.right, known)))
    elif isinstance(node, ast.JoinedStr):
        parts = (each.value if isinstance(each, ast.FormattedValue) else each for each in node.values)
        yield from ("".join(each) for each in product(*(tuple(texts(part, known)) for part in parts)))
    else:
        yield from assigned(node.id, known) if isinstance(node, ast.Name) else ["*"]


def assigned(name: str, known: list[ast.Assign]) -> list[str]:
    """What a name was set to, each time with what was known before."""
    found = []
    for place, node in enumerate(known):
        for target in node.targets:
            pairs = [(target, node.value)]
            if isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
                pairs = list(zip(target.elts, node.value.elts, strict=True))
            found += [
                each for one, value in pairs if isinstance(one, ast.Name) and one.id == name for each in texts(value, known[:place])
            ]
    return found or ["*"]
