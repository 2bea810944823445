# SPDX-License-Identifier: GPL-3.0-or-later
"""Circuits solved by hand, through a worker: what comes back is what circuit theory says, to a stated accuracy.

Formulae: first- and second-order linear circuits as in any text on network theory (common knowledge, no source needed
beyond Kirchhoff's laws); each is written out where it is used.
"""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest

from heatsim.engine import Run, run_decks
from heatsim.netlist.deck import Deck, SettleRule, Transient
from heatsim.waves import Array, Signal, Waveforms
from tests.support.book import CLOSED, known

TAU, STEP = 20e-6, 20e-9
"""Time constant of the RC circuit and the largest step everywhere [s]."""

DRIVE, RLC = 60e3, (10.0, 50e-6, 100e-9)
"""Frequency of the driven series circuit [Hz] and its R, L, C in SI units; resonance at 71.2 kHz."""


def deck(circuit: str, signals: dict[str, str], stop: float) -> Deck:
    """A linear circuit with tight tolerances."""
    named = tuple(Signal(name, "A" if vector[0] == "i" else "V", ((1.0, vector),)) for name, vector in signals.items())
    rule = SettleRule(named[0].name, (named[0].name,), 1e-9, 5, stop, stop, stop, 1e-9)
    return Deck("closed form", circuit, Transient(stop, STEP, STEP), rule, named, options={"method": "trap", "reltol": "1e-5"})


DECKS = {
    "charge": deck(f"V1 s 0 DC 10\nR1 s a 1k\nC1 a 0 {TAU / 1e3:g} IC=0", {"v": "v(a)"}, 5 * TAU),
    "ring": deck("L1 a b 10u IC=0\nR1 b 0 0.4\nC1 a 0 100n IC=20", {"v": "v(a)", "i": "i(l1)"}, 200e-6),
    "driven": deck(
        f"V1 s 0 SIN(0 5 {DRIVE:g})\nR1 s a {RLC[0]:g}\nL1 a c {RLC[1]:g}\nC1 c 0 {RLC[2]:g}",
        {"v": "v(c)", "i": "i(l1)", "source": "v(s)"},
        600e-6,
    ),
}


@pytest.fixture(scope="module")
def runs() -> dict[str, Run]:
    """All of them in one batch."""
    return dict(zip(DECKS, run_decks(list(DECKS.values())), strict=True))


def waves(runs: dict[str, Run], name: str) -> Waveforms:
    """Waveforms of a run that got to its end."""
    run = runs[name]
    assert run.waveforms is not None
    assert run.deck.transient.stop == pytest.approx(DECKS[name].transient.stop, rel=1e-6)
    return run.waveforms


def test_a_capacitor_charges_exponentially(runs: dict[str, Run]) -> None:
    """v = V (1 - exp(-t/RC)), within 0.01 % of V at every sample."""
    found = waves(runs, "charge")
    wanted = 10 * (1 - np.exp(-found.time / TAU))
    assert found["v"] == known(wanted, "capacitor that charges, all samples", "V (1 - exp(-t/RC))", CLOSED, unit="V", abs=1e-3)


def test_between_samples_a_straight_line_errs_by_the_curvature(runs: dict[str, Run]) -> None:
    """Interpolated linearly at the middle of every step h, |error| <= h^2 max|v''| / 8 + the error of the samples."""
    found = waves(runs, "charge")
    middle = (found.time[:-1] + found.time[1:]) / 2
    error = np.abs(np.interp(middle, found.time, found["v"]) - 10 * (1 - np.exp(-middle / TAU)))
    assert np.diff(found.time).max() <= STEP * 1.001
    assert error.max() <= STEP**2 * 10 / TAU**2 / 8 + 1e-3


def test_a_resonant_circuit_rings_down(runs: dict[str, Run]) -> None:
    """alpha = R/2L, w = sqrt(1/LC - alpha^2); v = V exp(-alpha t) (cos wt + alpha/w sin wt)."""
    found = waves(runs, "ring")
    alpha = 0.4 / (2 * 10e-6)
    w = math.sqrt(1 / (10e-6 * 100e-9) - alpha**2)
    marks = rising_zeros(found.time, found["v"])
    rings = 2 * math.pi / np.diff(marks).mean()
    assert rings == known(w, "circuit that rings: frequency", "sqrt(1/LC - alpha^2)", CLOSED, unit="rad/s", rel=1e-4)
    peaks = np.array([found["v"][(found.time >= a) & (found.time <= b)].max() for a, b in zip(marks[:-1], marks[1:], strict=True)])
    fitted = -np.polyfit(marks[:-1], np.log(peaks), 1)[0]
    assert fitted == known(alpha, "circuit that rings: decay", "R/2L", CLOSED, unit="1/s", rel=2e-3)
    exact = 20 * np.exp(-alpha * found.time) * (np.cos(w * found.time) + alpha / w * np.sin(w * found.time))
    early = found.time < 50e-6
    assert found["v"][early] == known(exact[early], "circuit that rings, all samples", "closed form", CLOSED, unit="V", abs=0.02)


def test_a_driven_series_circuit_has_the_amplitude_and_phase_of_its_impedance(runs: dict[str, Run]) -> None:
    """I = V/(R + jwL + 1/jwC) and V_C = I/jwC, by Fourier sums over the last ten whole periods; within 0.05 % and
    0.05 degrees. What is left of the start decays with 2L/R = 10 us and is gone.
    """
    found = waves(runs, "driven")
    w = 2 * math.pi * DRIVE
    resistance, inductance, capacitance = RLC
    current = 5 / complex(resistance, w * inductance - 1 / (w * capacitance))
    source = phasor(found.time, found["source"])
    assert abs(source) == pytest.approx(5, rel=1e-4)
    for name, wanted in (("i", current), ("v", current / (1j * w * capacitance))):
        ratio = phasor(found.time, found[name]) / source
        what = f"driven series circuit: {name}"
        assert abs(ratio) == known(abs(wanted) / 5, f"{what}, amplitude a volt", "impedance", CLOSED, unit="A/V or 1", rel=5e-4)
        assert math.degrees(cmath.phase(ratio * 5 / wanted)) == known(
            0.0, f"{what}, phase", "impedance", CLOSED, unit="°", abs=0.05
        )


def phasor(time: Array, samples: Array) -> complex:
    """Complex amplitude at the driving frequency over the last ten whole periods."""
    stop = float(time[-1])
    even = np.linspace(stop - 10 / DRIVE, stop, 20001)
    values = np.interp(even, time, samples) * np.exp(-2j * math.pi * DRIVE * even)
    return complex(2 * np.trapezoid(values, even) / (10 / DRIVE))


def rising_zeros(time: Array, samples: Array) -> Array:
    """Instants [s] of rising zero crossings, by straight lines."""
    k = np.flatnonzero((samples[:-1] < 0) & (samples[1:] >= 0))
    return np.asarray(time[k] - samples[k] * (time[k + 1] - time[k]) / (samples[k + 1] - samples[k]))
