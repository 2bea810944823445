# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim match`: what is wrong with a heater that was captured with an oscilloscope, and what meter readings tell of one."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim.cli.ahead import matching_ahead
from heatsim.cli.frame import add_command, add_shared, deliver, hushed, load
from heatsim.errors import InputError

if TYPE_CHECKING:
    from heatsim.waves.capture import Probe

MATCH = """Find what is wrong with a heater from an oscilloscope's capture of its tank voltage, better with a drain beside it: the
scenario is fitted under each of a set of causes, which are ranked by how well they explain the capture. Several captures of
one heater, idle and loaded or at two supply voltages, tell more than one, and so do drain, gate and choke-current channels and
readings of meters. Without an oscilloscope: readings alone, which tell the values of its parts as far as they go, and which
reading to take next."""

EXAMPLES = """CH is a channel's name or number in the file; N:CH means channel CH of the Nth capture alone.
examples:
  heatsim match heater.toml capture.csv
  heatsim match heater.toml capture.csv --signal CH1=tank.voltage --signal CH2=drain.left.voltage --probe CH1=100
  heatsim match heater.toml idle.csv loaded.csv --case idle --case loaded --supply "24 V" --supply "24 V" --invert 2:CH1
  heatsim match heater.toml capture.csv --reading "supply.mean_current = 8.2 A"
  heatsim match heater.toml --reading "idle supply.mean_current = 5.6 A" --reading "loaded tank.frequency = 84.2 kHz ± 0.1 kHz"
  heatsim match heater.toml --free ring --free reach --reading "loaded choke.left.ripple_current at 24 V = 4.1 A ± 5 %"

Exit codes: 0 nothing wrong, or the scenario can give these readings, 1 a cause was found, it is undecided, or the scenario cannot
give these readings, 2 bad input, 3 not simulated. A live tank carries hundreds
of volts: use differential probes rated for it, and follow local codes."""

_CHANNEL = re.compile(r"(?:(\d+):)?([^=]*[^=\s])")


def add(commands: Any) -> None:
    """Add the command."""
    text = "find what is wrong with a heater from an oscilloscope's capture"
    parser = add_command(commands, "match", text, MATCH, EXAMPLES)
    add_shared(parser, "FILE", help="scenario file (TOML) of the heater as it should be")
    parser.add_argument("captures", metavar="CAPTURE", nargs="*", type=Path, help="oscilloscope's file: CSV, WAV, NPZ...")
    _repeated(parser, "--case", "NAME", "case captured, once for all or once a capture (default: loaded, else the last)")
    _repeated(parser, "--supply", '"42 V"', "supply voltage, once for all or once a capture (default: the scenario's)")
    _repeated(parser, "--signal", "CH=SIGNAL", "what a channel is, e.g. CH1=tank.voltage (default: recognised by its shape)")
    _repeated(parser, "--probe", "CH=FACTOR", "factor of a channel's probe, e.g. CH1=10")
    _repeated(parser, "--invert", "CH", "a channel whose probe is reversed")
    _repeated(parser, "--coupling", "CH=ac|dc", "coupling of the oscilloscope's input")
    _repeated(
        parser,
        "--reading",
        '"CASE KEY = VALUE"',
        "a meter reading, with captures or instead of them; its error after VALUE: ± 0.1 A",
    )
    _repeated(parser, "--free", "NAME", "with readings alone: what is unknown, such as ring, reach, load, capacitance")
    add_shared(parser, "--jobs")
    parser.add_argument("--anew", action="store_true", help="simulate everything anew, without the cache of earlier runs")
    add_shared(parser, "--out", help="folder to write (default: results/CAPTURE-match, results/FILE-readings)")
    add_shared(parser, "--set", "--json", "--quiet")
    parser.set_defaults(run=run, again="What was simulated is kept. Run the same command again to continue.")


def _repeated(parser: argparse.ArgumentParser, name: str, metavar: str, text: str) -> None:
    parser.add_argument(name, action="append", default=[], metavar=metavar, help=text)


def run(options: argparse.Namespace) -> int:
    """Match, print, write."""
    if options.reading and not options.captures:
        return _run_readings(options)
    if options.free:
        allowed = 'together with --reading "..." and without captures'
        raise InputError.single("--free", "goes with readings only", ", ".join(options.free), allowed)
    if not options.captures:
        raise InputError.single(
            "match", "has nothing to match", allowed='a CAPTURE, or --reading "idle supply.mean_current = 5.6 A"'
        )
    with matching_ahead(options):
        return _run_captures(options)


def _run_captures(options: argparse.Namespace) -> int:
    """Match captures, print, write."""
    from heatsim.report import match as report
    from heatsim.studies.match import capture_requests, match, user_folder
    from heatsim.studies.match.readings import readings_beside

    scenario, _ = load(options)
    count = len(options.captures)
    named, taken_with = signals(options.signal, count), probes(options, count)
    found = capture_requests(scenario, options.captures, options.case, options.supply, named, taken_with)
    readings = readings_beside(scenario, options.reading, found)
    out = options.out or Path("results") / f"{options.captures[0].stem}-match"
    with report.watching(hushed(options)) as progress:
        folder = None if options.anew else user_folder()
        result = match(scenario, found, options.jobs, progress, folder, readings)
    return deliver(
        options,
        result.exit_code,
        lambda stream: report.show(result, stream),
        lambda: report.plain(result),
        lambda: report.write_folder(result, out),
    )


