# SPDX-License-Identifier: GPL-3.0-or-later
"""Laws of the ideal current-fed push-pull stage: computed values (tests/support/references.py) and direct
integration."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.physics import stage
from tests.support import references as ref
from tests.support.book import INDEPENDENT, known, listed

CONSTANTS = {
    "Vpk/Vdc": stage.peak_voltage(1.0),
    "Vtank_rms/Vdc": stage.tank_rms_voltage(1.0),
    "Vct_pk/Vdc": stage.centre_tap_peak_voltage(1.0),
    "Rin/R": stage.input_resistance(1.0),
    "one choke dLam*f/Vdc": stage.choke_flux_swing(1.0, 1.0, "one"),
    "two choke dLam*f/Vdc": stage.choke_flux_swing(1.0, 1.0, "two"),
    "one choke flux rms*w/Vdc": stage.choke_flux_rms(1.0, 1.0 / (2 * np.pi), "one"),
    "two choke flux rms*w/Vdc": stage.choke_flux_rms(1.0, 1.0 / (2 * np.pi), "two"),
}


@pytest.mark.parametrize("row", ref.INV_CONST)
def test_constants_of_the_stage(row: tuple) -> None:
    assert CONSTANTS[row[0]] == listed("INV_CONST", "value", row)


@pytest.mark.parametrize("row", ref.INV_EXAMPLE)
def test_worked_example(row: tuple) -> None:
    supply, load, frequency, choke, chokes, *_ = row
    kind: Literal["one", "two"] = "one" if chokes == 1 else "two"
    assert stage.peak_voltage(supply) == listed("INV_EXAMPLE", "peak", row)
    assert stage.load_power(supply, load) == listed("INV_EXAMPLE", "power", row)
    assert stage.supply_current(supply, load) == listed("INV_EXAMPLE", "current", row)
    assert stage.choke_ripple(supply, frequency, choke, kind) == listed("INV_EXAMPLE", "ripple", row)


@pytest.mark.parametrize("row", ref.TANK_SERIES_R)
def test_tank_with_series_resistance(row: tuple) -> None:
    inductance, series, capacitance, frequency, parallel, _ = row
    assert stage.unity_power_factor_frequency(inductance, capacitance, series) == listed("TANK_SERIES_R", "frequency", row)
    assert stage.parallel_resistance(inductance, capacitance, series) == listed("TANK_SERIES_R", "parallel", row)
    w = 2 * np.pi * frequency
    admittance = 1j * w * capacitance + 1 / (series + 1j * w * inductance)  # the definition itself
    assert admittance == pytest.approx(1 / parallel, rel=1e-6)


@pytest.mark.parametrize("row", ref.TANK_HARMONIC)
def test_tank_harmonic(row: tuple) -> None:
    quality, order, *_ = row
    assert stage.tank_harmonic_ratio(quality, order) == listed("TANK_HARMONIC", "ratio", row)
    assert stage.tank_harmonic_ratio(quality, order + 1) == 0.0


def test_tank_harmonic_from_impedance() -> None:
    """Square current into R, L, C in parallel, summed by hand: 1/n times the impedance ratio."""
    resistance, inductance, capacitance = 12.0, 1.2e-6, 2.2e-6
    w = 1 / np.sqrt(inductance * capacitance)
    impedance = [1 / (1 / resistance + 1j * n * w * capacitance + 1 / (1j * n * w * inductance)) for n in (1, 3)]
    quality = stage.tank_quality(resistance, inductance, w / (2 * np.pi))
    assert stage.tank_harmonic_ratio(quality, 3) == known(
        abs(impedance[1] / impedance[0]) / 3,
        "harmonic 3 of a tank over the fundamental",
        "impedance of R, L, C by hand",
        INDEPENDENT,
    )


@pytest.mark.parametrize("chokes", ["one", "two"])
def test_flux_waveform_is_the_integral_of_the_choke_voltage(chokes: Literal["one", "two"]) -> None:
    """Derivative, mean, swing and rms of the closed form against the voltage it must come from."""
    supply, frequency = 24.0, 90e3
    time = np.linspace(0.0, 1 / frequency, 200_001)
    flux = stage.choke_flux_waveform(supply, frequency, time, chokes)
    sine = np.sin(2 * np.pi * frequency * time)
    node = np.pi / 2 * np.abs(sine) if chokes == "one" else np.pi * np.maximum(sine, 0.0)
    middle = (node[1:] + node[:-1]) / 2
    voltage = np.diff(flux) / np.diff(time)
    inner = np.abs(np.arange(len(voltage)) - len(voltage) / 2) < 0.499 * len(voltage)
    assert voltage[inner] == pytest.approx(supply * (1 - middle[inner]), abs=1e-3 * supply)
    one_period = flux[:-1]
    assert np.mean(one_period) == pytest.approx(0.0, abs=1e-6 * np.ptp(flux))
    assert np.ptp(flux) == pytest.approx(stage.choke_flux_swing(supply, frequency, chokes), rel=1e-7)
    assert np.sqrt(np.mean(one_period**2)) == pytest.approx(stage.choke_flux_rms(supply, frequency, chokes), rel=1e-6)
    rms, what = np.sqrt(np.mean((supply * (1 - middle)) ** 2)), f"rms voltage of a choke of {chokes}"
    assert stage.choke_rms_voltage(supply, chokes) == known(rms, what, "sum over 200,000 points", INDEPENDENT, unit="V", rel=1e-6)


def test_ripple_harmonics_add_up_to_the_flux() -> None:
    """Parseval: the harmonics' rms over all orders is the flux rms over the inductance."""
    amplitudes = [stage.choke_ripple_harmonic(24.0, 90e3, 1e-4, order) for order in range(1, 200)]
    rms = np.sqrt(np.sum(np.square(amplitudes)) / 2)
    assert stage.choke_flux_rms(24.0, 90e3) / 1e-4 == known(
        rms, "ripple current of a choke, rms", "Parseval: sum of 199 harmonics", INDEPENDENT, unit="A", rel=1e-7
    )
    assert amplitudes[2] == 0.0 and amplitudes[1] > 0.0


