# SPDX-License-Identifier: GPL-3.0-or-later
"""Builds side by side: which fields differ, and what that did to every limit, to the main measures and to the verdict.

Pure: results of `check` in, a `Comparison` out. The first build is the one that all others are compared with.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from heatsim.errors import InputError
from heatsim.measures.errors import stated_errors
from heatsim.studies.check.compare_fields import FieldRow, differing_fields
from heatsim.studies.check.result import CaseResult, CheckResult
from heatsim.verdict import Finding, Grade

SCHEMA = "heatsim.compare/1"
"""Name and version of the schema of a comparison; keys are added, never renamed."""

EFFICIENCY = "workpiece.efficiency_ratio"
"""Power into the workpiece over the power of both supplies; only in comparisons."""

MAIN = (
    "tank.frequency_hz",
    "tank.peak_voltage_v",
    "tank.thd_ratio",
    "coil.rms_current_a",
    "supply.mean_current_a",
    "supply.power_w",
    "workpiece.power_w",
    EFFICIENCY,
)
"""Measures that are compared, before the temperatures."""

TEMPERATURES = ("temperature_c", "outlet_c")
"""Ends of the measures that are temperatures of a part."""


@dataclass(frozen=True)
class LimitRow:
    """One limit of a case in every build; findings: None where a build does not have it."""

    case: str
    part: str
    limit: str
    findings: tuple[Finding | None, ...]

    @property
    def shared(self) -> bool:
        """Whether every build has it."""
        return None not in self.findings

    @property
    def headrooms(self) -> tuple[float | None, ...]:
        """Headroom in each build [1]."""
        return tuple(finding.headroom if finding else None for finding in self.findings)

    @property
    def changes(self) -> tuple[float | None, ...]:
        """Headroom of each build less that of the first [1]; None where one of the two has none."""
        return _against_first(self.headrooms, lambda first, other: other - first)

    @property
    def largest(self) -> float:
        """The change of the largest size, with its sign [1]; 0 without any."""
        return max((change for change in self.changes if change is not None), key=abs, default=0.0)

    @property
    def grades(self) -> tuple[Grade | None, ...]:
        """Grade in each build."""
        return tuple(finding.grade if finding else None for finding in self.findings)

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI units."""
        return {
            "case": self.case,
            "part": self.part,
            "limit": self.limit,
            "headroom": list(self.headrooms),
            "value": [finding and finding.value for finding in self.findings],
            "allowed": [finding and finding.allowed for finding in self.findings],
            "unit": next(finding.unit for finding in self.findings if finding),
            "grade": list(self.grades),
            "headroom_change": list(self.changes),
        }


@dataclass(frozen=True)
class MeasureRow:
    """One measure of a case in every build, SI; errors: by how much each moves by rounding alone, 0 where that is not stated."""

    case: str
    key: str
    values: tuple[float | None, ...]
    errors: tuple[float, ...]

    @property
    def differences(self) -> tuple[float | None, ...]:
        """Value of each build less that of the first, SI."""
        return _against_first(self.values, lambda first, other: other - first)

    @property
    def changes(self) -> tuple[float | None, ...]:
        """The same as a share of the first [1]; None for temperatures, of which a share means nothing."""
        if self.key.endswith(TEMPERATURES):
            return (None,) * len(self.values)
        return _against_first(self.values, lambda first, other: (other - first) / abs(first) if first else None)

    @property
    def within_errors(self) -> tuple[bool, ...]:
        """Whether a build differs from the first by no more than rounding may bring about."""
        pairs = zip(self.differences, self.errors, strict=True)
        return tuple(difference is not None and abs(difference) <= self.errors[0] + error for difference, error in pairs)

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI units."""
        return {
            "case": self.case,
            "measure": self.key,
            "values": list(self.values),
            "difference": list(self.differences),
            "change_ratio": list(self.changes),
            "within_errors": list(self.within_errors),
        }


@dataclass(frozen=True)
class CaseRow:
    """A case in every build; results: None where a build does not have it."""

    name: str
    results: tuple[CaseResult | None, ...]

    @property
    def compared(self) -> bool:
        """Whether two builds or more have it."""
        return sum(result is not None for result in self.results) > 1

    @property
    def grades(self) -> tuple[Grade | None, ...]:
        """Grade in each build."""
        return tuple(result.grade if result else None for result in self.results)

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        outcomes = [result and result.outcome for result in self.results]
        return {"name": self.name, "grade": list(self.grades), "outcome": outcomes}


@dataclass(frozen=True)
class Comparison:
    """Builds side by side; the first is what the others are compared with.

    names: of the builds, each once; fields: those that differ; cases: all that a build has; limits: of cases that two builds have,
    those that every one of these has first, the largest change of headroom before all; measures: in the order of MAIN, then the
    temperatures
    """

    names: tuple[str, ...]
    results: tuple[CheckResult, ...]
    fields: tuple[FieldRow, ...]
    cases: tuple[CaseRow, ...]
    limits: tuple[LimitRow, ...]
    measures: tuple[MeasureRow, ...]

    @property
    def verdicts(self) -> tuple[Grade, ...]:
        """Verdict of each build."""
        return tuple(result.verdict for result in self.results)

    @property
    def verdicts_differ(self) -> bool:
        """Whether not all builds have the same."""
        return len(set(self.verdicts)) > 1

    @property
    def exit_code(self) -> int:
        """The worst of the builds'."""
        return max(result.exit_code for result in self.results)

    def as_dict(self) -> dict[str, Any]:
        """Plain data; every list has one entry a build, in the order of `builds`."""
        identities = [result.scenario.identity for result in self.results]
        return {
            "schema": SCHEMA,
            "builds": [{"name": name, "scenario": identity} for name, identity in zip(self.names, identities, strict=True)],
            "verdict": list(self.verdicts),
            "verdicts_differ": self.verdicts_differ,
            "fields": [row.as_dict() for row in self.fields],
            "cases": [row.as_dict() for row in self.cases],
            "limits": [row.as_dict() for row in self.limits],
            "measures": [row.as_dict() for row in self.measures],
        }


