# SPDX-License-Identifier: GPL-3.0-or-later
"""Waveforms and what is promised about them."""

from heatsim.waves.ledger import Capacitive, Inductive, Ledger, Magnetic, Ohmic, Product, Resistive, Signal
from heatsim.waves.waveforms import Array, Waveforms

__all__ = ["Array", "Capacitive", "Inductive", "Ledger", "Magnetic", "Ohmic", "Product", "Resistive", "Signal", "Waveforms"]
