# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of the chokes: inductance left at the peak, current density, temperature, life of the binder."""

from __future__ import annotations

from heatsim.parts.choke import Choke
from heatsim.parts.curves import GappedCurve
from heatsim.parts.thermal import CEILING, bias_factor
from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit

HEAT_REMEDIES = {
    "core": (
        "Core loss is the largest of its losses",
        "Use a taller stack of rings (a second ring halves the flux swing at the same voltage), or a material with lower loss.",
    ),
    "direct current": (
        "The direct current in its copper is the largest of its losses",
        "Use thicker wire or more strands, or blow air over it.",
    ),
    "ripple current": (
        "The ripple current in its copper is the largest of its losses",
        "Raise the inductance with more rings or turns, which lowers the ripple, or use a bundle of thin strands; blow air "
        "over the choke.",
    ),
    "None": ("Its losses are not known", "Give ring, wire and material."),
}
"""What heats a choke most -> cause and remedy."""

INDUCTANCE_LEFT = "inductance left at the peak"
"""Name of that limit."""


AFTER = " after "
"""Stands between the name of a limit and the run after which it is judged."""


def inductance_left(case: JudgedCase, choke: Choke) -> Limit:
    """Share of the zero-current inductance left at the peak current against the scenario's own limit."""
    part, name = f"choke.{choke.side}", INDUCTANCE_LEFT
    key, allowed = f"{part}.inductance_remaining_ratio", case.limits.choke_inductance_remaining
    mean, peak = case.number(f"{part}.mean_current_a"), case.number(f"{part}.peak_current_a")
    if choke.saturation_basis == "unknown" or peak > choke.curve.known_to:
        unknown, settle = _saturation_unknown(case, choke)
        return Limit(part, name, key, None, "ratio", "unknown", lower=True, remedy=settle, unknown=unknown, settle=settle)
    band = f" The curve is from memory{_tolerance(choke)}." if choke.saturation_basis == "memory" else ""
    cause = (
        f"Its current peaks at {format_quantity(peak, 'A')} around a mean of {format_quantity(mean, 'A')}; at the peak "
        f"{100 * case.number(key):.0f} % of the zero-current inductance is left.{band}"
    )
    other = "of lower permeability, or with more gap" if isinstance(choke.curve, GappedCurve) else "of lower permeability"
    remedy = f"Use more rings, larger rings or rings {other}, or lower the supply voltage."
    return Limit(part, name, key, allowed, "ratio", choke.saturation_basis, lower=True, cause=cause, remedy=remedy)


def _tolerance(choke: Choke) -> str:
    """How well the bias curve of its material is known, in words."""
    bias = choke.core.material.bias if choke.core else None
    return f", good to about {100 * bias.tolerance:.0f} points" if bias else ""


def _saturation_unknown(case: JudgedCase, choke: Choke) -> tuple[str, str]:
    """Why it is not known how the choke saturates, and which field would settle it."""
    fields = f"choke.{choke.side}.measured.table"
    if choke.saturation_basis != "unknown":
        beyond = f"its peak current lies beyond {choke.curve.known_to:g} A, where the measured table ends"
        return beyond, f"Measure its inductance against direct current up to the peak ({fields})."
    if case.scenario.tables.choke[choke.side].measured is None and choke.core is not None:
        own = f"material.{choke.core.material.name}.saturation_flux_density in a catalogue of your own, or {fields}"
        return f"how {choke.core.material.alloy} saturates is not in the catalogue", f"Give it ({own})."
    own = f"{fields}, or saturation_current there"
    return "how the choke saturates is not known", f"Measure its inductance against direct current ({own})."


def current_density(case: JudgedCase, choke: Choke) -> Limit:
    """Rms current over the copper's area against the scenario's own limit."""
    part, allowed = f"choke.{choke.side}", case.limits.copper_current_density
    key, remedy = f"{part}.current_density_a_per_m2", "Use more strands or thicker wire, or lower the supply voltage."
    if choke.core is not None:
        remedy = "Use more strands or thicker wire, as far as they fit through the hole, or lower the supply voltage."
    unknown, settle = "", ""
    if not choke.copper_area:
        unknown = "the choke's copper area is not known"
        settle = f"Give it (choke.{choke.side}.measured.copper_area), or give turns, core and wire as well as [choke.measured]."
    cause, name = "The wire is too thin for the mean choke current and its ripple.", "current density in the copper, rms"
    return Limit(part, name, key, allowed, "A/m2", "builder", cause=cause, remedy=remedy, unknown=unknown, settle=settle)


