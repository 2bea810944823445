# SPDX-License-Identifier: GPL-3.0-or-later
"""An identified ring as text the other commands read: a material of a user's catalogue, and a [choke.measured] table."""

from __future__ import annotations

import re

import numpy as np

from heatsim.constants import OERSTED
from heatsim.errors import printable
from heatsim.studies.ring.study import RingResult

ROOM_TEMPERATURE = 25.0
"""Copper temperature [°C] taken for a resistance computed from the wire."""


def material_name(result: RingResult) -> str:
    """Name of the material made from the ring's: lower case, words joined by hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", result.test.name.lower()).strip("-") or "measured-ring"


def material_toml(result: RingResult) -> str:
    """The material as a catalogue file of its own, provenance `measured`; see heatsim/parts/data/materials.toml.

    Saturation stands in it only where it was seen, as coefficients of the soft form or as points up to the largest
    current measured. A gap in the ring is part of this "material": its permeability is that of the ring as it is.
    """
    quantity, name = result.quantities["permeability"], material_name(result)
    low, high = quantity.low or 0.0, quantity.high or 0.0
    value = quantity.value or 1.0
    tolerance = min(max((high - low) / (2 * value), 0.01), 0.5)
    guess = f"; may be {result.fitting[0].material.alloy}" if result.fitting else ""
    lines = [
        f"# Measured on a bench, not from a catalogue: {printable(result.test.name)}.",
        "# Core loss was not measured and is left out.",
        "",
        f"[material.{name}]",
        f'alloy = "unknown, measured ring{guess}"',
        f"permeability = {value:.5g}",
        f'permeability_tolerance = "{100 * tolerance:.2g} %"',
        f'path_rule = "{result.test.tables.ring.path_rule}"',
        *_saturation(result),
        'provenance = "measured"',
        f'source = "{_source(result)}"',
    ]
    return "\n".join([*lines, *_bias(result, name)]) + "\n"


def _source(result: RingResult) -> str:
    """What it rests on, one line."""
    tables = result.test.tables
    used = [
        word
        for word, there in (("LCR reading", tables.lcr), ("readings under bias", tables.bias), ("current ramp", result.data.ramp))
        if there
    ]
    chosen = "chosen" if result.decided else "preferred, not beyond doubt"
    return f"bench test: {', '.join(used)}; {result.fit.kind} form {chosen}"


def _saturation(result: RingResult) -> list[str]:
    found = result.quantities.get("saturation_flux_density_t")
    if result.fit.kind != "gapped" or not found or not found.identifiable or not 0.05 <= (found.value or 0.0) <= 2.5:
        return []
    return [f'saturation_flux_density = "{found.value:.3g} T"']


def _bias(result: RingResult, name: str) -> list[str]:
    """The [.bias] table: b and c of a soft curve whose half was reached, else points as far as was measured."""
    if result.data.reach == 0.0 or result.fit.kind == "linear":
        return []
    body = _coefficients(result) or _points(result)
    if not body:
        return []
    spread = float(np.max((result.curve.high - result.curve.low) / 2) / result.fit.curve.inductance_zero)
    tolerance = min(max(spread, 0.01), 0.4)
    return [
        "",
        f"[material.{name}.bias]",
        *body,
        f'tolerance = "{100 * tolerance:.2g} %"',
        'provenance = "measured"',
        f'source = "{_source(result)}, up to {result.data.reach:.3g} A in {result.test.winding.turns} turns"',
    ]


def _coefficients(result: RingResult) -> list[str]:
    """b and c of the powder catalogues' curve."""
    half, exponent = (result.quantities.get(key) for key in ("core_half_current_a", "exponent"))
    if not half or not exponent or not half.identifiable or not half.value or not exponent.value:
        return []
    if not 1.01 < exponent.value < 6.0:
        return []
    field = result.test.winding.turns * half.value / result.test.ring().path_length / OERSTED
    return [f"b = {0.01 * field**-exponent.value:.5e}", f"c = {exponent.value:.5g}"]


def _points(result: RingResult, count: int = 14) -> list[str]:
    """Remaining share of the core's own inductance at fields along the fitted curve, falling."""
    curve = result.fit.curve
    air = result.value("air_inductance_h") or 0.0
    currents = np.linspace(0.0, result.data.reach, count + 1)[1:]
    shares = (curve.inductance(currents) - air) / (curve.inductance_zero - air)
    fields = currents * result.test.winding.turns / result.test.ring().path_length
    kept = (shares > 0.006) & (shares < 0.9999)
    falling = zip(fields[kept], np.minimum.accumulate(shares[kept]), strict=True)
    points = [f'["{field:.5g} A/m", "{100 * share:.4g} %"]' for field, share in falling]
    return [f"points = [{', '.join(points)}]"] if len(points) > 1 else []


def choke_toml(result: RingResult) -> str:
    """The test winding itself as [choke.measured]; for other turns take the material instead."""
    resistance, origin = _resistance(result)
    lines = [
        f"# {printable(result.test.name)} as wound for the bench test, {result.test.winding.turns} turns.",
        "# With another number of turns take the material file instead.",
        "",
        "[choke.measured]",
        f'resistance = "{resistance * 1e3:.4g} mohm"    # {origin}'
        if resistance
        else '# resistance = "... mohm"    # not known: measure it and take the # away',
    ]
    if result.data.reach == 0.0 or result.fit.kind == "linear":
        seen = f"up to {result.data.reach:.3g} A" if result.data.reach else "at small signal"
        lines.append(f'inductance = "{result.fit.curve.inductance_zero * 1e6:.5g} uH"    # {seen}; saturation not seen')
    else:
        currents = np.linspace(0.0, result.data.reach, 16)
        never_rising = np.minimum.accumulate(result.fit.curve.inductance(currents))
        rows = [f'  ["{i:.4g} A", "{value * 1e6:.5g} uH"],' for i, value in zip(currents, never_rising, strict=True)]
        lines += ["table = [", *rows, "]"]
    air = result.value("air_inductance_h") or result.data.air
    lines.append(f'air_inductance = "{air * 1e6:.4g} uH"')
    if result.test.tables.winding.wire_diameter:
        lines.append(f'copper_area = "{result.test.winding.copper_area * 1e6:.4g} mm2"')
    return "\n".join(lines) + "\n"


def _resistance(result: RingResult) -> tuple[float | None, str]:
    """Resistance of the winding [ohm], the best that is known, and where from; None when nothing is."""
    winding, found = result.test.tables.winding, result.quantities.get("series_resistance_ohm")
    if winding.resistance is not None:
        return winding.resistance, "as measured at direct current"
    if found and found.value and found.identifiable and result.data.ramp and result.data.ramp.drive:
        return found.value, "from the ramp, the voltage being across the winding"
    if winding.wire_diameter:
        value = result.test.winding.resistance(result.test.ring(), ROOM_TEMPERATURE)
        return value, f"computed from the wire at {ROOM_TEMPERATURE:g} °C"
    if found and found.value and found.identifiable:
        return found.value, "of the whole test loop: too high for the winding alone; measure it"
    return None, ""
