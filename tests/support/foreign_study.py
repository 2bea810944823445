# SPDX-License-Identifier: GPL-3.0-or-later
"""Captures of foreign heaters, matched: `python -m tests.support.foreign_study PART CHANNELS N [PROCESSES]` matches N sound heaters
and N with something wrong of the families that are marked "learn" or "unseen" (PART), by 2 or 4 CHANNELS, and appends a row of
each to `tests/support/foreign/study.csv`; what is there already is left alone, so that it goes on where it ended.

Heaters and oscilloscopes are those of `tests.support.foreign`, which share no model with heatsim: here heatsim is under test.
Each capture goes through a file, the reader and the search (`tests.support.matching`), with the tank and the left drain, or with
the left gate and the left choke's current too.
Families marked "learn" may be looked at while heatsim is changed, "unseen" ones only counted. `first` beside `cause` is the
verdict; of a cause that heatsim is not asked about ("other"), any decided answer is wrong, and `outside` says whether heatsim
said so itself.
"""

from __future__ import annotations

import csv
import itertools
import json
import math
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.studies.match import fault_model as asked
from heatsim.studies.match import result
from heatsim.studies.match.estimates import cause_quantities
from heatsim.studies.match.hypothesis import Dataset
from heatsim.studies.match.result import EXPLAINS, NONE_OF_THESE
from tests.support.deciding_code import this_code
from tests.support.foreign import faults, nominal, scope
from tests.support.foreign.capture import CHANNELS, MORE, Made, Task, make
from tests.support.foreign.parts import FAMILIES
from tests.support.matching import SCENARIO, matched

TARGET = Path(__file__).parent / "foreign" / "study.csv"
LEARN, UNSEEN = "learn", "unseen"
FIRST_SEEDS = {LEARN: 30_000, UNSEEN: 50_000}
AT_ONCE = 24
"""Captures made in one batch and then matched, in one process."""

SEEN = {"2": CHANNELS, "4": (*CHANNELS, *MORE)}
"""What is matched, by the number of channels."""

DECIDED, CLEAR = (math.log(odds) / result.TEMPERED for odds in (result.DECIDED, result.CLEARLY))
"""Differences in log evidence from which an answer counts as decided, and from which a heater is called sound."""

FIELDS = (
    "cause",
    "kind",
    "asked",
    "family",
    "part",
    "chain",
    "seed",
    "channels",
    "first",
    "second",
    "lead",
    "misfit",
    "outside",
    "order",
)
FIELDS += ("intervals_inside", "intervals_outside", "code")


