# SPDX-License-Identifier: GPL-3.0-or-later
"""A meter's reading as text: "idle supply.mean_current = 5.6 A", "loaded choke.left.temperature after 10 min = 71 °C ± 2 °C"."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from heatsim.errors import InputError, Problem, known_names
from heatsim.quantity import QuantityError, parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.estimates import NORMAL_95
from heatsim.studies.match.readings.meters import NO_THERMAL_MODEL, Readable, readables

WHERE = "--reading"
FORM = (
    '"CASE KEY = VALUE", such as "idle supply.mean_current = 5.6 A"; KEY may be followed by "at 30 V" and "after 10 min", '
    'VALUE by "± 0.1 A"'
)
SUPPLY = "supply.voltage"
"""Key of a reading that sets the supply voltage of its case instead of being compared."""

_LEFT = re.compile(r"(?:(?P<case>[^\s.]+)\s+)?(?P<key>\S*\.\S*)(?P<rest>(?:\s.*)?)", re.DOTALL)
_CONDITION = re.compile(r"\s+(at|after)\s+(.+?)(?=\s+(?:at|after)\s|$)", re.DOTALL)
_ERROR = re.compile(r"\s*(?:±|\+/-|\+-)\s*")
_DECIMALS = re.compile(r"[+-]?[0-9]*\.?([0-9]*)(?:[eE]([+-]?[0-9]+))?")


@dataclass(frozen=True)
class Condition:
    """A case and the supply voltage it ran at.

    supply_voltage: [V]
    supply_error: standard deviation of that voltage as a share of it, None for the ordinary one
    """

    case: str
    supply_voltage: float
    supply_error: float | None = None


@dataclass(frozen=True)
class Reading:
    """One meter reading.

    text: as it was given
    value: [unit of `what`]
    error: standard deviation of the meter, with what rounding leaves where no error was stated [same unit]
    after: time since a cold start [s], None in the steady state
    stated: whether the error was given
    """

    text: str
    condition: Condition
    what: Readable
    value: float
    error: float
    after: float | None = None
    stated: bool = False


@dataclass(frozen=True)
class _Raw:
    """A reading's parts before supply voltages are settled."""

    text: str
    case: str
    what: Readable | None
    value: float
    error: float | None
    rounding: float
    supply: float | None
    after: float | None


class _Wrong(Exception):
    """What is wrong with a text, and what is allowed."""

    def __init__(self, what: str, allowed: str) -> None:
        super().__init__(what)
        self.what, self.allowed = what, allowed


def parse_readings(
    scenario: Scenario, texts: Sequence[str], supply: str | None = None, captured: Sequence[tuple[str, float]] = ()
) -> tuple[Reading, ...]:
    """The readings of a list of texts.

    supply: voltage at which they were taken, such as "42 V", where a reading does not say; the scenario's by default
    captured: case and supply voltage [V] of captures beside which they were taken; where there is only one, a reading need not say
        its case, and of a case captured at one voltage, not the voltage
    Raises InputError with everything that is wrong with them.
    """
    cases = list(dict.fromkeys(case for case, _ in captured))
    usual = cases[0] if len(cases) == 1 else None
    levels = {case: [voltage for own, voltage in dict.fromkeys(captured) if own == case] for case in cases}
    taken = {case: voltages[0] for case, voltages in levels.items() if len(voltages) == 1}
    problems: list[Problem] = []
    found: list[_Raw] = []
    for text in texts:
        try:
            found.append(_raw(scenario, text, usual))
        except _Wrong as wrong:
            problems.append(Problem(WHERE, wrong.what, text, wrong.allowed))
    common = None if supply is None else _stated_supply(supply)
    problems += _contradictions(found)
    if problems:
        raise InputError(*problems)
    readings = [_settled(scenario, each, found, taken.get(each.case, common)) for each in found if each.what is not None]
    if not readings:
        raise InputError.single(WHERE, "gives nothing to compare with a simulation", ", ".join(texts), FORM)
    return tuple(readings)


def _stated_supply(text: str) -> float:
    try:
        return _positive(text, "V", '"42 V"')
    except _Wrong as wrong:
        raise InputError.single("--supply", wrong.what, text, wrong.allowed) from None


def _raw(scenario: Scenario, text: str, usual: str | None) -> _Raw:
    left, equals, right = text.partition("=")
    parts = _LEFT.fullmatch(left.strip())
    if not equals or not parts:
        raise _Wrong("is not a reading", FORM)
    case = _case(scenario, parts["case"] or usual)
    supply, after = _taken(parts["rest"])
    what = None if parts["key"] in (SUPPLY, f"{SUPPLY}_v") else _readable(scenario, case, parts["key"])
    if what is None and (supply is not None or after is not None):
        raise _Wrong('is itself what "at" would say', f'"{case} {SUPPLY} = 42 V ± 0.2 V"')
    if what is not None and what.timed != (after is not None):
        raise _Wrong(*(("needs the time since a cold start", f'"{case} {what.key} after 10 min = 71 °C"') if what.timed else (
            "has a time, though it is a reading of the steady state", f'"{case} {what.key} = VALUE"')))  # fmt: skip
    return _Raw(text, case, what, *_value(right.strip(), what.unit if what else "V"), supply, after)


