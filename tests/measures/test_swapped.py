# SPDX-License-Identifier: GPL-3.0-or-later
"""Left and right exchanged: a record with its sides swapped gives the same measures with their sides swapped."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatsim.measures import MeasureContext, measure
from heatsim.waves import Waveforms
from tests.support.independent.circuits import bench
from tests.support.shapes import Stage

CONTEXT = MeasureContext(
    devices=2, gate_threshold=4.0, inductance_zero={"left": 100e-6, "right": 125e-6}, periods=8, from_rest=False
)
OTHER = {"left": "right", "right": "left"}


def exchanged(name: str) -> str:
    """The name with its side exchanged."""
    return ".".join(OTHER.get(part, part) for part in name.split("."))


def uneven() -> Waveforms:
    """The ideal stage, its sides made unlike."""
    waves = Stage().waveforms(periods=12, points=400)
    signals = dict(waves.signals)
    signals["drain.left.voltage"] = 1.1 * signals["drain.left.voltage"]
    signals["choke.left.current"] = 1.3 * signals["choke.left.current"] + 0.2
    signals["switch.right.current"] = 0.8 * signals["switch.right.current"]
    signals["gate.right.voltage"] = 0.9 * signals["gate.right.voltage"] - 0.5
    return Waveforms(waves.time, signals)


def mirrored(waves: Waveforms) -> Waveforms:
    """Sides exchanged; what is counted from one side to the other changes its sign."""
    return Waveforms(
        waves.time,
        {
            exchanged(name): -samples if name in ("tank.voltage", "coil.current") else samples
            for name, samples in waves.signals.items()
        },
    )


def test_measures_of_a_mirrored_record_are_the_mirrored_measures() -> None:
    context = replace(CONTEXT, inductance_zero={"left": 125e-6, "right": 100e-6})
    plain, other = measure(uneven(), CONTEXT), measure(mirrored(uneven()), context)
    sided = [key for key in plain if "left" in key.split(".") or "right" in key.split(".")]
    assert len(sided) > 30 and {exchanged(key) for key in plain} == set(other)
    unlike = 0
    for key, value in plain.items():
        found = other[exchanged(key)]
        if "standard_error" in key or key.startswith("window."):
            continue  # rounding, and half a period, as periods begin where the tank's voltage rises
        if isinstance(value, float):
            within = 1e-9 if "delay" in key else 1e-4 if key.endswith("ratio") else 1e-6
            within = 1.0 if "turn_on" in key else within  # of one sample's step, of the ideal 0 V
            assert found == pytest.approx(value, rel=2e-3, abs=within), key
            unlike += exchanged(key) != key and value != pytest.approx(plain[exchanged(key)], rel=1e-2)
        elif value is None or isinstance(value, str):
            assert found == value, key
    assert unlike > 6, "the sides are too much alike for a test"


@pytest.mark.slow
def test_a_heater_with_unlike_sides_the_other_way_round() -> None:
    """20 and 16 turns of thin wire, from rest until they settle."""
    from heatsim.engine import run_deck
    from heatsim.netlist.generate import make_deck

    found = {}
    for side in OTHER:
        thin = {"choke__wire__diameter": "0.8 mm", "choke__wire__strands": 1, "switch__threshold_spread": "0.02 V"}
        heater = bench(**{f"choke__{side}__turns": 16}, **thin)
        run = run_deck(make_deck(heater, side))
        assert run.outcome == "settled" and run.waveforms is not None, run.detail
        found[side] = measure(run.waveforms, MeasureContext(devices=2, gate_threshold=3.6, from_rest=False))
    for key in (
        "choke.left.peak_current_a",
        "choke.left.ripple_current_a",
        "choke.left.mean_current_a",
        "drain.left.peak_voltage_v",
    ):
        one, other = found["left"][key], found["right"][exchanged(key)]
        assert one == pytest.approx(other, rel=0.01), key
        assert found["left"][exchanged(key)] == pytest.approx(found["right"][key], rel=0.01), key
    assert np.abs(found["left"]["choke.left.ripple_current_a"] / found["left"]["choke.right.ripple_current_a"] - 1) > 0.2
    assert found["left"]["tank.frequency_hz"] == pytest.approx(found["right"]["tank.frequency_hz"], rel=1e-3)
