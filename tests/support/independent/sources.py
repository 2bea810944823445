# SPDX-License-Identifier: GPL-3.0-or-later
"""Starts from rest on supplies that limit their current, hiccup or come through a bouncing contact, by SciPy.

The stage is that of circuit.py; only what drives its lead is another. From the definitions, without the netlist's smoothness:
    limit      E = what is wanted, or less by 50 V/I for each ampere beyond the limit; never below zero
    foldback   limit = short + (most - short) u/knee for a bus voltage u below the knee
    hiccup     off once the limit has been reached for `trip` without a pause, for `retry`; then the soft start anew
    one way    no current flows back: dil/dt >= 0 where il <= 0
    contact    open: il = 0
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.parts.heater import Heater
from tests.support.independent.circuit import state_names, two_choke
from tests.support.independent.solve import Flow

STIFF = 50.0
"""Fall of the voltage beyond the limit, in full voltages over the limit."""


@dataclass(frozen=True)
class Feed:
    """What drives the lead: full voltage [V], soft start [s]; most, short [A], knee [V] of the limit, None without; trip, retry
    [s] of a hiccup; open: spans in which the contact is open [s]."""

    voltage: float
    rise: float
    most: float | None = None
    short: float = 0.0
    knee: float = 1.0
    trip: float | None = None
    retry: float = 1.0
    open: tuple[tuple[float, float], ...] = ()

    def emf(self, since: float, current: float, bus: float) -> float:
        """The voltage [V] so long after it was switched on [s]."""
        wanted = self.voltage * min(since / self.rise, 1.0)
        if self.most is None:
            return wanted
        over = current - self.limit(bus)
        return max(wanted - STIFF * self.voltage / self.most * over, 0.0) if over > 0 else wanted

    def limit(self, bus: float) -> float:
        """The limit [A] at a bus voltage [V]."""
        assert self.most is not None
        return self.short + (self.most - self.short) * min(max(bus / self.knee, 0.0), 1.0)


@dataclass(frozen=True)
class Start:
    """time [s]; supply current [A], bus and tank voltage [V]; trips: instants of a hiccup's switching off [s]."""

    time: np.ndarray
    current: np.ndarray
    bus: np.ndarray
    tank: np.ndarray
    trips: tuple[float, ...]


def start(heater: Heater, feed: Feed, duration: float, piece: float = 2e-6) -> Start:
    """A start from rest, in pieces [s] between which a hiccup and a contact are looked at."""
    stage, names, supply = two_choke(heater), state_names(heater), heater.supply
    on = {"since": 0.0, "shut": False}

    def rates(time: float, state: list[float]) -> list[float]:
        found = stage(time, state)
        lead = state[0]
        bus = supply.voltage - supply.resistance * lead - supply.inductance * found[0]
        if on["shut"]:
            found[0] = -lead / 1e-6
            return found
        emf = feed.emf(time - on["since"], lead, bus)
        found[0] = (emf - supply.resistance * lead - bus) / supply.inductance
        if lead <= 0 and found[0] < 0:
            found[0] = 0.0
        return found

    flow = Flow(heater, names, (), rates)
    state, rows, trips, over, until = np.zeros(len(names)), [], [], 0.0, -1.0
    for k in range(round(duration / piece)):
        now = k * piece
        if 0 <= until <= now:
            until, on["since"] = -1.0, now
        on["shut"] = until > now or any(begin <= now < end for begin, end in feed.open)
        state = flow(state, piece, 2, now)[-1]
        column = dict(zip(names, state, strict=True))
        drawn = sum(law(float(column[f"flux_{c.side}"]))[0] for (law, _, _), c in zip(flow.chokes, heater.chokes, strict=True))
        bus = column["reservoir"] + supply.reservoir_resistance * (column["lead"] - drawn)
        rows.append((now + piece, column["lead"], bus, column["terminal_left"] - column["terminal_right"]))
        if feed.trip is not None and until < 0:
            over = over + piece if column["lead"] >= 0.99 * feed.limit(bus) else 0.0
            if over >= feed.trip:
                trips.append(now + piece)
                over, until = 0.0, now + feed.retry
    return Start(*np.array(rows).T, tuple(trips))
