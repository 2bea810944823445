# SPDX-License-Identifier: GPL-3.0-or-later
"""Heaters that do not start: what their gates did, and the one value that starts them, applied and simulated again."""

import re

import pytest

import heatsim as hs

pytestmark = pytest.mark.ngspice

QUICK = {"simulate.longest": "8 ms", "simulate.steps_per_period": 120}


@pytest.fixture(scope="module")
def latching(checkout):
    """Latches for its weak pull-up, though the supply rises as it does in the sound heater."""
    return hs.load(checkout / "scenarios" / "bench-heater.toml").change({"gate.pull_up": "3.3 kohm", **QUICK})


@pytest.fixture(scope="module")
def judged(latching):
    return hs.check(latching, cases=["loaded"])["loaded"]


@pytest.mark.slow
def test_the_gates_that_do_not_fall_are_named_with_the_time_they_need(judged):
    cause = judged.findings[0].cause
    assert judged.outcome == "latched"
    for side in ("left", "right"):
        late = judged.waveforms[f"gate.{side}.voltage"][judged.waveforms.time > 0.8 * judged.waveforms.time[-1]]
        assert (f"The {side} gate does not fall" in cause) == (late.min() > judged.heater.switch.threshold)
    assert "gate does not" in cause and "half cycle lasts 5.71 µs" in cause


@pytest.mark.slow
def test_the_value_that_is_named_starts_it_and_the_next_one_does_not(judged, latching):
    remedy = judged.findings[0].remedy
    found = re.match(r"Lower the pull-up from 3.3 kΩ to ([\d.]+) (k?Ω)", remedy)
    assert found and "simulated from a cold start" in remedy
    value = float(found[1]) * (1000 if found[2] == "kΩ" else 1)
    assert value < 1000
    applied = hs.check(latching.change({"gate.pull_up": f"{value:g} ohm"}), cases=["loaded"])["loaded"]
    assert applied.outcome == "settled"
    assert all(f.grade == "holds" for f in applied.findings if f.part.startswith(("gate", "switch")))
    beyond = hs.check(latching.change({"gate.pull_up": f"{1.25 * value:g} ohm"}), cases=["loaded"])["loaded"]
    assert any(f.grade != "holds" for f in beyond.findings if f.part.startswith(("gate", "switch", "oscillator")))
