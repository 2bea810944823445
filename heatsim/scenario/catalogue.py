# SPDX-License-Identifier: GPL-3.0-or-later
"""Catalogue files: their tables, and reading them into materials, rings, metals, devices and capacitors.

One format for the built-in files and for a user's own, TOML with [material.NAME], its [.bias], [.loss] and [.ageing],
[ring.NAME], [metal.NAME] with its [.hot], [device.NAME] and [capacitor.NAME]. Quantities are texts with units, coefficients
stand as printed. `parts/data/materials.toml` describes every key, `parts/data/metals.toml` those of metals,
`parts/data/devices.toml` those of devices, `parts/data/capacitors.toml` those of capacitors.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from pydantic import Field

from heatsim.constants import OERSTED
from heatsim.files import shown_path
from heatsim.parts.catalogue import Catalogue
from heatsim.parts.device import Device
from heatsim.parts.film import FilmCapacitor
from heatsim.parts.materials import LOSS_COEFFICIENTS, Bias, CoreLoss, LossForm, Material, half_field_through
from heatsim.parts.ring import RingEntry
from heatsim.physics.ringcore import PathConvention, RingSize
from heatsim.scenario.figures import curves_of, figures_of
from heatsim.scenario.metals import metal_faults, metal_of
from heatsim.scenario.problems import Fault, refuse, validated
from heatsim.scenario.schema.datasheet import DatasheetTable
from heatsim.scenario.schema.fields import Line, Name, Table, Unit
from heatsim.scenario.schema.metal import MetalTable
from heatsim.scenario.schema.origin import OriginTable
from heatsim.scenario.schema.tank import DissipationFactor, PeakRating, RmsRating, UnitCapacitance
from heatsim.scenario.source import Places, Where, parse_toml, read_text

FieldStrength = Annotated[float, Unit("A/m", 1.0, 1e6)]
Share = Annotated[float, Unit("%", 0.005, 1.0)]
Exponent = Annotated[float, Field(strict=True, ge=1.01, le=6.0)]
Length = Annotated[float, Unit("m", 2e-3, 0.3)]


class BiasTable(OriginTable):
    """[material.NAME.bias]: b and c as printed, or one point and an exponent, or measured points."""

    tolerance: Annotated[float, Unit("%", 0.0, 0.4)]
    b: Annotated[float, Field(strict=True, ge=1e-15, le=1.0)] | None = None
    c: Exponent | None = None
    point: tuple[FieldStrength, Annotated[float, Unit("%", 0.01, 0.995)]] | None = None
    points: list[tuple[Annotated[float, Unit("A/m", 0.0, 1e6)], Share]] | None = None
    exponent: Exponent | None = None
    exponent_band: Annotated[float, Field(strict=True, ge=0.0, le=2.0)] | None = None


class LossTable(OriginTable):
    """[material.NAME.loss]: a printed form of core loss."""

    form: LossForm
    coefficients: list[Annotated[float, Field(strict=True, gt=0.0, lt=1e30)]]
    band: Annotated[float, Field(strict=True, ge=1.0, le=10.0)]


class AgeingTable(OriginTable):
    """[material.NAME.ageing]: a caution, not a rating."""

    limit: Annotated[float, Unit("°C", 20, 300)]
    note: Line


class MaterialTable(OriginTable):
    """[material.NAME]: a core material."""

    alloy: Line
    permeability: Annotated[float, Field(strict=True, ge=1.0, le=2e5)]
    permeability_tolerance: Annotated[float, Unit("%", 0.0, 0.5)] = 0.1
    path_rule: PathConvention
    saturation_flux_density: Annotated[float, Unit("T", 0.05, 2.5)] | None = None
    bias: BiasTable | None = None
    loss: LossTable | None = None
    ageing: AgeingTable | None = None


class RingTable(OriginTable):
    """[ring.NAME]: a ring size."""

    outer_diameter: Length
    inner_diameter: Length
    height: Length
    path_rule: PathConvention
    path_length: Annotated[float, Unit("m", 5e-3, 1.0)] | None = None
    area: Annotated[float, Unit("m2", 1e-6, 1e-2)] | None = None
    coating: Annotated[float, Unit("m", 0.0, 3e-3)] = 0.0
    inductance_factors: list[
        tuple[Annotated[float, Field(strict=True, ge=1.0, le=2e5)], Annotated[float, Unit("H/turn2", 1e-10, 1e-4)]]
    ] = Field(default_factory=list)
    inductance_tolerance: Annotated[float, Unit("%", 0.0, 0.5)] = 0.1


class DeviceTable(OriginTable, DatasheetTable):
    """[device.NAME]: a MOSFET's datasheet figures, as in [switch]."""


