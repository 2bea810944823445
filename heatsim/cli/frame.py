# SPDX-License-Identifier: GPL-3.0-or-later
"""What all commands stand in: shared options, the scenario with its overrides, output, errors and exit codes.

Exit codes: 0 done and holds, 1 done and something is short of what was asked, 2 bad input, 3 not simulated or not written,
130 interrupted. The result of a study says which of the first two, or 3, it is.
"""

from __future__ import annotations

import argparse
import contextlib
import errno
import os
import re
import signal
import sys
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from heatsim.cli.layout import HelpLayout
from heatsim.errors import HeatsimError, InputError, NotRunningError, OutputError, SetupError, printable, shortened
from heatsim.files import make_folder, reason, shown_path, write_whole
from heatsim.quantity import QuantityError, parse_quantity

if TYPE_CHECKING:
    from heatsim.scenario.scenario import Scenario
    from heatsim.tasks import Pool

EXIT_OK, EXIT_FAILS, EXIT_INPUT, EXIT_NOT_DONE, EXIT_INTERRUPTED = 0, 1, 2, 3, 130

DEBUG = "HEATSIM_DEBUG"
"""Environment variable that shows the traceback of a fault of heatsim's own."""

AGAIN = "Nothing was written. Run the same command again to start over."
"""What to do after an interruption, unless a command keeps what it has."""

PARTLY = "Some of its files may have been written, each of them whole. Run the same command again to write all of them."
"""The same once files are being written."""

CONTINUE = "Finished points are kept. Run the same command again to continue."
"""The same of a command with a store."""


