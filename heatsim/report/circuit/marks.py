# SPDX-License-Identifier: GPL-3.0-or-later
"""What a check found, by symbol: currents, voltages and temperatures beside each part, and limits that fail or only just hold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from heatsim.parts.heater import Heater
from heatsim.report.base.words import number, value_text
from heatsim.studies.check import CaseResult
from heatsim.verdict import SEVERITY, Finding

Lines = tuple[str, ...]

SIGNS = {"fails": "✕", "marginal": "◆"}
"""Grades that are marked, and with what."""

NIL = 1e-6
"""What a number of a run is below is nothing [SI]."""

WHOLE = "whole"
"""Symbol that stands for the circuit as a whole."""

OF_THE_GATE = {
    "pull-up": "pull_up.{side}",
    "clamp": "clamp.{side}",
    "pull-down": "pull_down.{side}",
    "gate resistor": "gate_resistor.{side}",
    "coupling diode": "diode.{side}",
    "driver": "driver.{side}",
}
"""First words of a limit of a gate's network -> symbol; its other limits are the gate's own."""

TOLD_AT = {name.split(".")[0]: "gate" for name in OF_THE_GATE.values()} | {"gate_loop": "gate"}
"""Symbols in narrow places: their marks are written at another one of the same side."""

CARRIED = {"tank": "coil_lead", "supply": "supply.resistance"}
"""What a conductor carries -> symbol, where the symbol is not the part it belongs to."""


def marked(findings: Iterable[Finding], heater: Heater) -> dict[str, tuple[Finding, ...]]:
    """Symbol -> findings that fail or only just hold, worst first."""
    found: dict[str, list[Finding]] = {}
    for each in findings:
        if each.grade in SIGNS:
            for name in symbols_of(each, heater):
                found.setdefault(name, []).append(each)
    return {name: tuple(sorted(some, key=_order)) for name, some in found.items()}


def _order(finding: Finding) -> tuple[int, float]:
    return -SEVERITY[finding.grade], -1.0 if finding.headroom is None else finding.headroom


def symbols_of(finding: Finding, heater: Heater) -> Lines:
    """The symbols that a finding is about."""
    part, _, side = finding.part.partition(".")
    if part == "gate":
        own = next((name for words, name in OF_THE_GATE.items() if finding.limit.startswith(words)), "gate.{side}")
        return (own.format(side=side),)
    if part == "switch" and not side:
        return "switch.left", "switch.right"
    if part == "switch" and finding.limit.startswith("drain voltage"):
        return (f"drain.{side}", f"switch.{side}")
    if part == "conductor":
        carries = next(each.carries for each in heater.conductors if each.key == side)
        whose, _, what = carries.partition(" ")
        return (CARRIED.get(carries) or f"{'drain_lead' if what == 'switch' else 'choke'}.{whose}",)
    if part == "supply" and "fuse" in finding.limit and heater.supply.source and heater.supply.source.fuse_rating is not None:
        return ("supply.fuse",)
    return ({"water": "coil", "oscillator": WHOLE, "run": WHOLE}.get(part, finding.part),)


def mark_text(finding: Finding) -> str:
    """A finding in a line: word and sign, limit, and what was found against what is allowed."""
    sign = f"{SIGNS[finding.grade]}\xa0{'FAILS' if finding.grade == 'fails' else finding.grade}"
    limit = finding.limit.removesuffix(" of the tank voltage")  # which it is written beside
    if finding.value is None or finding.allowed is None:
        return f"{sign}: {limit}"
    value, allowed = value_text(finding.value, finding.unit), value_text(finding.allowed, finding.unit)
    return f"{sign}: {limit} {value}, limit {allowed}"


def simulated(case: CaseResult) -> dict[str, Lines]:
    """Symbol -> lines of what the run gave for it; nothing for what it did not give."""
    found = {name: tuple(lines) for name, lines in _simulated(case.measures, case.heater)}
    return {name: lines for name, lines in found.items() if lines}


def told_at(finding: Finding, symbol: str) -> bool:
    """Whether a finding about several symbols is written beside this one: that of a drain's voltage at the drain."""
    return not (symbol.startswith("switch.") and finding.limit.startswith("drain voltage"))


def _simulated(measures: Mapping[str, Any], heater: Heater) -> Iterator[tuple[str, list[str]]]:
    def texts(*wanted: tuple[str, str, str]) -> list[str]:
        """Lines of measures: key, unit, what follows the number."""
        known = [(number(measures, key), unit, after) for key, unit, after in wanted]
        return [
            f"{value_text(value if abs(value) > NIL else 0.0, unit)}{after}" for value, unit, after in known if value is not None
        ]

    def joined(*wanted: tuple[str, str, str]) -> list[str]:
        return [", ".join(found)] if (found := texts(*wanted)) else []

    yield "supply", joined(("supply.mean_current_a", "A", " mean"), ("supply.power_w", "W", ""))
    yield "tank", texts(("tank.frequency_hz", "Hz", ""), ("tank.peak_voltage_v", "V", " peak"), ("tank.rms_voltage_v", "V", " rms"))
    yield "coil", joined(("coil.rms_current_a", "A", " rms"), ("coil.peak_current_a", "A", " peak"))
    bank = joined(("capacitor.rms_current_a", "A", " rms"), ("capacitor.peak_voltage_v", "V", " peak"))
    yield "capacitors", [*bank, *_each_capacitor(measures, heater)]
    yield "workpiece", texts(("workpiece.power_w", "W", " into it")) if heater.workpiece else []
    for choke in heater.chokes:
        c = f"choke.{choke.side}"
        warm = "run_temperature" if number(measures, f"{c}.run_temperature_c") is not None else "temperature"
        current = joined((f"{c}.rms_current_a", "A", " rms"), (f"{c}.peak_current_a", "A", " peak"))
        yield c, [*current, *texts((f"{c}.{warm}_c", "°C", ""))]
    each = " each" if heater.switch.count > 1 else ""
    for side in ("left", "right"):
        s, g = f"switch.{side}", f"gate.{side}"
        hot = "run_junction" if number(measures, f"{s}.run_junction_temperature_c") is not None else "junction"
        current = texts((f"{s}.rms_current_a", "A", f" rms{each}"), (f"{s}.peak_current_a", "A", f" peak{each}"))
        yield s, [*current, *texts((f"{s}.{hot}_temperature_c", "°C", " junction"))]
        yield f"drain.{side}", texts((f"drain.{side}.peak_voltage_v", "V", " peak"))
        yield g, joined((f"{g}.max_voltage_v", "V", " highest"), (f"{g}.min_voltage_v", "V", " lowest"))
        yield f"pull_up.{side}", texts((f"{g}.pull_up_loss_w", "W", ""))


def _each_capacitor(measures: Mapping[str, Any], heater: Heater) -> list[str]:
    """What one capacitor carries, the one that carries most where that is known, and its temperature."""
    count, whole = heater.capacitors.count, number(measures, "capacitor.rms_current_a")
    worst, hot = number(measures, "capacitor.worst_rms_current_a"), number(measures, "capacitor.worst_temperature_c")
    warm = f", {value_text(hot, '°C')}" if hot is not None else ""
    if worst is not None:
        return [f"the most loaded one {value_text(worst, 'A')} rms{warm}"]
    return [f"each {value_text(whole / count, 'A')} rms"] if whole is not None and count > 1 else []
