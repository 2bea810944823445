# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of a scenario file. What a field means is its description; editors get them through `heatsim schema`."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.fields import CASE_PATTERN, MODEL_PATTERN, Count, FileName, Name, Table, Unit


class HeaterTable(Table):
    """[heater]: what is being built, and how careful to be."""

    name: Name
    topology: Literal["two-choke", "one-choke"] = "two-choke"
    ambient: Annotated[float, Unit("°C", -20, 60)] = 25.0
    air_speed: Annotated[float, Unit("m/s", 0, 20)] = Field(0.0, description="moved over the chokes; 0 m/s is still air")
    wanted_headroom: Annotated[float, Unit("%", 0, 0.9)] = 0.10
    catalogue: FileName | None = Field(None, description="file of your own materials and rings; they win over the built-in ones")
    run: Annotated[float, Unit("s", 1, 86400)] | None = Field(
        None, description="how long it runs from cold; the chokes are judged after that time instead of running for ever"
    )
    bus_inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = Field(
        20e-9, description="stray inductance of the bars between one drain and the tank"
    )
    stray_corner: Annotated[float, Unit("Hz", 1e6, 1e9)] = Field(
        10e6, description="above this frequency skin effect makes strays lossy (common practice, no source)"
    )


class SupplyTable(Table):
    """[supply]: the DC source up to the chokes."""

    voltage: Annotated[float, Unit("V", 5, 400)]
    rise_time: Annotated[float, Unit("s", 1e-6, 0.05)] = 300e-6
    resistance: Annotated[float, Unit("ohm", 1e-4, 5)] = 0.02
    inductance: Annotated[float, Unit("H", 1e-9, 1e-3)] = 1e-6
    reservoir: Annotated[float, Unit("F", 1e-6, 0.5)] = 1e-3
    reservoir_resistance: Annotated[float, Unit("ohm", 1e-4, 5)] = 0.015
    ripple: Annotated[float, Unit("V", 0, 100)] = Field(0.0, description="peak to peak, of the source itself")
    ripple_frequency: Annotated[float, Unit("Hz", 10, 1e6)] = 100.0
    current_rating: Annotated[float, Unit("A", 0.1, 1000)] | None = None


class HysteresisTable(Table):
    """[choke.core.hysteresis]: the core as Jiles and Atherton describe it, loss included, instead of the material's curve."""

    saturation: Annotated[float, Unit("A/m", 1e4, 3e6)] = Field(description="saturation magnetisation Ms")
    shape: Annotated[float, Unit("A/m", 0.1, 1e6)] = Field(description="a, of the anhysteretic curve")
    pinning: Annotated[float, Unit("A/m", 1e-3, 1e6)] = Field(description="k")
    coupling: Annotated[float, Field(ge=0, le=1)] = Field(0.0, description="alpha; alpha*Ms below 3*a")
    reversible: Annotated[float, Unit("%", 0, 1)] = Field(description="c")
    provenance: Literal["published", "measured", "common practice", "memory"] = "memory"


class CoreTable(Table):
    """[choke.core]: the ring, by catalogue name or by its dimensions, and its material."""

    material: Name
    ring: Name | None = Field(None, description="name in the catalogue, instead of dimensions")
    outer_diameter: Annotated[float, Unit("m", 5e-3, 0.3)] | None = None
    inner_diameter: Annotated[float, Unit("m", 2e-3, 0.25)] | None = None
    height: Annotated[float, Unit("m", 1e-3, 0.1)] | None = None
    stack: Annotated[int, Field(strict=True, ge=1, le=4)] = 1
    path_length: Annotated[float, Unit("m", 5e-3, 1)] | None = Field(None, description="as printed; else computed")
    area: Annotated[float, Unit("m2", 1e-6, 1e-2)] | None = Field(None, description="of one ring, as printed")
    gap: Annotated[float, Unit("m", 1e-5, 0.02)] | None = Field(None, description="needed with ferrite")
    hysteresis: HysteresisTable | None = None


