# SPDX-License-Identifier: GPL-3.0-or-later
"""The flat table: the keys of results.json, the ideal stage's numbers under them, None where nothing is known."""

from __future__ import annotations

import time as clock
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.measures import MeasureContext, measure
from heatsim.measures.gather import least_inductance
from heatsim.waves import Ledger, Ohmic, Product, Resistive, Waveforms
from tests.support.book import listed
from tests.support.references import INV_CONST, INV_EXAMPLE
from tests.support.shapes import Stage, uneven_time

CONST = {name: value for name, value, _ in INV_CONST}
STAGE = Stage()
BOOKS = Ledger(
    (Product("supply", (("supply.voltage", "supply.current"),)),),
    (Ohmic("workpiece", "tank.voltage", STAGE.resistance), Resistive("choke.left.copper", "choke.left.current", 0.0)),
)
CONTEXT = MeasureContext(
    devices=2, gate_threshold=4.0, inductance_zero={"left": 100e-6, "right": 125e-6}, ledger=BOOKS, periods=8, from_rest=False
)

SIDED = {
    "drain": ["peak_voltage_v"],
    "switch": ["peak_current_a", "rms_current_a", "turn_on_voltage_v"],
    "gate": ["max_voltage_v", "min_voltage_v", "ringing_frequency_hz", "ringing_decay_s", "rise_delay_s", "fall_delay_s"],
    "choke": [
        "mean_current_a",
        "peak_current_a",
        "ripple_current_a",
        "flux_swing_wb",
        "inductance_zero_h",
        "inductance_min_h",
        "inductance_remaining_ratio",
    ],
}
KEYS = {f"{part}.{side}.{what}" for part, named in SIDED.items() for what in named for side in ("left", "right")} | {
    "tank.frequency_hz",
    "tank.peak_voltage_v",
    "tank.rms_voltage_v",
    "tank.thd_ratio",
    "tank.half_wave_asymmetry_ratio",
    "tank.harmonic_ratios",
    "coil.rms_current_a",
    "capacitor.rms_current_a",
    "capacitor.peak_voltage_v",
    "supply.mean_current_a",
    "supply.power_w",
    "workpiece.power_w",
    "energy.imbalance_ratio",
    "startup.outcome",
    "startup.time_s",
    "startup.overshoot_ratio",
    "startup.peak_supply_current_a",
}
"""The keys of results.json that a waveform can give; temperature_c and core_loss_w need more than a waveform."""


@pytest.fixture(scope="module")
def ideal() -> dict[str, object]:
    return dict(measure(STAGE.waveforms(periods=12, points=400), CONTEXT))


def test_all_keys_are_there(ideal: dict[str, object]) -> None:
    assert ideal.keys() >= KEYS
    assert measure(STAGE.waveforms()).keys() >= KEYS  # without a context too


def test_voltages_of_the_ideal_stage(ideal: dict[str, object]) -> None:
    """Section 8: Vp = pi Vdc on tank and drains, rms pi Vdc/sqrt(2); 400 samples a period leave 3e-5."""
    assert ideal["tank.frequency_hz"] == pytest.approx(100e3, rel=1e-6)
    for key in ("tank.peak_voltage_v", "drain.left.peak_voltage_v", "drain.right.peak_voltage_v"):
        assert ideal[key] / 24 == listed("INV_CONST", "value", "Vpk/Vdc", rel=1e-4)  # type: ignore[operator]
    assert ideal["tank.rms_voltage_v"] / 24 == listed("INV_CONST", "value", "Vtank_rms/Vdc", rel=1e-4)  # type: ignore[operator]
    assert ideal["tank.crest_ratio"] == pytest.approx(np.sqrt(2), rel=1e-4)
    assert ideal["tank.thd_ratio"] == pytest.approx(0.0, abs=2e-4)
    assert ideal["tank.half_wave_asymmetry_ratio"] == pytest.approx(0.0, abs=2e-4)
    assert ideal["tank.harmonic_ratios"][0] == 1.0 and len(ideal["tank.harmonic_ratios"]) == 40  # type: ignore[index]


