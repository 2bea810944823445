# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences and rows of a heat, shared by terminal and page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from heatsim.errors import printable
from heatsim.report.base.findings import allowed_text, comparison
from heatsim.report.base.words import duration, family, measure_words, part_words, percent, plural, sentence_case, value_text
from heatsim.studies.heat import Band, Confirmed, HeatResult, Watched

GETS_THERE = {
    "holds": "gets there and holds",
    "marginal": "gets there, but only just holds",
    "fails": "gets there, but breaks a limit",
    "unknown": "gets there, but not everything can be judged",
}
"""The verdict on a heat that reaches what is wanted, by the worst grade of its limits."""

NOT_THERE = "does not get there"

JOULES_PER_KWH = 3.6e6

AGREES = 0.02
"""Difference between a cold start and the heat [1] up to which they count as the same."""

ENDS = {"settled": "settles", "drifting": "was still moving when the run ended", "latched": "latches: both sides stay on"}
ENDS |= {"dead": "does not oscillate", "stalled": "could not be simulated to its end", "unsolved": "could not be solved"}
"""Outcome of a cold start, after "the heater"."""

PREDICTED = {"current": "coil current", "frequency": "frequency"}


def celsius(value: float | None) -> str:
    """A temperature as it is known: whole degrees, "1012 °C"."""
    return "–" if value is None or not np.isfinite(value) else f"{value:.0f} °C".replace("-", "−")


def time_words(seconds: float | None) -> str:
    """Time into a heat: "8.4 s", "58 s", "2 min 05 s"."""
    return f"{seconds:.1f} s" if seconds is not None and 0 < seconds < 9.95 else duration(seconds)


def since_words(seconds: float) -> str:
    """When something begins: "from 41 s on", "from the start"."""
    return "from the start" if seconds <= 0 else f"from {time_words(seconds)} on"


def broken_words(each: Watched) -> str:
    """When a limit is not kept: "from 41 s on", "from the start to 52 s"; empty where it always is."""
    if each.crossed is None:
        return ""
    broken = np.flatnonzero(each.headroom < 0)
    if not broken.size or broken[-1] >= len(each.times) - 1:
        return since_words(each.crossed)
    begin = "the start" if each.crossed <= 0 else time_words(each.crossed)
    return f"from {begin} to {time_words(float(each.times[broken[-1] + 1]))}"


def tone(result: HeatResult) -> str:
    """The grade whose colour the answer has: that a piece does not get there is as bad as a broken limit."""
    return "fails" if result.wanted.reached is None else result.verdict


def headline(result: HeatResult) -> str:
    """The verdict in a few words."""
    return NOT_THERE if result.wanted.reached is None else GETS_THERE[result.verdict]


def lead(result: HeatResult) -> str:
    """When the piece is as warm as wanted, or that it never is."""
    asked = result.wanted
    if asked.reached is None:
        return printable(f"The {asked.at} does not reach {celsius(asked.celsius)}. {result.end_words}")
    other = ("surface", asked.surface) if asked.at == "core" else ("core", asked.core)
    then = "" if other[1] is None else f"; the {other[0]} is then at {celsius(other[1])}"
    return f"The {asked.at} is at {celsius(asked.celsius)} after {time_words(asked.reached)}{then}."


def limits_sentence(result: HeatResult) -> str:
    """Whether the heater's limits hold all along, and which decides."""
    rows = result.findings
    if not rows:
        return "None of the heater's limits could be judged."
    count, every = sum(each.grade == result.verdict for each in rows), len(rows)
    if result.verdict == "holds":
        tight = next((each for each in rows if each.worst.headroom is not None), None)
        told = f" The tightest is {_named(tight)}." if tight else ""
        return f"Every limit of the heater holds from cold to the end, {every} of {every}.{told}"
    ending = {
        "fails": "fails" if count == 1 else "fail",
        "marginal": "holds with less headroom than wanted" if count == 1 else "hold with less headroom than wanted",
        "unknown": "cannot be judged",
    }[result.verdict]
    lead = "the first" if result.verdict == "unknown" else "the worst"
    return f"{count} of the heater's {every} limits {ending}; {lead}: {_named(rows[0])}.{_until(result)}"


