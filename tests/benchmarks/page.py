# SPDX-License-Identifier: GPL-3.0-or-later
"""The results page: every number on it comes from the run."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks.circuits import LOAD_STEP, STEPS, SUPPLY_STEP, quality
from tests.benchmarks.estimate import Costs, costs, estimates
from tests.benchmarks.methods import METHODS, SUPPLY
from tests.benchmarks.pictures import save
from tests.benchmarks.results import Results
from tests.benchmarks.scaling import MILLION, fitted
from tests.benchmarks.tables import (
    beside_table,
    circuits_table,
    costs_table,
    estimates_table,
    explained,
    floor_table,
    methods_table,
    profile_table,
    ratios_table,
    sizes_table,
    sweeps_table,
    targets,
)
from tests.benchmarks.truth import COLUMNS, LEAST_REFERENCE
from tests.support.deciding_code import this_code

NAME = "RESULTS.md"


def write(results: Results, folder: Path) -> Path:
    """The page and its pictures into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    pictures = save(results, folder)
    path = folder / NAME
    path.write_text("\n".join(page(results, pictures)) + "\n", encoding="utf-8")
    return path


def page(results: Results, pictures: Sequence[str]) -> list[str]:
    """Lines of the page."""
    times, scaling = pictures
    each = costs(results)
    command = "python -m tests.benchmarks" + (" --quick" if results.extent.name == "quick" else "")
    return [
        "# Benchmarks",
        "",
        f"Written by `{command}`; do not edit. {_machine(results)}",
        "",
        "Processor time (CPU) is that of all processes that took part; where others use the machine too, it says what "
        "something costs, and the clock does not. Every way is run in every turn, in random order; numbers are medians "
        "with quartiles in brackets, ratios are taken within a turn.",
        "",
        "## How much faster",
        "",
        f"A point followed from its neighbour (*{SUPPLY}*), on one core, by processor time:",
        "",
        *targets(results),
        "",
        *ratios_table(results),
        "",
        *_beside_words(results),
        f"![Processor time of a point by each way]({times})",
        "",
        "## What is compared",
        "",
        *_ways(),
        "",
        *circuits_table(results.truths, [quality(truth.circuit) for truth in results.truths]),
        "",
        *_truth_words(results),
        "",
        "## Times and errors",
        "",
        _allowed(),
        "",
        *_by_circuit(results),
        "## Where the time of a followed point goes",
        "",
        f"{_headed(results.truths[0].circuit.name)}, along the supply voltage; each line without what it calls of the others.",
        "",
        *profile_table(results),
        "",
        "## The least there can be",
        "",
        "On this simulator no way can do without loading the netlist, a period in which the state is taken up, and one that is "
        "measured. Times that, in processor time of a whole point:",
        "",
        *floor_table(results),
        "",
        "## Scaling",
        "",
        f"![Throughput and time against workers, points and size]({scaling})",
        "",
        *_sweep_words(results, each),
        "",
        *sweeps_table(results),
        "",
        "Circuits of different size that draw nearly the same waveforms, on one core:",
        "",
        *sizes_table(results),
        "",
        "## A million points, on paper",
        "",
        *_estimate_words(each),
        "",
        *costs_table(each),
        "",
        *estimates_table(estimates(each)),
    ]


def _beside_words(results: Results) -> list[str]:
    """Whole sweeps beside plain ngspice -b."""
    words = (
        "Whole sweeps of the loaded bench heater, supply voltage by load, store and start of the workers included, each beside "
        "plain `ngspice -b` on points spread over the same grid, in one run:"
    )
    return [words, "", *beside_table(results.beside), ""]


def _machine(results: Results) -> str:
    at = results.machine
    return (
        f"{at.when}, {results.minutes:.1f} minutes, {results.extent.turns} turns; {at.cores} cores of {at.processor}, "
        f"{at.system}, Python {at.python}, {at.simulator}, heatsim {at.heatsim}, code {this_code()}. "
        f"Load average of the machine before and at the end: {at.load[0]:.1f} and {at.load[1]:.1f}."
    )


