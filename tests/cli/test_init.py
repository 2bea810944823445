# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line as a whole: what it knows, how it starts, and what it says of arguments that are none."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from heatsim.cli import main
from tests.support import commands


def test_help_names_every_command_and_loads_nothing_heavy(tmp_path) -> None:
    code = (
        "import sys, heatsim.cli\ntry: heatsim.cli.main(['--help'])\nexcept SystemExit: pass\n"
        "print([m for m in ('numpy', 'scipy', 'matplotlib', 'pydantic', 'rich', 'PySpice', 'pandas') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=tmp_path, timeout=60, env=commands.environment()
    )
    assert done.stdout.strip().splitlines()[-1] == "[]"
    words = ("new", "check", "netlist", "wind", "heat", "ring", "sweep", "map", "match", "parts", "schema", "Exit codes")
    assert all(word in done.stdout for word in words)


@pytest.mark.parametrize(("arguments", "words"), [
    ([], "COMMAND"),
    (["chek", "x"], "invalid choice: 'chek'"),
    (["check"], "FILE"),
    (["check", "x", "--jobs", "0"], "--jobs: must be a whole number from 1, not '0'"),
    (["sweep", "x", "--samples", "9" * 5000], "--samples: must be a whole number from 1"),
])  # fmt: skip
def test_arguments_that_are_none_exit_with_2(arguments, words, capsys) -> None:
    with pytest.raises(SystemExit) as left:
        main(arguments)
    assert left.value.code == 2 and words in capsys.readouterr().err


def test_schema_is_json_schema(capsys) -> None:
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out)["$schema"].startswith("https://json-schema.org/")


def test_as_a_module_it_is_the_same_command(sound, tmp_path) -> None:
    done = commands.heatsim("netlist", sound, "--case", "idle", "--quiet", "--out", "decks", cwd=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
