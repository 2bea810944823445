# SPDX-License-Identifier: GPL-3.0-or-later
"""What a caller says of captures to be matched: once for all of them, or once for each."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TypeVar

from heatsim.errors import InputError
from heatsim.files import shown_path
from heatsim.quantity import QuantityError, parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.reading import CaptureRequest
from heatsim.waves.capture import Probe

T = TypeVar("T")

USUAL = "loaded"
"""Name of the case that a capture is taken to be of, where a scenario has it."""


def default_case(scenario: Scenario) -> str:
    """The case a capture is taken to be of when nobody says: `loaded` if there is one, else the last."""
    return USUAL if USUAL in scenario.cases else scenario.cases[-1]


def for_each(where: str, values: Sequence[T], count: int, default: T) -> list[T]:
    """A value for each of `count` captures: none given, the default; one, the same for all; else one each.

    where: the option, for the message. Raises InputError for any other number of values.
    """
    if len(values) not in (0, 1, count):
        captures = f"{count} capture{'s' if count > 1 else ''}"
        allowed = "once for all captures" + (f", or {count} times, once for each in order" if count > 1 else "")
        raise InputError.single(where, f"does not go with {captures}", f"{len(values)} times", allowed)
    return list(values) if len(values) == count else [values[0] if values else default] * count


def volts(where: str, text: str) -> float:
    """A supply voltage [V]. Raises InputError for what is none, and for one that is not positive."""
    try:
        value = parse_quantity(text, "V")
    except QuantityError as error:
        raise InputError.single(where, error.what, text, error.allowed) from None
    if not value > 0:
        raise InputError.single(where, "must be positive", text, '"42 V"')
    return value


def capture_requests(
    scenario: Scenario,
    paths: Sequence[Path],
    cases: Sequence[str] = (),
    supplies: Sequence[str] = (),
    signals: Sequence[Mapping[str, str]] = (),
    probes: Sequence[Mapping[str, Probe]] = (),
) -> list[CaptureRequest]:
    """The captures with each setting given once, once a capture, or not at all.

    cases: names
    supplies: texts such as "42 V"
    signals: channel -> signal
    probes: channel -> how it was taken
    Raises InputError for a case or a file that is not there, and for settings that do not go with the captures.
    """
    count = len(paths)
    chosen = for_each("--case", cases, count, default_case(scenario))
    for name in chosen:
        scenario.case(name)
    supplied: list[float | None] = [volts("--supply", text) for text in supplies]
    levels = for_each("--supply", supplied, count, None)
    named, taken_with = for_each("--signal", signals, count, {}), for_each("--probe", probes, count, {})
    for path in paths:
        if not os.path.isfile(path):  # False as well for a name that can be none
            what = "is a folder" if os.path.isdir(path) else "is not there"
            raise InputError.single(shown_path(path), what, allowed="a capture's file")
    return [CaptureRequest(*each) for each in zip(paths, chosen, levels, named, taken_with, strict=True)]
