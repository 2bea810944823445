# SPDX-License-Identifier: GPL-3.0-or-later
"""The energy balance of a record, from a ledger that says which signals and values make up each source, loss and store.

Tellegen's theorem: what the sources give must be found again in the losses and in the change of the stores. The
powers are exact for straight lines between the samples, as everywhere in this room.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from heatsim.measures.basics import mean_product
from heatsim.waves import Capacitive, Inductive, Ledger, Magnetic, Ohmic, Product, Resistive, Waveforms

Store = Capacitive | Inductive | Magnetic


@dataclass(frozen=True)
class Balance:
    """sources, losses: mean power of each part over the record [W]; stored: mean rate at which the stores fill [W]; told: key of
    a measure -> loss [W] that it tells by itself.
    """

    sources: Mapping[str, float]
    losses: Mapping[str, float]
    stored: float
    told: Mapping[str, float] = field(default_factory=dict)

    @property
    def supplied(self) -> float:
        """Mean power of all sources together [W]."""
        return sum(self.sources.values())

    @property
    def imbalance_ratio(self) -> float | None:
        """(sources - losses - stored)/sources [1]; None when the sources give nothing or take power in."""
        supplied = self.supplied
        return (supplied - sum(self.losses.values()) - self.stored) / supplied if supplied > 0 else None


def needed(ledger: Ledger) -> tuple[str, ...]:
    """Signals a ledger reads, each once, in the order of first use."""
    names: list[str] = []
    for entry in (*ledger.sources, *ledger.losses, *ledger.stores):
        if isinstance(entry, Product):
            names += [name for pair in entry.pairs for name in pair]
        elif isinstance(entry, Inductive):
            names += entry.currents
        else:
            names += [getattr(entry, field) for field in ("voltage", "current", "flux") if hasattr(entry, field)]
    return tuple(dict.fromkeys(names))


def mean_power(waves: Waveforms, entry: Resistive | Ohmic | Product) -> float:
    """Mean power [W] of one source or loss over the whole record. Raises KeyError when a signal is missing."""
    if isinstance(entry, Product):
        return sum(mean_product(waves.time, waves[v], waves[i]) for v, i in entry.pairs)
    if isinstance(entry, Resistive):
        current = waves[entry.current]
        return entry.count * entry.resistance * mean_product(waves.time, current, current)
    voltage = waves[entry.voltage]
    return entry.count / entry.resistance * mean_product(waves.time, voltage, voltage)


def stored_change(waves: Waveforms, store: Store) -> float:
    """Energy [J] in a store at the record's end, less that at its start. Raises KeyError when a signal is missing.

    Magnetic: integral of i d(flux) along the record; for a winding without hysteresis this depends on the ends alone.
    """
    if isinstance(store, Capacitive):
        first, last = waves[store.voltage][[0, -1]]
        return float(0.5 * store.capacitance * (last**2 - first**2))
    if isinstance(store, Magnetic):
        return float(np.trapezoid(waves[store.current], waves[store.flux]))
    matrix = np.array(store.inductances)
    ends = np.array([waves[name][[0, -1]] for name in store.currents])
    first, last = (float(0.5 * x @ matrix @ x) for x in ends.T)
    return last - first


def balance(waves: Waveforms, ledger: Ledger) -> Balance:
    """Mean powers over the whole record, entries of a part added up. Raises KeyError when a signal is missing."""
    sources: dict[str, float] = {}
    losses: dict[str, float] = {}
    for source in ledger.sources:
        sources[source.part] = sources.get(source.part, 0.0) + mean_power(waves, source)
    told: dict[str, float] = {}
    for loss in ledger.losses:
        power = mean_power(waves, loss)
        losses[loss.part] = losses.get(loss.part, 0.0) + power
        if loss.told:
            told[loss.told] = told.get(loss.told, 0.0) + power / loss.pieces
    stored = sum(stored_change(waves, store) for store in ledger.stores) / waves.duration
    return Balance(sources, losses, stored, told)
