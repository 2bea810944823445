# SPDX-License-Identifier: GPL-3.0-or-later
"""MOSFET banks from datasheet figures, and the supply."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from heatsim.parts.source import CurrentLimit, Source
from heatsim.physics.rectifier import full_wave, ripple_transfer

UNITS = {"capacitance": "F", "charge": "C", "current": "A", "resistance": "ohm", "transconductance": "S", "time": "s"}


def figure_unit(field: str) -> str:
    """Unit of a datasheet's figure by its field in [switch], whose last word tells it; the others are voltages."""
    named = field if field != "current_rating" else "current"
    return UNITS.get(named.split("_")[-1], "V")


@dataclass(frozen=True)
class Origin:
    """Where a figure comes from that the scenario does not give itself.

    field: its name in [switch]; basis: provenance of a device of the catalogue, `estimate`, `assumed` for a usual value, or
    `model file`; words: which device, rule or file; band: factor within which an estimate is meant, either way [1], 0 without.
    """

    field: str
    basis: str
    words: str
    band: float = 0.0


@dataclass(frozen=True)
class DatasheetCurves:
    """Points read off a datasheet's curves, which the model is compared with.

    capacitance: rows of drain voltage [V] and input, output, reverse capacitance [F]; transfer: rows of gate voltage [V] and drain
    current [A], saturated; plateau_voltage: of the gate in a gate-charge test at the transconductance's current [V], 0 if not
    given; gate_charge: in all up to the on-resistance's gate voltage [C], 0 if not given.
    """

    capacitance: tuple[tuple[float, float, float, float], ...] = ()
    transfer: tuple[tuple[float, float], ...] = ()
    plateau_voltage: float = 0.0
    gate_charge: float = 0.0


@dataclass(frozen=True)
class Switch:
    """One MOSFET as its datasheet gives it, and `count` of them in parallel in each bank.

    on_resistance [ohm] at on_gate_voltage [V] and junction_temperature (already hot); threshold [V], of the square law or, if
    threshold_current [A] is not 0, at that current; transconductance [S] at transconductance_current [A]; input_, output_,
    reverse_capacitance [F] at capacitance_voltage [V]; gate_drain_charge [C] while the drain falls from gate_drain_charge_voltage
    [V]; gate_resistance: inside the chip [ohm];
    diode_drop [V] at diode_current [A]; recovery_time [s]; voltage_rating (avalanche) [V]; current_rating [A];
    gate_rating [V]; threshold_spread: left bank minus right bank [V], which also starts the oscillation;
    drain_inductance: of one bank's leads [H]; source_inductance: of one device's source lead, in its drain and its gate loop [H];
    miller_voltage: scale on which the reverse capacitance falls with the drain's voltage over the gate's [V]
    (`parts.mosfet_model`); user_model: text of a checked .model or .subckt of the user's, and user_name its name and
    user_subcircuit whether it is a subcircuit, figures that it stands in for are 0 where they are not given; device: name in the
    catalogue; origins: of the figures that are not the scenario's own; curves: to compare with; pulse_current [A] and i2t [A2s]:
    that it stands once, None where not known; spread devices are not modelled one by one.
    """

    count: int
    on_resistance: float
    on_gate_voltage: float
    threshold: float
    threshold_current: float
    transconductance: float
    transconductance_current: float
    input_capacitance: float
    output_capacitance: float
    reverse_capacitance: float
    capacitance_voltage: float
    gate_drain_charge: float
    gate_drain_charge_voltage: float
    gate_resistance: float
    diode_drop: float
    diode_current: float
    recovery_time: float
    voltage_rating: float
    current_rating: float | None
    gate_rating: float
    threshold_spread: float
    drain_inductance: float
    miller_voltage: float
    user_model: str = ""
    user_name: str = ""
    user_subcircuit: bool = False
    device: str = ""
    origins: tuple[Origin, ...] = ()
    curves: DatasheetCurves = DatasheetCurves()
    source_inductance: float = 0.0
    pulse_current: float | None = None
    i2t: float | None = None

    def origin(self, field: str) -> Origin | None:
        """Where a figure comes from; None for the scenario's own."""
        return next((each for each in self.origins if each.field == field), None)

    @property
    def estimated(self) -> tuple[Origin, ...]:
        """Figures that stand on an estimate."""
        return tuple(each for each in self.origins if each.basis == "estimate")


