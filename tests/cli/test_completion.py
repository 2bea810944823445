# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim completion`: what bash completes with the script, and that zsh's and tcsh's can be read."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from heatsim.cli import main
from heatsim.cli.completion import SHELLS

ASK = """
source "$1"; shift
COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMPREPLY=()
"$(complete -p heatsim | sed 's/.*-F \\([^ ]*\\).*/\\1/')"
printf '%s\\n' "${COMPREPLY[@]}"
"""
"""What bash does when Tab is pressed: the function that `complete` names for heatsim gets the words typed so far."""


def script(shell: str, capsys) -> str:
    assert main(["completion", shell]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    return str(told.out)


@pytest.fixture
def complete(tmp_path, capsys):
    """Asks bash how the last word of a command line goes on."""
    if shutil.which("bash") is None:
        pytest.skip("there is no bash")
    path = tmp_path / "heatsim.bash"
    path.write_text(script("bash", capsys), encoding="utf-8")
    here = tmp_path / "here"
    here.mkdir()
    (here / "heater.toml").touch()
    (here / "heats").mkdir()
    (here / "heats" / "capture.csv").touch()

    def ask(*words: str) -> list[str]:
        done = subprocess.run(
            ["bash", "--norc", "-c", ASK, "bash", str(path), "heatsim", *words],
            cwd=here,
            capture_output=True,
            text=True,
            timeout=60,
        )
        assert done.stderr == "", done.stderr
        return sorted(done.stdout.split())

    return ask


def test_bash_completes_commands_options_files_choices_and_names(complete) -> None:
    assert complete("ch") == ["check"] and {"heat", "sweep", "completion"} <= set(complete(""))
    assert complete("check", "heater.toml", "--no") == ["--no-remedies", "--no-report"]
    assert complete("check", "hea") == ["heater.toml", "heats"], "files, and folders on the way to files"
    assert complete("check", "heater.toml", "--quiet", "heater") == ["heater.toml"], "after an option, too"
    assert complete("match", "heater.toml", "heats/") == ["heats/capture.csv"]
    assert complete("check", "heater.toml", "--out", "hea") == ["heats"], "a folder"
    assert complete("sweep", "--spread", "") == ["normal", "uniform"]
    assert complete("explain", "drain-v") == ["drain-voltage", "drain-voltage-at-switch-on"]
    assert complete("parts", "fe-si-al-1") == ["fe-si-al-125", "fe-si-al-14"]
    assert complete("parts", "--kind", "m") == ["materials", "metals"]
    assert complete("completion", "") == sorted(SHELLS)


def test_every_option_of_every_command_is_offered(complete, capsys) -> None:
    for command in complete(""):
        with pytest.raises(SystemExit):
            main([command, "--help"])
        told = set(re.findall(r"^  (?:-h, )?(--[a-z-]+)", capsys.readouterr().out, flags=re.MULTILINE))
        assert told and told <= set(complete(command, "--")), command


def test_the_script_of_zsh_has_a_word_an_argument(capsys) -> None:
    """A quotation mark of a metavar would end the word it stands in."""
    text = script("zsh", capsys)
    blocks = re.findall(r"^_shtab_heatsim_\w+_options=\(\n(.*?)^\)", text, flags=re.MULTILINE | re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines() if "{-h,--help}" not in line]
    assert len(lines) > 100
    assert [line for line in lines if len(shlex.split(line, comments=False)) != 1] == []


@pytest.mark.parametrize(("shell", "check"), [("zsh", ["-n"]), ("tcsh", ["-f"]), ("bash", ["-n"])])
def test_the_shell_itself_can_read_its_script(shell, check, tmp_path: Path, capsys) -> None:
    if shutil.which(shell) is None:
        pytest.skip(f"there is no {shell}")
    path = tmp_path / "script"
    path.write_text(script(shell, capsys), encoding="utf-8")
    done = subprocess.run([shell, *check, str(path)], capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stderr) == (0, "")


def test_the_library_for_it_is_loaded_by_no_other_command() -> None:
    code = "import sys\nfrom heatsim.cli import main\nmain(['parts', '--kind', 'pads'])\nprint('shtab' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stdout.splitlines()[-1] == "False", done.stderr


def test_another_shell_is_refused(capsys) -> None:
    with pytest.raises(SystemExit) as left:
        main(["completion", "sh"])
    assert left.value.code == 2 and "bash" in capsys.readouterr().err