def temperature(case: JudgedCase, choke: Choke) -> Limit:
    """Temperature of a choke against the scenario's own limit: after its run, or for ever where it states none."""
    part, allowed, run = f"choke.{choke.side}", case.limits.choke_temperature, case.scenario.tables.heater.run
    name = "temperature" if run is None else f"temperature{AFTER}{format_quantity(run, 's')} from cold"
    key = f"{part}.temperature_c" if run is None else f"{part}.run_temperature_c"
    unknown, settle = _temperature_unknown(case, choke)
    if choke.core is not None and unknown and run is None and case.number(f"{part}.temperature_low_c") > allowed:
        cause = f"Its copper alone takes it there; the core loss of {choke.core.material.alloy} comes on top."
        return Limit(part, name, f"{part}.temperature_low_c", allowed, "°C", "estimate", cause=cause, remedy=settle)
    cause, remedy = HEAT_REMEDIES[str(case.measures.get(f"{part}.heat_cause"))]
    cause = f"{cause} ({_heat(case, choke)}).{_warm_up(case, part)}"
    return Limit(part, name, key, allowed, "°C", "estimate", cause=cause, remedy=remedy, unknown=unknown, settle=settle)


def _temperature_unknown(case: JudgedCase, choke: Choke) -> tuple[str, str]:
    """What is missing for a choke's temperature, and which field would settle it; empty when nothing is."""
    if choke.core is None:
        fields = "choke.turns, [choke.core] and [choke.wire] as well as [choke.measured]"
        return "ring, wire and material of the choke are not known, so neither are core loss and cooling", f"Give {fields}."
    material = choke.core.material
    if material.loss is not None:
        return "", ""
    least = case.measures.get(f"choke.{choke.side}.temperature_low_c")
    copper = f"; its copper alone brings it to some {format_quantity(least, '°C')}" if least is not None else ""
    fields = f"material.{material.name}.loss in a catalogue of your own, named by heater.catalogue"
    return f"the core loss of {material.alloy} is not in the catalogue{copper}", f"Give it ({fields})."


def _heat(case: JudgedCase, choke: Choke) -> str:
    """Losses, cooling and the band of temperature in words."""
    part, core = f"choke.{choke.side}", choke.core
    lost, copper = (format_quantity(case.number(f"{part}.{name}_loss_w"), "W") for name in ("core", "copper_hot"))
    speed = case.heater.air_speed
    air = "still air" if speed == 0 else f"air at {speed:g} m/s"
    leads = "" if core is None or core.winding.lead > 0 else ", leads left out"
    factor = bias_factor(choke, case.number(f"{part}.mean_current_a"))
    bias = f", with up to {factor:.2g} times the core loss for the DC bias, which is not printed" if factor > 1.05 else ""
    return f"core {lost}, direct and ripple current in hot copper {copper}; {air}{leads}; {_band(case, part)}{bias}"


def _band(case: JudgedCase, part: str) -> str:
    """The band of the temperature it comes to if it runs for good."""
    low, high = (case.number(f"{part}.temperature_{end}_c") for end in ("low", "high"))
    ceiling = format_quantity(CEILING, "°C")
    if case.measures.get(f"{part}.heat_state") == "destroyed":
        return f"it finds no balance below {ceiling}, where it counts as destroyed"
    upper = f"destruction above {ceiling}" if high >= CEILING else format_quantity(high, "°C")
    return f"between {format_quantity(low, '°C')} and {upper} if it runs for good"


def _warm_up(case: JudgedCase, part: str) -> str:
    """How long it takes to get there, and which runs and rests hold; nothing for a choke that may run for ever."""
    limit, ceiling, longest, run, rest = (
        case.measures.get(f"{part}.{name}_s") for name in ("time_to_limit", "time_to_destruction", "longest_run", "run", "rest")
    )
    if longest is None:
        return ""
    words = []
    if limit is not None:
        reached = f"From cold it reaches {format_quantity(case.limits.choke_temperature, '°C')} after {format_quantity(limit, 's')}"
        words.append(
            f"{reached} and {format_quantity(CEILING, '°C')} after {format_quantity(ceiling, 's')}." if ceiling else f"{reached}."
        )
    words.append(f"With the wanted headroom it may run for {format_quantity(longest, 's')} from cold")
    pattern = f", or {format_quantity(run, 's')} at a time with breaks of {format_quantity(rest, 's')}" if rest is not None else ""
    return " ".join(["", *words]) + f"{pattern} (heater.run)."


def binder_life(case: JudgedCase, choke: Choke) -> Limit | None:
    """Time for which a powder core's binder lasts, where the scenario asks for one."""
    wanted, part = case.limits.core_life, f"choke.{choke.side}"
    if wanted is None or choke.core is None or choke.core.material.ageing_limit_c is None:
        return None
    material, (unknown, settle) = choke.core.material, _temperature_unknown(case, choke)
    cause = f"The binder of {material.alloy} ages at this temperature: {material.ageing_note or 'losses rise for good'}"
    return Limit(
        part,
        "life of the core's binder",
        f"{part}.binder_life_s",
        wanted,
        "s",
        "common practice",
        lower=True,
        cause=cause.rstrip(".") + ".",
        remedy="Keep the choke cooler: less ripple, a fan, or a material without an organic binder.",
        unknown=unknown,
        settle=settle,
    )
