# SPDX-License-Identifier: GPL-3.0-or-later
"""A material as the text of a catalogue file, to be read again by `heatsim.parts.catalogue`."""

from __future__ import annotations

import json

from heatsim.parts.materials import Material


def written(material: Material) -> str:
    """A material as the text of a catalogue file, to be read again by `read_catalogue`."""
    rows = [
        f"[material.{_key(material.name)}]",
        f"alloy = {_text(material.alloy)}",
        f"permeability = {material.permeability:.6g}",
        f'permeability_tolerance = "{material.permeability_tolerance * 100:.6g} %"',
        f"path_rule = {_text(material.path_rule)}",
    ]
    if material.saturation_flux_density_t is not None:
        rows.append(f'saturation_flux_density = "{material.saturation_flux_density_t:.6g} T"')
    rows += _origin(material.provenance, material.source)
    rows += _written_bias(material) + _written_loss(material)
    if material.ageing_limit_c is not None:
        rows += [
            "",
            f"[material.{_key(material.name)}.ageing]",
            f'limit = "{material.ageing_limit_c:.6g} °C"',
            f"note = {_text(material.ageing_note)}",
            *_origin(material.provenance, material.source),
        ]
    return "\n".join(rows) + "\n"


def _written_bias(material: Material) -> list[str]:
    bias = material.bias
    if bias is None:
        return []
    rows = ["", f"[material.{_key(material.name)}.bias]", f'tolerance = "{bias.tolerance * 100:.6g} %"']
    if bias.points:
        pairs = ", ".join(f'["{h:.8g} A/m", "{share * 100:.8g} %"]' for h, share in bias.points[1:])
        rows += [f"points = [{pairs}]", f"exponent = {bias.exponent:.8g}"]
    elif bias.anchor is not None:
        rows += [
            f'point = ["{bias.anchor:.10g} A/m", "{float(bias.share(bias.anchor)) * 100:.10g} %"]',
            f"exponent = {bias.exponent:.8g}",
            f"exponent_band = {bias.exponent_band:.8g}",
        ]
    else:
        rows += [f"b = {material.bias_b:.10g}", f"c = {material.bias_c:.10g}"]
    return rows + _origin(bias.provenance, bias.source)


def _written_loss(material: Material) -> list[str]:
    loss = material.loss
    if loss is None:
        return []
    numbers = ", ".join(f"{value!r}" for value in loss.coefficients)
    return [
        "",
        f"[material.{_key(material.name)}.loss]",
        f"form = {_text(loss.form)}",
        f"coefficients = [{numbers}]",
        f"band = {loss.band!r}",
        *_origin(loss.provenance, loss.source),
    ]


def _origin(provenance: str, source: str) -> list[str]:
    return [f"provenance = {_text(provenance)}", f"source = {_text(source)}"]


def _key(name: str) -> str:
    """A bare key, or a quoted one where its signs ask for it."""
    return name if name.replace("-", "").replace("_", "").isalnum() and name.isascii() else _text(name)


def _text(value: str) -> str:
    """A basic string of TOML: what JSON writes is one."""
    return json.dumps(value, ensure_ascii=False)
