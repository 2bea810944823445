# SPDX-License-Identifier: GPL-3.0-or-later
"""The winding card: what to cut, wind and measure, and what to expect of it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from heatsim.scenario.scenario import Scenario
from heatsim.studies.wind.study import Confirmed, WindingCandidate, WindResult, ring_or_turns
from heatsim.studies.wind.tolerance import YieldResult

STEP_VOLTAGE = 12.0
"""Voltage of the bench test that proves a choke: a step from a charged capacitor [V]."""


COLD = 20.0
"""Copper temperature [°C] of the resistance on the card."""


@dataclass(frozen=True)
class Card:
    """Numbers of a winding card, SI. inductance: small-signal reading with its least and greatest by the rings' tolerance;
    at_current: inductance expected at the simulated peak current; step_time: how long a step of `step_voltage` takes to
    drive the winding to that peak, with the tolerance; temperature [°C]: of the simulated choke, hottest case.
    """

    ring: str
    stack: int
    turns: int
    wire: str
    strands: int
    layers: int
    cut_length: float
    wire_total: float
    free_bore: float
    resistance: float
    resistance_temperature: float
    inductance: float
    inductance_least: float
    inductance_greatest: float
    peak_current: float
    mean_current: float
    at_current: float
    step_voltage: float
    step_time: float
    step_time_least: float
    step_time_greatest: float
    temperature: float | None
    core_loss: float | None
    copper_loss: float | None
    copper_mass: float
    cost: float | None
    provenance: str


def card(confirmed: Confirmed, scenario: Scenario) -> Card:
    """The card of a simulated candidate; its currents and temperature are those of the hardest case."""
    one = confirmed.candidate
    assert one.choke.core is not None
    side = one.choke.side
    cases: list[dict[str, Any]] = [case.measures for case in confirmed.result.cases]
    peak = max(_number(m, f"choke.{side}.peak_current_a") for m in cases)
    hottest = max(cases, key=lambda m: _number(m, f"choke.{side}.temperature_c"))
    tolerance = scenario.tables.wind.al_tolerance if scenario.tables.wind else 0.08
    zero = one.choke.curve.inductance_zero
    step = float(one.choke.curve.flux(peak)) / STEP_VOLTAGE
    hot: dict[str, Any] = {name: hottest.get(f"choke.{side}.{name}") for name in ("temperature_c", "core_loss_w", "copper_loss_w")}
    return Card(
        ring=one.ring,
        stack=one.stack,
        turns=one.turns,
        wire=one.wire,
        strands=one.strands,
        layers=one.layers,
        cut_length=one.cut_length,
        wire_total=one.cut_length * one.strands * len(scenario.tables.choke),
        free_bore=one.free_bore,
        resistance=one.choke.core.winding.resistance(one.choke.core.ring, COLD),
        resistance_temperature=COLD,
        inductance=zero,
        inductance_least=zero * (1 - tolerance),
        inductance_greatest=zero * (1 + tolerance),
        peak_current=peak,
        mean_current=max(_number(m, f"choke.{side}.mean_current_a") for m in cases),
        at_current=float(one.choke.curve.inductance(peak)),
        step_voltage=STEP_VOLTAGE,
        step_time=step,
        step_time_least=step * (1 - tolerance),
        step_time_greatest=step * (1 + tolerance),
        temperature=hot["temperature_c"],
        core_loss=hot["core_loss_w"],
        copper_loss=hot["copper_loss_w"],
        copper_mass=one.copper_mass,
        cost=one.cost,
        provenance=one.choke.saturation_basis,
    )


def _number(measures: dict[str, Any], key: str) -> float:
    value = measures.get(key)
    return float("-inf") if value is None else float(value)


def plain_candidate(one: WindingCandidate) -> dict[str, Any]:
    """A candidate as plain data, SI, unit in the key."""
    found = one.estimate
    return {
        "ring": one.ring,
        "stack": one.stack,
        "turns": one.turns,
        "wire": one.wire,
        "strands": one.strands,
        "inductance_zero_h": one.choke.curve.inductance_zero,
        "inductance_remaining_ratio": found.remaining,
        "peak_current_a": found.peak_current,
        "ripple_current_a": found.ripple_current,
        "core_loss_w": found.core_loss,
        "copper_loss_w": found.copper_loss,
        "temperature_c": found.temperature,
        "current_density_a_per_m2": found.current_density,
        "cut_length_m": one.cut_length,
        "copper_mass_kg": one.copper_mass,
        "cost": one.cost,
        "free_bore_m": one.free_bore,
        "layers": one.layers,
        "headroom": one.headroom,
        "worst": one.worst,
    }


def plain_result(result: WindResult, proof: Card | None, built: YieldResult | None) -> dict[str, Any]:
    """A whole `wind` result as plain data; schema heatsim.wind/1."""
    best = result.best
    return {
        "schema": "heatsim.wind/1",
        "scenario": {"name": result.scenario.name, "sha256": result.scenario.hash},
        "verdict": "holds" if best else "fails",
        "duty": asdict(result.duty),
        "considered": result.considered,
        "estimated": len(result.candidates),
        "confirmed": [plain_candidate(each.candidate) | {"verdict": each.result.verdict} for each in result.confirmed],
        "front": [plain_candidate(one) for one in result.front[:40]],
        "card": None if proof is None else asdict(proof),
        "ring_or_turns": []
        if best is None
        else [
            {"change": each.change, "inductance_zero_h": each.choke.curve.inductance_zero, **asdict(each.estimate)}
            for each in ring_or_turns(best.candidate, result.duty)
        ],
        "yield": None if built is None else asdict(built),
    }