def _until(result: HeatResult) -> str:
    """That limits are only broken after the piece is as wanted, where it is so, and when to switch off."""
    first = min((each.crossed for each in result.limits if each.crossed is not None), default=None)
    reached = result.wanted.reached
    if first is None or reached is None or first <= reached:
        return ""
    until = f"switch off within {time_words(first)}, and let the heater cool before the next piece"
    return f" None is broken before the piece gets there: {until}."


def _named(each: Watched) -> str:
    """A limit at its worst instant."""
    finding = each.worst
    if finding.headroom is None:
        return comparison(finding)
    headroom = f", headroom {percent(finding.headroom)}"
    broken = "" if each.crossed is None else f", broken {broken_words(each)}"
    return f"{comparison(finding)} (at its worst {_after(each.at)}{headroom}{broken})"


def _after(seconds: float) -> str:
    return "at the start" if seconds <= 0 else f"after {time_words(seconds)}"


def end_sentence(result: HeatResult) -> str:
    """How the heat ends if it is not switched off."""
    last = time_words(float(result.series["time_s"][-1]))
    if result.equilibrium_c is not None:
        return f"Left on, the piece levels off at {celsius(result.equilibrium_c)} (surface) after {last}."
    return printable(f"After {last}: {result.end_words}")


def happenings(result: HeatResult) -> list[tuple[str, str]]:
    """What happens when, in order: (time, sentence)."""
    told = [(each.time, each.text) for each in result.events if each.name != "limit"]
    for line in lines(result):
        if line.watched.crossed is not None:
            text = f"{line.name}: {line.watched.worst.limit} is not kept {line.broken}."
            told.append((line.watched.crossed, sentence_case(text)))
    return [(time_words(when), printable(text)) for when, text in sorted(told, key=lambda row: row[0])]


def answers(result: HeatResult) -> Iterator[tuple[str, str]]:
    """What was asked, and every answer: (what, text)."""
    asked = result.wanted
    yield "the piece", printable(result.piece)
    yield "asked for", f"{asked.at} at {celsius(asked.celsius)}, where the piece gets hottest"
    yield "time to reach it", time_words(asked.reached) if asked.reached is not None else "never"
    if asked.reached is not None:
        yield from _when_reached(result)
    if result.band is not None:
        yield "within what is known", _bounds(result.band)
    yield "if left on", end_sentence(result).removeprefix("Left on, the piece ").removesuffix(".")
    yield "power into the piece", _powers(result)


def _bounds(band: Band) -> str:
    """Slowest and fastest heat by what is known of the piece's resistance and of how it radiates."""
    slow = "never" if band.slowest is None else time_words(band.slowest)
    fast = "never" if band.fastest is None else time_words(band.fastest)
    ends = f"{celsius(band.coolest_end)} to {celsius(band.hottest_end)} at the end"
    return f"{fast} to {slow}, {ends}" if fast != slow else f"{fast}, {ends}"


def _when_reached(result: HeatResult) -> Iterator[tuple[str, str]]:
    asked = result.wanted
    yield "surface and core then", f"{celsius(asked.surface)} and {celsius(asked.core)}"
    if asked.depth is not None and asked.depth_above is not None:
        through = asked.depth >= result.outer - float(result.radii[0])
        deep = "right through" if through else "nowhere" if asked.depth <= 0 else f"{1e3 * asked.depth:.1f} mm deep"
        yield f"warmer than {celsius(asked.depth_above)} then", deep
    if asked.energy is not None:
        plug = result.scenario.tables.heat.supply_efficiency is not None
        kwh = f"{asked.energy / JOULES_PER_KWH:.2g} kWh ({value_text(asked.energy, 'J')})"
        yield "energy to reach it", f"{kwh} {'from the mains' if plug else 'out of the supply, whose own losses come on top'}"
    if asked.cost is not None:
        yield "cost of it", f"{asked.cost:.2g}, in the currency of heat.price_per_kwh"
    share = _share(result, asked.reached)
    if share is not None:
        yield "of the supply's energy", f"{100 * share:.0f} % went into the piece"


