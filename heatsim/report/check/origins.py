# SPDX-License-Identifier: GPL-3.0-or-later
"""What a result rests on, in words: where its values come from, what was taken for granted, what to beware of."""

from __future__ import annotations

from heatsim.parts.choke import Choke
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.report.base.words import BASES, part_words
from heatsim.studies.check import CaseResult, CheckResult

ASSUMPTIONS = (
    "The workpiece is a coupled branch of constant inductance and resistance at the expected frequency. It does not heat "
    "up, pass its Curie point, or move while the circuit is simulated.",
    "Every part keeps its temperature: the on-resistance of the switches is the one given, the copper of the chokes has "
    "the temperature given in the file.",
    "Within a bank the devices are alike and share the current evenly; the two banks differ by the threshold spread given.",
    "Strays are those in the file. Nothing is coupled from the work coil into the wiring, and no layout is without more "
    "strays than one thinks of.",
    "In the circuit, a choke's core loss is a resistor that fits the ideal stage. The core loss and temperature reported "
    "are computed afterwards from the simulated flux, without the influence of DC bias.",
    "In the circuit, a choke's copper has its direct-current resistance. The copper loss reported adds afterwards what the "
    "ripple costs, counted as a sine at its lowest frequency (Dowell): it can be many times what the power balance shows.",
    "A choke's temperature is a rule of thumb for still air, good to about a third.",
    "Capacitors share the current evenly and do not age or warm. In a real bank the ones next to the coil carry more.",
    "The supply is a voltage behind a resistance and an inductance. It does not limit its current, fold back or trip.",
    "The circuit is simulated once, with the values as given. Tolerances of parts are not varied here.",
)
"""What was taken for granted. Each is a simplification of the models as built."""

CAUTIONS = (
    (
        "Mains",
        "The supply hangs on the mains. Work on it belongs to people licensed for it, under the codes of the place. "
        "Use an isolated supply, a fuse, protective earth and a residual-current device.",
    ),
    (
        "Voltage and stored charge",
        "The tank carries more than three times the supply voltage at a hundred amperes and more, "
        "at a frequency that burns deeply without much warning. Capacitors stay charged after switching off: discharge "
        "them through a resistor, measure, and only then touch.",
    ),
    (
        "Red-hot metal",
        "Workpieces glow, drip and stay hot enough to burn long after they look cold. Hold them in something "
        "that does not conduct; keep face, clothes and cables away.",
    ),
    (
        "Magnetic field and implants",
        "The field round the coil heats rings, watches and tools and can disturb pacemakers and "
        "other implants. Wearers keep well away; everybody else keeps hands out of the coil.",
    ),
    (
        "Water and steam",
        "A cooled coil that loses its flow boils at once. Watch the flow, let steam escape, and keep water "
        "off the electronics; cooling water in contact with the tank carries its voltage.",
    ),
    ("Fumes", "Hot oil, paint, flux and plating give off poisonous fumes; zinc, cadmium and lead above all. Ventilate."),
    (
        "Fire",
        "Work on a surface that does not burn, with an extinguisher for electrical fires at hand, and never leave a "
        "heater running alone.",
    ),
    ("Interference", "An unshielded heater can disturb radio services; the limits of the place apply."),
)
"""Cautions by heading."""

NO_PROOF = (
    "A simulation is no proof. It can only tell what follows from the values it was given. Start at a low voltage "
    "with a current limit, measure, compare with the numbers here, and stop when they differ."
)


def origins(result: CheckResult) -> list[tuple[str, str]]:
    """(what, where its values come from) for the parts of the heater; of the first case but for the workpieces."""
    tables, heater = result.scenario.tables, result.cases[0].heater
    rows = [(f"{choke.side} choke", choke_origin(choke)) for choke in heater.chokes]
    rows.append(("work coil", "measured at its terminals" if tables.coil.measured else "computed from its geometry: an estimate"))
    rows += [(f"workpiece, case {case.name}", _workpiece(case.heater)) for case in result.cases]
    user = (
        f"the builder's own model {heater.switch.user_name}"
        if heater.switch.user_model
        else "a power-MOS model built from the datasheet figures in the scenario file"
    )
    rows.append(("switches", user))
    rows.append(("ratings and limits", "as written in the scenario file"))
    return rows


def _workpiece(heater: Heater) -> str:
    return "none" if heater.workpiece is None else BASES.get(heater.workpiece.basis, heater.workpiece.basis)


def choke_origin(choke: Choke) -> str:
    """Where a choke's curve and losses come from."""
    zero = format_quantity(choke.curve.inductance_zero, "H")
    basis = BASES.get(choke.saturation_basis, choke.saturation_basis)
    told = f"{zero} at zero current; saturation: {basis}"
    if choke.curve.known_to != float("inf"):
        told += f", known up to {choke.curve.known_to:g} A"
    if choke.core is None:
        return f"{told}; core loss not known, counted as none"
    material = choke.core.material
    ring = f"{choke.core.winding.turns} turns on {choke.core.ring.stack} × {material.name} ({material.alloy})"
    known = "; ".join(f"{what}: {BASES.get(basis, basis)} — {source}" for what, basis, source in material.origins)
    return f"{told}; {ring}; material data: {known}"


def bases(case: CaseResult) -> list[tuple[str, str]]:
    """(basis in words, limits that rest on it), for every basis among the findings of a case."""
    found: dict[str, list[str]] = {}
    for finding in case.findings:
        found.setdefault(finding.basis, []).append(f"{part_words(finding.part)}: {finding.limit}")
    return [(BASES.get(basis, basis), "; ".join(dict.fromkeys(limits))) for basis, limits in found.items()]
