# SPDX-License-Identifier: GPL-3.0-or-later
"""Entries of the catalogues as parts of one form: what each is, its main figures, and where they are known from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

from heatsim.parts.catalogue import Catalogue
from heatsim.parts.device import Device
from heatsim.parts.film import FilmCapacitor
from heatsim.parts.gauge import gauge_name
from heatsim.parts.materials import Material, Metal
from heatsim.parts.provenance import Provenance
from heatsim.parts.ring import RingCore, RingEntry
from heatsim.parts.sink import PADS, Pad
from heatsim.physics.conductor import awg_diameter, copper_resistivity, enamelled_diameter, wire_area
from heatsim.physics.ringcore import RingSize
from heatsim.quantity import format_quantity

Kind = Literal["ring", "material", "metal", "wire", "device", "capacitor", "pad"]

KINDS: Mapping[Kind, str] = {
    "ring": "rings",
    "material": "materials",
    "metal": "metals",
    "wire": "wire",
    "device": "devices",
    "capacitor": "capacitors",
    "pad": "pads",
}
"""Kinds of parts, and each as `--kind` names it."""

GAUGES = range(-3, 41)
"""Gauges listed, 4/0 to 40: from leads down to wire that no choke is wound of."""

ENAMELLED = (0.1e-3, 5e-3)
"""Bare diameters [m] for which the diameter over the enamel is known."""

LOSS_AT = (0.1, 100e3)
"""Peak flux density [T] and frequency [Hz] at which materials' losses are compared."""

GAUGE_SOURCE = "bare diameter ASTM B258; resistance of annealed copper at 20 °C IEC 60028"
ENAMEL_SOURCE = "IEC 60317-0-1, grade 2, largest diameter, recalled: within 0.01 mm"
PAD_SOURCE = "usual layers, contacts counted in as thickness; the clip's pressure decides within the band; no source"


class Origin(NamedTuple):
    """Where a figure, or a group of them, is known from."""

    what: str
    provenance: Provenance
    source: str


@dataclass(frozen=True)
class Part:
    """An entry: what it is in words, its main figures by name and unit (None: not known), and their origins.

    also: words by which people look for it besides; own: whether it is of the user's own file.
    """

    kind: Kind
    name: str
    what: str
    figures: Mapping[str, Any]
    origins: tuple[Origin, ...]
    also: str = ""
    own: bool = False

    @property
    def size(self) -> RingSize:
        """Of a ring [m], bare."""
        return RingSize(*(self.figures[f"{name}_m"] for name in RingSize._fields))

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        named = ("what", "provenance", "source")
        origins = [dict(zip(named, each, strict=True)) for each in self.origins]
        return {
            "kind": self.kind,
            "name": self.name,
            "what": self.what,
            "own": self.own,
            "figures": dict(self.figures),
            "origins": origins,
        }


def all_parts(catalogue: Catalogue, builtin: Catalogue | None = None) -> tuple[Part, ...]:
    """Every part of a catalogue, with wire gauges and pads, kind by kind. builtin: without what is the user's own."""
    known = builtin or catalogue
    return (
        *(ring_part(each, known.rings.get(name) is not each) for name, each in catalogue.rings.items()),
        *(material_part(each, known.materials.get(name) is not each) for name, each in catalogue.materials.items()),
        *(metal_part(each, known.metals.get(name) is not each) for name, each in catalogue.metals.items()),
        *map(wire_part, GAUGES),
        *(device_part(each, known.devices.get(name) is not each) for name, each in catalogue.devices.items()),
        *(capacitor_part(each, known.capacitors.get(name) is not each) for name, each in catalogue.capacitors.items()),
        *(pad_part(name, pad) for name, pad in PADS.items()),
    )


def size_words(size: RingSize) -> str:
    """A ring's size in words, outer x inner diameter x height [mm]."""
    return " x ".join(f"{1e3 * length:.4g}" for length in size) + " mm"


def ring_part(entry: RingEntry, own: bool = False) -> Part:
    """A ring size. Path and area as printed, else computed by its convention."""
    core = RingCore.from_entry(entry, 1, entry.path_rule)
    factors = [list(pair) for pair in entry.inductance_factors]
    figures = {f"{name}_m": length for name, length in entry.size._asdict().items()} | {
        "coating_m": entry.coating,
        "area_m2": core.area,
        "path_length_m": core.path_length,
        "path_rule": entry.path_rule,
        "computed": [name for name in ("area", "path_length") if getattr(entry, name) is None],
        "inductance_factors_h": factors,
        "inductance_tolerance_ratio": entry.inductance_tolerance,
    }
    al = ", ".join(f"{format_quantity(henry, 'H')} at {mu:g} mu" for mu, henry in entry.inductance_factors)
    what = f"ring core {size_words(entry.size)}" + (f", AL {al}" if al else "")
    also = f"toroid {entry.source} {_also(entry.source)}"
    return Part("ring", entry.name, what, figures, (Origin("ring", entry.provenance, entry.source),), also, own)


def _also(text: str) -> str:
    """The common name of an alloy that a text tells of."""
    return "sendust" if "fe-si-al" in text.casefold() else ""


