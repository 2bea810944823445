# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim new`: a first scenario from at most ten questions."""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from heatsim import __version__
from heatsim.cli import frame
from heatsim.errors import InputError, Problem
from heatsim.files import reason, replacing, shown_path

if TYPE_CHECKING:
    from heatsim.studies.new import Draft, Question

NEW = """Write a first scenario from at most ten questions. Return takes the answer in brackets. What is not asked stands in the
file as a marked estimate. A flag answers a question beforehand; with --yes every other one takes its default and nothing is
asked."""

EXAMPLES = """examples:
  heatsim new heater.toml
  heatsim new heater.toml --yes
  heatsim new heater.toml --yes --supply-voltage "36 V" --coil "10 x 60 mm x 8 mm" --workpiece "steel 16 mm x 120 mm"
  heatsim new bench.toml --from bench"""

FLAGS = {
    "supply_voltage": ("VOLTS", 'such as "24 V"'),
    "supply_current": ("AMPERES", 'rating of the supply, such as "25 A", or unknown'),
    "device": ("NAME", "MOSFET of the parts file, or suggest"),
    "count": ("N", "MOSFETs in parallel on each side"),
    "capacitors": ("BANK", 'count x value of one, and ratings as far as known: "6 x 330 nF, 250 V, 16 A"'),
    "coil": ("COIL", 'turns x diameter x tube, "8 x 46 mm x 6 mm", or measured, "1.75 uH, 14 mohm"'),
    "workpiece": ("PIECE", 'none, "steel 12 mm x 100 mm", or the coil measured with it in, "1.6 uH, 80 mohm"'),
    "chokes": ("RING", 'ring of the catalogue, "2 x NAME, MATERIAL", or measured, "65 uH, 30 A, 15 mohm"'),
    "winding": ("WINDING", 'turns x wire of each choke, "16 x 1.6 mm, 2 strands"'),
    "cooling": ("HOW", "of the MOSFETs: none, sink or fan"),
}
"""Key of a question -> what its flag takes, and help."""

LONGEST = 10_000
"""Signs of an answer that are read."""


def add(commands: Any) -> None:
    """Add the command."""
    parser = frame.add_command(commands, "new", "write a first scenario from at most ten questions", NEW, EXAMPLES)
    parser.add_argument("file", nargs="?", default="heater.toml", metavar="FILE", help="scenario to write (default: heater.toml)")
    parser.add_argument("--yes", action="store_true", help="ask nothing: every answer not given by a flag is its default")
    parser.add_argument(
        "--from",
        dest="source",
        choices=("parts", "bench"),
        default="parts",
        help="bench: from measured values alone, the shortest file (default: parts, by size and name)",
    )
    for key, (metavar, text) in FLAGS.items():
        parser.add_argument(_flag(key), metavar=metavar, help=text)
    parser.add_argument("--force", action="store_true", help="overwrite FILE where there is one")
    frame.add_shared(parser, "--json", "--quiet")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Ask, write, say what comes next."""
    from heatsim.studies.new import Draft, heater_name

    path = Path(options.file)
    _refuse_place(path, options.force)
    said = {key: value for key in FLAGS if (value := getattr(options, key)) is not None}
    made = _answers(options, Draft(options.source, heater_name(path.stem), shown_path(path.name)), said)
    made.check()
    return frame.deliver(
        options,
        frame.EXIT_OK,
        lambda stream: _say(made, path, stream),
        lambda: _plain(made, path),
        lambda: _written(path, made.text, options.force),
    )


def _answers(options: argparse.Namespace, made: Draft, said: dict[str, str]) -> Draft:
    """A draft with every question answered by a flag, on the terminal, or by its default."""
    from heatsim.studies.new import ASKED, refuse_idle

    number = 0
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")
    with _told_at_flags():
        while (question := made.next) is not None:
            asked = question.key in ASKED[made.source]
            number += asked
            if question.key in said:
                made = made.answered(question, said[question.key])
            elif options.yes or not asked:
                made = made.answered(question, made.default(question))
            else:
                made = _asked(options, made, question, f"{number}/{made.asks}")
        refuse_idle(made, said)
    return made


def _asked(options: argparse.Namespace, made: Draft, question: Question, place: str) -> Draft:
    """The draft with an answer from standard input, asked for until it can be used."""
    if frame.hushed(options):
        raise InputError.single(question.key, "is still to be asked, which --quiet and --json - leave no place for", "", "--yes")
    default = made.default(question)
    frame.print_text(f"\n{place} {question.title}\n    {question.line}\n")
    while True:
        text = _line(f"    [{default}] ", question)
        try:
            return made.answered(question, text or default)
        except InputError as error:
            for each in error.problems:
                frame.print_text(f"    ! {Problem('', each.what, each.given, each.allowed)}\n")


def _line(prompt: str, question: Question) -> str:
    """One line of standard input; InputError at its end."""
    frame.print_text(prompt)
    line = sys.stdin.readline(LONGEST) if sys.stdin is not None else ""
    if not line:
        frame.print_text("\n")
        raise InputError.single(
            question.key, "has no answer: the input ended", "", "an answer, its flag, or --yes for all defaults"
        )
    return line.strip()


@contextlib.contextmanager
def _told_at_flags() -> Iterator[None]:
    """What is wrong with an answer, told at its flag."""
    try:
        yield
    except InputError as error:
        raise InputError(*(Problem(_flag(p.where), p.what, p.given, p.allowed) for p in error.problems)) from None


def _flag(key: str) -> str:
    return "--" + key.replace("_", "-")


def _refuse_place(path: Path, force: bool) -> None:
    """InputError where the file cannot be written, before anything is asked."""
    shown = shown_path(path)
    if not path.name or os.path.isdir(path):
        raise InputError.single("FILE", "is a folder", shown, "the name of a file")
    if not os.path.isdir(path.parent):
        raise InputError.single("FILE", "cannot be written: there is no such folder", shown, "a file in a folder that is there")
    try:
        path.lstat()
    except FileNotFoundError:
        return
    except OSError as error:
        raise InputError.single("FILE", f"is no name of a file ({reason(error)})", shown, "another name") from None
    if not force:
        raise InputError.single("FILE", "is there already", shown, "another name, or --force to overwrite it")


def _say(made: Draft, path: Path, stream: TextIO) -> None:
    count, file = len(made.estimates), shown_path(path)
    stream.write(f"\n{made.name}: {count} values are estimates, each marked in the file. Next: heatsim check {file}\n")


def _written(path: Path, text: str, force: bool) -> list[Path]:
    with replacing(path, only_new=not force) as stream:
        stream.write(text.encode())
    return [path]


def _plain(made: Draft, path: Path) -> dict[str, Any]:
    """Content of `--json`."""
    about = {"schema": "heatsim.new/1", "heatsim_version": __version__, "file": shown_path(path), "source": made.source}
    return about | {"answers": dict(made.said), "estimates": list(made.estimates), "text": made.text}
