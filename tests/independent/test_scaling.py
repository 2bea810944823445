# SPDX-License-Identifier: GPL-3.0-or-later
"""Laws of similarity: all impedances times k leaves voltages and ratios and divides currents by k; all times times m leaves
voltages, currents and ratios and divides frequencies by m. Any linear circuit obeys them, and a MOSFET whose figures are scaled."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from heatsim.engine import run_deck
from heatsim.measures import MeasureContext, measure
from heatsim.netlist.generate import make_deck
from heatsim.parts.heater import Heater
from heatsim.physics import stage
from heatsim.waves import Waveforms
from tests.support.book import INDEPENDENT, known
from tests.support.independent.circuits import bench, measured
from tests.support.scaled import scaled

SCALES = {"impedances times 2": (2.0, 1.0), "times times 0.6": (1.0, 0.6), "both": (0.7, 1.5)}
RATIOS = ("tank.thd_ratio", "tank.half_wave_asymmetry_ratio", "tank.crest_ratio")


def heater() -> Heater:
    """The bench heater with linear chokes."""
    return bench(choke__measured=measured(), supply__rise_time="0.3 ms")


@pytest.mark.parametrize("name", SCALES)
def test_closed_forms_scale(name: str) -> None:
    """Frequency, Q, currents and harmonics that are expected before anything is simulated."""
    k, m = SCALES[name]
    plain, other = heater(), scaled(heater(), k, m)
    assert other.frequency == pytest.approx(plain.frequency / m, rel=1e-9)
    assert other.quality == pytest.approx(plain.quality, rel=1e-9)
    assert other.supply_current == pytest.approx(plain.supply_current / k, rel=1e-9)
    assert other.coil_current == pytest.approx(plain.coil_current / k, rel=1e-9)
    ripple = [
        stage.choke_ripple(each.supply.voltage, each.frequency, each.chokes[0].curve.inductance_zero, "two")
        for each in (plain, other)
    ]
    assert ripple[1] == pytest.approx(ripple[0] / k, rel=1e-9)
    for order in (3, 5, 7):
        ratios = [stage.tank_harmonic_ratio(each.quality, order) for each in (plain, other)]
        assert ratios[1] == pytest.approx(ratios[0], rel=1e-9)


@cache
def settled(impedance: float = 1.0, time: float = 1.0) -> dict[str, object]:
    """Measures of the settled state by ngspice; impedance, time: what the heater is scaled by."""
    deck = make_deck(scaled(heater(), impedance, time), "similar", longest=12e-3 * time)
    run = run_deck(replace(deck, settle=replace(deck.settle, first=4e-3 * time)))
    assert run.outcome == "settled", run.detail
    assert run.waveforms is not None
    return measured_of(run.waveforms)


def measured_of(waves: Waveforms) -> dict[str, object]:
    """Of the last twenty periods."""
    return dict(measure(waves, MeasureContext(devices=2, gate_threshold=3.6, from_rest=False)))


@pytest.mark.slow
@pytest.mark.parametrize("name", SCALES)
def test_the_simulated_heater_scales(name: str) -> None:
    """The gate diodes' saturation current does not scale, 18 mV of their drop at twice the impedances."""
    k, m = SCALES[name]
    plain, other = settled(), settled(k, m)

    def held(key: str, factor: float, **within: float) -> None:
        wanted = factor * float(plain[key])  # type: ignore[arg-type]
        assert other[key] == known(wanted, f"{name}: {key}", "law of similarity", INDEPENDENT, unit="SI", **within), key

    held("tank.frequency_hz", 1 / m, rel=1e-3)
    for key in ("tank.peak_voltage_v", "drain.left.peak_voltage_v", "drain.right.peak_voltage_v"):
        held(key, 1.0, rel=5e-3)
    for key in ("coil.rms_current_a", "supply.mean_current_a", "choke.left.ripple_current_a", "capacitor.rms_current_a"):
        held(key, 1 / k, rel=5e-3)
    for key in RATIOS:
        held(key, 1.0, abs=1e-3)
    apart = np.array(other["tank.harmonic_ratios"][:9]) - np.array(plain["tank.harmonic_ratios"][:9])  # type: ignore[index]
    assert apart == known(np.zeros(9), f"{name}: harmonics 1 to 9, difference", "law of similarity", INDEPENDENT, abs=1e-3)
