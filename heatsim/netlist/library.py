# SPDX-License-Identifier: GPL-3.0-or-later
"""The model library: plain files of subcircuits, usable by hand with stock ngspice.

In a checkout they lie in the top-level netlists/, in an installed package beside this module.
"""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path

from heatsim.errors import SetupError


@lru_cache(maxsize=1)
def library_folder() -> Path:
    """Folder of the model files; SetupError when the installation lacks them."""
    here = Path(__file__).resolve().parent
    for folder in (here / "library", here.parents[1] / "netlists"):
        if (folder / "choke_soft.lib").is_file():
            return folder
    raise SetupError("the model library is missing from this installation; install heatsim again")


@lru_cache(maxsize=32)
def subcircuit(file: str, name: str) -> str:
    """The `.subckt name ... .ends name` block of a library file, with a comment saying where it is from."""
    text = (library_folder() / file).read_text(encoding="utf-8")
    found = re.search(rf"^\.subckt {name} .*?^\.ends {name}$", text, re.MULTILINE | re.DOTALL)
    if not found:
        raise SetupError(f"the model library has no {name} in {file}; install heatsim again")
    return f"* from {file}, where its parameters are explained\n{found.group(0)}"


def call(instance: str, nodes: str, name: str, parameters: dict[str, float]) -> str:
    """A subcircuit call, its parameters four to a line."""
    words = [f"{key}={value:.9g}" for key, value in parameters.items()]
    lines = [" ".join(words[k : k + 4]) for k in range(0, len(words), 4)]
    return "\n+ ".join([f"{instance} {nodes} {name}", *lines])
