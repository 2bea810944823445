# SPDX-License-Identifier: GPL-3.0-or-later
"""Waveforms cut and repeated: straight lines between samples, what is handed on, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.waves import Waveforms

TIME = np.array([0.0, 1.0, 1.5, 4.0, 4.25])
MADE = Waveforms(TIME, {"a": np.array([0.0, 2.0, -1.0, 4.0, 1.0]), "b": TIME**2}, {"a": "V"}, "made")


@pytest.mark.parametrize("start, stop", [(0.0, 4.25), (0.5, 4.1), (1.0, 4.0), (1.0, 1.2), (1.1, 1.2), (4.0, 4.25)])
def test_a_cut_has_straight_lines_to_its_ends(start: float, stop: float) -> None:
    cut = MADE.between(start, stop)
    inner = (start < TIME) & (stop > TIME)
    assert cut.time.tolist() == [start, *TIME[inner], stop]
    for name in ("a", "b"):
        assert cut[name].tolist() == pytest.approx(np.interp(cut.time, TIME, MADE[name]).tolist(), rel=1e-14)
    assert (cut.units, cut.origin) == ({"a": "V"}, "made")


@pytest.mark.parametrize("start, stop", [(-0.1, 1.0), (1.0, 4.3), (1.0, 1.0), (2.0, 1.0)])
def test_a_cut_lies_inside(start: float, stop: float) -> None:
    with pytest.raises(ValueError, match="is not inside"):
        MADE.between(start, stop)


def test_chosen_signals_keep_their_units() -> None:
    assert MADE.only(["b", "a"]).names == ("b", "a") and MADE.only(["b"]).units == {}
    with pytest.raises(KeyError, match="there are a, b"):
        MADE.only(["c"])


def test_a_period_is_laid_end_to_end() -> None:
    """What it fails to close by, 1 of `a`, is spread over it in a straight line that leaves the mean."""
    twice = MADE.repeated(2)
    assert twice.time.tolist() == [*TIME, *(TIME[1:] + 4.25)]
    assert twice["a"][[0, 4, 8]] == pytest.approx([0.5, 0.5, 0.5])
    assert np.trapezoid(twice["a"], twice.time) == pytest.approx(2 * np.trapezoid(MADE["a"], TIME))
    short = Waveforms(np.array([0.0, 5e-324, 1.0]), {"a": np.zeros(3)})
    with pytest.raises(ValueError, match="too short"):
        short.repeated(2)
