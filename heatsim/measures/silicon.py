# SPDX-License-Identifier: GPL-3.0-or-later
"""Where a bank of MOSFETs loses its power: what its drains and gates take in, told apart by what the channel does at the time.

Every step of the record belongs to one state, so that the split adds up to the whole, the mean of drain voltage times current and
gate voltage times current, which is the bank's loss in the energy ledger. What the capacitances take up and give back within the
off state is nil over whole periods; what they do not give back, because the channel discharges them, is loss of changing over.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.measures.basics import step_products
from heatsim.waves import Array, Waveforms

DIODE_SHARE = 0.5
"""Share of the body diode's drop below which, with the gate on, the channel is taken to carry the reverse current alone."""


@dataclass(frozen=True)
class BankLoss:
    """Mean powers of a bank [W].

    conduction: channel on, drain voltage below gate voltage over threshold; overlap: turning on and off, the channel saturated or
    its capacitances discharged; diode: reverse current past a channel that is off; avalanche: at the breakdown voltage; gate: in
    the chips' own gate resistance.
    """

    conduction: float
    overlap: float
    diode: float
    avalanche: float
    gate: float

    @property
    def total(self) -> float:
        """All together [W]."""
        return self.conduction + self.overlap + self.diode + self.avalanche + self.gate


@dataclass(frozen=True)
class Silicon:
    """threshold, breakdown, diode_drop [V] of the devices; gate_resistance: of the chips in parallel [ohm], None where it is not
    known: all that the gates take in then counts as gate loss."""

    threshold: float
    breakdown: float
    diode_drop: float
    gate_resistance: float | None


def signals(side: str) -> tuple[str, ...]:
    """Names of drain voltage, bank current, gate voltage and gate current of a side."""
    return f"drain.{side}.voltage", f"switch.{side}.current", f"gate.{side}.voltage", f"gate.{side}.current"


def bank_loss(steady: Waveforms, side: str, silicon: Silicon) -> BankLoss | None:
    """Losses of a side's bank over whole periods; None where a signal is missing."""
    if not all(name in steady for name in signals(side)):
        return None
    drain, current, gate, inflow = (steady[name] for name in signals(side))
    span = steady.time[-1] - steady.time[0]
    taken = step_products(steady.time, drain, current)
    driven = step_products(steady.time, gate, inflow)
    resistance = silicon.gate_resistance
    in_gate = driven if resistance is None else resistance * step_products(steady.time, inflow, inflow)
    spent = (taken + driven - in_gate) / span
    v, i, over = _middle(drain), _middle(current), _middle(gate) - silicon.threshold
    on = over > 0.0
    avalanche = (v >= silicon.breakdown) & (i > 0.0)
    diode = (v < 0.0) & (~on | (v < -DIODE_SHARE * silicon.diode_drop))
    conduction = on & (v <= over) & ~diode & ~avalanche
    overlap = ~(avalanche | diode | conduction)
    states = (conduction, overlap, diode, avalanche)
    return BankLoss(*(float(each.sum()) for each in (*(spent[state] for state in states), in_gate / span)))


def avalanche_energy(waves: Waveforms, side: str, breakdown: float) -> float | None:
    """Largest energy [J] that a side takes in during one stay at or above the breakdown voltage [V]; None without its signals."""
    drain, current = signals(side)[:2]
    if drain not in waves or current not in waves:
        return None
    beyond = (_middle(waves[drain]) >= breakdown) & (_middle(waves[current]) > 0.0)
    if not beyond.any():
        return 0.0
    energy = np.where(beyond, step_products(waves.time, waves[drain], waves[current]), 0.0)
    begin = np.flatnonzero(beyond & ~np.append(False, beyond[:-1]))
    return float(np.add.reduceat(energy, begin).max())


def _middle(samples: Array) -> Array:
    return (samples[1:] + samples[:-1]) / 2