def _case(scenario: Scenario, name: str | None) -> str:
    if name is None and len(scenario.cases) == 1:
        return scenario.cases[0]
    if name not in scenario.cases:
        what = "does not say which case was running" if name is None else "names a case that the scenario does not have"
        raise _Wrong(what, f"{known_names(name or '', scenario.cases)} before the key")
    return name


def _readable(scenario: Scenario, case: str, key: str) -> Readable:
    every = readables(scenario.heater(case))
    for each in every:
        if key in (each.key, each.measure):
            return each
    if "temperature" in key and re.search("switch|case|sink|mosfet|fet", key, re.IGNORECASE):
        raise _Wrong(NO_THERMAL_MODEL, "choke temperatures, such as choke.left.temperature after 10 min")
    raise _Wrong(f"has a key that is not one a meter reads: {key}", known_names(key, [*(each.key for each in every), SUPPLY]))


def _taken(rest: str) -> tuple[float | None, float | None]:
    """Supply voltage [V] and time [s] from "at 30 V after 10 min"."""
    found: dict[str, str] = {}
    for word, value in _CONDITION.findall(rest):
        if word in found:
            raise _Wrong(f'says "{word}" twice', FORM)
        found[word] = value
    if _CONDITION.sub("", rest).strip():
        raise _Wrong(f"has words after the key that are not understood: {rest.strip()[:40]!r}", '"at 30 V", "after 10 min"')
    at, after = found.get("at"), found.get("after")
    return (_positive(at, "V", '"at 30 V"') if at else None), (_positive(after, "s", '"after 10 min"') if after else None)


def _quantity(text: str, unit: str) -> float:
    try:
        return parse_quantity(text, unit)
    except QuantityError as error:
        raise _Wrong(error.what, error.allowed) from None


def _positive(text: str, unit: str, example: str) -> float:
    value = _quantity(text, unit)
    if not value > 0:
        raise _Wrong("must be positive", example)
    return value


def _value(right: str, unit: str) -> tuple[float, float | None, float]:
    """Value, standard deviation if an error is stated, and that of what rounding took away [unit]."""
    text, *more = _ERROR.split(right)
    if len(more) > 1:
        raise _Wrong("has more than one error", '"5.6 A ± 0.1 A"')
    value = (
        _quantity(text, unit) if unit == "°C" else _positive(text, unit, "a value above zero: a reading of nothing tells nothing")
    )
    rounding = _last_digit(text, value) / math.sqrt(12)
    if not more:
        return value, None, rounding
    error = more[0].strip()
    if error.endswith("%") and unit != "°C":
        return value, _positive(error, "%", '"± 2 %"') * value / NORMAL_95, rounding
    kelvin = re.sub(r"K$", "°C", error) if unit == "°C" else error
    return value, _positive(kelvin, unit, "an error above zero") / NORMAL_95, rounding


def _last_digit(text: str, value: float) -> float:
    """Size of one in the last digit that was written; an integer is taken to have been read to its last digit."""
    found = _DECIMALS.match(text.strip())
    digits = found.group() if found else ""
    number = abs(float(digits)) if digits.strip("+-.") else 0.0
    if not number or not found:
        return 0.0
    return 10.0 ** (int(found[2] or 0) - len(found[1])) * abs(value) / number


def _contradictions(found: Sequence[_Raw]) -> list[Problem]:
    """Two supply voltages stated for one case, and the same thing read twice."""
    problems, seen = [], set()
    for each in found:
        key = (each.case, each.what.key if each.what else SUPPLY, each.supply, each.after)
        if key in seen:
            allowed = "one reading of each quantity in each condition: give the mean of several"
            problems.append(Problem(WHERE, "is given twice", each.text, allowed))
        seen.add(key)
    return problems


def _settled(scenario: Scenario, raw: _Raw, every: Sequence[_Raw], common: float | None) -> Reading:
    assert raw.what is not None
    own = next((each for each in every if each.what is None and each.case == raw.case), None)
    if raw.supply is not None or own is None:
        stated = raw.supply or common or scenario.case(raw.case).tables.supply.voltage
        condition = Condition(raw.case, stated)
    else:
        condition = Condition(raw.case, own.value, None if own.error is None else own.error / own.value)
    meter = raw.what.meter
    usual = math.hypot(meter.deviation(raw.value), raw.rounding)
    error = usual if raw.error is None else raw.error
    return Reading(raw.text, condition, raw.what, raw.value, error, raw.after, raw.error is not None)
