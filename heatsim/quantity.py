# SPDX-License-Identifier: GPL-3.0-or-later
"""Text to SI numbers and back, at the edges only.

A quantity is a number, an SI prefix and the unit the field asks for: "47 uH", "2.2 µF", "1.6 mm", "85 °C", "10 %".
Bare numbers are refused where a unit is needed, so are decimal commas (read as thousands by some programs and as
decimals by others) and units other than the one asked for. Lengths may be in inches and feet too, with fractions: "3/8 in",
"1 1/2 in", '3/8"', "2 ft 6 in". Scaling is quantiphy's.
"""

from __future__ import annotations

import math
import re
from datetime import date, time
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from quantiphy import Quantity

from heatsim.constants import OERSTED

LONGEST = 200
"""Characters of a quantity that are looked at; nobody writes a longer one."""

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_PREFIXES = {"": 1.0, "T": 1e12, "G": 1e9, "M": 1e6, "k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12, "f": 1e-15}
_OHMS = ("ohm", "Ohm", "Ω", "Ohms", "ohms")
_LONG_TIMES = {"min": 60.0, "h": 3600.0}
"""Longer units of time, without SI prefix."""

INCH, FOOT = Fraction("0.0254"), Fraction("0.3048")
"""Lengths [m], exact by definition: the international yard and pound agreement of 1959."""

_INCHES = ("in", "in.", "inch", "inches", '"', "''", "\u2033", "\u201d")
_FEET = ("ft", "ft.", "foot", "feet", "'", "\u2032", "\u2019")
_LENGTHS = dict.fromkeys(_INCHES, float(INCH)) | dict.fromkeys(_FEET, float(FOOT))
"""Inches and feet as they are written, signs in ASCII and as typeset, with their factor to metres; in either case of letters."""

_FRACTION = r"(?:[0-9]+(?:\s+|\s*-\s*))?[0-9]+\s*/\s*[0-9]+"
_AMOUNT = rf"({_FRACTION}|[0-9]+\.?[0-9]*|\.[0-9]+)"
_IN, _FT = ("(?:" + "|".join(sorted(map(re.escape, names), key=len, reverse=True)) + ")" for names in (_INCHES, _FEET))
_FEET_AND_INCHES = re.compile(rf"([+-]?)\s*([0-9]+)\s*{_FT}\s*-?\s*{_AMOUNT}\s*{_IN}", re.IGNORECASE)
_IN_FRACTIONS = re.compile(rf"([+-]?)\s*({_FRACTION})\s*(\D*)", re.IGNORECASE)

_FIXED = {
    "A/m2": {"A/mm2": 1e6, "A/m2": 1.0, "A/cm2": 1e4},
    "m2": {"mm2": 1e-6, "cm2": 1e-4, "m2": 1.0},
    "m3": {"cm3": 1e-6, "mm3": 1e-9, "m3": 1.0},
    "A/m": {"A/m": 1.0, "kA/m": 1e3, "A/cm": 100.0, "Oe": OERSTED},
    "ohm*m": {"uohm*m": 1e-6, "ohm*m": 1.0, "Ω*m": 1.0, "uohm*cm": 1e-8, "nohm*m": 1e-9},
    "K/W": {"K/W": 1.0, "°C/W": 1.0},
    "°C": {"°C": 1.0, "degC": 1.0, "C": 1.0},
    "%": {"%": 0.01},
    "m/s": {"m/s": 1.0},
    "m3/s": {"l/min": 1e-3 / 60.0, "l/h": 1e-3 / 3600.0, "m3/s": 1.0},
    "Pa": {"bar": 1e5, "mbar": 100.0, "kPa": 1e3, "Pa": 1.0},
    "K": {"K": 1.0},
    "kg": {"kg": 1.0, "g": 1e-3},
    "W/(m*K)": {"W/mK": 1.0, "W/(m*K)": 1.0, "W/(m K)": 1.0},
    "J/(kg*K)": {"J/kgK": 1.0, "J/(kg*K)": 1.0, "J/(kg K)": 1.0, "kJ/kgK": 1e3},
    "kg/m3": {"kg/m3": 1.0, "g/cm3": 1e3},
    "H/turn2": {"nH": 1e-9, "nH/N2": 1e-9, "uH": 1e-6},
    "A2s": {"A2s": 1.0, "kA2s": 1e3},
}
"""Units taken whole, without SI prefix, with their factor to the SI unit of the key; the one that is written comes first."""

_PRINTED = {unit: _FIXED[unit] for unit in _FIXED.keys() - {"H/turn2"}}
_PRINTED |= {"ratio": {"%": 0.01}, "count": {"": 1.0}}
"""Units printed without SI prefix, in the first of these."""

EXAMPLES = {
    "H": "47 uH",
    "F": "2.2 uF",
    "V": "48 V",
    "A": "12 A",
    "ohm": "20 mohm",
    "m": "1.6 mm",
    "s": "100 us",
    "Hz": "85 kHz",
    "°C": "85 °C",
    "%": "10 %",
    "W": "250 W",
    "S": "80 S",
    "m/s": "2 m/s",
    "m3/s": "1.5 l/min",
    "Pa": "2 bar",
    "K": "10 K",
    "C": "120 nC",
    "T": "0.4 T",
    "A/m2": "6 A/mm2",
    "m2": "107 mm2",
    "m3": "10.5 cm3",
    "A/m": "50 Oe",
    "ohm*m": "0.22 uohm*m",
    "K/W": "0.5 K/W",
    "kg": "350 g",
    "W/(m*K)": "1.2 W/mK",
    "J": "300 mJ",
    "J/(kg*K)": "460 J/kgK",
    "kg/m3": "7850 kg/m3",
    "H/turn2": "81 nH",
    "A2s": "400 A2s",
}
"""One accepted text for each unit a field may ask for; also the list of those units."""

MORE_FORMS = {"m": ' or "3/8 in"'}
"""Other forms that a unit is written in, behind its example."""


class QuantityError(ValueError):
    """A text that is not a quantity in the wanted unit; `allowed` says what would be."""

    def __init__(self, what: str, unit: str) -> None:
        self.what = what
        self.allowed = f'a text with unit {unit}, such as "{EXAMPLES.get(unit, "1 " + unit)}"{MORE_FORMS.get(unit, "")}'
        super().__init__(f"{what}; allowed: {self.allowed}")


def _factor(suffix: str, unit: str) -> float | None:
    """Factor from `suffix` (prefix and unit as written) to the SI `unit`, None when it is another unit."""
    suffix = suffix.replace("µ", "u").replace("μ", "u").replace("²", "2").replace("³", "3").replace("\u2126", "Ω")
    if unit in _FIXED:
        return _FIXED[unit].get(suffix)
    if unit == "s" and suffix in _LONG_TIMES:
        return _LONG_TIMES[suffix]
    if unit == "m" and suffix.lower() in _LENGTHS:
        return _LENGTHS[suffix.lower()]
    for spelling in _OHMS if unit == "ohm" else (unit,):
        if suffix.endswith(spelling) and suffix[: -len(spelling)] in _PREFIXES:
            return _PREFIXES[suffix[: -len(spelling)]]
    return None


def parse_quantity(text: object, unit: str) -> float:
    """Read `text`, such as "47 uH", as a number in the SI unit `unit`; temperatures stay in °C, "%" becomes a ratio.

    Raises QuantityError for bare numbers, decimal commas, other units, and numbers that are not finite.
    """
    if not isinstance(text, str):
        raise QuantityError(f"needs a text with a unit, not {sort_of(text)}", unit)
    if len(text) > LONGEST:
        raise QuantityError(f"is too long, {len(text)} characters", unit)
    return _read(text, unit)


@lru_cache(maxsize=1024)
def _read(text: str, unit: str) -> float:
    if "," in text:
        raise QuantityError("has a comma; write a decimal point", unit)
    text = text.strip()
    if unit == "m" and (length := _broken_length(text)) is not None:
        return length
    found = _NUMBER.match(text)
    if not found:
        raise QuantityError("is not a number with a unit", unit)
    suffix = text[found.end() :].lstrip()
    if not suffix:
        raise QuantityError("has no unit", unit)
    factor = _factor(suffix, unit)
    if factor is None:
        raise QuantityError(f"has the unit {suffix[:40]!r}", unit)
    value = _scaled(found.group(), factor)
    if not math.isfinite(value):
        raise QuantityError("is not finite", unit)
    return value


def _broken_length(text: str) -> float | None:
    """Length [m] of a text with a fraction, or with feet and inches, rounded once; None for any other text."""
    if found := _FEET_AND_INCHES.fullmatch(text):
        length = int(found[2]) * FOOT + _amount(found[3]) * INCH
    elif found := _IN_FRACTIONS.fullmatch(text):
        suffix = found[3].strip()
        if not suffix:
            raise QuantityError("has no unit", "m")
        if suffix.lower() not in _LENGTHS:
            raise QuantityError(f"has a fraction with the unit {suffix[:40]!r}; fractions go with inches and feet", "m")
        length = _amount(found[2]) * (INCH if suffix.lower() in _INCHES else FOOT)
    else:
        return None
    return float(-length if found[1] == "-" else length)


def _amount(text: str) -> Fraction:
    """The number of "1/2", "1 1/2", "1-1/2" or "0.5"; text: matched by the pattern of amounts."""
    before, slash, under = text.partition("/")
    if not slash:
        return Fraction(text)
    *whole, over = re.split(r"[\s-]+", before.strip())
    if int(under) == 0:
        raise QuantityError("has a fraction over zero", "m")
    if whole and int(over) >= int(under):
        raise QuantityError("has a fraction of one or more behind a whole number", "m")
    return Fraction(int(over), int(under)) + sum(map(int, whole))


def _scaled(digits: str, factor: float) -> float:
    """The number times the factor, rounded once; infinite for an exponent beyond all measure."""
    try:
        return float(Decimal(digits) * Decimal(repr(factor)))
    except ArithmeticError:
        return math.inf


_SORTS = ((bool, "true or false"), (int | float, "a bare number"), (str, "a text"), (list | tuple, "a list"), (dict, "a table"),
          (date | time, "a date or time"))  # fmt: skip


def sort_of(value: object) -> str:
    """What kind of value was given, in plain words."""
    return next((words for kind, words in _SORTS if isinstance(value, kind)), "nothing")


def shown(value: object) -> str:
    """A value as it was given, for messages: texts quoted, at most some 80 characters; lists and tables by their kind."""
    if isinstance(value, str):
        return repr(value if len(value) <= 70 else f"{value[:40]}...{value[-20:]}")
    if isinstance(value, int | float) and not isinstance(value, bool):
        return f"{value!r}" if abs(value) < 1e30 else f"{value:.6g}" if isinstance(value, float) else "a number of many digits"
    return {True: "true", False: "false"}[value] if isinstance(value, bool) else sort_of(value)


def format_quantity(value: float | None, unit: str, digits: int = 3) -> str:
    """Render an SI number for a person: 4.7e-05 H -> "47 µH", 0.1 ratio -> "10 %"; None -> "-"."""
    if value is None or not math.isfinite(value):
        return "-"
    if unit in _PRINTED:
        plain, factor = next(iter(_PRINTED[unit].items()))
        return f"{_plain(value * (1 / factor), digits)} {plain}".rstrip()
    if unit == "s" and value >= 120.0:
        return f"{_plain(value / 3600, digits)} h" if value >= 7200.0 else f"{_plain(value / 60, digits)} min"
    label = "Ω" if unit == "ohm" else unit
    number, prefix = _prefixed(value, digits)
    return f"{number} {prefix}{label}"


@lru_cache(maxsize=4096)
def _prefixed(value: float, digits: int) -> tuple[str, str]:
    """An SI number with so many digits, 1 to 999 of its prefix; without one beyond the prefixes."""
    if not value:
        return "0", ""
    mantissa, _, power = f"{value:.{digits - 1}e}".partition("e")
    thousands, over = divmod(int(power), 3)
    if not -5 <= thousands <= 4:
        shown = str(Quantity(value).render(prec=digits - 1, form="si", show_units=False))
        return shown, ""
    sign, figures = "-" if value < 0 else "", mantissa.lstrip("-").replace(".", "").ljust(over + 1, "0")
    number = f"{figures[: over + 1]}.{figures[over + 1 :]}".rstrip("0").rstrip(".")
    return f"{sign}{number}", "fpnµm kMGT"[thousands + 5].strip()


def _plain(value: float, digits: int) -> str:
    """A number without exponent."""
    rounded = float(f"{value:.{digits}g}")
    return f"{rounded:.0f}" if abs(rounded) >= 10 ** (digits - 1) else f"{rounded:.{digits}g}"


def exact_quantity(value: float, unit: str) -> str:
    """The one text that `parse_quantity` reads as exactly this number: 3.3e-07 F -> "330 nF", 0.05 -> "5 %".

    value: SI, finite. Equal numbers give equal texts, however they were written.
    """
    number = Decimal(repr(float(value))) + 0  # no negative zero
    if unit in _FIXED:
        spelling, factor = next(iter(_FIXED[unit].items()))
        return f"{_plain_digits(number / Decimal(repr(factor)))} {spelling}"
    size = abs(number)
    fitting = [(prefix, Decimal(repr(factor))) for prefix, factor in _PREFIXES.items() if size >= Decimal(repr(factor))]
    prefix, scale = max(fitting, key=lambda item: item[1]) if fitting and size else ("", Decimal(1))
    return f"{_plain_digits(number / scale)} {prefix}{unit}"


def _plain_digits(number: Decimal) -> str:
    """Decimal digits without exponent and without idle zeros."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
