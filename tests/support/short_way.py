# SPDX-License-Identifier: GPL-3.0-or-later
"""Random heaters through both ways of `check`: `python -m tests.support.short_way [COUNT] [SEED]` tells how many go the short way
(`heatsim.engine.steady`), whether any of them is judged otherwise the long way, and what it costs.

Drawn are the demo heaters with supply, rise time, pull-up, gate resistor, reservoir and load changed, most of them in ways that are
no good: what matters is that none is called better than it is.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random

from heatsim.engine.session import Session
from heatsim.engine.simulate import simulate
from heatsim.engine.steady import start_to_steady
from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, case_deck, judge_run
from heatsim.studies.check.shortened import shortened, too_close

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
FILES = ("bench-heater", "bench-heater-small-rings", "bench-heater-push-pull", "bench-heater-copper")
DRAWN = 0.6
"""Share of the heaters in which a field is changed."""

LIMIT = 600.0
"""Wall clock of a run [s], more than any takes on a busy machine: one that is stopped would be judged as that."""


@dataclass(frozen=True)
class BothWays:
    """A heater. short: what the short way found, None where it gave no answer or was too close; long: the long way; spent:
    processor time of each [s]."""

    told: str
    short: CaseResult | None
    long: CaseResult
    spent: tuple[float, float]

    @property
    def differs(self) -> tuple[str, ...]:
        """Limits that the two ways judge differently; the oscillator's among them."""
        if self.short is None:
            return ()
        short, long = ({f"{each.part}: {each.limit}": each.grade for each in found.findings} for found in (self.short, self.long))
        return tuple(name for name in sorted(short.keys() | long.keys()) if short.get(name) != long.get(name))


def drawn(count: int, seed: int) -> Iterator[tuple[str, Scenario, str]]:
    """So many heaters that can be built: in words, scenario, case."""
    random, found = Random(seed), 0
    while found < count:
        fields = {
            "supply.voltage": f"{random.uniform(15, 60):.1f} V",
            "supply.rise_time": f"{10 ** random.uniform(-1.3, 0.7):.3g} ms",
            "gate.pull_up": f"{10 ** random.uniform(1.5, 2.8):.3g} ohm",
            "gate.resistor": f"{10 ** random.uniform(0.3, 1.3):.3g} ohm",
            "supply.reservoir": f"{10 ** random.uniform(2, 3.6):.3g} uF",
            "case.loaded.workpiece.share": f"{random.uniform(0, 160):.0f} %",
        }
        chosen = {name: value for name, value in fields.items() if random.random() < DRAWN}
        file, case = random.choice(FILES), random.choice(("idle", "loaded"))
        try:
            scenario = Scenario.from_file(SCENARIOS / f"{file}.toml").change(chosen)
            scenario.heater(case)
        except InputError:
            continue
        found += 1
        yield f"{file}, {case}: " + ", ".join(f"{name} = {value}" for name, value in chosen.items()), scenario, case


def both_ways(session: Session, count: int, seed: int) -> Iterator[BothWays]:
    """Random heaters, simulated both ways, without their waveforms; those whose supply rules the short way out are left out."""
    for told, scenario, case in drawn(count, seed):
        heater = scenario.heater(case)
        deck = case_deck(scenario, case, heater)
        short = shortened(deck, case_deck(scenario, case, heater, paused=True), heater)
        if short.paused is None:
            continue
        begun = time.process_time()
        run = start_to_steady(session, short, LIMIT)
        judged = judge_run(scenario, case, heater, run) if run else None
        between = time.process_time()
        long = judge_run(scenario, case, heater, simulate(session, deck, LIMIT))
        spent = between - begun, time.process_time() - between
        kept = None if judged is None or too_close(scenario, judged) else replace(judged, waveforms=None)
        yield BothWays(told, kept, replace(long, waveforms=None), spent)


def main(arguments: list[str]) -> int:
    """The command; 1 where a heater is judged differently."""
    from heatsim.engine.worker import simulator

    count, seed = map(int, (*arguments, *("60", "1")[len(arguments) :]))
    found = []
    for each in both_ways(simulator(), count, seed):
        found.append(each)
        way = "short" if each.short else "long"
        sys.stdout.write(f"{way:6}{each.long.grade:9}{each.spent[0]:6.2f} s {each.spent[1]:6.2f} s  {each.told}\n")
        sys.stdout.writelines(f"      judged differently: {name}\n" for name in each.differs)
    short = [each for each in found if each.short]
    cost = [sum(each.spent[0] + (0.0 if each.short else each.spent[1]) for each in found), sum(each.spent[1] for each in found)]
    wrong = sum(bool(each.differs) for each in found)
    sys.stdout.write(
        f"{len(found)} heaters, {len(short)} of them the short way, {wrong} judged differently; "
        f"{cost[0]:.0f} s of processor time, all the long way {cost[1]:.0f} s\n"
    )
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
