# SPDX-License-Identifier: GPL-3.0-or-later
"""What a verdict does not say by itself: inputs without effect, limits that were not judged, a load that is not there."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain

from heatsim.engine import MEASURABLE
from heatsim.errors import InputError
from heatsim.measures.gather import SIDES
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.bank import bank_cautions
from heatsim.studies.check.heat import judged_temperature
from heatsim.studies.check.limits import AFTER, case_limits
from heatsim.studies.check.limits.choke import INDUCTANCE_LEFT
from heatsim.studies.check.limits.conductor import conductor_cautions
from heatsim.studies.check.limits.device import capacitor_cautions, device_cautions
from heatsim.studies.check.limits.gate_network import gate_cautions
from heatsim.studies.check.limits.latch import CAUTION
from heatsim.studies.check.limits.start import LATE as LATE_START
from heatsim.studies.check.limits.start import device_peak_key
from heatsim.studies.check.limits.water import water_cautions
from heatsim.studies.check.result import CaseResult, CheckWarning
from heatsim.studies.check.silicon import judged_junction

LEAST_LOAD = 1e-3
"""A workpiece that adds a smaller share than this of the coil's own resistance draws next to nothing."""

LOADED, EMPTY = {"load", "loaded", "workpiece", "bar"}, {"no", "un", "unloaded", "without", "empty", "idle"}
"""Words in the name of a case that say a workpiece is in, and those that say it is not."""


def check_warnings(scenario: Scenario, cases: Sequence[CaseResult]) -> tuple[CheckWarning, ...]:
    """Every warning about the checked cases, equal ones of several cases as one."""
    found: dict[str, list[str]] = {}
    for case in cases:
        about = (
            _load(scenario, case),
            _cold_steel(scenario, case),
            case.heater.coil.cautions,
            device_cautions(scenario.case(case.name), case.heater),
            capacitor_cautions(case.heater),
            gate_cautions(scenario.case(case.name).tables.gate),
            bank_cautions(case),
            _swinging(case),
            _starting(case),
            _repeated(scenario, case, cases),
            _own_settings(scenario, case),
            _curves(scenario, case),
            _limits(scenario, case),
            _ageing(case),
            conductor_cautions(case.heater, case.measures),
            water_cautions(case.heater, case.measures, [each.measures for each in cases]),
        )
        for text in chain.from_iterable(about):
            found.setdefault(text, []).append(case.name)
    names = tuple(case.name for case in cases)
    idle = (CheckWarning(names, f"{each} changes nothing of {_named(names)}.") for each in scenario.without_effect(names))
    told = (CheckWarning(tuple(about), text) for text, about in found.items())
    return (*told, *_never_loaded(scenario, names), *_on_resistance(cases), *_not_cooled(scenario, names), *idle)


def _named(names: Sequence[str]) -> str:
    return f"case{'s' if len(names) > 1 else ''} {' and '.join(names)}"


def _load(scenario: Scenario, case: CaseResult) -> Iterator[str]:
    """A load that is called so and not there, or there and not felt."""
    table, piece = scenario.case(case.name).tables.case[case.name].workpiece, case.heater.workpiece
    words = set(re.split("[-_0-9]+", case.name))
    if table is None and words & LOADED and not words & EMPTY:
        field = f"[case.{case.name}.workpiece]"
        yield f'The case is called "{case.name}" but has no workpiece: it shows the empty coil. Give {field}.'
    if table is not None and piece is None:
        yield "The workpiece has no effect: its share is 0 %, so this is the empty coil."
    coil = case.heater.coil.resistance
    if piece is not None and piece.resistance - coil < LEAST_LOAD * coil:
        yield "The workpiece has next to no effect: it adds less than a thousandth of the coil's own resistance."


def _cold_steel(scenario: Scenario, case: CaseResult) -> Iterator[str]:
    """A magnetic piece by material, which is judged at one temperature of those that it goes through."""
    own = scenario.case(case.name)
    table = own.tables.case[case.name].workpiece
    if table is None or table.material is None or table.permeability is not None or case.heater.workpiece is None:
        return
    known = catalogue_with(own.tables.heater.catalogue, own.folder)
    metal = known.metal(table.material, "")
    curie = metal.hot.curie_c if metal.hot else None
    if metal.curve and curie is not None and table.temperature < curie:
        yield (
            f"The workpiece is judged at {format_quantity(table.temperature, '°C')} only. While it heats up it can load the "
            f"heater more, most of all just below {format_quantity(curie, '°C')}, where it stops being magnetic: heatsim heat "
            "judges every limit along the way."
        )