def tasks(part: str, count: int) -> list[Task]:
    """`count` sound heaters and as many with something wrong, every cause, family of a part and kind of oscilloscope in turn."""
    wrong = tuple(faults.DRAWS)[1:]
    families = [k for k, family in enumerate(FAMILIES) if family.learn == (part == LEARN)]
    chains, first = len(scope.CHAINS), FIRST_SEEDS[part]
    out = []
    for k in range(count):
        chain = scope.CHAINS[(k + k // len(families)) % chains]
        out.append(Task(faults.NOTHING, families[k % len(families)], chain, first + k))
        cause = wrong[k % len(wrong)]
        out.append(Task(cause, families[(k + k // len(wrong)) % len(families)], chain, first + k))
    return out


def name_of(task: Task, channels: str) -> tuple[str, str, str]:
    """What tells a row from the others."""
    return task.cause, str(task.seed), channels


def row(made: Made, channels: str) -> dict[str, Any]:
    """One capture matched by so many of its channels."""
    dataset, fits, evidence = matched(made.time, {name: made.channels[name] for name in SEEN[channels]})
    order = list(evidence)
    task, family = made.task, FAMILIES[made.task.family]
    inside, outside = intervals(made, dataset, fits)
    first = next((one for one in fits if one.hypothesis.cause == order[0]), fits[0])
    values = (
        task.cause,
        made.kind,
        "asked" if task.cause in asked.CAUSES else "other",
        family.name,
        LEARN if family.learn else UNSEEN,
        task.chain,
        task.seed,
        channels,
        order[0],
        order[1],
        round(evidence[order[0]] - evidence[order[1]], 1),
        round(first.misfit, 2),
        int(first.misfit > EXPLAINS),
        "; ".join(order),
        " ".join(inside),
        " ".join(outside),
        this_code(),
    )
    return dict(zip(FIELDS, values, strict=True))


TRUTHS = {
    "supply.voltage_v": "supply",
    "capacitors.capacitance_f": "bank",
    "choke.left.inductance_h": "choke_left",
    "choke.right.inductance_h": "choke_right",
    "coil.inductance_h": "loop_inductance",
    "coil.resistance_ohm": "loop_ohms",
    "tank.quality_ratio": "quality",
    "gate.pull_up_ohm": "pull_up_mean",
    "capacitors.share_ratio": "left",
    "workpiece.share_ratio": "share",
    "capacitors.resistance_added_ohm": "bank_added",
    "coil.lead_resistance_added_ohm": "lead_added",
    "choke.left.feed_resistance_ohm": "left_added",
    "choke.right.feed_resistance_ohm": "right_added",
}
"""Estimates held against what the heater was made of."""

ELSEWHERE = {
    asked.SUPPLY: ("supply.voltage_v",),
    asked.TURN: ("coil.inductance_h", "coil.resistance_ohm", "tank.quality_ratio"),
    asked.STEEL: ("coil.inductance_h", "coil.resistance_ohm", "tank.quality_ratio"),
    asked.INTERMITTENT: ("coil.resistance_ohm", "tank.quality_ratio"),
    asked.BENT: ("capacitors.capacitance_f",),
    asked.GATE_RINGING: ("tank.quality_ratio",),
}
"""Cause -> estimates that mean something else where it is the cause: the voltage a supply still holds, a coil without its shorted
turn, what depends on current or voltage, the quality of a gate loop."""


def truth(made: Made) -> dict[str, float]:
    """True values under heatsim's names, of what both have in common."""
    left_out = ELSEWHERE.get(made.task.cause, ())
    return {key: made.truth[name] for key, name in TRUTHS.items() if name in made.truth and key not in left_out}


def intervals(made: Made, dataset: Dataset, fits: Sequence[Any]) -> tuple[list[str], list[str]]:
    """Which true values lie in the 95 % intervals told of the true cause, and which do not."""
    inside: list[str] = []
    outside: list[str] = []
    own = [one for one in fits if one.hypothesis.cause == made.task.cause]
    known = truth(made)
    for estimate in cause_quantities([dataset], own)[0] if own else ():
        if estimate.key in known:
            (inside if estimate.low <= known[estimate.key] <= estimate.high else outside).append(estimate.key)
    return inside, outside


def each_row(some: Sequence[tuple[Task, str]]) -> Iterator[dict[str, Any]]:
    """Of captures made together, then matched one by one by so many channels, each as soon as it is there."""
    for made, (_, channels) in zip(make([task for task, _ in some], nominal.read(SCENARIO)), some, strict=True):
        yield row(made, channels)


def table() -> list[dict[str, str]]:
    """Rows of the committed table."""
    if not TARGET.exists():
        return []
    with TARGET.open(encoding="ascii") as handle:
        return list(csv.DictReader(handle))


def append(found: dict[str, Any]) -> None:
    """A row at the end of the table."""
    with TARGET.open("a", newline="", encoding="ascii") as handle:
        csv.DictWriter(handle, FIELDS, lineterminator="\n").writerow(found)


def work(some: Sequence[tuple[Task, str]]) -> int:
    """Match and append; how many. Runs in a process of its own, because a process has one simulator."""
    count = 0
    for found in each_row(some):
        append(found)
        count += 1
    return count


def again(count: int) -> str:
    """As JSON: the last rows of the table made anew, and `strange`. A process has one simulator only, so tests run this in its
    own."""
    known = {(task.cause, str(task.seed)): task for part in FIRST_SEEDS for task in tasks(part, len(table()))}
    some = [(known[one["cause"], one["seed"]], one["channels"]) for one in table()[-count:]]
    return json.dumps({"rows": list(each_row(some)), "strange": strange()})


def strange() -> list[str]:
    """Causes, best first, of what no heater makes: a triangle with a strong fifth harmonic at the tank's frequency and size."""
    time = np.arange(5000) * 4e-8
    phase = 2 * np.pi * 86_000 * time
    wave = 110 * (2 / np.pi) * np.arcsin(np.sin(phase)) + 22 * np.sin(5 * phase + 1.0)
    noisy = wave + np.random.default_rng(0).normal(0, 1, time.size)
    return list(matched(time, {"tank.voltage": noisy})[2])


def is_decided(one: dict[str, str]) -> bool:
    """Whether a row's answer is given as a decided one."""
    return result.decides(one["first"], float(one["misfit"]), float(one["lead"]) >= DECIDED and one["outside"] == "0")


def is_wrong(one: dict[str, str]) -> bool:
    """Whether a row's answer is decided and wrong."""
    return is_decided(one) and one["first"] not in (one["cause"], NONE_OF_THESE)


def is_among_two(one: dict[str, str]) -> bool:
    """Whether a row's cause is among the first two."""
    return one["cause"] in (one["first"], one["second"])


@dataclass(frozen=True)
class Counts:
    """Of a group of rows: how many there are, had the right cause first and among the first two, were decided and of these wrongly,
    were passed as nothing wrong, and told to be outside what heatsim knows or none of these."""

    rows: int
    right: int
    second: int
    decided: int
    wrong: int
    passed: int
    outside: int


def counts_of(rows: Sequence[dict[str, str]], part: str, channels: str, group: str) -> Counts:
    """Of a part of the families matched by so many channels; group: "sound", "asked" or "other"."""
    own = [one for one in rows if (one["part"], one["channels"]) == (part, channels)]
    some = [one for one in own if belongs(one, group)]
    return Counts(
        len(some),
        sum(one["first"] == one["cause"] for one in some),
        sum(map(is_among_two, some)),
        sum(map(is_decided, some)),
        sum(map(is_wrong, some)),
        sum(one["first"] == faults.NOTHING and float(one["lead"]) >= CLEAR for one in some),
        sum(one["outside"] == "1" or one["first"] == NONE_OF_THESE for one in some),
    )


def summary(rows: Sequence[dict[str, str]]) -> str:
    """A line for each part of the families, number of channels and kind of cause."""
    lines = []
    for part, channels, group in itertools.product(FIRST_SEEDS, SEEN, ("sound", "asked", "other")):
        found = counts_of(rows, part, channels, group)
        lines.append(
            f"{part:7} {channels} channels {group:6} {found.rows:3}: first {found.right}, in the first two {found.second}, decided "
            f"{found.decided}, decided wrongly {found.wrong}, passed as nothing wrong {found.passed}, outside {found.outside}"
        )
    return "\n".join(lines) + "\n"


def belongs(one: dict[str, str], group: str) -> bool:
    """Whether a row is of a group: sound, or a cause that is asked about or not."""
    if group == "sound":
        return one["cause"] == faults.NOTHING
    return one["asked"] == group and one["cause"] != faults.NOTHING


def main(part: str, channels: str, count: int, processes: int) -> None:
    """Match what the table lacks of the first `count` of a part."""
    have = {(one["cause"], one["seed"], one["channels"]) for one in table()}
    left = [(task, channels) for task in tasks(part, count) if name_of(task, channels) not in have]
    batches = [left[k : k + AT_ONCE] for k in range(0, len(left), AT_ONCE)]
    if not TARGET.exists():
        TARGET.write_text(",".join(FIELDS) + "\n", encoding="ascii")
    os.environ["OPENBLAS_NUM_THREADS"] = "1"  # of the workers: there is one for each core
    with get_context("spawn").Pool(processes) as pool:
        done = 0
        for some in pool.imap_unordered(work, batches):
            done += some
            sys.stderr.write(f"\r{done} of {len(left)}")
    sys.stdout.write(summary(table()))


if __name__ == "__main__":
    if sys.argv[1] == "again":
        sys.stdout.write(again(int(sys.argv[2])))
        sys.exit()
    main(*sys.argv[1:3], int(sys.argv[3]), int(sys.argv[4]) if len(sys.argv) > 4 else 1)
