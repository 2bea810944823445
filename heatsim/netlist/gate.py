# SPDX-License-Identifier: GPL-3.0-or-later
"""Gate networks, their drivers and the gate supply as netlist."""

from __future__ import annotations

import math
from functools import lru_cache

from heatsim.netlist.chokes import Emission
from heatsim.netlist.library import call, subcircuit
from heatsim.parts.gate import GateDrive, IntegratedDriver, TotemPole
from heatsim.waves import Ohmic, Product, Resistive, Signal

OTHER = {"left": "right", "right": "left"}


def _diode_law(gate: GateDrive) -> dict[str, float]:
    """Saturation current that gives the diode its drop at 1 A with n = 1.6 and 50 mohm."""
    emission, ohmic = 1.6, 0.05
    return {"isd": math.exp(-(gate.diode_drop - ohmic) / (emission * 0.02585)), "nd": emission, "rsd": ohmic}


def _driver_values(driver: TotemPole | IntegratedDriver) -> dict[str, float]:
    """Parameters of a driver's subcircuit."""
    values = {
        "rsource": driver.source_resistance,
        "rsink": driver.sink_resistance,
        "isource": driver.source_current,
        "isink": driver.sink_current,
        "cin": driver.input_capacitance,
    }
    if isinstance(driver, TotemPole):
        return values | {"gain": driver.gain}
    return values | {"low": driver.low, "high": driver.high, "td": driver.delay}


@lru_cache(maxsize=64)
def emit_gate(gate: GateDrive, side: str) -> Emission:
    """Gate network of one bank."""
    x, node, opposite = f"xgate_{side}", f"g_{side}", f"d_{OTHER[side]}"
    part, own = f"gate_drive.{side}", f"gate.{side}"
    supply = "bus" if gate.from_main else "vgs"
    input_node = f"{x}.in" if gate.driver else node
    values = {
        "rup": gate.pull_up,
        "rdown": gate.pull_down,
        "vz": gate.clamp_voltage,
        "cz": gate.clamp_capacitance,
        **_diode_law(gate),
        "cd": gate.diode_capacitance,
        "ttd": gate.diode_recovery,
        "vd": gate.diode_rating,
    }
    file, name = "gate_drive.lib", "hs_gate_drive"
    if gate.driver:
        file, name = "gate_driver.lib", "hs_totem_pole" if isinstance(gate.driver, TotemPole) else "hs_gate_driver"
        values |= _driver_values(gate.driver)
    signals: tuple[Signal, ...] = (
        Signal(f"{part}.voltage", "V", ((1.0, f"v({node})"),)),
        Signal(f"{part}.pull_up_current", "A", ((1.0, f"i(v.{x}.vup)"),)),
        Signal(f"{part}.clamp_current", "A", ((1.0, f"i(v.{x}.vz0)"),)),
        Signal(f"{part}.diode_current", "A", ((1.0, f"i(v.{x}.vd0)"),)),
        Signal(f"{part}.diode_voltage", "V", ((1.0, f"v({input_node})"), (-1.0, f"v({opposite})"))),
    )
    losses: tuple[Resistive | Ohmic | Product, ...] = (
        Resistive(part, f"{part}.pull_up_current", gate.pull_up, told=f"{own}.pull_up_loss_w"),
        Ohmic(part, f"{part}.voltage", gate.pull_down, told=f"{own}.pull_down_loss_w"),
        Product(part, ((f"{part}.voltage", f"{part}.clamp_current"),), told=f"{own}.clamp_loss_w"),
        Product(part, ((f"{part}.diode_voltage", f"{part}.diode_current"),), told=f"{own}.diode_loss_w"),
    )
    if gate.driver:
        more, loss = _driver_books(part, own, x, supply)
        signals, losses = (*signals, *more), (*losses, loss)
    return Emission((subcircuit(file, name),), call(x, f"{supply} {node} {opposite}", name, values), signals, losses=losses)


def _driver_books(part: str, own: str, x: str, supply: str) -> tuple[tuple[Signal, ...], Product]:
    """Signals and loss of a driver: what its supply and its input give it, less what it gives to the gate node."""
    signals = (
        Signal(f"{part}.driver_supply_voltage", "V", ((1.0, f"v({supply})"),)),
        Signal(f"{part}.driver_supply_current", "A", ((1.0, f"i(v.{x}.vdr)"),)),
        Signal(f"{part}.driver_input_voltage", "V", ((1.0, f"v({x}.in)"),)),
        Signal(f"{part}.driver_input_current", "A", ((1.0, f"i(v.{x}.vup)"), (-1.0, f"i(v.{x}.vd0)"))),
        Signal(f"{part}.driver_output_current", "A", ((-1.0, f"i(v.{x}.vo)"),)),
    )
    pairs = tuple((f"{part}.{pin}voltage", f"{part}.{pin}current") for pin in ("driver_supply_", "driver_input_"))
    return signals, Product(part, (*pairs, (f"{part}.voltage", f"{part}.driver_output_current")), told=f"{own}.driver_loss_w")


def emit_gate_supply(gate: GateDrive, paused: bool = False) -> Emission:
    """The gate supply, rising after its delay; paused: there from the start."""
    start = max(gate.supply_delay, 1e-9)
    rise = f"pwl(0 0 {start:.6g} 0 {start + gate.supply_rise:.6g} {gate.supply_voltage:.6g})"
    line = f"vgate vgs 0 {f'dc {gate.supply_voltage:.6g}' if paused else rise}"
    meters = ("vup", "vdr") if gate.driver else ("vup",)
    taken = tuple((1.0, f"i(v.xgate_{side}.{meter})") for meter in meters for side in ("left", "right"))
    signals = (Signal("gate_supply.voltage", "V", ((1.0, "v(vgs)"),)), Signal("gate_supply.current", "A", taken))
    return Emission((), line, signals, sources=(Product("gate_supply", (("gate_supply.voltage", "gate_supply.current"),)),))