class Parser(argparse.ArgumentParser):
    """A parser whose messages hold no control character of an argument, and whose help must reach its reader."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **{"formatter_class": HelpLayout} | options)

    def _print_message(self, message: str, file: Any = None) -> None:
        if file is not None and file is sys.stdout:
            print_text(message)
        else:
            _complain_as_is(message)


def run(parser: argparse.ArgumentParser, arguments: Sequence[str] | None) -> int:
    """Run one command. Returns the exit code; every error is one message without a traceback."""
    _occupy_standard_streams()
    options = argparse.Namespace()
    try:
        with warnings.catch_warnings(), _ended_politely():
            warnings.showwarning = lambda message, *_, **__: complain(message)
            parser.parse_args(arguments, options)
            _check_outputs(options)
            return int(options.run(options))
    except KeyboardInterrupt:
        complain(f"interrupted. {getattr(options, 'again', AGAIN)}")
        # Where it fell into an exec, such as dataclasses make while they load, Python would end by the signal and not with the code
        # that is returned, whoever has caught it. Another exec clears that.
        exec("")
        return EXIT_INTERRUPTED
    except Exception as error:
        if os.environ.get(DEBUG) and not isinstance(error, HeatsimError):
            raise
        return _failed(error)


@contextlib.contextmanager
def _ended_politely() -> Iterator[None]:
    """SIGTERM, as `kill` sends it, ends the command as Ctrl-C does, which a job in the background has ignored."""

    def end(*_: object) -> None:
        raise KeyboardInterrupt

    try:
        before = signal.signal(signal.SIGTERM, end)
    except ValueError:  # not in the main thread
        yield
        return
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _failed(error: Exception) -> int:
    """Say what went wrong; the exit code for it."""
    if isinstance(error, SetupError | OutputError):
        complain(error)
        return EXIT_NOT_DONE
    if isinstance(error, NotRunningError):
        complain(error)
        return EXIT_FAILS if error.simulated else EXIT_NOT_DONE
    if isinstance(error, HeatsimError):
        for line in str(error).splitlines():
            complain(line)
        return EXIT_INPUT
    told = shortened(f"{type(error).__name__}: {error}")
    complain(f"a fault of heatsim's own ({told}). Please report it with the command that led to it; {DEBUG}=1 shows more.")
    return EXIT_NOT_DONE


def positive(text: str) -> int:
    """A whole number from 1."""
    if not re.fullmatch("[0-9]{1,9}", text) or int(text) < 1:
        raise argparse.ArgumentTypeError(f"must be a whole number from 1, not {shortened(text, 40)!r}")
    return int(text)


def share(option: str, text: str) -> float:
    """The share that an option asks for [1]; InputError that names the option."""
    try:
        return parse_quantity(text, "%")
    except QuantityError as error:
        raise InputError.single(option, error.what, text, error.allowed) from None


SHARED: dict[str, dict[str, Any]] = {
    "FILE": {"metavar": "FILE", "help": "scenario file (TOML)"},
    "--case": {"action": "append", "metavar": "NAME", "help": "only this case; may be given more than once"},
    "--set": {
        "action": "append",
        "default": [],
        "metavar": "FIELD=VALUE",
        "help": 'override a field, e.g. --set "supply.voltage=38 V"; wins over what the file says of a case or a side',
    },
    "--jobs": {"type": positive, "metavar": "N", "help": "number of worker processes (default: one per core)"},
    "--cluster": {"metavar": "ADDRESS", "help": "run on a Dask cluster instead; needs heatsim[cluster]"},
    "--store": {"type": Path, "metavar": "PATH", "help": "database file (default: points.db in the --out folder)"},
    "--out": {"type": Path, "metavar": "DIR"},
    "--json": {"metavar": "PATH", "help": "write the result as JSON; - for standard output"},
    "--quiet": {"action": "store_true", "help": "print nothing but errors"},
}
"""Arguments that several commands have, and how they are read."""


def add_command(commands: Any, name: str, text: str, about: str, examples: str = "") -> argparse.ArgumentParser:
    """The parser of a command. text: what it does, in the list of commands; about: the same in its own help."""
    parser: argparse.ArgumentParser = commands.add_parser(name, help=text, description=about, epilog=examples or None)
    return parser


def add_shared(parser: argparse._ActionsContainer, *names: str, **own: Any) -> None:
    """Arguments of `SHARED`. own: how one of them is read otherwise here."""
    for name in names:
        parser.add_argument("file" if name == "FILE" else name, **SHARED[name] | own)


def pool_of(options: argparse.Namespace) -> Pool:
    """The cluster of `--cluster`, or worker processes on this machine."""
    from heatsim.studies.points import cluster_pool, local_pool

    if options.cluster is None:
        return local_pool(options.jobs)
    if options.jobs is not None:
        raise InputError.single("--jobs", "goes without --cluster", options.jobs, "the cluster's own workers are used")
    return cluster_pool(options.cluster)


def load(options: argparse.Namespace, cases: Sequence[str] | None = None) -> tuple[Scenario, tuple[str, ...]]:
    """The scenario with its overrides, and the names of the wanted cases; says what the overrides replace.

    cases: those wanted, by default all of the file
    """
    from heatsim.scenario.scenario import Scenario

    scenario = Scenario.from_file(options.file)
    settings = _settings(options)
    if settings:
        scenario = scenario.change_by("--set", settings)
    names = tuple(cases or scenario.cases)
    for name in names:
        scenario.case(name)
    found = [gone for name in names for gone in scenario.case(name).replaced if gone.case in ("", *names)]
    notes(options, found)
    notes(options, (f"{each} changes nothing of case {' and '.join(names)}" for each in scenario.without_effect(names)))
    return scenario, names


def _settings(options: argparse.Namespace) -> dict[str, Any]:
    """Fields and values of `--set`; of one that is given twice the later counts, which is said."""
    found: dict[str, Any] = {}
    for item in options.set:
        field, equals, value = (part.strip() for part in item.partition("="))
        if not equals or not field:
            raise InputError.single("--set", "needs FIELD=VALUE", item, '"supply.voltage=38 V"')
        if field in found:
            notes(options, [f"{field} = {value} replaces the earlier --set {field} = {found[field]}"])
        found[field] = int(value) if re.fullmatch(r"-?[0-9]{1,15}", value) else value
    return found


def hushed(options: argparse.Namespace) -> bool:
    """Whether standard output is wanted for JSON, or nothing is."""
    return bool(options.quiet or options.json == "-")


def notes(options: argparse.Namespace, texts: Iterable[object]) -> None:
    """Print what should be known, each once, on standard error; nothing with `--quiet`."""
    for text in dict.fromkeys(map(str, texts)) if not options.quiet else ():
        complain(f"note: {text}")


def complain(text: object) -> None:
    """Print one message on standard error."""
    _complain_as_is(f"heatsim: {printable(str(text))}\n")


def _complain_as_is(text: str) -> None:
    with contextlib.suppress(OSError, ValueError):
        _write(sys.stderr, text)


def _write(stream: TextIO, text: str) -> None:
    """A text without control characters other than line ends and tabs, in signs the stream has."""
    lines = "\n".join("\t".join(map(printable, line.split("\t"))) for line in text.split("\n"))
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        lines.encode(encoding)
    except UnicodeEncodeError:
        from heatsim.report.base.terminal import ASCII

        lines = lines.translate(ASCII).encode(encoding, "replace").decode(encoding)
    stream.write(lines)
    stream.flush()


def printed(show: Callable[[TextIO], None], wanted: bool = False) -> OutputError | None:
    """Print on standard output; returns what keeps it from being written.

    show: prints to a stream
    wanted: a reader that goes away before the end is a fault too
    """
    if sys.stdout is None:
        return OutputError.at("standard output", "it is closed")
    try:
        show(sys.stdout)
        sys.stdout.flush()
    except OSError as error:
        _drop_standard_output()
        return None if isinstance(error, BrokenPipeError) and not wanted else OutputError.at("standard output", reason(error))
    return None


def print_text(text: str, wanted: bool = False) -> None:
    """Print a text on standard output; raises OutputError when it cannot be written. wanted: see `printed`."""
    fault = printed(lambda stream: _write(stream, text), wanted)
    if fault is not None:
        raise fault


def deliver(
    options: argparse.Namespace,
    code: int,
    show: Callable[[TextIO], None],
    data: Callable[[], dict[str, Any]],
    write: Callable[[], Sequence[Path]] = tuple,
) -> int:
    """Give out a result: the words first, then the JSON, then the files. What cannot be written does not stop the rest.

    code: exit code of the result
    show: prints it
    data: the content of `--json`
    write: writes its files and returns their names, which are printed
    Returns the exit code, 3 when something could not be written.
    """
    faults: list[OutputError] = []
    if not hushed(options):
        fault = printed(show)
        if fault is not None:
            show(sys.stderr)
            faults.append(fault)
    writing(options)
    steps: Sequence[Callable[[], None]] = (lambda: write_json(options, data()), lambda: say_written(options, write()))
    for step in steps:
        try:
            step()
        except OSError as error:
            told = shown_path(error.filename) if isinstance(error.filename, str | Path) else "a file"
            faults.append(error if isinstance(error, OutputError) else OutputError.at(told, reason(error)))
    for fault in faults:
        complain(fault)
    return EXIT_NOT_DONE if faults else code


def writing(options: argparse.Namespace) -> None:
    """From here on files are written, which an interruption has to say."""
    if getattr(options, "again", AGAIN) == AGAIN:
        options.again = PARTLY


def say_written(options: argparse.Namespace, files: Sequence[Path]) -> None:
    """Print which files were written."""
    from heatsim.report.base.terminal import show_files

    if files and not hushed(options):
        fault = printed(lambda stream: show_files(files, stream))
        if fault is not None:
            raise fault


@contextlib.contextmanager
def folder_of(options: argparse.Namespace, store: Path, done: Callable[[], str]) -> Iterator[None]:
    """Make the folder of a store; take both away again when they are new and the block finds the input bad.

    done: how much the store keeps after an interruption, empty when that is not known
    """
    new = [folder for folder in (store.parent, *store.parent.parents) if not folder.exists()]
    make_folder(store.parent)
    try:
        yield
    except KeyboardInterrupt:
        kept = f"{done() or 'Finished points'} are kept in {shown_path(store)}."
        options.again = f"{kept} Run the same command again to continue."
        raise
    except InputError:
        with contextlib.suppress(OSError):
            if new:
                store.unlink(missing_ok=True)
            for folder in new:
                folder.rmdir()
        raise


def write_json(options: argparse.Namespace, content: dict[str, Any]) -> None:
    """Write to the path of `--json`, if there is one; raises OutputError."""
    if not options.json:
        return
    from heatsim.report.base.plain import as_json

    writing(options)
    text = as_json(content) + "\n"
    if options.json != "-":
        write_whole(Path(options.json), text)
        return
    print_text("".join(sign if sign.isprintable() or sign == "\n" else _escaped(sign) for sign in text), wanted=True)


def _escaped(sign: str) -> str:
    """A sign as JSON escapes it."""
    units = sign.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[k]:02x}{units[k + 1]:02x}" for k in range(0, len(units), 2))


def _check_outputs(options: argparse.Namespace) -> None:
    """Refuse names that can be no output before anything is computed."""
    for name in ("out", "store", "json", "export", "fix"):
        given = getattr(options, name, None)
        if given is None or str(given) == "-":
            continue
        path, option, shown = Path(given), f"--{name}", shown_path(given)
        try:
            there = path.stat() is not None
        except (OSError, ValueError) as error:
            if getattr(error, "errno", None) in (None, errno.ENAMETOOLONG, errno.ENOTDIR, errno.ELOOP):
                raise InputError.single(
                    option, f"is no name of a file or folder ({reason(error)})", shown, "another name"
                ) from None
            there = False
        if name == "out" and there and not path.is_dir():
            raise InputError.single(option, "is not a folder", shown, "a folder, or a name that is free")
        if name != "out" and path.is_dir():
            raise InputError.single(option, "is a folder", shown, "the name of a file")
        if name in ("json", "export", "fix") and not path.parent.is_dir():
            raise InputError.single(option, "cannot be written: there is no such folder", shown, "a file in a folder that is there")


def _occupy_standard_streams() -> None:
    """Give closed standard streams a place, so that no file of ours gets their numbers."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    sys.stderr = sys.stderr or os.fdopen(2, "w", closefd=False)


def _drop_standard_output() -> None:
    """Let what is still to come go nowhere, so that the interpreter's end does not fail on it."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