def _swinging(case: CaseResult) -> Iterator[str]:
    """A run that is at rest but for a swing that dies away."""
    if case.outcome == "settled" and case.outcome_detail:
        yield f"{case.outcome_detail[0].upper()}{case.outcome_detail[1:]}."


def _starting(case: CaseResult) -> Iterator[str]:
    """A start that comes late; and what holds for every word on fuses."""
    kind, gate, source = case.measures.get("startup.class"), case.heater.gate, case.heater.supply.source
    begun = case.measures.get("startup.begin_s")
    if kind == LATE_START and isinstance(begun, float):
        order = " Bring the gate supply up before the main supply." if gate.supply_delay + gate.supply_rise > 1e-3 else ""
        yield f"It starts late: the tank swings from {format_quantity(begun, 's')} on, when the supply has long been up.{order}"
    if source is not None and case.outcome == "latched":
        yield CAUTION
    yield from _surge(case)


def _surge(case: CaseResult) -> Iterator[str]:
    """A device that carries more than its rating for lasting current at the start only, where its pulse rating is not given."""
    rating, judged = case.heater.switch.current_rating, case.heater.switch.pulse_current is not None
    start = [_heaviest(case, side, device_peak_key(side)) for side in SIDES]
    later = [_heaviest(case, side, f"switch.{side}.peak_current_a") for side in SIDES]
    if rating is None or judged or case.outcome not in MEASURABLE or not all(map(math.isfinite, (*start, *later))):
        return
    most = max(start)
    if most > rating and max(later) <= rating:
        yield (
            f"At the start a device carries up to {format_quantity(most, 'A')}, beyond its rating of "
            f"{format_quantity(rating, 'A')}: to have it judged, give its rating for a single pulse (switch.pulse_current)."
        )


def _heaviest(case: CaseResult, side: str, key: str) -> float:
    """Current of the device of a side that carries most [A] by a measure of the mean; NaN where it was not measured."""
    value = case.measures.get(key)
    return value * case.heater.heaviest_share(side) if isinstance(value, float) else math.nan


def _never_loaded(scenario: Scenario, names: tuple[str, ...]) -> Iterator[CheckWarning]:
    """No case of the file has a workpiece."""
    if all(table.workpiece is None for table in scenario.tables.case.values()):
        yield CheckWarning(names, "No case has a workpiece, so only the empty coil was judged, not the heater at work.")


def _repeated(scenario: Scenario, case: CaseResult, cases: Sequence[CaseResult]) -> Iterator[str]:
    """Another case before it with the very same parts and limits."""
    for other in cases[: [each.name for each in cases].index(case.name)]:
        if scenario.bearing(other.name) == scenario.bearing(case.name):
            yield f'It repeats case "{other.name}": every part and every limit is the same.'
            return


def _own_settings(scenario: Scenario, case: CaseResult) -> Iterator[str]:
    """Fields that the case sets to another value than the file's and that change nothing of it."""
    settings = scenario.tables.case[case.name].set
    for field, value in settings.items():
        others = {each: kept for each, kept in settings.items() if each != field}
        try:
            if _idle(scenario.change({f"case.{case.name}.set": others}), scenario, case.name):
                yield f"Its own setting {field} = {value} changes nothing."
        except InputError:  # without it the case cannot be, so it does change something
            continue


def _idle(without: Scenario, scenario: Scenario, name: str) -> bool:
    """Whether what sets two scenarios apart in a case is written down and bears on nothing."""
    one, other = without.case(name).tables, scenario.case(name).tables
    written = one.model_dump(exclude={"case"}) != other.model_dump(exclude={"case"})
    return written and without.bearing(name) == scenario.bearing(name)


def _curves(scenario: Scenario, case: CaseResult) -> Iterator[str]:
    """Chokes that keep their inductance by the curve of their material as it stands, and not by its lower edge."""
    found = {finding.part: finding for finding in case.findings if finding.limit == INDUCTANCE_LEFT}
    for choke in case.heater.chokes:
        part, table = f"choke.{choke.side}", scenario.case(case.name).tables.choke[choke.side]
        finding, core, peak = found.get(part), choke.core, case.measures.get(f"{part}.peak_current_a")
        measured = table.measured is not None or (table.core is not None and table.core.hysteresis is not None)
        if finding is None or core is None or core.material.bias is None or measured or not isinstance(peak, float):
            continue
        value, allowed, bias = finding.value, finding.allowed, core.material.bias
        field = core.winding.turns * peak / core.ring.path_length
        lowest = 0.0 if value is None else value - float(bias.share(field) - bias.band(field)[0])
        if value is not None and allowed is not None and lowest < allowed <= value:
            yield (
                f"What is left of the {choke.side} choke's inductance at its peak rests on a curve of {core.material.alloy} known "
                f"within a band: it may be as little as {100 * max(lowest, 0.0):.0f} %, below the {100 * allowed:.0f} % allowed."
            )