@given(st.floats(5.0, 100.0), st.floats(1.0, 200.0))
def test_power_is_conserved(supply: float, load: float) -> None:
    """What the supply gives is what the load takes; the fundamental of the square current makes the peak
    voltage."""
    current = stage.supply_current(supply, load)
    assert supply * current == pytest.approx(stage.load_power(supply, load))
    assert stage.tank_rms_voltage(supply) ** 2 / load == pytest.approx(stage.load_power(supply, load))
    assert load * 2 * current / np.pi == pytest.approx(stage.peak_voltage(supply))
    assert 2 * stage.switch_rms_current(current) ** 2 * 0.01 == pytest.approx(stage.switch_conduction_loss(current, 0.01))


@given(st.floats(1e-7, 1e-4), st.floats(1e-6, 1e-2))
def test_chokes_in_the_loop_raise_the_frequency(tank: float, choke: float) -> None:
    loaded = stage.choke_loaded_inductance(tank, choke)
    assert 0.0 < loaded < tank and loaded < 2 * choke
    assert 1 / loaded == pytest.approx(1 / tank + 1 / (2 * choke))
    assert stage.choke_loaded_inductance(tank, choke, "one") == tank
    assert stage.resonant_frequency(loaded, 1e-6) > stage.resonant_frequency(tank, 1e-6)


@given(st.floats(1.0, 100.0), st.floats(1e4, 3e5), st.floats(0.2, 5.0))
def test_flux_swing_follows_volt_seconds(supply: float, frequency: float, scale: float) -> None:
    swing = stage.choke_flux_swing(supply, frequency)
    assert stage.choke_flux_swing(scale * supply, scale * frequency) == pytest.approx(swing)
    assert swing / stage.choke_flux_swing(supply, frequency, "one") == pytest.approx(5.24, abs=0.005)


@given(st.floats(1.0, 100.0), st.sampled_from([3, 5, 7, 9]))
def test_better_tanks_are_purer(quality: float, order: int) -> None:
    assert stage.tank_harmonic_ratio(1.1 * quality, order) < stage.tank_harmonic_ratio(quality, order) < 1 / order
    assert stage.tank_harmonic_ratio(quality, order + 2) < stage.tank_harmonic_ratio(quality, order)


@pytest.mark.parametrize(
    "call",
    [
        lambda: stage.choke_flux_swing(24.0, 1e5, "three"),  # type: ignore[arg-type]
        lambda: stage.choke_ripple_harmonic(24.0, 1e5, 1e-4, 0),
        lambda: stage.unity_power_factor_frequency(1e-6, 1e-6, 2.0),
        lambda: stage.resonant_frequency(0.0, 1e-6),
    ],
)
def test_impossible_input_is_named(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