def material_part(material: Material, own: bool = False) -> Part:
    """A core material. Loss at one flux density and frequency, to compare; half field: where half its permeability is left."""
    bias, loss = material.bias, material.loss
    figures = {
        "permeability": material.permeability,
        "permeability_tolerance_ratio": material.permeability_tolerance,
        "saturation_flux_density_t": material.saturation_flux_density_t,
        "half_field_a_per_m": bias.half_field if bias else None,
        "loss_100mt_100khz_w_per_m3": loss.density(*LOSS_AT) if loss else None,
        "loss_band_factor": loss.band if loss else None,
        "path_rule": material.path_rule,
        "ageing_limit_c": material.ageing_limit_c,
        "ageing_note": material.ageing_note,
    }
    what = f"core material, {material.alloy}, permeability {material.permeability:g}"
    return Part(
        "material", material.name, what, figures, tuple(Origin(*each) for each in material.origins), _also(material.alloy), own
    )


def metal_part(metal: Metal, own: bool = False) -> Part:
    """A metal of workpieces, cold, and what of it is known hot."""
    hot = metal.hot
    figures = {
        "resistivity_ohm_m": metal.resistivity,
        "resistivity_band_ratio": metal.resistivity_band,
        "permeability": metal.permeability,
        "curve": metal.curve,
        "curie_c": hot.curie_c if hot else None,
        "highest_c": hot.highest_c if hot else None,
        "ends": hot.ends if hot else None,
        "surfaces": [name for name, _ in hot.surfaces] if hot else [],
    }
    magnetic = f"magnetic after the curve of {metal.curve}" if metal.curve else f"permeability {metal.permeability:g}"
    what = f"metal of workpieces, {magnetic}" + ("" if hot else ", cold figures only")
    return Part("metal", metal.name, what, figures, tuple(Origin(*each) for each in metal.origins), "bar workpiece", own)


def wire_part(number: int) -> Part:
    """A gauge of round copper wire."""
    bare = float(awg_diameter(float(number)))
    area = float(wire_area(bare))
    known = ENAMELLED[0] <= bare <= ENAMELLED[1]
    figures = {
        "diameter_m": bare,
        "overall_diameter_m": float(enamelled_diameter(bare, 2)) if known else None,
        "area_m2": area,
        "resistance_20c_ohm_per_m": float(copper_resistivity(20.0)) / area,
    }
    origins = [Origin("bare wire", "published", GAUGE_SOURCE)]
    origins += [Origin("over the enamel", "memory", ENAMEL_SOURCE)] if known else []
    what = f"round copper wire of {1e3 * bare:.4g} mm, wire gauge"
    return Part("wire", gauge_name(number), what, figures, tuple(origins), "enamelled magnet")


_DEVICE = {
    "voltage_rating": "voltage_rating_v",
    "current_rating": "current_rating_a",
    "on_resistance": "on_resistance_ohm",
    "threshold": "threshold_v",
    "input_capacitance": "input_capacitance_f",
    "output_capacitance": "output_capacitance_f",
    "reverse_capacitance": "reverse_capacitance_f",
    "gate_charge": "gate_charge_coulomb",
    "gate_drain_charge": "gate_drain_charge_coulomb",
}
"""Figures of a device that are listed, and their names with unit."""


def device_part(device: Device, own: bool = False) -> Part:
    """A MOSFET for the switches."""
    figures = {name: device.figures.get(field) for field, name in _DEVICE.items()}
    rated = ((figures["voltage_rating_v"], "V"), (figures["on_resistance_ohm"], "ohm"))
    told = "".join(f", {format_quantity(value, unit)}" for value, unit in rated if value is not None)
    origin = Origin("datasheet figures", device.provenance, device.source)
    return Part("device", device.name, f"MOSFET for the switches{told}", figures, (origin,), "transistor fet", own)


def capacitor_part(capacitor: FilmCapacitor, own: bool = False) -> Part:
    """A capacitor for the tank."""
    figures = {
        "capacitance_f": capacitor.capacitance,
        "dissipation_factor": capacitor.dissipation_factor,
        "voltage_rating_v": capacitor.voltage_rating,
        "current_rating_a": capacitor.current_rating,
        "build": capacitor.build,
    }
    what = f"capacitor for the tank, {format_quantity(capacitor.capacitance, 'F')}" + (
        f", {capacitor.build}" if capacitor.build else ""
    )
    origin = Origin("datasheet figures", capacitor.provenance, capacitor.source)
    return Part("capacitor", capacitor.name, what, figures, (origin,), "film condenser", own)


def pad_part(name: str, pad: Pad) -> Part:
    """What lies between a MOSFET's case and its sink."""
    figures = {"thickness_m": pad.thickness, "conductivity_w_per_m_k": pad.conductivity, "band_factor": pad.band}
    origin = Origin("layer", "common practice", PAD_SOURCE)
    return Part("pad", name, "layer between a MOSFET's case and its heat sink", figures, (origin,), "thermal interface insulator")


def kinds_in(parts: Sequence[Part]) -> Iterator[tuple[Kind, tuple[Part, ...]]]:
    """Kinds that are there, with their parts."""
    for kind in KINDS:
        found = tuple(each for each in parts if each.kind == kind)
        if found:
            yield kind, found