def _ways() -> list[str]:
    told = [f"- **{name}**: {text}." for name, text in METHODS.items()]
    return [
        *told,
        "",
        f"Along a path {STEPS} points are followed ({SUPPLY_STEP:g} V or {LOAD_STEP:g} % of the workpiece "
        "apart), the first one not counted; the last one is the circuit's own point and is held against the reference. "
        "The *whole point* goes from changed fields to the judged result: scenario, parts, netlist, simulator, measures, "
        "losses and temperatures, limits.",
    ]


def _truth_words(results: Results) -> list[str]:
    still = [truth.circuit.name for truth in results.truths if not truth.settled]
    told = (
        f"*Reference*: a cold start with half the step, {1e3 * LEAST_REFERENCE:g} ms or longer, until it moves by less than "
        "a tenth of what heatsim calls settled" + (f" (not reached: {', '.join(still)})" if still else "") + ". "
    )
    return [
        told + "*Cheapest settled* and *faster supply*: the earliest end from which on a cold start stays within what is "
        "allowed of the reference. Only hindsight knows it; a program that has to find out for itself needs what "
        "*until settled* needs. With the *faster supply* the start is no longer the builder's, and tells nothing of "
        "starting."
    ]


def _allowed() -> str:
    told = ", ".join(f"{column.name} {100 * column.allowed:g} {'%' if column.relative else 'points'}" for column in COLUMNS)
    return f"Errors against the reference, the largest of all turns; allowed: {told}; ✗ marks more. THD in points."


def _by_circuit(results: Results) -> list[str]:
    found = []
    for truth in results.truths:
        found += [f"### {_headed(truth.circuit.name)}", "", *methods_table(results, truth.circuit.name), ""]
    fell = {each.came_to for each in results.timings if each.method.startswith("periodic")} - {"periodic"}
    return [*found, *([f"Some points fell back to: {', '.join(sorted(fell))}.", ""] if fell else [])]


def _headed(name: str) -> str:
    return name[0].upper() + name[1:]


def _sweep_words(results: Results, each: Costs) -> list[str]:
    cores = results.machine.cores
    start, slope = fitted([one for one in results.swept if one.workers == cores])
    longest, share = explained(results, each)
    fixed = {one.workers: one.rate for one in results.swept if one.points == results.extent.fixed}
    gain = ", ".join(f"{workers} workers {rate / fixed[1]:.2f} times" for workers, rate in fixed.items() if workers > 1)
    return [
        f"Whole sweeps of the loaded bench heater, supply voltage by load, into a store, with the start of the workers and "
        f"the cold starts at the ends of all paths. With {cores} workers a sweep takes {max(start, 0):.1f} s and "
        f"{1e3 * slope:.0f} ms for each point. Of {results.extent.fixed} points {gain} as many a second as one. The costs "
        f"of the last chapter, measured with one worker, add up to {100 * share:.0f} % of the processor time that the sweep of "
        f"{longest.points} points by {longest.workers} took; its points lie further apart and take more periods. "
        "In the picture circles are banks of separate devices of a user's own model, squares the others."
    ]


def _estimate_words(each: Costs) -> list[str]:
    one, plan = estimates(each)[0], each.planned
    share = 100 * (plan.first + each.besides) / MILLION
    return [
        f"One worker takes **{one.hours:.1f} hours** for a million points: {each.million / 3600:.1f} hours of processor time, of "
        f"all processes together, and {each.register * MILLION / 60:.1f} minutes before the first result, to register the points. "
        f"The sweep's own plan for 200 steps of the supply voltage by {MILLION // 200} of the load makes {plan.paths} paths, of "
        f"which {plan.first} begin without a neighbour; with what it starts cold besides, {share:.2f} of 100 points are. What a "
        "sweep costs around its points is what whole sweeps of neighbours among the million cost more: one worker, into a store, "
        "the longer one less the shorter.",
        "",
        f"More workers divide that time evenly. The one process that keeps the store takes {1 / each.keeper:.0f} points/s on the "
        "clock, waiting for the disk included, for each row is on it before the next is taken: from "
        f"{each.million / MILLION / each.keeper:.0f} workers on it holds them up. The store grows to {each.row / 1e3:.1f} GB.",
    ]


def summary(results: Results) -> list[str]:
    """What the command prints."""
    return [
        f"{SUPPLY}, a point on one core, by processor time:",
        *targets(results),
        "",
        *ratios_table(results),
        "",
        *_beside_words(results),
    ]


__all__ = ["page", "summary", "write"]
