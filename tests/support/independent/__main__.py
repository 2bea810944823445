# SPDX-License-Identifier: GPL-3.0-or-later
"""Random whole circuits both ways: python -m tests.support.independent [COUNT] [--seed N] [--fixed]

COUNT circuits from number N on (10 from 0), each by heatsim's deck on ngspice and by the independent integration, some five seconds
a circuit. A row tells the relative differences in per cent and what uses most of what is allowed (`agreement`). --fixed: the
circuits of the tests instead. Exit code 1 when a difference is beyond what is allowed. Circuits that do not come to rest are told.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence

from tests.support.independent.agreement import Both, allowed, both
from tests.support.independent.drawn import Drawn
from tests.support.independent.random_circuits import drawn
from tests.support.independent.whole_circuits import FIXED

COLUMNS = ("frequency", "tank peak", "coil rms", "supply mean", "drain", "choke", "switch", "capacitor")
"""Of a table; of several numbers that begin alike the largest difference."""


def say(line: str) -> None:
    """A line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def largest(apart: dict[str, float], column: str) -> str:
    """Largest difference of a column in per cent, with its sign."""
    found = [share for what, share in apart.items() if what.startswith(column)]
    return f"{100 * max(found, key=abs):+.3f}" if found else "-"


def row(found: Both) -> str:
    """A line of the table."""
    name = f"{found.drawn.name[:34]:34}"
    if found.told:
        return f"{name} not compared; {found.told}"
    what, used = found.worst
    cells = "".join(f"{largest(found.apart, column):>12}" for column in COLUMNS)
    steps = "".join(f"; {name}: {100 * at:+.1f} %, at finer steps {100 * left:+.1f} %" for name, (at, left) in found.steps.items())
    return f"{name}{cells}   {what} {100 * used:.0f} %{' BEYOND' if used > 1 else ''}{steps}"


def table(circuits: Iterator[Drawn] | Sequence[Drawn]) -> list[Both]:
    """Compute circuits and tell each as it comes."""
    say(f"{'[%] allowed':34}" + "".join(f"{100 * allowed(column):>12g}" for column in COLUMNS))
    say(f"{'circuit':34}" + "".join(f"{column:>12}" for column in COLUMNS) + "   largest, of what is allowed")
    results = []
    for each in circuits:
        results.append(both(each))
        say(row(results[-1]))
        if each.told:
            say(f"    {each.told}")
    return results


def main(arguments: list[str]) -> int:
    """Exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.support.independent", description=(__doc__ or "").split("\n\n")[1])
    parser.add_argument("count", nargs="?", type=int, default=10)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--fixed", action="store_true")
    given = parser.parse_args(arguments)
    results = table(FIXED if given.fixed else (drawn(given.seed + k) for k in range(given.count)))
    compared = [each for each in results if not each.told]
    beyond = [each for each in compared if each.worst[1] > 1]
    say(f"{len(compared)} of {len(results)} circuits compared, {len(beyond)} beyond what is allowed")
    for column in COLUMNS:
        own = [
            (abs(share), share, each.drawn.name)
            for each in compared
            for what, share in each.apart.items()
            if what.startswith(column)
        ]
        if own:
            _, share, name = max(own)
            say(f"  {column:12} largest {100 * share:+.3f} % in {name}")
    return 1 if beyond else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
