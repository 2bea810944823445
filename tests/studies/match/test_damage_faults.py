# SPDX-License-Identifier: GPL-3.0-or-later
"""Fault models of damaged parts: what they change, that they run in every demo heater, and that each cause has its words."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.engine.session import Session
from heatsim.parts.damage import Damage
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.advice import ADVICE
from heatsim.studies.match.cure import fitted_fields
from heatsim.studies.match.damage_faults import damage_faults
from heatsim.studies.match.fault_model import (
    BENT,
    CAUSES,
    CLAMP,
    COUPLED,
    INTERMITTENT,
    LEAKY,
    OPEN,
    RESONANCE,
    SLOW_DIODES,
    STEEL,
    TAP,
    THRESHOLDS,
)
from heatsim.studies.match.fitted import WITHOUT, built, not_in_the_file
from heatsim.studies.match.parameters import STEEL_SHARE, with_changes
from heatsim.studies.match.result import NONE_OF_THESE
from heatsim.studies.match.solver import Solver

ROOT = Path(__file__).resolve().parents[3]
FILES = [ROOT / "scenarios" / name for name in ("bench-heater.toml", "bench-heater-small-rings.toml")]
BENCH = Scenario.from_file(FILES[0])
ADDED = {OPEN, THRESHOLDS, CLAMP, LEAKY, INTERMITTENT, STEEL, TAP, RESONANCE, BENT, SLOW_DIODES, COUPLED}


def test_every_cause_that_was_added_has_a_fault_model_and_words() -> None:
    assert {fault.cause for fault in damage_faults(BENCH.heater("loaded"))} == ADDED
    assert set(ADVICE) == {*CAUSES, NONE_OF_THESE}
    assert all(measurement.endswith(".") for measurement, _ in ADVICE.values())


def test_no_parameter_is_taken_for_a_choke_s_turns() -> None:
    assert not any(p.key.endswith(".turns_ratio") for fault in damage_faults(BENCH.heater("loaded")) for p in fault.parameters)


def test_what_a_circuit_cannot_have_is_not_tried() -> None:
    assert {fault.cause for fault in damage_faults(BENCH.heater("idle"))} == ADDED - {STEEL}
    one = BENCH.change({"heater.topology": "one-choke"}).heater("loaded")
    assert {fault.cause for fault in damage_faults(one)} == ADDED - {STEEL, RESONANCE, COUPLED}
    single = BENCH.change({"switch.count": 1}).heater("loaded")
    assert OPEN not in {fault.cause for fault in damage_faults(single)}


def test_turns_in_use_scale_the_whole_coil_by_their_square() -> None:
    """n^2 of the inductance without workpiece; resistances n^2 at 1/n the frequency, n^1.5; of the workpiece's inductance what is
    within it, X = R, falls with sqrt(1/n) besides."""
    sound, n = BENCH.heater("loaded"), 0.8
    fewer = with_changes(sound, {"log_turns": float(np.log(n))})
    old, new = sound.workpiece, fewer.workpiece
    assert old is not None and new is not None
    assert fewer.coil.inductance == pytest.approx(n**2 * sound.coil.inductance)
    assert (fewer.coil.resistance, new.resistance) == pytest.approx((n**1.5 * sound.coil.resistance, n**1.5 * old.resistance))
    within = (old.resistance - sound.coil.resistance) / (2 * np.pi * sound.frequency)
    assert new.inductance == pytest.approx(n**2 * (old.inductance - within + within * n**0.5))
    assert fewer.coil.lead_inductance == sound.coil.lead_inductance
    again = Scenario.from_file(FILES[0]).change(dict(_flat(fitted_fields(BENCH, "loaded", fewer))))
    assert again.heater("loaded").loaded_inductance == pytest.approx(fewer.loaded_inductance, rel=1e-4)


def _flat(fields: dict) -> list[tuple[str, str]]:
    """Dotted fields with text as values."""
    found = []
    for name, value in fields.items():
        found += [(f"{name}.{key}", each) for key, each in value.items()] if isinstance(value, dict) else [(name, value)]
    return found


def test_steel_leaves_what_the_coil_is_at_the_working_current() -> None:
    sound = BENCH.heater("loaded")
    steel = with_changes(sound, {"steel_depth": 1.2})
    assert steel.damage.steel is not None
    assert (steel.loaded_inductance, steel.loaded_resistance, steel.frequency) == pytest.approx(
        (sound.loaded_inductance, sound.loaded_resistance, sound.frequency)
    )
    assert set(fitted_fields(BENCH, "loaded", steel)) <= {
        "coil.measured",
        "case.loaded.workpiece.measured",
        "case.loaded.workpiece.share",
    }
    assert with_changes(BENCH.heater("idle"), {"steel_depth": 1.2}).damage == Damage()


def test_steel_whose_flux_gives_way_loads_the_coil_less() -> None:
    """With half the reactance 2/5 of the resistance that as much of either makes, and 4/5 of the reactance: of R beside q R."""
    sound = BENCH.heater("loaded")
    steel = with_changes(sound, {"steel_depth": 1.2, "log_steel_reactance": math.log(0.5)})
    assert sound.workpiece is not None
    seen = STEEL_SHARE * (sound.workpiece.resistance - sound.coil.resistance)
    omega = 2 * math.pi * sound.frequency
    assert steel.loaded_resistance == pytest.approx(sound.loaded_resistance - 0.6 * seen)
    assert steel.loaded_inductance == pytest.approx(sound.loaded_inductance - 0.2 * seen / omega)


def test_what_a_file_cannot_hold_is_said_and_not_checked() -> None:
    """Every damage has its line; a file with one is not judged as if it were whole."""
    sound = BENCH.heater("loaded")
    assert not_in_the_file(sound) == ()
    changes = {
        "open_devices_left": 1.0,
        "drain_leakage_right": 0.02,
        "clamp_leakage_left": 0.005,
        "no_clamps": 1.0,
        "steel_depth": 1.0,
    }
    changes |= {"contact_drop": 1.5, "choke_coupling": -0.1, "voltage_coefficient": 5e-6, "coil_capacitance": 47e-9}
    lines = not_in_the_file(with_changes(sound, changes))
    assert lines[0] == WITHOUT
    assert len(lines) == 1 + len(changes)
    assert "  a leak of 50 Ω from the right drain to ground" in lines
    assert "  1 of 2 devices of the left bank open" in lines
    assert built(BENCH, BENCH.text) is not None
    assert built(BENCH, f"# {WITHOUT}\n{BENCH.text}") is None


def test_a_higher_threshold_on_either_side_can_be_written() -> None:
    for fault in (each for each in damage_faults(BENCH.heater("loaded")) if each.cause == THRESHOLDS):
        heater = with_changes(BENCH.heater("loaded"), fault.changes((1.0,)))
        fields = fitted_fields(BENCH, "loaded", heater)
        assert set(fields) == {"switch.threshold_spread"}
        again = BENCH.change({"switch.threshold_spread": str(fields["switch.threshold_spread"])}).heater("loaded")
        assert again.switch.threshold_spread == pytest.approx(heater.switch.threshold_spread)


@pytest.mark.slow
@pytest.mark.ngspice
@pytest.mark.parametrize("file", FILES, ids=lambda path: path.stem)
@pytest.mark.parametrize("case", ["loaded", "idle"])
def test_every_fault_model_oscillates_at_its_mild_end(session: Session, file: Path, case: str) -> None:
    """And changes the tank's lines by less than 2 % of the fundamental there: mild is near to nothing wrong."""
    heater = Scenario.from_file(file).heater(case)
    heater = replace(heater, supply=replace(heater.supply, ripple=0.0))
    solver = Solver(session, ("tank.voltage",))
    sound = solver.start(heater)
    for fault in damage_faults(heater):
        found = solver.solve(with_changes(heater, fault.changes(tuple(p.mild for p in fault.parameters))), sound)
        mine, other = (each.lines["tank.voltage"][2:12] / abs(each.lines["tank.voltage"][1]) for each in (found, sound))
        assert abs(mine - other).max() < 0.02, fault.name