class WireTable(Table):
    """[choke.wire]: round enamelled wire, by bare diameter or by gauge."""

    diameter: Annotated[float, Unit("m", 5e-5, 6e-3)] | None = Field(None, description="bare copper")
    gauge: Name | None = Field(None, description='such as "AWG 14", instead of the diameter')
    overall_diameter: Annotated[float, Unit("m", 5e-5, 7e-3)] | None = Field(None, description="else from the grade")
    grade: Literal[1, 2] = Field(2, description="of the enamel, IEC 60317-0-1")
    strands: Count = 1
    lay: Literal["side by side", "twisted"] = Field("side by side", description="how parallel strands lie")
    looseness: Annotated[float, Unit("m", 0, 5e-3)] = Field(0.0, description="how far the turns stand off the core")
    lead_length: Annotated[float, Unit("m", 0, 1)] = Field(
        0.0, description="of each end in free air, which carries heat off; 0 m reckons with none"
    )


class MeasuredChokeTable(Table):
    """[choke.measured]: a choke known from the bench; wins over geometry."""

    inductance: Annotated[float, Unit("H", 1e-6, 0.1)] | None = Field(None, description="at small signal")
    resistance: Annotated[float, Unit("ohm", 1e-5, 5)]
    saturation_current: Annotated[float, Unit("A", 0.1, 2000)] | None = Field(
        None, description="where half of the inductance is left"
    )
    knee: Literal["soft", "sharp"] = Field("soft", description="soft: powder core; sharp: gapped ferrite")
    table: list[tuple[Annotated[float, Unit("A", 0, 2000)], Annotated[float, Unit("H", 1e-8, 0.1)]]] | None = Field(
        None, description='[["0 A", "65 uH"], ["10 A", "60 uH"], ...]: inductance against direct current'
    )
    air_inductance: Annotated[float, Unit("H", 1e-8, 0.01)] | None = None
    copper_area: Annotated[float, Unit("m2", 1e-9, 1e-3)] | None = None


class ChokeTable(Table):
    """[choke], with [choke.left] and [choke.right] overriding single keys of it."""

    turns: Annotated[int, Field(strict=True, ge=1, le=1000)] | None = None
    core: CoreTable | None = None
    wire: WireTable | None = None
    measured: MeasuredChokeTable | None = None
    capacitance: Annotated[float, Unit("F", 1e-13, 1e-8)] | None = Field(
        None, description="of the winding; else estimated from it, 30 pF for a choke known by measurement only"
    )
    temperature: Annotated[float, Unit("°C", -20, 200)] = Field(60.0, description="of the copper, for its resistance")
    short_resistance: Annotated[float, Unit("ohm", 1e-3, 1e4)] | None = Field(
        None, description="a turn shorted to itself, as the whole winding sees it: its resistance times the square of the turns"
    )
    short_inductance: Annotated[float, Unit("H", 1e-9, 1e-2)] | None = Field(
        None, description="its leakage inductance likewise; both or none"
    )


