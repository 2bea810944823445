# SPDX-License-Identifier: GPL-3.0-or-later
"""Long cold starts of the random heaters at half the step; run as a module it writes `cold_starts.csv`.

Each starts from rest and runs until the watched means move by less than 3e-4 from window to window: minutes in all, so
the tests read the file, and make some of it anew. The last column says which code made a row.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import replace
from pathlib import Path

from heatsim.engine.session import Session
from heatsim.engine.simulate import simulate
from heatsim.studies.check import case_deck, judge_run
from tests.support.deciding_code import this_code
from tests.support.independent.random_heaters import CASE, drawn

TARGET = Path(__file__).with_suffix(".csv")
HEATERS = 44

MEASURES = (
    "tank.frequency_hz",
    "tank.peak_voltage_v",
    "tank.thd_ratio",
    "drain.left.peak_voltage_v",
    "drain.right.peak_voltage_v",
    "choke.left.peak_current_a",
    "choke.right.peak_current_a",
    "choke.centre.peak_current_a",
    "supply.mean_current_a",
)


def cold_start(session: Session, number: int) -> dict[str, float]:
    """Measures of a heater that has come to rest, those it has; empty when it does not oscillate."""
    heater = drawn(number)
    scenario = heater.scenario(longest="60 ms").change({"simulate.steps_per_period": 400})
    own = scenario.change(dict(heater.point().fields))
    deck = case_deck(own, CASE)
    run = simulate(session, replace(deck, settle=replace(deck.settle, tolerance=3e-4)), 7200)  # wall time, on a loaded machine too
    if run.outcome != "settled":
        return {}
    found = judge_run(own, CASE, own.heater(CASE), run).measures
    return {key: value for key in MEASURES if isinstance(value := found.get(key), float)}


def table() -> dict[int, dict[str, float]]:
    """Measures by heater, as written."""
    with TARGET.open(encoding="ascii") as handle:
        rows = list(csv.DictReader(handle))
    return {int(row["heater"]): {key: float(row[key]) for key in MEASURES if row[key]} for row in rows}


def main() -> None:
    """Make every row anew that other code made, and write the table after each, so that it goes on where it ended."""
    session, code = Session(), this_code()
    with TARGET.open(encoding="ascii") as handle:
        rows = {int(row["heater"]): row for row in csv.DictReader(handle)}
    for number in range(HEATERS):
        if rows.get(number, {}).get("code") == code:
            continue
        found = cold_start(session, number)
        rows[number] = {"heater": str(number), **{key: f"{value:.7g}" for key, value in found.items()}, "code": code}
        with TARGET.open("w", newline="", encoding="ascii") as handle:
            writer = csv.DictWriter(handle, ("heater", *MEASURES, "code"), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows[each] for each in sorted(rows))
        sys.stderr.write(f"\r{number + 1} of {HEATERS}")


if __name__ == "__main__":
    main()
