# SPDX-License-Identifier: GPL-3.0-or-later
"""The deck and the SciPy equations, brought close to the ideal stage, against its laws.

Laws: reference file section 8 (Baxandall 1959 for the stage). They hold for endless chokes, so these are large: the two
chokes of 500 uH raise the tank's frequency by 0.1 %.

The frequency with finite chokes is solved exactly in `ideal_half_cycle` (own derivation, no source): while one switch
conducts, the tank L, C has the other side's choke Lc across it, lifted by the supply. To first order in x = L/Lc the
frequency is f0 (1 + (1/2 - 2/pi^2) x) = f0 (1 + 0.2974 x). The reference file's "both chokes in series across the tank",
f0 (1 + x/4), is what sinusoidal voltages would give; the choke's voltage is a half sine, and simulation decides against it.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.optimize import brentq

from heatsim.engine import run_deck
from heatsim.netlist.generate import make_deck
from heatsim.parts.heater import Heater
from tests.support.book import CLOSED, known, listed
from tests.support.independent.circuits import near_ideal
from tests.support.independent.measure import mean, rising
from tests.support.independent.solve import Integrator, periodic
from tests.support.layers import quick_of

TOPOLOGIES = {"two-choke": ("left", "two choke dLam*f/Vdc"), "one-choke": ("centre", "one choke dLam*f/Vdc")}
LEGS = ("ngspice", "scipy")
VOLTAGE = 150.0
LARGE = 500e-6


def last_period(heater: Heater, leg: str, length: float, drift: float = 1e-3) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """One settled period from the coil current's zero on: time [s] and signals.

    length: of ngspice's cold start [s]; drift: what it may still be away from its settled state, as a share.
    """
    if leg == "scipy":
        period = periodic(Integrator(heater, rtol=1e-6), tolerance=6e-3)
        return period.time, period.signals
    deck = make_deck(heater, "near the ideal stage", steps_per_period=400)
    run = run_deck(replace(deck, settle=replace(deck.settle, first=length, tolerance=drift)))
    assert run.outcome == "settled", run.detail
    assert run.waveforms is not None
    marks = rising(run.waveforms.time, run.waveforms["coil.current"])
    part = run.waveforms.between(marks[-2], marks[-1])
    return part.time - part.time[0], dict(part.signals)


@cache
def ideal_stage(topology: str, leg: str) -> tuple[Heater, np.ndarray, dict[str, np.ndarray]]:
    """Large chokes, Q near 33."""
    heater = near_ideal(topology, LARGE, 30e-3, VOLTAGE)
    return heater, *last_period(heater, leg, 2.5e-3)


def parallel_resistance(heater: Heater) -> float:
    """Tank loss as a resistance across it [ohm]: R = L/(C r) (reference file section 8)."""
    bank = heater.capacitors
    return (heater.loaded_inductance + bank.inductance) / (bank.capacitance * heater.loaded_resistance)


@pytest.mark.parametrize("leg", quick_of(LEGS, "ngspice"))
@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_ideal_laws(topology: str, leg: str) -> None:
    """Drain peak, tank rms, input resistance, choke flux swing and ripple.

    Half a per cent: the supply current's drop in switches and leads takes 0.1 %, commutation between drain voltages of
    some 3 V instead of zero 0.2 %.
    """
    heater, time, signals = ideal_stage(topology, leg)
    side, swing_law = TOPOLOGIES[topology]
    swing = np.ptp(signals[f"choke.{side}.flux"])
    seen = {
        "Vpk/Vdc": signals["drain.left.voltage"].max() / VOLTAGE,
        "Vtank_rms/Vdc": math.sqrt(mean(time, signals["tank.voltage"] ** 2)) / VOLTAGE,
        "Rin/R": VOLTAGE / mean(time, signals["supply.current"]) / parallel_resistance(heater),
        swing_law: swing / time[-1] / VOLTAGE,
    }
    for name, value in seen.items():
        assert value == listed("INV_CONST", "value", name, rel=5e-3), name
    assert np.ptp(signals[f"choke.{side}.current"]) == pytest.approx(swing / LARGE, rel=1e-3)


@pytest.mark.parametrize("leg", quick_of(LEGS, "ngspice"))
def test_centre_choke_ripples_at_twice_the_frequency(leg: str) -> None:
    """Reference file section 8: the flux swing of one choke repeats each half period, that of two each whole one."""
    for topology, (side, _) in TOPOLOGIES.items():
        _, time, signals = ideal_stage(topology, leg)
        even = np.interp(np.linspace(0, time[-1], 4096, endpoint=False), time, signals[f"choke.{side}.flux"])
        lines = np.abs(np.fft.rfft(even))
        assert (lines[1] > 3 * lines[2]) == (topology == "two-choke")
        assert (lines[2] > 30 * lines[1]) == (topology == "one-choke")


def ideal_half_cycle(x: float) -> tuple[float, float]:
    """Frequency over f0 and drain peak over Vdc of the lossless two-choke stage with x = L/Lc.

    v = v0 + B sin(w1 t - a), v0 = Vdc x/(1+x), w1 = w0 sqrt(1+x), runs from zero to zero: sin a = v0/B, w1 T/2 = pi + 2 a.
    Each choke's mean voltage is nil, so v has the mean 2 Vdc over its half period: v0 + 2 B cos a/(pi + 2 a) = 2 Vdc.
    """
    rest = x / (1 + x)

    def excess(a: float) -> float:
        return rest + 2 * rest / math.tan(a) / (math.pi + 2 * a) - 2

    a = brentq(excess, 1e-12, 1.0, xtol=1e-15)
    return math.sqrt(1 + x) * math.pi / (math.pi + 2 * a), rest + rest / math.sin(a)


def test_first_order_of_the_half_cycle() -> None:
    """Its slope is 1/2 - 2/pi^2, the law in Heater.frequency; its peak goes to pi."""
    frequency, peak = ideal_half_cycle(1e-5)
    slope = 0.5 - 2 / math.pi**2
    assert (frequency - 1) / 1e-5 == known(slope, "half-cycle law: slope of the frequency", "first order by hand", CLOSED, rel=1e-4)
    assert peak == pytest.approx(math.pi, rel=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize(("leg", "x"), [("scipy", 0.05), ("scipy", 0.1), ("scipy", 0.2), ("ngspice", 0.1)])
def test_frequency_with_finite_chokes(leg: str, x: float) -> None:
    """Idle, Q of 100. The capacitors' own inductance is part of the tank loop. The chokes may still be sharing their mean
    current out between them (drift), which the frequency does not feel.

    The half-cycle law is met within 0.03 % of the frequency; both chokes in series across the tank, sqrt(1+x/2), would
    miss by 0.2 to 0.7 %.
    """
    inductance = 2e-6 + 1e-9
    heater = near_ideal("two-choke", inductance / x, 10e-3, VOLTAGE)
    loop = heater.loaded_inductance + heater.capacitors.inductance
    square = 1 / (loop * heater.capacitors.capacitance) - (heater.loaded_resistance / loop) ** 2
    time, signals = last_period(heater, leg, 3.5e-3, drift=0.05)
    ratio = 2 * math.pi / time[-1] / math.sqrt(square)
    law, peak = ideal_half_cycle(loop * x / inductance)
    what = f"stage by {leg}, L/Lc = {x}"
    assert ratio == known(law, f"{what}: frequency over that of the tank", "half-cycle law, solved exactly", CLOSED, rel=3e-4)
    assert abs(ratio / math.sqrt(1 + x / 2) - 1) > 1.5e-3
    found = signals["drain.left.voltage"].max() / VOLTAGE
    assert found == known(peak, f"{what}: drain peak over supply", "half-cycle law, solved exactly", CLOSED, rel=3e-3)