class CapacitorTable(OriginTable):
    """[capacitor.NAME]: a capacitor for the tank."""

    capacitance: UnitCapacitance
    dissipation_factor: DissipationFactor
    voltage_rating: PeakRating | None = None
    current_rating: RmsRating | None = None
    build: Line = ""


class CatalogueTables(Table):
    """A whole catalogue file."""

    material: dict[Name, MaterialTable] = Field(default_factory=dict)
    ring: dict[Name, RingTable] = Field(default_factory=dict)
    metal: dict[Name, MetalTable] = Field(default_factory=dict)
    device: dict[Name, DeviceTable] = Field(default_factory=dict)
    capacitor: dict[Name, CapacitorTable] = Field(default_factory=dict)


@lru_cache(maxsize=1)
def builtin() -> Catalogue:
    """The built-in catalogue."""
    found = Catalogue({}, {})
    for name in ("materials.toml", "alloy-powders.toml", "rings.toml", "metals.toml", "devices.toml", "capacitors.toml"):
        text = files("heatsim.parts").joinpath(f"data/{name}").read_text("utf-8")
        found = found.joined(read_catalogue(tomllib.loads(text), Places(name, text)))
    return found


def catalogue_with(file: str | None, folder: Path, place: str = "") -> Catalogue:
    """The built-in catalogue with the entries of a file on top.

    file: the user's file, relative to `folder`; None for the built-in catalogue alone
    place: file, line and field that name it, for messages
    Raises InputError with file, line and field of every fault.
    """
    if file is None:
        return builtin()
    text = read_text(folder / file, "a catalogue file in TOML", place)
    return builtin().joined(_read(text, shown_path(folder / file)))


@lru_cache(maxsize=8)
def _read(text: str, label: str) -> Catalogue:
    return read_catalogue(parse_toml(text, label), Places(label, text))


def read_catalogue(raw: Mapping[str, Any], where: Where) -> Catalogue:
    """A catalogue from parsed TOML.

    where: turns the path of a field into its place
    Raises InputError with every fault, each at its place.
    """
    tables = validated(CatalogueTables, raw, where)
    refuse(where, _faults(tables))
    return Catalogue(
        {name: _material(name, table) for name, table in tables.material.items()},
        {name: _ring(name, table) for name, table in tables.ring.items()},
        {name: metal_of(name, table) for name, table in tables.metal.items()},
        {name: _device(name, table) for name, table in tables.device.items()},
        {name: FilmCapacitor(name, **table.model_dump()) for name, table in tables.capacitor.items()},
    )


def _faults(tables: CatalogueTables) -> Iterator[Fault]:
    """Faults that lie in more than one field, as `refuse` takes them."""
    for name, table in tables.material.items():
        for field, *told in _material_faults(table):
            yield True, ("material", name, *field.split(".")), told[0], told[1], told[2]
    for name, ring in tables.ring.items():
        given, allowed = f"{1e3 * ring.inner_diameter:.4g} mm", f"below {1e3 * ring.outer_diameter:.4g} mm"
        wrong = ring.inner_diameter >= ring.outer_diameter
        yield wrong, ("ring", name, "inner_diameter"), "must be smaller than outer_diameter", given, allowed
    for name, metal in tables.metal.items():
        for path, *fault in metal_faults(metal):
            yield True, ("metal", name, *path), fault[0], fault[1], fault[2]