class SwitchTable(Table):
    """[switch]: one MOSFET's datasheet figures and how many stand in parallel on each side."""

    count: Count = 1
    voltage_rating: Annotated[float, Unit("V", 10, 2000)]
    current_rating: Annotated[float, Unit("A", 0.5, 1000)] | None = None
    gate_rating: Annotated[float, Unit("V", 5, 40)] = 20.0
    on_resistance: Annotated[float, Unit("ohm", 1e-4, 20)] = Field(description="hot, as it will run")
    on_gate_voltage: Annotated[float, Unit("V", 2, 20)] = 10.0
    threshold: Annotated[float, Unit("V", 0.5, 8)]
    threshold_current: Annotated[float, Unit("A", 1e-6, 10)] | None = Field(
        None, description="drain current at which the threshold is given; else it is that of the square law, some 0.3 V higher"
    )
    threshold_spread: Annotated[float, Unit("V", -3, 3)] = Field(
        0.1, description="left bank minus right; no two banks are equal, and the oscillation starts from it"
    )
    transconductance: Annotated[float, Unit("S", 0.1, 2000)]
    transconductance_current: Annotated[float, Unit("A", 0.1, 500)]
    input_capacitance: Annotated[float, Unit("F", 1e-11, 1e-7)]
    output_capacitance: Annotated[float, Unit("F", 1e-12, 1e-7)]
    reverse_capacitance: Annotated[float, Unit("F", 1e-13, 1e-8)]
    capacitance_voltage: Annotated[float, Unit("V", 1, 400)] = 25.0
    gate_drain_charge: Annotated[float, Unit("C", 1e-10, 1e-6)] = Field(
        description="gate current times the plateau's time in a gate-charge test at transconductance_current"
    )
    gate_drain_charge_voltage: Annotated[float, Unit("V", 5, 2000)] | None = Field(
        None, description="from which the drain falls in that test; else half the voltage rating"
    )
    gate_resistance: Annotated[float, Unit("ohm", 0.05, 20)] = 1.5
    diode_drop: Annotated[float, Unit("V", 0.3, 3)] = 1.0
    diode_current: Annotated[float, Unit("A", 0.1, 500)] = 20.0
    recovery_time: Annotated[float, Unit("s", 1e-9, 1e-5)] = 150e-9
    drain_inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = 5e-9
    miller_voltage: Annotated[float, Unit("V", 0.01, 50)] | None = Field(
        None, description="drain over gate at which the reverse capacitance has left its plateau; else from the datasheet's points"
    )
    model_file: FileName | None = Field(None, description="the user's own model file, read for .model and .subckt lines")
    model: Annotated[str, Field(pattern=MODEL_PATTERN)] | None = Field(None, description="name of the model in that file")


class GateTable(Table):
    """[gate]: supply, pull-up, clamp, pull-down and cross-coupling diode of each side."""

    supply_voltage: Annotated[float, Unit("V", 3, 30)]
    supply_delay: Annotated[float, Unit("s", 0, 0.05)] = Field(0.0, description="after the main supply")
    supply_rise: Annotated[float, Unit("s", 1e-7, 0.05)] = 20e-6
    pull_up: Annotated[float, Unit("ohm", 1, 1e5)]
    pull_down: Annotated[float, Unit("ohm", 10, 1e6)] = 1e4
    clamp_voltage: Annotated[float, Unit("V", 3, 30)]
    clamp_capacitance: Annotated[float, Unit("F", 1e-12, 1e-8)] = 200e-12
    resistor: Annotated[float, Unit("ohm", 0.1, 200)] = Field(description="in series with each gate")
    inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = Field(15e-9, description="of each device's gate loop")
    diode_drop: Annotated[float, Unit("V", 0.2, 3)] = Field(1.0, description="at 1 A")
    diode_capacitance: Annotated[float, Unit("F", 1e-13, 1e-8)] = 60e-12
    diode_recovery: Annotated[float, Unit("s", 1e-10, 1e-5)] = 30e-9
    diode_rating: Annotated[float, Unit("V", 20, 2000)] = 600.0


class CapacitorsTable(Table):
    """[capacitors]: equal capacitors in parallel across the coil."""

    capacitance: Annotated[float, Unit("F", 1e-10, 1e-3)] = Field(description="of one")
    count: Count
    dissipation_factor: Annotated[float, Unit("%", 1e-5, 0.1)] = Field(description="tan delta near the tank frequency")
    inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = Field(10e-9, description="of the bank")
    voltage_rating: Annotated[float, Unit("V", 10, 5000)] | None = Field(None, description="peak")
    current_rating: Annotated[float, Unit("A", 0.1, 1000)] | None = Field(None, description="rms, of one")


