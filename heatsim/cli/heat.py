# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim heat`: a workpiece from cold to its final temperature, with the heater that feeds it; a coil for it; the piece moved."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim.cli import frame
from heatsim.errors import InputError

if TYPE_CHECKING:
    from heatsim.scenario.scenario import Scenario

HEAT = """Heat the workpiece of a scenario from cold: how long to the wanted temperature, how warm surface and core are then, where
it comes to rest if left on, whether the heater's limits hold all along. [heat] in the file says what is asked and what surrounds
the hot piece. The heater is simulated at some moments of the heat, which are kept, so that an interrupted heat goes on."""

EXAMPLES = """examples:
  heatsim heat heater.toml
  heatsim heat heater.toml --to "1150 °C" --set heat.at=surface
  heatsim heat heater.toml --bar "steel 20 mm x 100 mm"
  heatsim heat heater.toml --bar "steel 30 mm x 60 mm" --coils
  heatsim heat heater.toml --pull"""

KEPT = "Simulated states of the heater are kept. Run the same command again to continue."
"""After an interruption."""

COILS = 2
"""Coils that are simulated at least."""

BAR = '"MATERIAL DIAMETER x LENGTH"'

_SIZE = '(?:[0-9]+ [0-9]+/[0-9]+|[0-9.]+(?:/[0-9]+)?) *(?:[a-zA-Zµ]+|")'
"""A length, such as 20 mm, 3/8 in or 1 1/2 in; what it means, and whether it can be, the scenario's own reading says."""

_BAR = re.compile(rf"(?P<material>\S.*?)\s+(?P<diameter>{_SIZE})\s*[x×]\s*(?P<length>{_SIZE})")


def add(commands: Any) -> None:
    """Add the command."""
    text = "heat a workpiece from cold: time, temperatures, power, and whether the heater holds"
    parser = frame.add_command(commands, "heat", text, HEAT, EXAMPLES)
    frame.add_shared(parser, "FILE")
    parser.add_argument("--case", metavar="NAME", help="the case whose workpiece is heated (default: heat.case, else loaded)")
    parser.add_argument("--bar", metavar=BAR, help='a solid bar in place of the workpiece, e.g. "steel 20 mm x 100 mm"')
    parser.add_argument("--to", metavar="TEMPERATURE", help='temperature to reach, e.g. "850 °C" (default: heat.wanted)')
    frame.add_shared(parser, "--set")
    instead = parser.add_mutually_exclusive_group()
    instead.add_argument("--coils", action="store_true", help="advise on a coil for the piece, instead of heating it")
    instead.add_argument(
        "--pull",
        action="store_true",
        help="simulate the step from loaded to empty at full supply, and the reverse, instead of heating it",
    )
    parser.add_argument(
        "--no-confirm", action="store_true", help="skip the starts from rest that check the heat; with --coils, simulate none"
    )
    frame.add_shared(parser, "--out", help="folder for page, pictures and states (default: results/FILE-heat, -coils, -pull)")
    text = "number of worker processes (default: two, and never more; with --coils or --pull one per core)"
    frame.add_shared(parser, "--jobs", help=text)
    frame.add_shared(parser, "--json", "--quiet")
    parser.set_defaults(run=run, again=KEPT)


def run(options: argparse.Namespace) -> int:
    """Heat, or what is asked instead, print, write."""
    scenario = asked(options)
    kind, what = ("coils", _coils) if options.coils else ("pull", _pull) if options.pull else ("heat", _heat)
    if kind != "heat":
        options.again = frame.AGAIN
    return what(options, scenario, options.out or Path("results") / f"{Path(options.file).stem}-{kind}")


def _heat(options: argparse.Namespace, scenario: Scenario, out: Path) -> int:
    from heatsim.report import heat as report
    from heatsim.studies.heat import heat

    store = out / "states.db"
    with report.watching(frame.hushed(options)) as watch, frame.folder_of(options, store, lambda: report.done_words(watch.latest)):
        result = heat(scenario, store, watch, not options.no_confirm, options.jobs)
    return frame.deliver(
        options,
        result.exit_code,
        lambda stream: report.show(result, stream),
        result.as_dict,
        lambda: report.write_folder(result, out),
    )


def _coils(options: argparse.Namespace, scenario: Scenario, out: Path) -> int:
    """What coil would suit the piece."""
    from heatsim.report.base import live
    from heatsim.report.heat import coils as report
    from heatsim.studies.heat.coils import coil_advice

    with live.steps(frame.hushed(options), left=live.IN_THIS_STEP) as tell:
        advice = coil_advice(scenario, tell, options.jobs, confirm=0 if options.no_confirm else COILS)
    return frame.deliver(
        options,
        advice.exit_code,
        lambda stream: report.show_advice(advice, stream),
        advice.as_dict,
        lambda: report.write_advice(advice, out),
    )


def _pull(options: argparse.Namespace, scenario: Scenario, out: Path) -> int:
    """What the heater does when the piece leaves, and when one goes in."""
    from heatsim.report.base import live
    from heatsim.report.heat import pull as report
    from heatsim.studies.heat.pull import RUNS, pulled

    given = {"--to": options.to is not None, "--no-confirm": options.no_confirm}
    frame.notes(options, (f"{name} changes nothing of --pull" for name, there in given.items() if there))
    with live.runs(RUNS, frame.hushed(options)) as watch:
        result = pulled(scenario, scenario.tables.heat.case, options.jobs, watch)
    return frame.deliver(
        options,
        result.exit_code,
        lambda stream: report.show_pull(result, stream),
        result.as_dict,
        lambda: report.write_pull(result, out),
    )


def asked(options: argparse.Namespace) -> Scenario:
    """The scenario with the case, the bar and the temperature that are asked for."""
    scenario, _ = frame.load(options, [options.case] if options.case is not None else None)
    case = options.case or scenario.tables.heat.case
    if options.bar is not None:
        before = scenario.case(case).tables.case[case].workpiece
        scenario = scenario.change_by("--bar", {f"case.{case}.workpiece": bar(options.bar)}, alone=True)
        if before is not None:
            frame.notes(options, [f"--bar {options.bar} replaces the workpiece of case {case}"])
    if options.case is not None:
        scenario = scenario.change_by("--case", {"heat.case": case}, alone=True)
    if options.to is not None:
        scenario = scenario.change_by("--to", {"heat.wanted": options.to}, alone=True)
    return scenario


def bar(text: str) -> dict[str, str]:
    """The table of a solid bar from its name and size; InputError for what is none."""
    found = _BAR.fullmatch(text.strip())
    if found is None or re.search(rf"{_SIZE}\s*[x×]", found["material"]):
        raise InputError.single("--bar", f"needs {BAR}, each size with its unit", text, '"steel 20 mm x 100 mm"')
    return {name: value.strip() for name, value in found.groupdict().items()}