SAG_TIMES = 3.0
"""Time constants of source and reservoir for which a rectifier is left to sag under the load before it ripples: its ripple lies
below the voltage that it has without load."""


@dataclass(frozen=True)
class Supply:
    """voltage [V] rising in `rise_time` [s]; resistance, inductance of source and leads; reservoir and its series
    resistance; ripple: peak to peak [V] at ripple_frequency [Hz]; current_rating [A] or None; source: what stands behind the
    voltage, None where the scenario does not say.
    """

    voltage: float
    rise_time: float
    resistance: float
    inductance: float
    reservoir: float
    reservoir_resistance: float
    ripple: float
    ripple_frequency: float
    current_rating: float | None
    source: Source | None = None

    def slow_mode(self, conductance: float) -> tuple[float, float]:
        """Slowest time constant [s] and period of the ringing [s], 0 without, of source, leads and reservoir under a load.

        conductance: of the load on the bus [S]

        Kirchhoff's laws with lead current i and reservoir voltage v: L di/dt = V - R i - u, C dv/dt = i - G u, bus voltage
        u = (v + r i)/(1 + r G); the modes are the eigenvalues of these two equations, s^2 + 2 a s + b = 0.
        """
        share = 1 / (1 + self.reservoir_resistance * conductance)
        lead = (self.resistance + self.reservoir_resistance * share) / self.inductance
        drain = conductance * share / self.reservoir
        half = (lead + drain) / 2
        product = lead * drain + share**2 / (self.inductance * self.reservoir)
        square = product - half**2
        if square > 0:
            return 1 / half, 2 * math.pi / math.sqrt(square)
        return (half + math.sqrt(-square)) / product, 0.0

    @property
    def limit(self) -> CurrentLimit | None:
        """What it does at its current limit; None without one."""
        return self.source.limit if self.source else None

    @property
    def on_time(self) -> float:
        """When it is up [s]: after its soft start, the bouncing of its contact, the charging of the reservoir at its limit, and the
        sagging of a rectifier's, from which on it ripples.
        """
        if self.source is None:
            return self.rise_time
        limit = self.limit
        charging = self.reservoir * self.voltage / limit.short_circuit if limit else 0.0
        sagging = SAG_TIMES * self.resistance * self.reservoir if self.source.bridge else 0.0
        return max(self.rise_time, self.source.bounce_time) + charging + sagging

    def under_load(self, conductance: float) -> Supply:
        """A rectifier as a source with resistance and ripple at a load; any other supply as it is.

        conductance: of the load [S]

        Resistance: that by which the mean voltage across the reservoir falls from the peak without load. Ripple: a sine, at twice
        the mains frequency, that makes the reservoir swing as far as the rectifier does, whose own ripple is no sine.
        """
        if self.source is None or self.source.bridge is None:
            return self
        bridge, reservoir = self.source.bridge, (self.reservoir, self.reservoir_resistance)
        series, leakage = bridge.resistance + self.resistance, bridge.leakage + self.inductance
        found = full_wave(self.voltage, bridge.mains_frequency, series, leakage, *reservoir, conductance)
        frequency = 2 * bridge.mains_frequency
        passed = ripple_transfer(frequency, found.resistance, self.inductance, *reservoir, conductance)
        source = replace(self.source, rectified=found)
        return replace(self, resistance=found.resistance, ripple=found.ripple / passed, ripple_frequency=frequency, source=source)
