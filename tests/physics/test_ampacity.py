# SPDX-License-Identifier: GPL-3.0-or-later
"""Tracks and fusing wires (tests/support/references_heating.py): IPC-2221, Onderdonk, Preece."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.constants import COPPER_DENSITY
from heatsim.errors import InputError
from heatsim.physics import ampacity as amp
from heatsim.physics.conductor import copper_resistivity
from tests.support import references_heating as ref
from tests.support.book import MEMORY, PUBLISHED, known, listed


@pytest.mark.parametrize("row", ref.IPC2221)
def test_track(row: tuple) -> None:
    k, rise, width, thickness, *_ = row
    assert amp.track_current(width * amp.MIL, thickness * amp.MIL, rise, k) == listed("IPC2221", "current", row)


@pytest.mark.parametrize("k, rise, width, thickness, current, rtol", ref.IPC2221)
def test_track_rise_is_the_inverse(k: float, rise: float, width: float, thickness: float, current: float, rtol: float) -> None:
    assert amp.track_rise(width * amp.MIL, thickness * amp.MIL, current, k) == pytest.approx(rise, rel=rtol / 0.44)


def test_track_as_printed() -> None:
    """0.884 A for a 10 mil track of 1 oz copper at 10 K on the source's page, worked with rounded powers."""
    assert amp.track_current(10 * amp.MIL, 1.378 * amp.MIL, 10.0) == known(
        0.884, "current of a 10 mil track of 1 oz at 10 K, as printed", "lesson page on IPC-2221", PUBLISHED, unit="A", rel=3e-3
    )


@pytest.mark.parametrize("row", ref.ONDERDONK)
def test_melting(row: tuple) -> None:
    area, time, rise, ambient, *_ = row
    assert amp.melting_current(area * amp.CIRCULAR_MIL, time, ambient, ambient + rise) == listed("ONDERDONK", "current", row)


def test_melting_follows_from_heat_capacity() -> None:
    """Independent route: adiabatic heating, rho0 (1 + alpha T) j^2 dt = density c dT, with c = 420 J/(kg*K)
    (mean, memory).

    Onderdonk's rounded constants and a constant specific heat leave about 10 %.
    """
    beta = 1 / 234.5
    resistivity_0 = copper_resistivity(0.0)
    heat = COPPER_DENSITY * 420.0 / (resistivity_0 * beta) * np.log((1 + beta * 1083) / (1 + beta * 25))
    assert amp.melting_current(1e-6, 2.0) == known(
        1e-6 * np.sqrt(heat / 2.0), "current that melts 1 mm2 in 2 s", "adiabatic heating, 420 J/(kg K)", MEMORY, unit="A", rel=0.1
    )


@pytest.mark.parametrize("row", ref.PREECE)
def test_fusing(row: tuple) -> None:
    assert amp.fusing_current(row[0] * 0.0254) == listed("PREECE", "current", row)


def test_fusing_as_printed() -> None:
    """123 A for 0.0524 in on the source's page."""
    assert amp.fusing_current(0.0524 * 0.0254) == known(
        123.0, "fusing current of copper wire of 0.0524 in, as printed", "posted example", PUBLISHED, unit="A", abs=0.5
    )


@given(st.floats(1e-4, 1e-2), st.floats(1e-5, 1e-4), st.floats(1.0, 100.0), st.floats(1.01, 3.0))
def test_more_copper_or_more_heat_carries_more(width: float, thickness: float, rise: float, more: float) -> None:
    here = amp.track_current(width, thickness, rise)
    assert amp.track_current(width * more, thickness, rise) == pytest.approx(here * more**0.725)
    assert amp.track_current(width, thickness, rise * more) == pytest.approx(here * more**0.44)
    assert amp.track_current(width, thickness, rise, amp.TRACK_INTERNAL) == pytest.approx(here / 2)
    assert amp.fusing_current(width * more) == pytest.approx(amp.fusing_current(width) * more**1.5)
    assert amp.melting_current(width**2, rise * more) == pytest.approx(amp.melting_current(width**2, rise) / more**0.5)


def test_impossible_input_is_named() -> None:
    for call in (
        lambda: amp.track_current(0.0, 1e-5, 10.0),
        lambda: amp.melting_current(1e-6, 0.0),
        lambda: amp.fusing_current(-1e-3),
    ):
        with pytest.raises(InputError):
            call()
