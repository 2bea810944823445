# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim completion`: a script that lets a shell complete commands, options, files and names."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from typing import Any

from heatsim.cli.frame import EXIT_OK, add_command, print_text

COMPLETION = """Print a script that lets your shell complete commands, options, files, topics of `explain` and names of parts when
you press Tab. Read it in once, or at every start of the shell as below."""

EXAMPLES = """examples, for one shell each:
  heatsim completion bash > ~/.local/share/bash-completion/completions/heatsim
  heatsim completion zsh > ~/.zfunc/_heatsim
  heatsim completion tcsh > ~/.heatsim.tcsh

bash finds its file by itself where the package bash-completion is installed; otherwise put
"source FILE" into ~/.bashrc. zsh: "fpath+=~/.zfunc; autoload -Uz compinit; compinit" in ~/.zshrc.
tcsh: "source ~/.heatsim.tcsh" in ~/.tcshrc."""

SHELLS = ("bash", "zsh", "tcsh")

FILES, FOLDERS = ("FILE", "PATH", "CAPTURE", "STORE"), ("DIR",)
"""Names by which help calls what is completed as a file, and as a folder."""


def add(commands: Any, whole: argparse.ArgumentParser) -> None:
    """Add the command. whole: the parser of all commands, which the script is made from."""
    parser = add_command(commands, "completion", "print a script for your shell's Tab key", COMPLETION, EXAMPLES)
    parser.add_argument("shell", metavar="SHELL", choices=SHELLS, help=f"one of {', '.join(SHELLS)}")
    parser.set_defaults(run=run, whole=whole)


def run(options: argparse.Namespace) -> int:
    """Print the script."""
    import shtab

    _mark(options.whole)
    print_text(shtab.complete(options.whole, options.shell) + "\n")
    return EXIT_OK


def _mark(whole: argparse.ArgumentParser) -> None:
    """Tell of every argument what it is completed with. The parser reads no arguments any more after this."""
    import shtab

    kinds = dict.fromkeys(FILES, shtab.FILE) | dict.fromkeys(FOLDERS, shtab.DIRECTORY)
    names = {("explain", "name"): _topics, ("parts", "words"): _words_of_parts, ("parts", "kind"): _kinds}
    for command, action in _arguments(whole):
        if action.metavar in kinds:
            action.complete = kinds[action.metavar]  # type: ignore[attr-defined]
        if isinstance(action.metavar, str):
            action.metavar = action.metavar.replace('"', "")  # which would end a word of zsh's script
        if listed := names.get((command, action.dest)):
            action.choices = sorted(listed())


def _arguments(whole: argparse.ArgumentParser) -> Iterator[tuple[str, argparse.Action]]:
    """Every argument with its command."""
    for action in whole._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, parser in action.choices.items():
                yield from ((name, each) for each in parser._actions)


def _topics() -> Iterable[str]:
    from heatsim.report.base.topics import topics

    return (topic.id for topic in topics())


def _words_of_parts() -> Iterable[str]:
    """Words of the built-in parts' names; not the single figures of "generic 60 V"."""
    from heatsim.studies.parts import find_parts

    words = {word for part in find_parts().parts for word in part.name.split()}
    return {word for word in words if len(word) > 1 and not word.isdigit()}


def _kinds() -> Iterable[str]:
    from heatsim.studies.parts import KINDS

    return KINDS.values()