def test_currents_of_the_ideal_stage(ideal: dict[str, object]) -> None:
    """Section 8, worked example: choke ripple, flux swing 0.5511 Vdc/f, Idc/2 a choke, Idc/sqrt(2) a bank of two."""
    row = INV_EXAMPLE[0]
    vdc, _, f, _, _, _, power, idc, *_ = row
    swing = CONST["two choke dLam*f/Vdc"] * vdc / f
    for side in ("left", "right"):
        assert ideal[f"choke.{side}.flux_swing_wb"] == pytest.approx(swing, rel=1e-4)
        assert ideal[f"choke.{side}.ripple_current_a"] == listed("INV_EXAMPLE", "ripple", row, rel=1e-4)
        assert ideal[f"choke.{side}.mean_current_a"] == pytest.approx(idc / 2, rel=1e-4)
        assert ideal[f"switch.{side}.peak_current_a"] == pytest.approx(idc / 2)
        assert ideal[f"switch.{side}.rms_current_a"] == pytest.approx(idc / 2 / np.sqrt(2), rel=2e-3)
        assert ideal[f"switch.{side}.turn_on_voltage_v"] == pytest.approx(0.0, abs=1.0)
        assert (ideal[f"gate.{side}.max_voltage_v"], ideal[f"gate.{side}.min_voltage_v"]) == (12.0, 0.0)
        assert ideal[f"gate.{side}.ringing_frequency_hz"] is None
    assert ideal["choke.right.inductance_remaining_ratio"] is None  # a record does not tell, a part's model does
    assert ideal["supply.mean_current_a"] == listed("INV_EXAMPLE", "current", row, rel=1e-4)
    assert ideal["supply.power_w"] == listed("INV_EXAMPLE", "power", row, rel=1e-4)
    assert ideal["workpiece.power_w"] == pytest.approx(power, rel=1e-4)
    assert ideal["energy.imbalance_ratio"] == pytest.approx(0.0, abs=2e-4)
    assert ideal["loss.choke.left.copper_w"] == ideal["choke.left.copper_loss_w"] == 0.0
    assert "loss.workpiece_w" not in ideal


def test_running_record_has_no_start(ideal: dict[str, object]) -> None:
    assert ideal["startup.time_s"] is None and ideal["startup.peak_supply_current_a"] is None


def test_start_from_rest() -> None:
    """Amplitude with a time constant of 20 periods: 2 % after 78 of them (ln 50); supply peak by hand."""
    time = uneven_time(300.3, 60_000)
    tank = (1 - np.exp(-time / 20)) * np.sin(2 * np.pi * time)
    signals = {"tank.voltage": tank, "supply.current": 7 * np.exp(-time / 5)}
    found = measure(Waveforms(time, signals), MeasureContext(outcome="settled"))
    assert measure(Waveforms(time, signals), MeasureContext(outcome="drifting"))["startup.time_s"] is None
    assert found["startup.time_s"] == pytest.approx(20 * np.log(50), abs=0.6)
    assert found["startup.overshoot_ratio"] == pytest.approx(0.0, abs=1e-3)
    assert found["startup.peak_supply_current_a"] == pytest.approx(7.0)


def test_capture_of_the_tank_alone() -> None:
    waves = STAGE.waveforms().only(["tank.voltage"])
    found = measure(waves, CONTEXT)
    assert found["tank.frequency_hz"] == pytest.approx(100e3, rel=1e-6)
    assert found["tank.thd_ratio"] is not None and found["startup.outcome"] is None
    unknown = {key for key in KEYS if found[key] is None}
    assert unknown >= {
        "drain.left.peak_voltage_v",
        "switch.left.rms_current_a",
        "choke.left.inductance_min_h",
        "supply.power_w",
        "workpiece.power_w",
        "energy.imbalance_ratio",
        "capacitor.peak_voltage_v",
    }
    assert found["choke.left.inductance_zero_h"] == 100e-6


@pytest.mark.parametrize("name", ["coil.current", "drain.left.voltage", "capacitor.voltage"])
def test_frequency_from_whatever_oscillates(name: str) -> None:
    waves = STAGE.waveforms()
    shown = {"capacitor.voltage": waves["tank.voltage"], **waves.signals}[name]
    found = measure(Waveforms(waves.time, {name: shown}), CONTEXT)
    assert found["tank.frequency_hz"] == pytest.approx(100e3, rel=1e-4)
    assert found["tank.peak_voltage_v"] is None


def test_tank_voltage_from_the_drains() -> None:
    found = measure(STAGE.waveforms().only(["drain.left.voltage", "drain.right.voltage"]), CONTEXT)
    assert found["tank.rms_voltage_v"] == pytest.approx(CONST["Vtank_rms/Vdc"] * 24, rel=1e-3)


def test_record_without_oscillation() -> None:
    """Nothing periodic is claimed of a latched pair; the supply's peak is."""
    time = uneven_time(1e-3, 2000)
    signals = {"tank.voltage": np.zeros_like(time), "supply.current": 1e5 * time, "choke.left.current": 5e4 * time}
    signals |= {f"gate.{side}.voltage": np.full_like(time, 12.0) for side in ("left", "right")}
    found = measure(Waveforms(time, signals), replace(CONTEXT, from_rest=True, outcome="latched"))
    assert found["startup.outcome"] == "latched"
    assert found["startup.peak_supply_current_a"] == pytest.approx(100.0)
    numbers = {key for key, value in found.items() if value is not None}
    assert numbers == {
        "startup.outcome",
        "startup.peak_supply_current_a",
        "choke.left.inductance_zero_h",
        "choke.right.inductance_zero_h",
    }


