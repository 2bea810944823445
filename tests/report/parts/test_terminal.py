# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of parts on terminals of any width."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from heatsim.report.parts import show
from heatsim.studies.parts import PartsResult, find_parts


def shown(result: PartsResult, width: int = 80) -> str:
    stream = io.StringIO()
    show(result, stream, width)
    return stream.getvalue()


@pytest.mark.parametrize("width", [60, 70, 80, 120, 200])
def test_everything_fits_and_no_figure_is_cut(width: int) -> None:
    text = shown(find_parts(), width)
    assert max(map(len, text.splitlines())) <= width and "…" not in text
    for figure in ("39.88", "AWG 14", "8.29", "7.56", "0.169 ± 20 %", "1200 °C", "20 mΩ"):
        assert figure in text


@pytest.mark.parametrize("width", [60, 100])
def test_names_of_rings_can_be_copied(width: int) -> None:
    result = find_parts(near="40 x 24 x 14.5 mm")
    lines = shown(result, width).split()
    assert all(part.name in lines for part in result.parts)


def test_few_parts_tell_their_sources_and_many_their_provenance() -> None:
    few, many = shown(find_parts("fe-si-al-60")), shown(find_parts(kind="materials"))
    assert "core loss: powder-core catalogue" in few and "weakest" not in few
    assert "Known from" not in many and "weakest provenance" in many and "memory" in many


def test_a_ring_from_nowhere_is_told_as_that() -> None:
    assert "None is within 5 %" in shown(find_parts(near="200 x 20 x 100 mm"))
    near = shown(find_parts(near="40 x 24 x 14.5 mm"))
    assert "None is within" not in near and "0.4 %" in near and "heatsim ring" in near


def test_what_is_not_found_is_said_with_what_there_is() -> None:
    text = " ".join(shown(find_parts("sendst")).split())
    assert "No part has the word sendst (did you mean sendust?)" in text and "8 metals of workpieces (--kind metals)" in text
    both = " ".join(shown(find_parts("steel", "ferrite", kind="metals")).split())
    assert "None of the metals of workpieces has all of the words steel and ferrite" in both
    assert "None of the rings has the word steel." in " ".join(shown(find_parts("steel", near="40 x 24 x 14.5 mm")).split())


def test_own_parts_are_marked(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text('[metal.shop]\nresistivity = "0.2 uohm*m"\nresistivity_band = "5 %"\npermeability = 1.0\n'
                    'provenance = "measured"\nsource = "four wires"\n')  # fmt: skip
    text = shown(find_parts("shop", catalogue=path))
    assert "shop *" in text and "own.toml" in text and "cold figures: four wires" in text
    assert "*" not in shown(find_parts("steel", catalogue=path))