class MeasuredCoilTable(Table):
    """[coil.measured] or [case.NAME.workpiece.measured]: LCR reading at the coil near the tank frequency."""

    inductance: Annotated[float, Unit("H", 1e-8, 1e-2)]
    resistance: Annotated[float, Unit("ohm", 1e-4, 5)]


class CoilTable(Table):
    """[coil]: the work coil, by geometry or measured, and its leads."""

    turns: Annotated[float, Field(gt=0.5, le=100)] | None = None
    diameter: Annotated[float, Unit("m", 5e-3, 1)] | None = Field(None, description="middle of the tube")
    length: Annotated[float, Unit("m", 2e-3, 2)] | None = None
    tube_diameter: Annotated[float, Unit("m", 1e-3, 0.03)] | None = None
    tube_wall: Annotated[float, Unit("m", 2e-4, 5e-3)] | None = None
    temperature: Annotated[float, Unit("°C", 0, 200)] = 40.0
    measured: MeasuredCoilTable | None = None
    lead_inductance: Annotated[float, Unit("H", 1e-10, 1e-5)] = Field(
        50e-9, description="of both leads together; else from lead_length and lead_spacing, else assumed"
    )
    lead_resistance: Annotated[float, Unit("ohm", 1e-5, 1)] = Field(1e-3, description="likewise")
    lead_length: Annotated[float, Unit("m", 5e-3, 5)] | None = Field(
        None, description="of each of two parallel leads of the coil's tube, from the coil to the capacitors"
    )
    lead_spacing: Annotated[float, Unit("m", 1e-3, 0.5)] | None = Field(None, description="between the middles of the two leads")
    current_density_rating: Annotated[float, Unit("A/m2", 1e5, 5e8)] | None = None
    half_coupling: Annotated[float, Unit("%", 0, 0.95)] = Field(
        0.3, description="between the halves of a tapped coil; one-choke circuit only"
    )


class WorkpieceTable(Table):
    """[case.NAME.workpiece]: a round bar in the coil, or the coil measured with the workpiece in."""

    diameter: Annotated[float, Unit("m", 1e-3, 0.5)] | None = None
    length: Annotated[float, Unit("m", 1e-3, 2)] | None = None
    material: Name | None = Field(
        None,
        description='of the bar: "steel", "stainless 304", "copper", "aluminium", "brass", "graphite" or one of your catalogue',
    )
    resistivity: Annotated[float, Unit("ohm*m", 1e-9, 1e-4)] | None = Field(None, description="else that of the material, cold")
    permeability: Annotated[float, Field(ge=1, le=5000)] | None = Field(
        None, description="relative; else that of the material, which for steel follows the field at its surface"
    )
    measured: MeasuredCoilTable | None = None
    share: Annotated[float, Unit("%", 0, 2)] = Field(
        1.0, description="of its effect on the coil that is present: 0 % is the empty coil, 100 % as given"
    )


class CaseTable(Table):
    """[case.NAME]: one operating condition; `set` overrides single fields, "supply.voltage" = "38 V"."""

    workpiece: WorkpieceTable | None = None
    set: dict[str, str | int | float] = Field(default_factory=dict)


class LimitsTable(Table):
    """[limits]: the builder's own; ratings of parts stand with the parts."""

    choke_inductance_remaining: Annotated[float, Unit("%", 0.05, 1)] = Field(
        0.5, description="lowest share of the zero-current inductance a choke may fall to"
    )
    copper_current_density: Annotated[float, Unit("A/m2", 1e5, 1e8)] = 6e6
    thd: Annotated[float, Unit("%", 0.001, 1)] = 0.05
    drain_voltage_use: Annotated[float, Unit("%", 0.1, 1)] = Field(1.0, description="usable share of the rating")
    choke_temperature: Annotated[float, Unit("°C", 40, 250)] = 120.0
    choke_copper_fill: Annotated[float, Unit("%", 0.05, 0.9)] = Field(
        0.40, description="largest share of a choke's hole that bare copper may take (common practice, no source)"
    )
    core_life: Annotated[float, Unit("s", 3600, 1e10)] | None = Field(
        None, description='hours of running that a powder core\'s binder must last, such as "2000 h"; without it a caution only'
    )