def _limits(scenario: Scenario, case: CaseResult) -> Iterator[str]:
    """Limits that could not be asked about, and those that the changes made vanish."""
    judged = {(finding.part, _plain(finding.limit)) for finding in case.findings}
    here = _keys(scenario, case.name, case.heater)
    missed = [key for key in here if key not in judged]
    if missed:
        yield f"{len(missed)} of {len(here) + 1} limits were not judged, because the run did not settle: {_listed(missed[:3])}" + (
            " and more." if len(missed) > 3 else "."
        )
    if scenario.changes:
        yield from _vanished(scenario, case.name, here)


def _vanished(scenario: Scenario, name: str, here: Sequence[tuple[str, str]]) -> Iterator[str]:
    """Limits of the file as it stands that are gone with its changes."""
    try:
        before = scenario.unchanged
        gone = [key for key in _keys(before, name, before.heater(name)) if key not in here]
    except InputError:
        return
    if gone:
        yield f"After these changes there is no such limit any more: {_listed(gone)}."


def _keys(scenario: Scenario, name: str, heater: Heater) -> list[tuple[str, str]]:
    return [(limit.part, _plain(limit.name)) for limit in case_limits(scenario.case(name), heater, {})]


def _plain(limit: str) -> str:
    """A limit's name without the run after which it is judged."""
    return limit.split(AFTER)[0]


def _ageing(case: CaseResult) -> Iterator[str]:
    """Powder cores warm enough for their binder to age."""
    for choke in case.heater.chokes:
        part, material = f"choke.{choke.side}", choke.core.material if choke.core else None
        lasts, warm = case.measures.get(f"{part}.binder_life_s"), judged_temperature(case.measures, f"{part}.")
        if material is None or material.ageing_limit_c is None or not isinstance(lasts, float) or not isinstance(warm, float):
            continue
        if warm > material.ageing_limit_c:
            yield (
                f"The {choke.side} choke's {material.alloy} ages: at {format_quantity(warm, '°C')} its binder lasts some "
                f"{format_quantity(lasts, 's', 1)} of running, within a factor of five (rule of thumb). Ask for a life with "
                "limits.core_life."
            )


RESISTANCE_OFF = 0.15
"""Share by which the on-resistance at the temperature found may be off the one simulated before that is told."""


def _on_resistance(cases: Sequence[CaseResult]) -> Iterator[CheckWarning]:
    """Switches that come, in the case that warms them most, to another temperature than their on-resistance was simulated for."""
    hottest: tuple[float, float, CaseResult] | None = None
    for case in cases:
        for side in ("left", "right"):
            warm, ratio = judged_junction(case.measures, side), case.measures.get(f"switch.{side}.on_resistance_ratio")
            if isinstance(warm, float) and isinstance(ratio, float) and (hottest is None or warm > hottest[0]):
                hottest = warm, ratio, case
    if hottest is None or abs(hottest[1] - 1) <= RESISTANCE_OFF or hottest[2].heater.silicon is None:
        return
    warm, ratio, case = hottest
    was, now = (format_quantity(case.heater.switch.on_resistance * each, "ohm") for each in (1.0, ratio))
    given = format_quantity(hottest[2].heater.silicon.resistance_c, "°C")
    text = (
        f"The switches are simulated with an on-resistance of {was}, as at {given}, and come to {warm:.0f} °C, where it "
        f"is {now}. The temperatures allow for it, currents and voltages do not. Put switch.on_resistance = "
        f'"{now.replace("Ω", "ohm")}" and switch.cooling.on_resistance_temperature = "{warm:.0f} °C".'
    )
    yield CheckWarning((case.name,), text)


def _not_cooled(scenario: Scenario, names: tuple[str, ...]) -> Iterator[CheckWarning]:
    """Nothing says how the switches are cooled."""
    bare = tuple(name for name in names if scenario.case(name).tables.switch.cooling is None)
    if bare:
        yield CheckWarning(bare, "The silicon's temperature is not judged: give [switch.cooling].")


def _listed(keys: Iterable[tuple[str, str]]) -> str:
    """Limits by name, equal ones of both sides once: "chokes: temperature"."""
    return ", ".join(dict.fromkeys(f"{part.split('.')[0]}: {limit}" for part, limit in keys))
