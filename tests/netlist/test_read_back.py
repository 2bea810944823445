# SPDX-License-Identifier: GPL-3.0-or-later
"""Netlists read back by a parser of their own: their values are the heater's, and what they make of a workpiece is its load."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.netlist.generate import make_deck
from heatsim.parts.curves import TableCurve
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from tests.support.deck_values import Call, body, calls, number, table

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
DIGITS = 1e-8
"""Netlists have nine digits."""

HEATERS = {
    "bench": ("bench-heater", "loaded", {}),
    "idle": ("bench-heater", "idle", {}),
    "one choke": ("bench-heater", "loaded", {"heater.topology": "one-choke"}),
    "unequal": ("bench-heater", "loaded", {"choke.right.turns": 16, "switch.threshold_spread": "0.3 V", "supply.ripple": "2 V"}),
    "gapped": (
        "bench-heater",
        "loaded",
        {"choke.measured": {"inductance": "60 uH", "resistance": "8 mohm", "saturation_current": "15 A", "knee": "sharp"}},
    ),
    "small rings": ("bench-heater-small-rings", "loaded", {}),
}


@pytest.fixture(scope="module", params=HEATERS)
def pair(request: pytest.FixtureRequest) -> tuple[Heater, str, dict[str, Call]]:
    """A heater, its netlist, and the calls read back."""
    file, case, changes = HEATERS[request.param]
    heater = Scenario.from_file(SCENARIOS / f"{file}.toml").change(changes).heater(case)
    text = make_deck(heater, request.param).circuit
    return heater, text, calls(text)


def assert_values(found: Call, wanted: dict[str, float]) -> None:
    told = {key: found.values[key] for key in wanted}
    for key, value in wanted.items():
        assert told[key] == pytest.approx(value, rel=DIGITS, abs=1e-18), key


def test_the_supply(pair: tuple[Heater, str, dict[str, Call]]) -> None:
    heater, _, found = pair
    s = heater.supply
    assert found["xsupply"].nodes == ("bus",)
    values = {"v": s.voltage, "tr": s.rise_time, "rs": s.resistance, "ls": s.inductance, "c": s.reservoir}
    assert_values(found["xsupply"], values | {"esr": s.reservoir_resistance, "vrip": s.ripple / 2})


def test_the_chokes_with_their_curves(pair: tuple[Heater, str, dict[str, Call]]) -> None:
    heater, text, found = pair
    for choke in heater.chokes:
        call = found[f"xch_{choke.side}"]
        assert call.nodes == ("bus", {"left": "d_left", "right": "d_right", "centre": "tap"}[choke.side])
        assert_values(call, {"rcu": choke.resistance, "cw": choke.capacitance, "rcore": heater.core_resistance(choke)})
        curve = choke.curve
        if isinstance(curve, TableCurve):
            (line,) = [each for each in body(text, call.subcircuit) if each.startswith("bi ")]
            flux, current = np.array(table(line)).T
            inner = np.abs(current) < 5e3
            assert inner.sum() > 100
            assert np.asarray(curve.current(flux[inner] * call.values["fref"])) == pytest.approx(current[inner], rel=1e-6, abs=1e-6)
        else:
            assert_values(call, {"l1": curve.inductance_straight, "la": curve.inductance_air, "k": curve.saturation_flux})


def test_the_banks_of_switches(pair: tuple[Heater, str, dict[str, Call]]) -> None:
    """Threshold apart by the spread; on-resistance as Kp, rd and rs together make it; capacitances at the datasheet's voltage."""
    heater, _, found = pair
    s, g = heater.switch, heater.gate
    thresholds = []
    for side in ("left", "right"):
        call = found[f"xsw_{side}"]
        assert call.nodes == (f"d_{side}", f"g_{side}", "0")
        assert_values(
            call, {"n": s.count, "rgx": g.resistor, "lgx": g.inductance, "ld": s.drain_inductance, "fc": heater.stray_corner}
        )
        assert_values(call, {"rg": s.gate_resistance, "bv": s.voltage_rating})
        v = call.values
        thresholds.append(v["vto"])
        assert v["cgs"] + s.reverse_capacitance == pytest.approx(s.input_capacitance, rel=1e-6)
        own = v["cjo"] / math.sqrt(1 + s.capacitance_voltage / v["vj"])
        assert own + s.reverse_capacitance == pytest.approx(s.output_capacitance, rel=1e-6)
        middle = s.threshold
        channel = 1 / (v["kp"] * v["mtriode"] * (s.on_gate_voltage - middle))
        assert v["rd"] + v["rs"] + channel == pytest.approx(s.on_resistance, rel=0.03)
    assert thresholds[0] - thresholds[1] == pytest.approx(s.threshold_spread, rel=1e-6)
    assert np.mean(thresholds) == pytest.approx(s.threshold, rel=1e-6)