class DrawerRingTable(Table):
    """[[wind.ring]]: rings on hand."""

    name: Name
    material: Name
    outer_diameter: Annotated[float, Unit("m", 5e-3, 0.3)]
    inner_diameter: Annotated[float, Unit("m", 2e-3, 0.25)]
    height: Annotated[float, Unit("m", 1e-3, 0.1)]
    path_length: Annotated[float, Unit("m", 5e-3, 1)] | None = None
    area: Annotated[float, Unit("m2", 1e-6, 1e-2)] | None = None
    gap: Annotated[float, Unit("m", 1e-5, 0.02)] | None = None
    on_hand: Count = Field(description="how many there are, for both chokes together")
    price: Annotated[float, Field(ge=0)] | None = Field(None, description="of one, in any currency")


class DrawerWireTable(Table):
    """[[wind.wire]]: wire on hand."""

    name: Name
    diameter: Annotated[float, Unit("m", 5e-5, 6e-3)] = Field(description="bare copper")
    overall_diameter: Annotated[float, Unit("m", 5e-5, 7e-3)] | None = None
    on_hand: Annotated[float, Unit("m", 0.1, 10_000)]
    price_per_metre: Annotated[float, Field(ge=0)] | None = None


class WindTable(Table):
    """[wind]: what `heatsim wind` may choose from, and for which supply and load."""

    case: str = Field("loaded", description="the case whose load the chokes must carry")
    highest_supply: Annotated[float, Unit("V", 5, 400)] | None = Field(None, description="else the scenario's voltage")
    most_strands: Annotated[int, Field(strict=True, ge=1, le=20)] = 4
    free_bore: Annotated[float, Unit("m", 0, 0.1)] = Field(4e-3, description="hole to be left for the last turn")
    tail: Annotated[float, Unit("m", 0, 2)] = Field(0.15, description="length of each end of the winding")
    al_tolerance: Annotated[float, Unit("%", 0, 0.5)] = Field(0.08, description="of the rings' inductance")
    confirm: Annotated[int, Field(strict=True, ge=1, le=20)] = Field(4, description="candidates to simulate in full")
    ring: Annotated[list[DrawerRingTable], Field(min_length=1)]
    wire: Annotated[list[DrawerWireTable], Field(min_length=1)]


class SimulateTable(Table):
    """[simulate]: rarely needed."""

    steps_per_period: Annotated[int, Field(strict=True, ge=60, le=4000)] = 200
    longest: Annotated[float, Unit("s", 1e-4, 0.2)] = Field(
        25e-3, description="end of a run that does not settle, after everything is switched on; a slow supply may extend it"
    )
    time_limit: Annotated[float, Unit("s", 1, 3600)] = Field(
        600.0, description="of the wall clock, for each case: a last guard, after which nothing is known of the circuit"
    )


class ScenarioTables(Table):
    """A whole scenario file."""

    heater: HeaterTable
    supply: SupplyTable
    choke: dict[str, ChokeTable] = Field(description="left and right, or centre; common keys stand directly in [choke]")
    switch: SwitchTable
    gate: GateTable
    capacitors: CapacitorsTable
    coil: CoilTable
    case: Annotated[dict[Annotated[str, Field(pattern=CASE_PATTERN)], CaseTable], Field(min_length=1)]
    wind: WindTable | None = None
    limits: LimitsTable = Field(default_factory=lambda: LimitsTable.model_validate({}))
    simulate: SimulateTable = Field(default_factory=lambda: SimulateTable.model_validate({}))
