# SPDX-License-Identifier: GPL-3.0-or-later
"""What a result rests on, in words: where its values come from, and how its limits are known."""

from __future__ import annotations

from heatsim.parts.choke import Choke
from heatsim.parts.film import FilmCapacitor
from heatsim.parts.heater import Heater
from heatsim.parts.mosfet_curves import compared_points
from heatsim.parts.switch import Origin, Switch, figure_unit
from heatsim.report.base.words import BASES, limit_words, value_text
from heatsim.report.check import bank
from heatsim.studies.check import CaseResult, CheckResult


def origins(result: CheckResult) -> list[tuple[str, str]]:
    """(what, where its values come from) for the parts of the heater; of the first case but for the workpieces."""
    heater = result.cases[0].heater
    rows = [(f"{choke.side} choke", choke_origin(choke)) for choke in heater.chokes]
    if heater.capacitors.part is not None:
        rows.append(("capacitors", _capacitors(heater.capacitors.part)))
    rails = result.scenario.tables.capacitors.rails
    if rails is not None or heater.capacitors.current_rating is not None:
        rows.append(("capacitor bank", bank.origin(heater, frozenset(rails.model_fields_set if rails else ()))))
    rows.append(("work coil", _coil(heater)))
    rows += [(f"workpiece, case {case.name}", _workpiece(case.heater)) for case in result.cases]
    rows.append(("switches", _switches(heater.switch)))
    rows.append(("ratings and limits", "as written in the scenario file" + (", else the device's" if heater.switch.device else "")))
    return rows


def _capacitors(part: FilmCapacitor) -> str:
    return (
        f"{part.name} of the catalogue ({part.build}), over which figures in the scenario file win: {BASES[part.provenance]}, "
        f"{part.source}"
    )


def _switches(switch: Switch) -> str:
    if switch.user_model:
        return (
            f"the builder's own model {switch.user_name}, as it stands: nothing of it is fitted to the datasheet figures. It "
            "stands in for transconductance, capacitances, charges, gate resistance and diode; they need not be given, ratings must"
        )
    where = (
        f"of {switch.device} of the catalogue, over which those in the scenario file win"
        if switch.device
        else "in the scenario file"
    )
    return f"a power-MOS model built from the datasheet figures {where}"


def figures(result: CheckResult) -> list[tuple[str, str]]:
    """(figure of the MOSFET that is not the scenario's own, its value and where it comes from) of the first case."""
    switch = result.cases[0].heater.switch
    return [(each.field.replace("_", " "), f"{_figure(switch, each.field)}; {_origin(each)}") for each in switch.origins]


def _figure(switch: Switch, field: str) -> str:
    value = getattr(switch, field, None)
    if value is None:
        value = getattr(switch.curves, field)
    return value_text(value, figure_unit(field)) if value else "none"


def _origin(origin: Origin) -> str:
    band = f", within a factor of {origin.band:g}" if origin.band else ""
    if origin.basis == "estimate":
        return f"estimated{band}: {origin.words} (common practice, no source)"
    if origin.basis == "assumed":
        return f"not given, assumed{band}: {origin.words} (common practice, no source)"
    return f"{origin.words}: {BASES.get(origin.basis, origin.basis)}"


def device(result: CheckResult) -> list[tuple[str, str]]:
    """(figure of the MOSFET's datasheet, what the model comes to) of the first case; none for the builder's own model."""
    switch = result.cases[0].heater.switch
    estimated = {each.field.replace("_", " ") for each in switch.estimated}
    return [
        (
            each.name,
            f"{value_text(each.given, each.unit)}{' estimated' if each.name.replace('-', ' ') in estimated else ''}; "
            f"in the model {value_text(each.model, each.unit)} ({each.difference:+.1%})",
        )
        for each in compared_points(switch)
    ]


def _coil(heater: Heater) -> str:
    coil = heater.coil
    head = "measured at its terminals" if coil.basis == "measured" else "an estimate"
    return f"{head}; {coil.origin}" if coil.origin else head


def _workpiece(heater: Heater) -> str:
    piece = heater.workpiece
    if piece is None:
        return "none"
    basis = BASES.get(piece.basis, piece.basis)
    return f"{basis}; {piece.origin}" if piece.origin else basis


def choke_origin(choke: Choke) -> str:
    """Where a choke's curve and losses come from."""
    zero = value_text(choke.curve.inductance_zero, "H")
    basis = BASES.get(choke.saturation_basis, choke.saturation_basis)
    text = f"{zero} at zero current; saturation: {basis}"
    if choke.curve.known_to != float("inf"):
        text += f", known up to {choke.curve.known_to:g} A"
    if choke.core is None:
        return f"{text}; core loss not known, counted as none"
    material = choke.core.material
    ring = f"{choke.core.winding.turns} turns on {choke.core.ring.stack} × {material.name} ({material.alloy})"
    known = "; ".join(f"{what}: {BASES.get(basis, basis)} — {source}" for what, basis, source in material.origins)
    return f"{text}; {ring}; material data: {known}"


def bases(case: CaseResult) -> list[tuple[str, str]]:
    """(basis in words, limits that rest on it), for every basis among the findings of a case."""
    found: dict[str, list[str]] = {}
    for finding in case.findings:
        found.setdefault(finding.basis, []).append(limit_words(f"{finding.part}: {finding.limit}"))
    return [(BASES.get(basis, basis), "; ".join(dict.fromkeys(limits))) for basis, limits in found.items()]