def _share(result: HeatResult, until: float | None) -> float | None:
    """Share of the supply's energy that is in or has gone through the piece [1] up to a time [s]."""
    told = result.series
    if until is None or "supply.power_w" not in told:
        return None
    time = np.append(told["time_s"][told["time_s"] < until], until)
    piece, supply = (np.trapezoid(np.interp(time, told["time_s"], told[key]), time) for key in ("piece_power_w", "supply.power_w"))
    return float(piece / supply) if supply > 0 else None


def _powers(result: HeatResult) -> str:
    """Power into the piece at the times that matter."""
    time, power = result.series["time_s"], result.series["piece_power_w"]
    most = int(np.argmax(power))
    told = [f"{value_text(float(power[0]), 'W')} cold"]
    if most not in (0, len(power) - 1):
        told.append(f"most {value_text(float(power[most]), 'W')} after {time_words(float(time[most]))}")
    if result.wanted.reached is not None:
        told.append(f"{value_text(float(np.interp(result.wanted.reached, time, power)), 'W')} when it is as wanted")
    return ", ".join([*told, f"{value_text(float(power[-1]), 'W')} at the end"])


@dataclass(frozen=True)
class Line:
    """One line of a table of limits. watched: the one shown; parts: all it stands for, its own first."""

    watched: Watched
    parts: tuple[str, ...]

    @property
    def name(self) -> str:
        """The part, or both sides of it."""
        return part_words(self.parts[0]) if len(self.parts) == 1 else f"{plural(self.parts[0])}, both"

    @property
    def found(self) -> str:
        """At the worst instant."""
        return value_text(self.watched.worst.value, self.watched.worst.unit)

    @property
    def allowed(self) -> str:
        """The limit with its direction: "≤ 200 V"."""
        return allowed_text(self.watched.worst)

    @property
    def at(self) -> str:
        """When it is worst."""
        return "start" if self.watched.at <= 0 else time_words(self.watched.at)

    @property
    def broken(self) -> str:
        """When it is not kept; empty where it always is."""
        return broken_words(self.watched)


def lines(result: HeatResult) -> list[Line]:
    """Every limit, worst first; sides that agree within two points of headroom share a line."""
    found: list[Line] = []
    for each in result.findings:
        place = next((k for k, line in enumerate(found) if _alike(line.watched, each)), None)
        if place is None:
            found.append(Line(each, (each.worst.part,)))
        else:
            found[place] = Line(found[place].watched, (*found[place].parts, each.worst.part))
    return found


def _alike(one: Watched, other: Watched) -> bool:
    a, b = one.worst, other.worst
    if a.part == b.part or (family(a.part), a.limit, a.grade) != (family(b.part), b.limit, b.grade):
        return False
    return a.headroom == b.headroom if a.headroom is None or b.headroom is None else abs(a.headroom - b.headroom) < 0.02


def tally(result: HeatResult) -> str:
    """How many limits have each grade: "2 fail, 41 hold"."""
    words = {"fails": "fail", "unknown": "unknown", "marginal": "marginal", "holds": "hold"}
    counts = {word: sum(each.grade == grade for each in result.limits) for grade, word in words.items()}
    return ", ".join(f"{count} {word}" for word, count in counts.items() if count)


