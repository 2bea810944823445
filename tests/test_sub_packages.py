# SPDX-License-Identifier: GPL-3.0-or-later
"""Files and sub-packages import each other without a circle, and only what a neighbour exports."""

from __future__ import annotations

import ast
from collections.abc import Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

from tests.support import source_tree
from tests.support.source_tree import ALL_IMPORTS, PACKAGE, ROOT, Import, in_module, room_of, sources


def module_name(path: Path) -> str:
    """Dotted name of a file of the package."""
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


MODULES = {module_name(path): path for path in sources("heatsim")}


def module_of(target: str) -> str:
    """The file that an import's target, a module or a name in one, stands in."""
    while target not in MODULES:
        target = target.rpartition(".")[0]
    return target


def package_of(module: str) -> str:
    """The sub-package that a file belongs to; the file itself where it stands on its own."""
    path = MODULES[module]
    return module if path.name == "__init__.py" or path.parent == PACKAGE else module.rpartition(".")[0]


def arrows() -> dict[str, set[str]]:
    """File -> the files it imports, wherever in it, in functions and for type checkers too."""
    found: dict[str, set[str]] = {module: set() for module in MODULES}
    for each in ALL_IMPORTS:
        if in_module(each.target, "heatsim"):
            found[module_name(each.path)].add(module_of(each.target))
    return found


def circle(graph: Mapping[str, set[str]]) -> list[str]:
    """One circle of a graph, empty if there is none."""
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_a_circle_is_seen() -> None:
    assert circle({"a": {"b"}, "b": {"c"}, "c": {"a"}}) and not circle({"a": {"b", "c"}, "b": {"c"}, "c": set()})


def test_imports_between_files_make_no_circle() -> None:
    found = circle({module: {on for on in targets if on not in (module, "heatsim")} for module, targets in arrows().items()})
    assert not found, f"these files lead back to themselves, each imported by the next: {found}"


def test_imports_between_sub_packages_make_no_circle() -> None:
    graph: dict[str, set[str]] = {}
    for module, targets in arrows().items():
        home = package_of(module)
        graph.setdefault(home, set()).update({package_of(on) for on in targets} - {home, "heatsim"})
    found = circle(graph)
    assert not found, f"these sub-packages lead back to themselves, each imported by the next: {found}"


SHARED_STUDIES = ("check", "points", "store")
"""Studies that other studies build on, by the names that their `__init__` exports."""


def neighbour(found: Import, room: str) -> str:
    """The other sub-package of a room that one of its files imports from, empty if none."""
    own, parts = found.path.relative_to(PACKAGE).parts, found.target.split(".")
    inside = own[0] == room and len(own) > 2 and parts[:2] == ["heatsim", room] and len(parts) > 2
    return parts[2] if inside and parts[2] != own[1] else ""


def exported(package: str) -> set[str]:
    """Names that the `__init__` of a sub-package exports."""
    tree = source_tree.tree(MODULES[package])
    lists = [node.value for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"]
    return set(ast.literal_eval(lists[0])) if lists else set()


def test_studies_use_public_names_of_the_shared_ones_only() -> None:
    wrong = []
    for found in ALL_IMPORTS:
        other = neighbour(found, "studies")
        name = found.target.removeprefix(f"heatsim.studies.{other}.")
        if other and (other not in SHARED_STUDIES or name not in exported(f"heatsim.studies.{other}")):
            wrong.append(f"{found.where}: {found.target} is not among the exports of {', '.join(SHARED_STUDIES)}")
    assert not wrong, "\n".join(wrong)


SHARED_REPORTS = ("base", "circuit")
"""What all reports share, and the picture of a heater's circuit, which is no study's own and uses the base only."""


def test_reports_use_nothing_of_each_other_but_what_is_shared() -> None:
    wrong = []
    for found in ALL_IMPORTS:
        other = neighbour(found, "report")
        inner = other == "circuit" and found.target.removeprefix("heatsim.report.circuit.") not in exported(
            "heatsim.report.circuit"
        )
        if other and (other not in SHARED_REPORTS or inner):
            wrong.append(f"{found.where}: {found.target}")
    assert not wrong, "what two reports share goes to report/base:\n" + "\n".join(wrong)


def test_cli_uses_what_sub_packages_export() -> None:
    wrong = []
    for found in ALL_IMPORTS:
        parts = found.target.split(".")
        if room_of(found.path) not in ("cli", "__init__") or parts[:2] != ["heatsim", "studies"] or len(parts) < 4:
            continue
        home = package_of(module_of(found.target))
        package = home if found.target != home else home.rpartition(".")[0]
        if found.target.removeprefix(f"{package}.") not in exported(package):
            wrong.append(f"{found.where}: {found.target} is not exported by {package}")
    assert not wrong, "\n".join(wrong)


def test_every_sub_package_says_what_it_is_for_and_exports_names() -> None:
    rooms = [name for name, path in MODULES.items() if path.name == "__init__.py" and name.count(".") == 2]
    shelf = "heatsim.report.base"  # a shelf of helpers, taken file by file
    bare = [name for name in rooms if name != shelf and not exported(name)]
    wrong = bare + [name for name in rooms if not ast.get_docstring(source_tree.tree(MODULES[name]))]
    assert not wrong, f"no docstring or no __all__ in the __init__ of {wrong}"