def _material_faults(table: MaterialTable) -> Iterator[tuple[str, str, str, str]]:
    """Field, fault, given and allowed of what is wrong with a material as a whole."""
    loss, bias = table.loss, table.bias
    if loss and len(loss.coefficients) != (count := LOSS_COEFFICIENTS[loss.form]):
        allowed = f"a list of {count} positive numbers, as printed"
        yield "loss.coefficients", f"does not suit form {loss.form!r}", f"{len(loss.coefficients)} numbers", allowed
    if bias is None:
        return
    if bias.b is not None:
        if bias.c is None:
            yield "bias.c", "is missing", "", "the exponent that goes with b, 1.01 to 6"
    elif bias.point:
        for key in ("exponent", "exponent_band"):
            if getattr(bias, key) is None:
                yield f"bias.{key}", "is missing", "", "a number that goes with point"
        if (bias.exponent or 9.0) - (bias.exponent_band or 0.0) <= 1.0:
            what = "reaches down to an exponent of 1, a core that never saturates"
            yield "bias.exponent_band", what, f"{bias.exponent_band:g}", "less than the exponent minus 1"
    elif bias.points is None:
        yield "bias", "says nothing of the curve", "", "b and c, or point, exponent and exponent_band, or points"
    elif not _falling(_from_zero(bias)):
        what, allowed = "must be points of rising field and falling share", "two or more, the last below 100 %"
        yield "bias.points", what, f"{len(bias.points)} points", allowed


def _from_zero(table: BiasTable) -> tuple[tuple[float, float], ...]:
    """Measured points with all permeability left at no field."""
    return (0.0, 1.0), *(pair for pair in table.points or () if pair[0] > 0)


def _falling(points: tuple[tuple[float, float], ...]) -> bool:
    rising = all(a[0] < b[0] and a[1] >= b[1] for a, b in zip(points, points[1:], strict=False))
    return len(points) > 2 and rising and points[-1][1] < 1.0


def _material(name: str, table: MaterialTable) -> Material:
    loss, ageing = table.loss, table.ageing
    return Material(
        name,
        **table.model_dump(exclude={"saturation_flux_density", "bias", "loss", "ageing"}),
        saturation_flux_density_t=table.saturation_flux_density,
        bias=_bias(table.bias) if table.bias else None,
        loss=CoreLoss(**{**loss.model_dump(), "coefficients": tuple(loss.coefficients)}) if loss else None,
        ageing_limit_c=ageing.limit if ageing else None,
        ageing_note=ageing.note if ageing else "",
    )


def _bias(table: BiasTable) -> Bias:
    """Any of: b and c as printed; one point and an exponent; measured points."""
    origin = (table.tolerance, table.provenance, table.source)
    if table.b is not None and table.c is not None:
        return Bias((100.0 * table.b) ** (-1.0 / table.c) * OERSTED, table.c, *origin)
    if table.point is not None:
        field, share = table.point
        exponent = table.exponent or 2.0
        return Bias(half_field_through(field, share, exponent), exponent, *origin, field, table.exponent_band or 0.0)
    points, exponent = _from_zero(table), table.exponent or 1.8
    fields, shares = np.array(points).T
    half = half_field_through(fields[-1], shares[-1], exponent)
    if shares[-1] < 0.5:
        half = float(np.interp(-0.5, -shares, fields))
    return Bias(half, exponent, *origin, points=points)


def _device(name: str, table: DeviceTable) -> Device:
    return Device(name, figures_of(table), curves_of(table.curves), table.provenance, table.source)


def _ring(name: str, table: RingTable) -> RingEntry:
    size = {key: getattr(table, key) for key in RingSize._fields}
    rest = table.model_dump(exclude={*size, "inductance_factors"})
    return RingEntry(name, RingSize(**size), inductance_factors=tuple(table.inductance_factors), **rest)