def compared(results: Sequence[CheckResult], names: Sequence[str] | None = None) -> Comparison:
    """Results of two builds or more side by side, all against the first.

    names: of the builds, by default those of their files
    Raises InputError for fewer than two.
    """
    if len(results) < 2:
        raise InputError.single("comparison", "needs two builds or more", len(results), "results of check for two scenarios")
    cases = _cases(results)
    shared = [row for row in cases if row.compared]
    limits = sorted((limit for row in shared for limit in _limits(row)), key=_order)
    return Comparison(
        tuple(names or build_names([result.scenario.label for result in results])),
        tuple(results),
        differing_fields([result.scenario for result in results]),
        cases,
        tuple(limits),
        tuple(measure for row in shared for measure in _measures(row)),
    )


def build_names(labels: Sequence[str]) -> tuple[str, ...]:
    """Names of builds by their files, none twice: "a/heater.toml", "b/heater.toml" -> "heater", "heater-2"."""
    stems, names = [Path(label).stem for label in labels], []
    for stem in stems:
        name, count = stem, 1
        while name in names or (name != stem and name in stems):
            count += 1
            name = f"{stem}-{count}"
        names.append(name)
    return tuple(names)


def _cases(results: Sequence[CheckResult]) -> tuple[CaseRow, ...]:
    """Every case that a build has, in the order in which they come."""
    names = dict.fromkeys(case.name for result in results for case in result.cases)
    own = [{case.name: case for case in result.cases} for result in results]
    return tuple(CaseRow(name, tuple(cases.get(name) for cases in own)) for name in names)


def _limits(row: CaseRow) -> list[LimitRow]:
    """Every limit that a build has in a case."""
    found: list[dict[tuple[str, str], Finding]] = []
    for result in row.results:
        found.append({(each.part, each.limit): each for each in reversed(result.findings)} if result else {})
    keys = dict.fromkeys((each.part, each.limit) for result in row.results if result for each in result.findings)
    return [LimitRow(row.name, *key, tuple(own.get(key) for own in found)) for key in keys]


def _order(row: LimitRow) -> tuple[bool, bool, float]:
    """Limits that all builds have first; among them a grade that changes without a number, then the largest change."""
    by_word = len(set(row.grades)) > 1 and not any(row.changes)
    return not row.shared, not by_word, -abs(row.largest)


def _measures(row: CaseRow) -> list[MeasureRow]:
    """The main measures of a case and its temperatures; those that no build has are left out."""
    own = [_numbers(result) for result in row.results]
    warm = dict.fromkeys(key for numbers in own for key in numbers if key.endswith(TEMPERATURES))
    errors = [stated_errors(result.measures) if result else {} for result in row.results]
    rows = []
    for key in (*MAIN, *(key for key in warm if not key.startswith(("crest.", "valley.")))):
        values = tuple(numbers.get(key) for numbers in own)
        if any(value is not None for value in values):
            rows.append(MeasureRow(row.name, key, values, tuple(each.get(key, 0.0) for each in errors)))
    return rows


def _numbers(case: CaseResult | None) -> Mapping[str, float]:
    """Measures of a case that are numbers, its efficiency among them."""
    if case is None:
        return {}
    found = {key: float(value) for key, value in case.measures.items() if isinstance(value, int | float)}
    useful, supplied = found.get("workpiece.power_w"), found.get("supply.power_w", 0.0) + found.get("gate_supply.power_w", 0.0)
    if case.heater.workpiece is None:
        found.pop("workpiece.power_w", None)
    elif useful is not None and supplied > 0:
        found[EFFICIENCY] = useful / supplied
    return found


def _against_first(values: Sequence[float | None], difference: Callable[[float, float], float | None]) -> tuple[float | None, ...]:
    """What each value differs by from the first; None where one of the two is missing."""
    first = values[0]
    return tuple(None if first is None or value is None else difference(first, value) for value in values)
