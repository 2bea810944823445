# SPDX-License-Identifier: GPL-3.0-or-later
"""The hash that committed tables carry: moved by what decides numbers, by nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.deciding_code import deciding_code

FILES = {
    "heatsim/physics/heat.py": 'LIMIT = 2.0\n"""Limit."""\n\n\ndef twice(x):\n    """Twice."""\n    return 2 * x\n',
    "heatsim/report/page.py": "WIDTH = 80\n",
    "heatsim/parts/data/wires.toml": "[wire]\n",
    "netlists/choke.lib": ".subckt choke a b\n",
}


@pytest.fixture
def checkout_of(tmp_path: Path) -> Path:
    for name, text in FILES.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


@pytest.mark.parametrize(
    ("name", "old", "new", "same"),
    [
        ("heatsim/physics/heat.py", "2 * x", "2.0 * x", False),
        ("heatsim/physics/heat.py", "LIMIT = 2.0", "LIMIT = 2.1", False),
        ("heatsim/physics/heat.py", "Twice.", "Two times.", True),
        ("heatsim/physics/heat.py", "return 2 * x", "return (2*x)  # twice", True),
        ("heatsim/report/page.py", "80", "90", True),
        ("heatsim/parts/data/wires.toml", "wire", "litz", False),
        ("netlists/choke.lib", "a b", "a b c", False),
    ],
)
def test_what_decides_numbers_moves_the_hash_and_words_do_not(checkout_of: Path, name: str, old: str, new: str, same: bool) -> None:
    before = deciding_code(checkout_of)
    path = checkout_of / name
    path.write_text(path.read_text().replace(old, new))
    assert (deciding_code(checkout_of) == before) == same
