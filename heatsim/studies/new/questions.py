# SPDX-License-Identifier: GPL-3.0-or-later
"""The questions: what is asked, one line of explanation, the answer taken where none is given, and how an answer is read."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from heatsim.scenario import builtin
from heatsim.scenario.schema import SupplyTable
from heatsim.studies.new import answers, estimates
from heatsim.studies.new.answers import Bar, CoilBySize, MeasuredCoil, Read, Rings

AMPERES_A_DEVICE = 25.0
"""Supply current [A] for which another device in parallel is proposed (common practice, no source)."""


TURNS, COPPER_FILL = 16, 0.14
"""Turns of a choke, and share of its hole that bare copper takes, as proposed (common practice, no source)."""


@dataclass(frozen=True)
class Question:
    """key: its name in Python, and with hyphens its flag; title: what is asked; line: explanation; default: answer where none is
    given, by what was answered before; read: meaning of an answer; needed: whether it is asked at all, by what was answered before;
    settles: whether the parts so far can be put together once it is answered."""

    key: str
    title: str
    line: str
    default: Callable[[Read], str]
    read: Callable[[str, Read], Any]
    needed: Callable[[Read], bool] = lambda found: True
    settles: bool = False


def _bar(found: Read) -> str:
    """A steel bar a quarter as thick as the coil and 1.4 times as long; none where the coil's size is not known."""
    tank = found["coil"]
    if not isinstance(tank, CoilBySize):
        return answers.NONE
    diameter, length = max(1, round(250 * tank.diameter)), max(2, 5 * round(280 * tank.length))
    return Bar("steel", diameter * 1e-3, length * 1e-3).words


def _bench_piece(found: Read) -> str:
    """Belongs to the coil that is proposed; what another coil reads with a piece in nobody can say."""
    return "1.6 uH, 80 mohm" if found["coil"] == MeasuredCoil(1.75e-6, 14e-3) else answers.NONE


def _winding(found: Read) -> str:
    """Two strands of a wire with which the ring's hole is some 14 % copper, 2 mm at the thickest."""
    hole = builtin().rings[found["chokes"].name].size.inner_diameter
    wire = min(2.0, round(1e3 * hole * math.sqrt(COPPER_FILL / (2 * TURNS)), 1))
    return f"{TURNS} x {wire:g} mm, 2 strands"


def _device(text: str, found: Read) -> str:
    """Refused too where "suggest" finds none that is enough."""
    name = answers.device(text)
    if name == answers.SUGGEST:
        estimates.suggested(found["supply_voltage"])
    return name


def _devices(found: Read) -> str:
    return str(max(1, min(200, math.ceil((found["supply_current"] or 0.0) / AMPERES_A_DEVICE))))


def _plain(text: str) -> Callable[[Read], str]:
    return lambda found: text


QUESTIONS: tuple[Question, ...] = (
    Question(
        "supply_voltage",
        "Supply voltage",
        "DC, as the chokes get it; the drains will peak at some three times this.",
        _plain("24 V"),
        lambda text, found: answers.quantity(text, SupplyTable, "voltage"),
    ),
    Question(
        "supply_current",
        "Supply current",
        'What the supply can give for good; "unknown" leaves it unjudged.',
        _plain("25 A"),
        lambda text, found: answers.supply_current(text),
    ),
    Question(
        "device",
        "MOSFET",
        'A class of the parts file by name, or "suggest" for the one that suits the voltage.',
        _plain(answers.SUGGEST),
        _device,
    ),
    Question(
        "count",
        "MOSFETs in parallel on each side",
        "One carries some 25 A of supply current.",
        _devices,
        lambda text, found: answers.whole(text, 200, "devices"),
    ),
    Question(
        "capacitors",
        "Capacitors across the coil",
        "How many x value of one, and as far as known what one stands at tank frequency: peak volts, rms amperes.",
        _plain("6 x 330 nF, 250 V, 16 A"),
        lambda text, found: answers.capacitors(text),
    ),
    Question(
        "coil",
        "Work coil",
        'Turns x diameter (middle of tube) x tube, or by LCR meter near tank frequency, "1.75 uH, 14 mohm".',
        _plain("8 x 46 mm x 6 mm"),
        lambda text, found: answers.coil(text),
        settles=True,
    ),
    Question(
        "workpiece",
        "Workpiece",
        '"none", a bar (material diameter x length), or the meter\'s reading with it in the coil, "1.6 uH, 80 mohm".',
        _bar,
        lambda text, found: answers.workpiece(text, found["coil"]),
        settles=True,
    ),
    Question(
        "chokes",
        "Ring of each choke",
        'A ring that heatsim parts --kind ring lists, "2 x NAME, MATERIAL", or measured, "65 uH, 30 A" (half of it left).',
        _plain("powder-39.9x24.1x14.5"),
        lambda text, found: answers.chokes(text),
    ),
    Question(
        "winding",
        "Turns and wire of each choke",
        "Turns x bare wire, and strands in parallel if there are several.",
        _winding,
        lambda text, found: answers.winding(text),
        needed=lambda found: isinstance(found["chokes"], Rings),
        settles=True,
    ),
    Question(
        "cooling",
        "Cooling of the MOSFETs",
        '"sink" for a heat sink in still air, "fan" for one with a fan, "none" leaves their temperature unjudged.',
        _plain("sink"),
        lambda text, found: answers.cooling(text),
    ),
)
"""In the order in which they are asked."""

BENCH: dict[str, Callable[[Read], str]] = {
    "supply_current": _plain(answers.UNKNOWN),
    "count": _plain("1"),
    "capacitors": _plain("1 x 1.98 uF"),
    "coil": _plain("1.75 uH, 14 mohm"),
    "workpiece": _bench_piece,
    "chokes": _plain("80 uH, 45 A, 12 mohm"),
    "cooling": _plain(answers.NONE),
}
"""Answers taken where none is given and everything is measured, where they differ."""
