# SPDX-License-Identifier: GPL-3.0-or-later
"""A bank's loss told apart, on waves whose every part is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.measures import silicon
from heatsim.measures.energy import mean_power
from heatsim.measures.silicon import BankLoss, Silicon, avalanche_energy, bank_loss
from heatsim.waves import Product, Waveforms
from tests.support.book import CLOSED, known

CHIP = Silicon(threshold=4.0, breakdown=200.0, diode_drop=1.0, gate_resistance=0.5)
PERIOD = 10e-6


def wave(corners: list[tuple[float, float, float, float, float]], points: int = 4000) -> Waveforms:
    """Straight lines between corners: time [s], drain [V], current [A], gate [V], gate current [A]."""
    at = np.array(corners)
    time = np.unique(np.concatenate((np.linspace(0.0, at[-1, 0], points), at[:, 0])))
    names = ("drain.left.voltage", "switch.left.current", "gate.left.voltage", "gate.left.current")
    return Waveforms(time, {name: np.interp(time, at[:, 0], at[:, k + 1]) for k, name in enumerate(names)})


def test_signals_are_those_of_the_ledger() -> None:
    assert silicon.signals("right")[:2] == ("drain.right.voltage", "switch.right.current")


def test_conduction_is_the_current_squared_times_the_resistance() -> None:
    """20 A in 10 mohm for half of a period, and nothing in the other half."""
    loss = bank_loss(
        wave([(0, 0.2, 20, 12, 0), (5e-6, 0.2, 20, 12, 0), (5e-6 + 1e-12, 0, 0, 0, 0), (PERIOD, 0, 0, 0, 0)]), "left", CHIP
    )
    assert loss is not None
    assert loss.conduction == known(
        20**2 * 10e-3 / 2, "conduction loss of 20 A in 10 mohm, half the time", "I^2 R", CLOSED, unit="W", rel=1e-5
    )
    assert loss.overlap == pytest.approx(0.0, abs=1e-5) and loss.diode == loss.avalanche == 0.0


def test_overlap_is_the_triangle_of_voltage_and_current() -> None:
    """Current held at 10 A while the drain rises to 60 V in 100 ns, then the current falls in 50 ns: V I (t1 + t2)/2 a period."""
    corners = [(0, 0, 10, 5, 0), (1e-6, 0, 10, 5, 0), (1.1e-6, 60, 10, 5, 0), (1.15e-6, 60, 0, 5, 0), (1.2e-6, 60, 0, 0, 0)]
    loss = bank_loss(wave([*corners, (PERIOD, 60, 0, 0, 0)], 40_000), "left", CHIP)
    expected = 60 * 10 * (100e-9 + 50e-9) / 2 / PERIOD
    early = 1.0 * 10 * (100e-9 / 60) / 2 / PERIOD  # below 5 V - 4 V the channel still conducts
    assert loss is not None
    assert loss.overlap + loss.conduction == known(
        expected, "loss of changing over", "V I (t1 + t2)/2 a period", CLOSED, unit="W", rel=1e-6
    )
    assert loss.conduction == pytest.approx(early, rel=0.15)


def test_reverse_current_belongs_to_the_diode_while_the_gate_is_off_and_to_the_channel_while_it_is_on() -> None:
    off = bank_loss(wave([(0, -0.9, -5, 0, 0), (PERIOD, -0.9, -5, 0, 0)]), "left", CHIP)
    on = bank_loss(wave([(0, -0.1, -5, 12, 0), (PERIOD, -0.1, -5, 12, 0)]), "left", CHIP)
    both = bank_loss(wave([(0, -0.8, -80, 12, 0), (PERIOD, -0.8, -80, 12, 0)]), "left", CHIP)
    assert off is not None and on is not None and both is not None
    assert (off.diode, off.conduction) == (pytest.approx(4.5), 0.0)
    assert (on.diode, on.conduction) == (0.0, pytest.approx(0.5))
    assert (both.diode, both.conduction) == (pytest.approx(64.0), 0.0)


def test_avalanche_is_what_flows_at_the_breakdown_voltage() -> None:
    pulse = [(0, 0, 0, 0, 0), (4e-6, 200.0, 0, 0, 0), (4e-6 + 1e-12, 200.1, 3, 0, 0), (4.2e-6, 200.1, 1, 0, 0)]
    found = wave([*pulse, (4.2e-6 + 1e-12, 100, 0, 0, 0), (PERIOD, 0, 0, 0, 0)], 20_000)
    loss = bank_loss(found, "left", CHIP)
    energy = 200.1 * 2.0 * 0.2e-6
    assert loss is not None and loss.avalanche == pytest.approx(energy / PERIOD, rel=1e-4)
    assert avalanche_energy(found, "left", 200.0) == known(
        energy, "energy of an avalanche", "triangle by hand", CLOSED, unit="J", rel=1e-4
    )
    assert avalanche_energy(found, "left", 250.0) == 0.0


def test_the_largest_of_several_avalanches_counts() -> None:
    corners = [(0, 210, 0, 0, 0), (1e-6, 210, 4, 0, 0), (1.001e-6, 0, 0, 0, 0), (2e-6, 0, 0, 0, 0)]
    corners += [(2.001e-6, 210, 1, 0, 0), (4e-6, 210, 1, 0, 0), (4.001e-6, 0, 0, 0, 0)]
    assert avalanche_energy(wave(corners, 20_000), "left", 200.0) == pytest.approx(210 * 2e-6, rel=3e-3)


def test_gate_loss_is_that_of_the_chips_own_resistance_and_all_of_the_gates_where_it_is_not_known() -> None:
    """0.4 A into the gate while it rises from 0 to 12 V, out again as it falls: the chip's capacitance gives back what it took."""
    corners = [(0, 0, 0, 0, 0.4), (2e-6, 0, 0, 12, 0.4), (2e-6 + 1e-12, 0, 0, 12, 0), (6e-6, 0, 0, 12, 0)]
    corners += [(6e-6 + 1e-12, 0, 0, 12, -0.4), (8e-6, 0, 0, 0, -0.4), (8e-6 + 1e-12, 0, 0, 0, 0), (PERIOD, 0, 0, 0, 0)]
    chip = bank_loss(wave(corners), "left", CHIP)
    assert chip is not None and chip.gate == pytest.approx(0.5 * 0.4**2 * 4e-6 / PERIOD, rel=1e-4)
    assert chip.total == pytest.approx(0.0, abs=1e-6)  # the voltage is that at the chip's pin, and comes back
    alone = bank_loss(wave(corners), "left", Silicon(4.0, 200.0, 1.0, None))
    assert alone is not None and alone.gate == pytest.approx(0.0, abs=1e-6) and alone.conduction == pytest.approx(0.0, abs=1e-6)


