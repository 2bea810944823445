# SPDX-License-Identifier: GPL-3.0-or-later
"""Words of all reports: parts, fields, limits and measures as people name them, and numbers with units."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from heatsim.errors import printable
from heatsim.quantity import format_quantity

SAFETY = "A simulation does not make a build safe."
"""Under every result."""

UNITS = {
    "_a_per_m2": "A/m2",
    "_m3_per_s": "m3/s",
    "_ohm": "ohm",
    "_pa": "Pa",
    "_m2": "m2",
    "_a_per_m": "A/m",
    "_hz": "Hz",
    "_wb": "Wb",
    "_ratio": "ratio",
    "_ratios": "ratio",
    "_a2s": "A2s",
    "_count": "count",
    "_v": "V",
    "_a": "A",
    "_w": "W",
    "_h": "H",
    "_s": "s",
    "_c": "°C",
    "_t": "T",
    "_m": "m",
    "_j": "J",
    "_k": "K",
}
"""Ends of measure keys and the SI unit each stands for, longer ones first."""

SIDES = ("left", "right", "centre")

MEASURES = {
    "thd": ("distortion (THD)", "ratio"),
    "total distortion": ("distortion, all orders", "ratio"),
    "crest": ("crest factor", ""),
    "form": ("form factor", ""),
    "half wave asymmetry": ("asymmetry of the half waves", "ratio"),
    "period two": ("difference of every other period", "ratio"),
    "drift": ("drift over the window", "ratio"),
    "harmonic": ("harmonics, orders 1 to 10", "ratio"),
    "even harmonic": ("even harmonics together", "ratio"),
    "odd harmonic": ("odd harmonics together", "ratio"),
    "inductance zero": ("inductance at zero current", "H"),
    "inductance min": ("lowest differential inductance", "H"),
    "inductance remaining": ("remaining inductance", "ratio"),
    "ripple current": ("ripple current, peak to peak", "A"),
    "flux swing": ("flux swing, peak to peak", "Wb"),
    "imbalance": ("not accounted for", "ratio"),
    "permeability": ("relative permeability", ""),
    "surface field": ("field at the surface, peak", "A/m"),
    "field departure": ("field away from the one its permeability is for", "ratio"),
    "copper hot loss": ("copper loss when hot", "W"),
    "run temperature": ("temperature after the run", "°C"),
    "run junction temperature": ("junction temperature after the run", "°C"),
    "run sink temperature": ("temperature of the sink after the run", "°C"),
    "junction temperature low": ("junction temperature, at the kindest", "°C"),
    "junction temperature high": ("junction temperature, at the worst", "°C"),
    "worst device loss": ("loss of the worst device, hot", "W"),
    "on resistance": ("on-resistance hot over simulated", "ratio"),
    "run": ("a run that may be repeated", "s"),
    "rest": ("rest it needs before the next", "s"),
    "longest run": ("longest run from cold", "s"),
    "binder life": ("life of the core's binder", "s"),
    "rise crossings": ("passages of the threshold when it rises", ""),
    "fall crossings": ("passages of the threshold when it falls", ""),
    "pull up loss": ("heat of the pull-up", "W"),
    "pull down loss": ("heat of the pull-down", "W"),
    "clamp loss": ("heat of the clamp", "W"),
    "resistor loss": ("heat of each gate resistor", "W"),
    "diode loss": ("heat of the coupling diode", "W"),
    "switch diode loss": ("body diode loss", "W"),
    "driver loss": ("heat of the driver", "W"),
    "diode reverse voltage": ("coupling diode, peak reverse voltage", "V"),
    "diode reverse current": ("coupling diode, peak reverse current", "A"),
    "driver supply voltage": ("driver, highest supply voltage", "V"),
    "worst rms current": ("current of the most loaded one, tolerance included", "A"),
    "worst peak voltage": ("peak voltage of the one that bears most", "V"),
    "worst temperature": ("temperature of the warmest one", "°C"),
    "worst share": ("most loaded one over the mean", ""),
    "rails loss": ("loss in the bars", "W"),
    "rails inductance": ("inductance with its bars, where the coil connects", "H"),
    "inner resonance": ("lowest resonance inside the bank", "Hz"),
    "near resonance": ("resonance near a harmonic", "Hz"),
    "near resonance current": ("most loaded one with that resonance on the harmonic", "A"),
    "stored change": ("still being stored", "W"),
    "ringing state": ("ringing", ""),
    "modulation": ("modulation of the envelope, depth", "ratio"),
    "class": ("class", ""),
    "begin": ("first swing", "s"),
    "limited": ("share of its voltage that its limit leaves", "ratio"),
    "trips": ("times it switched off", "count"),
    "time": ("settling time", "s"),
}
"""What is measured, where the key does not say enough: words and the unit to show."""

BASES = {
    "published": "published data",
    "common practice": "common practice, no source",
    "memory": "recalled, not looked up",
    "measured": "measured on the bench",
    "estimate": "estimated",
    "rating": "rating in the scenario file",
    "builder": "the builder's own limit",
    "unknown": "not known",
}
"""What a value, a finding or a limit rests on, in plain words."""


def split_key(key: str) -> tuple[str, str]:
    """A measure's key without its unit, and the unit; no unit for keys that end in none."""
    for suffix, unit in UNITS.items():
        if key.endswith(suffix):
            return key.removesuffix(suffix), unit
    return key, ""