CAPTURES_ONLY = ("case", "signal", "probe", "invert", "coupling")
"""Options that say how a capture was taken."""


def _run_readings(options: argparse.Namespace) -> int:
    """Match readings of meters, print, write."""
    from heatsim.report import match as report
    from heatsim.studies.match import user_folder
    from heatsim.studies.match.readings import match_readings, parse_readings

    _refuse_with_readings(options)
    scenario, _ = load(options)
    readings = parse_readings(scenario, options.reading, next(iter(options.supply), None))
    out = options.out or Path("results") / f"{Path(scenario.label).stem}-readings"
    with report.watching(hushed(options)) as progress:
        folder = None if options.anew else user_folder()
        result = match_readings(scenario, readings, options.free, options.jobs, progress, folder)
    return deliver(
        options,
        result.exit_code,
        lambda stream: report.show_readings(result, stream),
        lambda: report.plain_readings(result),
        lambda: report.write_readings(result, out),
    )


def _refuse_with_readings(options: argparse.Namespace) -> None:
    """Raises InputError for what would have no effect beside readings."""
    for name in CAPTURES_ONLY:
        if given := getattr(options, name):
            allowed = "with captures; a reading names its case itself" if name == "case" else "with captures"
            raise InputError.single(f"--{name}", "does not go with readings", ", ".join(given), allowed)
    if len(options.supply) > 1:
        allowed = 'once; a reading may say its own: "idle supply.mean_current at 30 V = 4 A"'
        raise InputError.single("--supply", "is given more than once", ", ".join(options.supply), allowed)


def signals(texts: Sequence[str], count: int) -> list[dict[str, str]]:
    """Channel -> signal for each of `count` captures. Raises InputError for texts that are not CH=SIGNAL or N:CH=SIGNAL."""
    found: list[dict[str, str]] = [{} for _ in range(count)]
    for text in texts:
        places, channel, signal = _pair("--signal", text, count, "CH1=tank.voltage")
        if not re.fullmatch(r"[a-z_]+(\.[a-z_]+)+", signal):
            raise InputError.single("--signal", "is not the name of a signal", signal, "such as tank.voltage, drain.left.voltage")
        for place in places:
            found[place][channel] = signal
    return found


def probes(options: argparse.Namespace, count: int) -> list[dict[str, Probe]]:
    """Channel -> probe for each of `count` captures, from --probe, --invert and --coupling."""
    from heatsim.waves.capture import Probe

    known: list[dict[str, dict[str, Any]]] = [{} for _ in range(count)]

    def learn(places: Sequence[int], channel: str, **what: Any) -> None:
        for place in places:
            known[place].setdefault(channel, {}).update(what)

    for text in options.probe:
        places, channel, factor = _pair("--probe", text, count, "CH1=10")
        learn(places, channel, factor=_factor(factor))
    for text in options.invert:
        places, channel = _channel("--invert", text, count, "CH1")
        learn(places, channel, inverted=True)
    for text in options.coupling:
        places, channel, kind = _pair("--coupling", text, count, "CH1=ac")
        if kind.lower() not in ("ac", "dc"):
            raise InputError.single("--coupling", "is neither ac nor dc", kind, "CH1=ac or CH1=dc")
        learn(places, channel, coupling=kind.lower())
    return [{channel: Probe(**what) for channel, what in each.items()} for each in known]


def _factor(text: str) -> float:
    try:
        return float(text.lower().removesuffix("x"))
    except ValueError:
        raise InputError.single("--probe", "has a factor that is not a number", text, "CH1=10") from None


def _pair(option: str, text: str, count: int, example: str) -> tuple[Sequence[int], str, str]:
    """Captures meant, channel and value of CH=VALUE or N:CH=VALUE."""
    left, equals, value = text.rpartition("=")
    if not equals or not value.strip():
        raise InputError.single(option, "needs CH=VALUE or N:CH=VALUE", text, f"{example} or 2:{example}")
    return (*_channel(option, left, count, example), value.strip())


def _channel(option: str, text: str, count: int, example: str) -> tuple[Sequence[int], str]:
    """Captures meant, from 0 on, and channel of CH or N:CH."""
    found = _CHANNEL.fullmatch(text.strip())
    if not found:
        raise InputError.single(option, "needs a channel's name or number", repr(text), f"{example} or 2:{example}")
    number, channel = found.groups()
    if number is None:
        return range(count), channel.strip()
    if not 1 <= int(number) <= count:
        raise InputError.single(option, "names a capture that is not there", text, f"a number from 1 to {count} before the colon")
    return [int(number) - 1], channel.strip()