def test_the_gates_hang_on_the_other_drain(pair: tuple[Heater, str, dict[str, Call]]) -> None:
    heater, _, found = pair
    g = heater.gate
    for side, other in (("left", "right"), ("right", "left")):
        call = found[f"xgate_{side}"]
        assert call.nodes == ("vgs", f"g_{side}", f"d_{other}")
        values = {"rup": g.pull_up, "rdown": g.pull_down, "vz": g.clamp_voltage, "cz": g.clamp_capacitance}
        assert_values(call, values | {"cd": g.diode_capacitance, "ttd": g.diode_recovery, "vd": g.diode_rating})
        drop = call.values["nd"] * 0.025852 * math.log(1 / call.values["isd"]) + call.values["rsd"]
        assert drop == pytest.approx(g.diode_drop, abs=0.02)  # Shockley at 1 A and 300 K


def seen(heater: Heater, call: Call, frequency: float) -> complex:
    """Impedance of coil and branch between the leads' end and the other side, from what the netlist says: the coupled
    secondary takes w^2 M^2/(r + j w L) (any circuits text)."""
    v, w = call.values, 2 * math.pi * frequency
    if heater.tapped:
        half, kh = v["lhalf"], v["kh"]
        inductance, mutual = 2 * half * (1 + kh), 2 * v["khw"] * math.sqrt(half * v["lw"])
    else:
        inductance, mutual = v["lcoil"], v["kw"] * math.sqrt(v["lcoil"] * v["lw"])
    return complex(v["rcoil"], w * inductance) + w**2 * mutual**2 / complex(v["rw"], w * v["lw"])


def test_the_tank_and_what_the_coil_sees_of_its_workpiece(pair: tuple[Heater, str, dict[str, Call]]) -> None:
    heater, _, found = pair
    call, bank, coil = found["xtank"], heater.capacitors, heater.coil
    assert call.nodes == (("t_left", "tap", "t_right") if heater.tapped else ("t_left", "t_right"))
    values = {"c": bank.unit * bank.count, "esr": bank.resistance + bank.rails_resistance, "esl": bank.inductance}
    assert_values(call, values | {"rcoil": coil.resistance, "llead": coil.lead_inductance, "rlead": coil.lead_resistance})
    there = heater.workpiece or coil
    load = seen(heater, call, heater.frequency)
    assert load.imag / (2 * math.pi * heater.frequency) == pytest.approx(there.inductance, rel=2e-3)
    assert load.real == pytest.approx(there.resistance, rel=2e-3)


def test_bars_lie_between_drains_and_tank(pair: tuple[Heater, str, dict[str, Call]]) -> None:
    heater, _, found = pair
    for side in ("left", "right"):
        assert found[f"xbar_{side}"].nodes == (f"d_{side}", f"t_{side}")
        assert_values(found[f"xbar_{side}"], {"l": heater.bus_inductance, "fc": heater.stray_corner})


def test_another_value_is_noticed(pair: tuple[Heater, str, dict[str, Call]]) -> None:
    heater, _, found = pair
    other = replace(heater.supply, resistance=1.0001 * heater.supply.resistance)
    with pytest.raises(AssertionError, match="rs"):
        assert_values(found["xsupply"], {"rs": other.resistance})


@pytest.mark.parametrize(
    ("text", "value"), [("4.7", 4.7), ("10meg", 1e7), ("15n", 15e-9), ("1.5e-08", 1.5e-8), ("-3.2m", -3.2e-3), ("100uF", 1e-4)]
)
def test_numbers_are_read_as_spice_reads_them(text: str, value: float) -> None:
    assert number(text) == pytest.approx(value, rel=1e-12)
