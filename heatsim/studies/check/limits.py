# SPDX-License-Identifier: GPL-3.0-or-later
"""The limits of a scenario, each with the cause and the remedy to print if it is not kept."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from heatsim.parts.choke import Choke
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.remedies import choke_remedy, count_needed, excursion, scaled_supply
from heatsim.verdict.judge import Limit

Measures = Mapping[str, Any]

ENERGY_LIMIT = 0.01
"""Largest energy imbalance of a run that can be trusted."""

SCALING_MARGIN = 1.04
"""A remedy aims this much above the wanted share, for what scaling leaves out: the tank slows as the choke recovers."""

HEAT_REMEDIES = {
    "core": (
        "Mostly core loss heats it",
        "Stack a ring, which halves the flux swing at the same volts, or take a material of lower loss.",
    ),
    "direct current": ("Mostly the direct current heats its copper", "Wind thicker wire or more strands, or move air."),
    "ripple current": (
        "Mostly the ripple current heats its copper",
        "Raise the inductance with more rings or turns, which "
        "lowers the ripple, or wind a bundle of thin strands; move air over the choke.",
    ),
    "None": ("Its losses are not known", "Give ring, wire and material."),
}
"""What heats a choke most -> cause and remedy."""

ZVS_SHARE = 0.1
"""A switch turning on at more than this share of the drain peak is no longer switching at zero; common practice, no
source."""


@dataclass(frozen=True)
class CaseLimits:
    """Everything the limits of one case are made from."""

    scenario: Scenario
    heater: Heater
    measures: Measures

    @property
    def wanted(self) -> float:
        """The scenario's wanted headroom."""
        return self.scenario.tables.heater.wanted_headroom

    def number(self, key: str) -> float:
        """A measure, NaN when it is missing."""
        value = self.measures.get(key)
        return math.nan if value is None else float(value)

    def all(self) -> tuple[Limit, ...]:
        """Every limit of the case."""
        rows = [*self._switches(), *self._capacitors(), *self._supply()]
        for choke in self.heater.chokes:
            rows += self._choke(choke)
        return tuple(rows)

    def _fit(self, key: str, allowed: float, parts: str) -> str:
        value = self.number(key)
        return "" if not value > 0 else scaled_supply(self.heater.supply.voltage, value, allowed, self.wanted, parts)

    def _switches(self) -> list[Limit]:
        rows = []
        for side in ("left", "right"):
            rows += [self._drain(side), *self._gate(side), self._current(side), self._turn_on(side)]
        return rows

    def _drain(self, side: str) -> Limit:
        key = f"drain.{side}.peak_voltage_v"
        allowed = self.heater.switch.voltage_rating * self.scenario.tables.limits.drain_voltage_use
        ideal = math.pi * self.heater.supply.voltage
        cause = (
            f"The drain's half sine reaches pi times the supply, {format_quantity(ideal, 'V')}, and strays add to it "
            "at the switching edges."
        )
        return Limit(
            f"switch.{side}",
            "drain voltage",
            key,
            allowed,
            "V",
            "rating",
            cause=cause,
            remedy=self._fit(key, allowed, "MOSFETs of a higher voltage rating"),
        )

    def _gate(self, side: str) -> list[Limit]:
        rating, gate = self.heater.switch.gate_rating, self.heater.gate
        high = (
            f"The gate reaches beyond its rating; the clamp conducts at {gate.clamp_voltage:g} V and the gate loop overshoots it."
        )
        weak = "The gate does not reach the voltage at which the on-resistance is specified, so the switches run hot."
        return [
            Limit(
                f"gate.{side}",
                "highest gate voltage",
                f"gate.{side}.max_voltage_v",
                rating,
                "V",
                "rating",
                cause=high,
                remedy="Lower the gate supply or the clamp voltage, or add gate resistance.",
            ),
            Limit(
                f"gate.{side}",
                "lowest gate voltage",
                f"gate.{side}.min_voltage_v",
                -rating,
                "V",
                "rating",
                lower=True,
                cause="The gate rings far below its source.",
                remedy="Add gate resistance or shorten the gate loop.",
            ),
            Limit(
                f"gate.{side}",
                "gate drive reached",
                f"gate.{side}.max_voltage_v",
                self.heater.switch.on_gate_voltage,
                "V",
                "rating",
                lower=True,
                wanted=0.0,
                cause=weak,
                remedy="Raise the gate supply, or lower the pull-up so that the gate is charged within the half cycle.",
            ),
        ]

    def _current(self, side: str) -> Limit:
        key, rating = f"switch.{side}.peak_current_a", self.heater.switch.current_rating
        count = self.heater.switch.count
        needed = count_needed(count, self.number(key), rating, self.wanted) if rating and self.number(key) > 0 else count
        return Limit(
            f"switch.{side}",
            "peak current of a device",
            key,
            rating,
            "A",
            "rating",
            cause="Both chokes' currents and their ripple pass through the bank that conducts.",
            remedy=f"Put {needed} devices in parallel on each side, or give a rating if it is missing.",
        )

    def _turn_on(self, side: str) -> Limit:
        peak = self.number(f"drain.{side}.peak_voltage_v")
        allowed = ZVS_SHARE * peak if peak > 0 else None
        return Limit(
            f"switch.{side}",
            "drain voltage at turn-on",
            f"switch.{side}.turn_on_voltage_v",
            allowed,
            "V",
            "common practice",
            cause="The gate comes on while its drain is still up: switching losses.",
            remedy="Weaken the pull-up a little or add tank capacitance; check the coupling diodes.",
            wanted=0.0,
        )

    def _capacitors(self) -> list[Limit]:
        bank = self.heater.capacitors
        key, current = "capacitor.peak_voltage_v", self.number("capacitor.rms_current_a") / bank.count
        more = ""
        if bank.current_rating and current > 0:
            needed = count_needed(bank.count, current, bank.current_rating, self.wanted)
            unit = format_quantity(bank.capacitance / needed, "F")
            more = f"Spread the same capacitance over {needed} capacitors of {unit}."
        rows = [
            Limit(
                "capacitors",
                "current of one capacitor, rms",
                "capacitor.rms_current_a",
                bank.current_rating,
                "A",
                "rating",
                share=bank.count,
                cause=f"The tank's circulating current is shared by {bank.count} capacitors.",
                remedy=more or "Give the capacitor's current rating at this frequency.",
            )
        ]
        remedy = (
            self._fit(key, bank.voltage_rating, "capacitors of a higher voltage rating")
            if bank.voltage_rating
            else "Give the capacitor's voltage rating at this frequency."
        )
        rows.append(
            Limit(
                "capacitors",
                "peak voltage",
                key,
                bank.voltage_rating,
                "V",
                "rating",
                cause="The capacitors see the whole tank voltage.",
                remedy=remedy,
            )
        )
        return rows

    def _supply(self) -> list[Limit]:
        rating, thd = self.heater.supply.current_rating, self.scenario.tables.limits.thd
        key = "supply.mean_current_a"
        remedy = self._fit(key, rating, "a stronger supply") if rating else "Give the supply's current rating."
        return [
            Limit(
                "supply",
                "mean current",
                key,
                rating,
                "A",
                "rating",
                cause="The load draws more than the supply gives: the tank's loss resistance sets the current.",
                remedy=remedy,
            ),
            Limit(
                "tank",
                "distortion of the tank voltage",
                "tank.thd_ratio",
                thd,
                "ratio",
                "builder",
                cause="Choke ripple and a low Q put harmonics into the tank voltage.",
                remedy="Raise the tank's Q (more capacitance and fewer turns, or a lighter load) or the chokes' inductance.",
            ),
            Limit(
                "run",
                "energy balance",
                "energy.imbalance_ratio",
                ENERGY_LIMIT,
                "ratio",
                "estimate",
                wanted=0.0,
                cause="The simulated powers do not add up; its numbers cannot be trusted.",
                remedy="Raise steps_per_period in [simulate].",
            ),
        ]

    def _choke(self, choke: Choke) -> list[Limit]:
        part, limits = f"choke.{choke.side}", self.scenario.tables.limits
        rows = [self._saturation(choke), self._copper(choke)]
        if choke.core is not None:
            cause, remedy = self._heat(part)
            rows.append(
                Limit(
                    part,
                    "temperature",
                    f"{part}.temperature_c",
                    limits.choke_temperature,
                    "°C",
                    "estimate",
                    cause=cause,
                    remedy=remedy,
                )
            )
            rows += self._ageing(choke)
        return rows

    def _ageing(self, choke: Choke) -> list[Limit]:
        """The temperature above which a powder core's binder ages, for materials that have one."""
        if choke.core is None or choke.core.material.ageing_limit_c is None:
            return []
        part, material = f"choke.{choke.side}", choke.core.material
        cause = f"The binder of {material.alloy} ages at this temperature: {material.ageing_note or 'losses rise for good'}"
        return [
            Limit(
                part,
                "ageing of the core",
                f"{part}.temperature_c",
                material.ageing_limit_c,
                "°C",
                material.provenance,
                cause=cause.rstrip(".") + ".",
                remedy="Keep the choke cooler: lower ripple, move air, or take a material without an organic binder.",
            )
        ]

    def _heat(self, part: str) -> tuple[str, str]:
        """What heats a choke, and what helps against that."""
        core, copper = self.number(f"{part}.core_loss_w"), self.number(f"{part}.copper_loss_w")
        low, high = self.measures.get(f"{part}.temperature_low_c"), self.measures.get(f"{part}.temperature_high_c")
        air = "still air" if self.heater.air_speed == 0 else f"air at {self.heater.air_speed:g} m/s"
        runaway = self.measures.get(f"{part}.heat_state") == "runaway"
        band = (
            "it finds no balance below that"
            if runaway
            else (f"between {format_quantity(low, '°C')} and {'no bound' if high is None else format_quantity(high, '°C')}")
        )
        shares = f"core {format_quantity(core, 'W')}, copper {format_quantity(copper, 'W')}; {air}; {band}"
        cause, remedy = HEAT_REMEDIES[str(self.measures.get(f"{part}.heat_cause"))]
        return f"{cause} ({shares}).", remedy

    def _saturation(self, choke: Choke) -> Limit:
        part, allowed = f"choke.{choke.side}", self.scenario.tables.limits.choke_inductance_remaining
        mean, peak = self.number(f"{part}.mean_current_a"), self.number(f"{part}.peak_current_a")
        key = f"{part}.inductance_remaining_ratio"
        if choke.saturation_basis == "unknown" or peak > choke.curve.known_to:
            beyond = "" if choke.saturation_basis == "unknown" else f" beyond {choke.curve.known_to:g} A"
            return Limit(
                part,
                "inductance left at the peak",
                key,
                None,
                "ratio",
                "unknown",
                lower=True,
                remedy=f"Measure the choke's inductance against direct current{beyond}; its saturation is not known.",
            )
        least = self.number(key)
        band = " The curve is from memory, good to about 5 points." if choke.saturation_basis == "memory" else ""
        cause = (
            f"Its current swings up to {format_quantity(peak, 'A')} round a mean of {format_quantity(mean, 'A')}, where "
            f"{100 * least:.0f} % of the zero-current inductance is left.{band}"
        )
        remedy = ""
        if peak > 0 and mean == mean:
            wanted = min(allowed * (1 + self.wanted) * SCALING_MARGIN, 0.95)
            remedy = choke_remedy(choke, excursion(choke.curve, mean, peak), wanted, self.heater.supply.voltage)
        return Limit(
            part,
            "inductance left at the peak",
            key,
            allowed,
            "ratio",
            choke.saturation_basis,
            lower=True,
            cause=cause,
            remedy=remedy,
        )

    def _copper(self, choke: Choke) -> Limit:
        part, allowed = f"choke.{choke.side}", self.scenario.tables.limits.copper_current_density
        density = self.number(f"{part}.current_density_a_per_m2")
        more = ""
        if choke.core is not None and density > 0:
            strands = count_needed(choke.core.winding.strands, density, allowed, self.wanted)
            more = f"Wind {strands} strands of this wire, if they fit the hole."
        return Limit(
            part,
            "current density in the copper, rms",
            f"{part}.current_density_a_per_m2",
            allowed,
            "A/m2",
            "builder",
            cause="The mean choke current and its ripple heat too thin a wire.",
            remedy=more or "Give the copper area of the choke.",
        )
