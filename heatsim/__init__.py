# SPDX-License-Identifier: GPL-3.0-or-later
"""heatsim: will this self-oscillating induction heater hold? Simulate it before winding it.

    import heatsim as hs
    heater = hs.load("scenarios/bench-heater.toml")
    result = hs.check(heater.change(supply__voltage="38 V"))
    print(result.verdict, result["loaded"].measures["choke.left.inductance_remaining_ratio"])
    hs.plot(result, "loaded").savefig("loaded.png")

Nothing heavy is loaded until it is used: neither simulator nor plotting.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from heatsim.scenario.scenario import Scenario
    from heatsim.studies.result import CheckResult

__version__ = "0.1.0"

__all__ = ["__version__", "check", "load", "plot"]


def load(path: str | Path) -> Scenario:
    """Read and validate a scenario file; InputError lists everything wrong with it."""
    from heatsim.scenario.scenario import Scenario

    return Scenario.from_file(path)


def check(
    scenario: Scenario,
    cases: Sequence[str] | None = None,
    workers: int | None = None,
    progress: Callable[..., None] | None = None,
) -> CheckResult:
    """Simulate the cases of a scenario (all unless named), measure and judge them."""
    from heatsim.studies.check import check as run_check

    return run_check(scenario, cases, workers, progress)


def plot(result: CheckResult, case: str, **options: Any) -> Any:
    """One sheet with the pictures of a case, a matplotlib figure."""
    from heatsim.report.figures import sheet

    return sheet(result[case], **options)