def test_the_split_adds_up_to_the_ledger_whatever_the_waves_are() -> None:
    rng = np.random.default_rng(5)
    time = np.concatenate(([0.0], np.cumsum(rng.uniform(1e-9, 40e-9, 3000))))
    names = silicon.signals("left")
    scales = (220.0, 30.0, 15.0, 1.0)
    signals = {name: scale * rng.uniform(-0.2, 1.0, time.size) for name, scale in zip(names, scales, strict=True)}
    waves = Waveforms(time, signals)
    loss = bank_loss(waves, "left", CHIP)
    assert loss is not None
    assert loss.total == pytest.approx(mean_power(waves, Product("switch.left", (names[:2], names[2:]))), rel=1e-12)
    assert min(abs(each) for each in (loss.conduction, loss.overlap, loss.diode, loss.avalanche, loss.gate)) > 0.0


def test_a_missing_signal_is_not_a_loss_of_nothing() -> None:
    waves = wave([(0, 0, 0, 0, 0), (PERIOD, 0, 0, 0, 0)]).only(["drain.left.voltage"])
    assert bank_loss(waves, "left", CHIP) is None and avalanche_energy(waves, "left", 200.0) is None
    assert BankLoss(1.0, 2.0, 3.0, 4.0, 5.0).total == 15.0