def confirmed_sentence(result: HeatResult) -> str:
    """What cold starts of the same loads say of the heat."""
    if not result.confirmed:
        return "No state of this heat was started from rest: whether the heater starts with a warm piece was not checked."
    failed = [each for each in result.confirmed if each.outcome not in ("settled", "drifting")]
    if failed:
        first = failed[0]
        return f"Started from rest with the piece as it is {_state_words(first)}, the heater {outcome_words(first)}."
    count = len(result.confirmed)
    head = (
        f"Switched on with the piece as it is at {count} of these moments" if count > 1 else "Switched on once with the same piece"
    )
    every = ((abs(value), key, each.name) for each in result.confirmed for key, value in each.differences.items())
    far, key, name = max(every, default=(0.0, "", ""))
    where = f" ({measure_words(key)}, {name})" if key else ""
    if far <= AGREES:
        return printable(f"{head}, the heater starts and comes to the same within {_share_text(far)}{where}.")
    return printable(f"{head}, the heater starts, but what it then does differs from the heat by up to {_share_text(far)}{where}.")


def _share_text(share: float) -> str:
    return f"{100 * share:.2g} %" if share >= 1e-4 else "0.01 %"


def _state_words(each: Confirmed) -> str:
    return f"{each.name} ({_after(each.time)})"


def outcome_words(each: Confirmed) -> str:
    """How a cold start ended."""
    return ENDS.get(each.outcome, each.outcome)


def confirmed_measures(result: HeatResult) -> list[str]:
    """Keys of the measures that cold starts are compared by."""
    return list(dict.fromkeys(name for each in result.confirmed for name in each.differences))


def difference_text(value: float | None) -> str:
    """A difference with its sign: "+0.31 %"."""
    if value is None or not np.isfinite(value):
        return "–"
    return f"{100 * value:+.2f} %".replace("-", "−") if abs(value) >= 5e-5 else "0.00 %"


def predicted_text(errors: Mapping[str, float]) -> str:
    """Errors of what was predicted: "coil current 1.2 %, frequency 0.3 %"."""
    return ", ".join(f"{PREDICTED.get(name, name)} {_share_text(abs(value))}" for name, value in errors.items())


def trust_rows(result: HeatResult) -> Iterator[tuple[str, str]]:
    """How well the course of the heat is computed: (what, text)."""
    trust = result.trust
    simulated = f"{trust.simulated} simulated" + (f", {trust.found} found from an earlier run" if trust.found else "")
    yield "states of the heater", simulated
    if trust.prediction:
        yield "predicted before they were simulated", f"off by at most: {predicted_text(trust.prediction)}"
    yield "energy of the heater not accounted for", _share_or_dash(trust.energy)
    yield "energy of the piece not accounted for", _share_or_dash(trust.piece)
    yield (
        "steps of time",
        f"estimated errors add up to {trust.step_k:.1g} K"
        if trust.step_k < 1
        else f"estimated errors add up to {trust.step_k:.0f} K",
    )


def _share_or_dash(value: float) -> str:
    return _share_text(abs(value)) if np.isfinite(value) else "–"


CAUTIONS = (
    (
        "Red-hot metal",
        "The piece glows, scales and drips, and burns long after it looks cold. Hold it with something that does not conduct, "
        "stand so that it can fall without hitting anybody, and keep face, clothes and cables away.",
    ),
    (
        "Fumes",
        "Oil, paint, flux and plating burn off and are poisonous, zinc, cadmium and lead above all. Strip the piece; ventilate.",
    ),
    (
        "Mains, voltage and stored charge",
        "Work on the mains belongs to people licensed for it. The tank carries more than three times the supply voltage at a "
        "frequency that burns deeply. When it is off, discharge the capacitors through a resistor, measure, and only then touch.",
    ),
    (
        "Magnetic field and implants",
        "The field heats rings, watches and tools and can disturb pacemakers and other implants. Wearers keep well away.",
    ),
    ("Water and steam", "A coil that loses its flow beside a hot piece boils at once. Watch the flow and let steam escape."),
    (
        "Fire",
        "Work on what does not burn, with an extinguisher for electrical fires at hand, and never leave a heater running alone.",
    ),
)
"""Before switching anything on."""
