# SPDX-License-Identifier: GPL-3.0-or-later
"""Wires as they are named: by gauge or by bare diameter."""

from __future__ import annotations

import re

from heatsim.errors import InputError
from heatsim.physics.conductor import awg_diameter
from heatsim.quantity import QuantityError, parse_quantity

LARGEST, SMALLEST = -3, 56
"""Gauges that the standard has: 4/0, counted -3, to 56."""

WIRES = 'a gauge such as "AWG 14" or a diameter, "1.6 mm" or "1/16 in"'
"""What names a wire."""

_NUMBER = r"#?\s*(0{1,4}|[1-4]/0|[0-9]{1,2})"
_GAUGE = re.compile(rf"\s*(?:AWG\s*-?\s*{_NUMBER}|{_NUMBER}\s*-?\s*AWG)\s*", re.IGNORECASE)


def gauge_number(text: str) -> int | None:
    """The gauge that a text names, "AWG 14", "14 AWG", "AWG 2/0" or "AWG 00": 2/0 is -1. None where it names none."""
    found = _GAUGE.fullmatch(text)
    if not found:
        return None
    number: str = found[1] or found[2]
    if number.endswith("/0"):
        return 1 - int(number[0])
    return int(number) if number.strip("0") else 1 - len(number)


def gauge_name(number: int) -> str:
    """A gauge in words: 14 -> "AWG 14", -1 -> "AWG 2/0"."""
    return f"AWG {number}" if number > 0 else f"AWG {1 - number}/0"


def wire_diameter(text: str) -> float:
    """Bare diameter [m] of a wire named by gauge or size: "AWG 14", "14 AWG", "AWG 2/0", "1.6 mm", "1/16 in".

    Raises InputError for anything else. Sources: ASTM B258; metric sizes are bare copper diameters
    (IEC 60317).
    """
    try:
        return read_wire(text)
    except QuantityError as error:
        raise InputError.single("wire", error.what, repr(text), WIRES) from None


def read_wire(text: object) -> float:
    """Bare diameter [m] of a wire named by gauge or size; QuantityError for anything else."""
    number = gauge_number(text) if isinstance(text, str) and len(text) <= 40 else None
    if number is None:
        return parse_quantity(text, "m")
    if not LARGEST <= number <= SMALLEST:
        raise QuantityError(f"is no gauge of the standard, which has {gauge_name(LARGEST)} to {gauge_name(SMALLEST)}", "m")
    return float(awg_diameter(float(number)))