def test_record_of_nothing_we_know() -> None:
    found = measure(Waveforms(np.arange(5.0), {"ambient": np.ones(5)}))
    assert all(found[key] is None for key in KEYS)


def test_one_choke_circuit_speaks_of_its_centre() -> None:
    waves = STAGE.waveforms()
    signals = {name.replace("choke.left", "choke.centre"): x for name, x in waves.signals.items() if "choke.right" not in name}
    context = replace(CONTEXT, ledger=None, inductance={"centre": lambda i: np.full_like(i, 80e-6)})
    found = measure(Waveforms(waves.time, signals), context)
    assert found["choke.centre.inductance_min_h"] == found["choke.centre.inductance_zero_h"] == 80e-6
    assert found["choke.centre.inductance_remaining_ratio"] == 1.0
    assert "choke.left.mean_current_a" not in found


def test_model_and_magnetising_current_come_first() -> None:
    """Where the record tells the magnetising current, the model is asked for that, not for the terminal current."""
    waves = STAGE.waveforms()
    signals = {**waves.signals, "choke.left.magnetising_current": waves["choke.left.current"] - 1.0}
    context = replace(CONTEXT, inductance={side: lambda i: 1e-3 / i for side in ("left", "right")})
    found = measure(Waveforms(waves.time, signals), context)
    left, right = (float(found[f"choke.{side}.peak_current_a"]) for side in ("left", "right"))  # type: ignore[arg-type]
    assert found["choke.left.inductance_min_h"] == pytest.approx(1e-3 / (left - 1), rel=1e-3)
    assert found["choke.right.inductance_min_h"] == pytest.approx(1e-3 / right, rel=1e-3)


def test_model_is_asked_between_the_samples_too() -> None:
    """A dip of the model's inductance at 2 A, while the samples stand at 0, 1.9 and 3 A only."""
    found = least_inductance(lambda i: 1.0 - 0.5 * np.exp(-(((i - 2.0) / 0.02) ** 2)), np.array([0.0, 1.9, 3.0]))
    assert found == pytest.approx(0.5, abs=0.02)


def test_current_of_one_of_three_devices() -> None:
    """Half of the time -30 A in the bank: each device 10 A peak and 10/sqrt(2) A rms."""
    waves = STAGE.waveforms(points=400)
    bank = np.where(np.mod(waves.time * STAGE.frequency, 1) > 0.5, -30.0, 0.0)
    found = measure(Waveforms(waves.time, {**waves.signals, "switch.left.current": bank}), replace(CONTEXT, devices=3))
    assert found["switch.left.peak_current_a"] == pytest.approx(10.0)
    assert found["switch.left.rms_current_a"] == pytest.approx(10 / np.sqrt(2), rel=2e-3)


def test_long_record_is_measured_quickly() -> None:
    """500 periods of 200 samples, some thirty signals: well under 0.3 s, here with room for a busy machine."""
    waves = STAGE.waveforms(periods=500)
    signals = {**waves.signals, **{f"more.{k}": waves["tank.voltage"] for k in range(14)}}
    waves = Waveforms(waves.time, signals)
    assert waves.time.size >= 100_000 and len(waves.names) >= 28
    spent = []
    for _ in range(3):
        start = clock.process_time()
        measure(waves, replace(CONTEXT, from_rest=True, outcome="settled"))
        spent.append(clock.process_time() - start)
    assert min(spent) < 0.3


@given(volts=st.floats(0.1, 100.0), shift=st.floats(-0.01, 0.01), seed=st.integers(0, 1000))
def test_scale_clock_and_sampling(volts: float, shift: float, seed: int) -> None:
    """All signals times k: k times the volts, amperes, webers, k^2 times the watts, the same ratios and frequency."""
    waves = STAGE.waveforms(seed=seed)
    scaled = Waveforms(waves.time + shift, {name: volts * x for name, x in waves.signals.items()})
    one = measure(STAGE.waveforms(seed=1), CONTEXT)
    other = measure(scaled, replace(CONTEXT, gate_threshold=4.0 * volts))
    power = {"_v": 1, "_a": 1, "_wb": 1, "_w": 2, "_h": 0, "_hz": 0}
    for key in KEYS | {"tank.crest_ratio"}:
        unit, was = key[key.rfind("_") :], one[key]
        if isinstance(was, float) and unit in power and "turn_on" not in key:
            assert other[key] == pytest.approx(was * volts ** power[unit], rel=3e-3), key