def named_measure(key: str) -> tuple[str, str, str]:
    """Part, words and unit of a measure: `tank.thd_ratio` -> ("tank", "distortion (THD)", "ratio")."""
    stem, unit = split_key(key)
    part, _, what = stem.rpartition(".")
    plain = what.replace("_", " ")
    return (part, *told_as(family(part), plain, unit))


def told_as(kind: str, plain: str, unit: str) -> tuple[str, str]:
    """Label and unit of a measure's name without its part; kind: of the part, for a name that another kind has too."""
    return MEASURES.get(f"{kind} {plain}") or MEASURES.get(plain, (plain, unit))


def measure_words(key: str) -> str:
    """A measure in words: `drain.left.peak_voltage_v` -> "left drain peak voltage"; a star for the side is left out."""
    part, words, _ = named_measure(key)
    return f"{part_words(part.replace('.*', ''))} {words}".strip()


def sentence_case(text: str) -> str:
    """The text with a capital at its start."""
    return text[:1].upper() + text[1:]


def listed(names: Sequence[str]) -> str:
    """Names in a sentence: "a, b and c"."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def part_words(part: str) -> str:
    """`choke.left` -> "left choke", `gate_supply` -> "gate supply"."""
    head, _, tail = part.replace("_", " ").partition(".")
    side, _, more = tail.partition(".")
    words = f"{side} {head}" if side in SIDES else f"{head} {side}".strip()
    return f"{words} {more}".strip()


def family(part: str) -> str:
    """The part without its side: `choke.left` -> "choke"."""
    return " ".join(word for word in part.replace("_", " ").split(".") if word not in SIDES)


def plural(part: str) -> str:
    """Both sides of a part: `choke.left` -> "chokes", `switch.right` -> "switches"."""
    name = family(part)
    return f"{name}{'es' if name.endswith('ch') else 's'}"


def limit_words(key: str, both: bool = False) -> str:
    """`choke.left: temperature` -> "left choke: temperature"; both: that of either side, "chokes: temperature"."""
    part, colon, limit = key.partition(": ")
    return printable(f"{plural(part) if both and colon else part_words(part)}{colon}{limit}")


def either_side(key: str) -> str:
    """The same without the side, so that equal halves count as one: "choke: temperature"."""
    part, colon, limit = key.partition(": ")
    return printable(f"{family(part)}{colon}{limit}")


def field_words(field: str) -> str:
    """A dotted field in words: `choke.left.core.area` -> "left choke core area"."""
    parts = field.split(".")
    if parts[0] == "case":
        parts = parts[2:]
    if parts[0] == "choke" and len(parts) > 2 and parts[1] in SIDES:
        parts = [parts[1], "choke", *parts[2:]]
    return " ".join(part.replace("_", " ") for part in parts if part != "measured")


def number(measures: Mapping[str, Any], key: str) -> float | None:
    """A measure that is a finite number, else None."""
    value = measures.get(key)
    return float(value) if isinstance(value, int | float) and math.isfinite(value) else None


def value_text(value: Any, unit: str, digits: int = 3) -> str:
    """A measured value for a person: numbers with units, lists one after the other, None as a dash."""
    if value is None:
        return "–"
    if isinstance(value, list | tuple):
        return ", ".join(value_text(item, unit, digits) for item in value)
    if isinstance(value, str):
        return printable(value)
    if not math.isfinite(value):
        return "–"
    if not unit:
        return f"{value:.{max(digits, 4)}g}".replace("-", "−")
    if unit == "ratio" and 0 < abs(value) < 1e-4:
        return "< 0.01 %"
    return format_quantity(float(value), unit, digits).replace("A/mm2", "A/mm²").replace("-", "−")


def percent(ratio: float | None, decimals: int = 0) -> str:
    """A headroom with its sign: "+35 %", a dash where there is none. Rounded down: it is never less than printed, so that what
    falls short of the wanted headroom, or fails, does not look as if it did not.
    """
    if ratio is None or not math.isfinite(ratio):
        return "–"
    scale = 100 * 10**decimals
    return f"{100 * math.floor(ratio * scale + 1e-6) / scale:+.{decimals}f} %".replace("-", "−")


def setting_text(value: object) -> str:
    """The value of a field that was set: a table in one line, "steel, 20 mm, 100 mm"."""
    return printable(", ".join(map(str, value.values())) if isinstance(value, Mapping) else str(value))


def outdated_words(count: int) -> str:
    """That a store holds points of another version, which are not used."""
    why = "were computed by another version of heatsim, its models or the simulator"
    return f"{count:,} older points in the store {why}. They are not used"


def duration(seconds: float | None) -> str:
    """Time for a person: "8 s", "2 min 05 s", "3 h 20 min", "4 d 02 h"."""
    if seconds is None:
        return "–"
    minutes, rest = divmod(round(seconds), 60)
    hours, days = minutes // 60, minutes // 1440
    if days:
        return f"{days} d {hours % 24:02d} h"
    if hours:
        return f"{hours} h {minutes % 60:02d} min"
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"
