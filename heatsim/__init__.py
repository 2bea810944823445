# SPDX-License-Identifier: GPL-3.0-or-later
"""heatsim: will this self-oscillating induction heater hold? Simulate it before winding it.

    import heatsim as hs
    heater = hs.load("scenarios/bench-heater.toml")
    result = hs.check(heater.change(supply__voltage="38 V"))
    print(result.verdict, result["loaded"].measures["choke.left.inductance_remaining_ratio"])
    hs.plot(result, "loaded").savefig("loaded.png")
    hs.compare(hs.check(heater), result).fields
    hs.wind(hs.load("scenarios/bench-heater-small-rings.toml")).best.candidate.turns
    hs.remedies(heater.change(supply__voltage="60 V")).fixed
    hs.sweep(heater, vary=["supply.voltage = 24 V to 60 V in 20"]).frame()
    hs.map(heater, against="load = 0 % to 120 %").answer
    hs.match(heater, "capture.csv", signals={"CH1": "tank.voltage"}).best.cause
    hs.heat(hs.load("scenarios/bench-heater-forging.toml")).wanted.reached
    hs.find_parts("fe-si-al", near="40 x 24 x 14.5 mm").parts[0].name
    hs.new(supply_voltage="36 V", coil="10 x 60 mm x 8 mm").text

Nothing heavy is loaded until it is used: neither simulator nor plotting.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from heatsim.scenario.scenario import Scenario
    from heatsim.studies.check import CheckResult, Comparison
    from heatsim.studies.heat import HeatResult
    from heatsim.studies.heat import Progress as HeatProgress
    from heatsim.studies.map import MapResult
    from heatsim.studies.match import MatchResult
    from heatsim.studies.match.readings import ReadingsResult
    from heatsim.studies.parts import PartsResult
    from heatsim.studies.remedy import Remedies
    from heatsim.studies.store import Store
    from heatsim.studies.sweep import SweepResult
    from heatsim.studies.tolerance import ToleranceResult
    from heatsim.studies.wind import WindResult
    from heatsim.tasks import Pool
    from heatsim.waves.capture import Probe

__version__ = "0.1.0"

__all__ = [
    "__version__",
    "check",
    "compare",
    "find_parts",
    "heat",
    "load",
    "map",
    "tolerance",
    "match",
    "match_readings",
    "new",
    "plot",
    "remedies",
    "sweep",
    "wind",
]


def load(path: str | Path) -> Scenario:
    """Read and validate a scenario file. Raises InputError with everything that is wrong with it."""
    from heatsim.scenario.scenario import Scenario

    return Scenario.from_file(path)


def new(source: str = "parts", name: str = "First heater", **answers: str) -> Scenario:
    """A first scenario from a few answers, what is not answered by defaults and marked estimates; `.text` is its file.

    source: "parts", or "bench" for the shortest file from measured values
    name: of the heater
    answers: texts by key, such as supply_voltage="24 V" or workpiece="steel 12 mm x 100 mm"; the keys are those of
        `heatsim.studies.new.QUESTIONS`
    Raises InputError for an answer that cannot be used.
    """
    from heatsim.studies.new import first_scenario

    return first_scenario(source, name, **answers)


def check(
    scenario: Scenario, cases: Sequence[str] | None = None, jobs: int | None = None, progress: Callable[..., None] | None = None
) -> CheckResult:
    """Simulate the cases of a scenario, measure and judge them.

    cases: their names, all of them by default
    jobs: processes, by default one a core
    progress: called with a case's index, what is being done, and the share of it that is done
    """
    from heatsim.studies.check import check as run_check

    return run_check(scenario, cases, jobs, progress)


def compare(one: CheckResult, *others: CheckResult) -> Comparison:
    """Builds side by side, each against the first: `.fields` that differ, `.limits` by the largest change of headroom, `.measures`.

    one, others: what `check` found for them
    Raises InputError without others.
    """
    from heatsim.studies.check import compared

    return compared((one, *others))


def find_parts(*words: str, kind: str | None = None, catalogue: str | Path | None = None, near: str | None = None) -> PartsResult:
    """What the catalogues hold; `.parts` are those found, with figures and origins.

    words: all must be in the name, the kind, or what it is
    kind: rings, materials, metals, wire, devices or pads; of all kinds by default
    catalogue: file of the user's own parts, which win over the built-in ones of the same name
    near: a ring's outer diameter x inner diameter x height, "40 x 24 x 14.5 mm": the rings nearest to it
    Raises InputError for what cannot be used.
    """
    from heatsim.studies.parts import find_parts as run_find

    return run_find(*words, kind=kind, catalogue=catalogue, near=near)


def remedies(
    heater: Scenario | CheckResult,
    jobs: int | None = None,
    progress: Callable[[int], None] | None = None,
    seconds: float | None = 40.0,
    **bounds: int,
) -> Remedies:
    """What to change so that a heater holds, each remedy simulated as a whole: `.changes` is the first one, `.fixed` the
    scenario with it, `.found` all of them, and `.why_not` says why nothing was searched for.

    heater: a scenario, or what `check` found for one
    jobs: processes, by default one a core
    progress: called with the number of cases simulated so far
    seconds: wall clock after which nothing more is simulated, None for no bound
    bounds: `most`, cases simulated at most, and `enough`, remedies at which the search ends, as in
        `heatsim.studies.remedy.find_remedies`
    """
    from heatsim.studies.check import CheckResult
    from heatsim.studies.remedy import find_remedies

    result = heater if isinstance(heater, CheckResult) else check(heater, jobs=jobs)
    return find_remedies(result, jobs, progress, seconds, **bounds)


def wind(scenario: Scenario, jobs: int | None = None, progress: Callable[..., None] | None = None) -> WindResult:
    """Turns, stack and wire for the chokes from what lies in the scenario's drawer: `.best` is the first winding that holds when
    it is simulated, `.candidates` are all that go through the hole, best first.

    jobs: processes, by default one a core
    progress: called with a case's index, what is being done, and the share of it that is done
    Raises InputError without a [wind] table, or for a drawer that cannot be used.
    """
    from heatsim.studies.wind import wind as run_wind

    return run_wind(scenario, jobs, progress)


def plot(result: Any, case: str | None = None, **options: Any) -> Any:
    """The picture of a result, a matplotlib figure in the house style, which a notebook shows by itself.

    result: of `check`, `compare`, `wind`, `sweep`, `map`, `tolerance`, `match` or `heat`
    case: of a check or a comparison; may be left out where there is only one
    options: for a check, `names` of the pictures, all by default, such as ["choke-currents"]; for a comparison, `names` of the
        builds; for a sweep, `outputs`, the measures to draw; for a match, `record`, the place of a capture among several, or
        evidence=True for the causes' probabilities in place of the waves
    Raises InputError for what has no picture, or for a case that is not there.
    """
    from heatsim.report.drawn import drawn

    return drawn(result, case, **options)


def sweep(
    scenario: Scenario,
    vary: str | Sequence[str] = (),
    tolerance: str | Sequence[str] = (),
    cases: str | Sequence[str] | None = None,
    store: str | Path | None = None,
    jobs: int | None = None,
    pool: Pool | None = None,
    keep: str = "worst 5",
    progress: Callable[..., None] | None = None,
    **options: Any,
) -> SweepResult:
    """Evaluate many variants of a scenario into a store; call it again to continue. `.frame()` is the table of points.

    vary, tolerance, cases, and in `options` in_step, samples, seed, spread: see `heatsim.studies.sweep.SweepPlan.read`
    store: database file, by default `results/FILE-sweep/points.db`
    jobs, pool, keep, progress: see `heatsim.studies.sweep.sweep`
    """
    from heatsim.studies.sweep import SweepPlan, default_store
    from heatsim.studies.sweep import sweep as run_sweep

    lists = [[each] if isinstance(each, str) else each for each in (vary, tolerance, cases)]
    plan = SweepPlan.read(scenario, lists[0] or (), lists[1] or (), lists[2], **options)
    return run_sweep(scenario, plan, store or default_store(scenario.label), pool, jobs, keep, progress)


def map(
    scenario: Scenario,
    against: str | None = None,
    within: str | None = None,
    jobs: int | None = None,
    store: str | Path | Store | None = None,
    **options: Any,
) -> MapResult:
    """Where a scenario is usable, and which limit ends it where; `.answer` is the answer, `.as_dict()` all of it.

    against, within: horizontal and vertical axis, such as "load = 0 % to 120 %" and "supply.voltage = 20 V to 60 V", by
        default these two fields
    jobs: processes, by default one a core
    store: database file, or an open store, so that an interrupted map can be continued
    options: case, accuracy, most_points, first_look, progress as in `heatsim.studies.map.operating_map`
    """
    from heatsim.studies.map import operating_map
    from heatsim.studies.points import local_pool
    from heatsim.studies.store import Store

    opened = Store.open(store) if isinstance(store, (str, Path)) else nullcontext(store)
    with local_pool(jobs) as pool, opened as kept:
        return operating_map(scenario, against, within, pool, store=kept, **options)


def tolerance(
    scenario: Scenario,
    *tolerances: str,
    cases: str | Sequence[str] | None = None,
    jobs: int | None = None,
    store: str | Path | None = None,
    **options: Any,
) -> ToleranceResult:
    """How many heaters built of parts within their tolerances keep every limit: `.share` with its error, `.worst`, `.spreads`.

    tolerances: such as "capacitors.capacitance = 5 %", to either side
    cases: that count, by default all
    jobs: processes, by default one a core
    store: database file, so that an interrupted study can be continued
    options: law, seed, most, error, progress as in `heatsim.studies.tolerance.tolerance`
    """
    from heatsim.studies.points import local_pool
    from heatsim.studies.store import Store
    from heatsim.studies.tolerance import tolerance as run_tolerance

    chosen = [cases] if isinstance(cases, str) else cases
    with local_pool(jobs) as pool, Store.open(store) if store is not None else nullcontext() as kept:
        return run_tolerance(scenario, tolerances, pool, chosen, store=kept, **options)


def match(
    scenario: Scenario,
    *captures: str | Path,
    case: str | Sequence[str] = (),
    supply: str | Sequence[str] = (),
    signals: Mapping[str, str] | Sequence[Mapping[str, str]] = (),
    probes: Mapping[str, Probe] | Sequence[Mapping[str, Probe]] = (),
    readings: Sequence[str] = (),
    jobs: int | None = None,
    progress: Callable[[str, float], None] | None = None,
    anew: bool = False,
) -> MatchResult:
    """What is wrong with a heater that was captured: causes ranked by how well they explain the captures; `.best` is the first.

    case, supply, signals and probes are one for all captures, or a sequence with one for each.

    captures: files of an oscilloscope
    case: that was running, by default `loaded`
    supply: voltage that was set, such as "42 V", by default the scenario's
    signals: channel -> signal, by default recognised by the shape of the wave
    probes: channel -> `heatsim.waves.capture.Probe`
    readings: of meters in the captured cases, such as "supply.mean_current = 8.2 A"
    jobs: processes, by default one a core
    progress: called with what is being done and the share of all that is done
    anew: leave the cache of earlier runs aside
    Raises InputError for what cannot be used.
    """
    from heatsim.errors import InputError
    from heatsim.studies.match import capture_requests, user_folder
    from heatsim.studies.match import match as run_match
    from heatsim.studies.match.readings import readings_beside

    if not captures:
        raise InputError.single("match", "has no capture to match", allowed='a file of an oscilloscope, such as "capture.csv"')
    cases, supplies = ([each] if isinstance(each, str) else each for each in (case, supply))
    named = [signals] if isinstance(signals, Mapping) else signals
    taken_with = [probes] if isinstance(probes, Mapping) else probes
    found = capture_requests(scenario, [Path(each) for each in captures], cases, supplies, named, taken_with)
    beside = readings_beside(scenario, readings, found)
    return run_match(scenario, found, jobs, progress, None if anew else user_folder(), beside)


def match_readings(
    scenario: Scenario,
    *readings: str,
    supply: str | None = None,
    free: Sequence[str] = (),
    jobs: int | None = None,
    progress: Callable[[str, float], None] | None = None,
    anew: bool = False,
) -> ReadingsResult:
    """What meter readings tell of a heater: `.estimates` with their errors, `.consistent`, and `.proposals` to read next.

    readings: texts such as "idle supply.mean_current = 5.6 A ± 0.1 A"
    supply: voltage at which they were taken, such as "42 V", where a reading does not say, by default the scenario's
    free: names of what is not known at all, such as "ring" and "reach" of an unknown ring
    jobs: processes, by default one a core
    progress: called with what is being done and the share of all that is done
    anew: leave the cache of earlier runs aside
    Raises InputError for what cannot be used.
    """
    from heatsim.studies.match import user_folder
    from heatsim.studies.match.readings import match_readings as run_readings
    from heatsim.studies.match.readings import parse_readings

    found = parse_readings(scenario, readings, supply)
    return run_readings(scenario, found, free, jobs, progress, None if anew else user_folder())


def heat(
    scenario: Scenario,
    store: str | Path | None = None,
    progress: Callable[[HeatProgress], None] | None = None,
    confirm: bool = True,
    jobs: int | None = None,
) -> HeatResult:
    """Heat the workpiece of a scenario from cold, with the heater that feeds it: `.wanted.reached` is the time to the wanted
    temperature [s], None if it never comes there, `.series` everything against time, `.verdict` the worst grade of the limits.

    store: database file that keeps the simulated states of the heater, so that an interrupted heat can be continued
    progress: called after every step with how far the heat is
    confirm: whether the heater is also started from rest at some moments of the heat, and compared
    jobs: processes, two by default, and never more
    Raises InputError for a scenario without a piece to be heated. What coil would suit the piece says
    `heatsim.studies.heat.coils.coil_advice`, what happens when it leaves the coil `heatsim.studies.heat.pull.pulled`.
    """
    from heatsim.studies.heat import heat as run_heat

    return run_heat(scenario, store, progress, confirm, jobs)
