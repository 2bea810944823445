# SPDX-License-Identifier: GPL-3.0-or-later
"""Heaters that share no model with heatsim: other laws of MOSFET, choke, coil and oscilloscope, integrated as a batch by a method
of our own. Nothing here imports heatsim or the other makers of captures; `nominal` reads a scenario's plain numbers by itself."""
