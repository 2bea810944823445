# SPDX-License-Identifier: GPL-3.0-or-later
"""Captures made outside heatsim: the circuit with one thing wrong, integrated by SciPy, as an oscilloscope records it."""
